"""The price of one core's bill inside its integer model: lots, orders and invoices.

Most rows are bought at one supplier: a boolean for every lot that may be best. A row that
several suppliers sell in more than one piece may be split over them: whole packs at each price
step, where every pack is needed or holds its step, and no supplier could be left out. Each
supplier's invoice is counted in fine units and rounded up once, as the bill does it.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from bomplan.buying.prices import Lot, Source, Step
from bomplan.buying.terms import Terms
from bomplan.design.assemble import Chosen
from bomplan.design.context import Context
from bomplan.planner.options import Row

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

# As high as an invoice may be in fine units: keeps every sum of the model within 64 bits.
MOST_FINE = 1 << 60


@dataclass(frozen=True)
class Option:
    """A row bought in one lot at one supplier (in none where nothing is needed)."""

    row: Row
    source: Source
    lot: Lot | None
    var: Any


@dataclass(frozen=True)
class Plain:
    """A row that its list price alone sells: as many pieces as are fitted, each at that price."""

    row: Row
    pick: Any
    pieces: Any


@dataclass(frozen=True)
class Shares:
    """A row that may be split: pieces bought of each source, and whether any are."""

    row: Row
    pick: Any
    pieces: dict[str, Any]
    used: dict[str, Any]


@dataclass
class _Order:
    """What one supplier's order gathers, in the supplier's money."""

    goods: list[Any] = field(default_factory=list)
    mass: list[Any] = field(default_factory=list)
    buying: list[Any] = field(default_factory=list)
    # By family, of which one row is bought in one lot or step.
    most: dict[str, tuple[int, int]] = field(default_factory=dict)

    @property
    def most_goods(self) -> int:
        """No order of these families comes to more."""
        return sum(goods for goods, _ in self.most.values())

    @property
    def most_mass(self) -> int:
        """Nor weighs more grams."""
        return sum(mass for _, mass in self.most.values())


class PurchaseModel:
    """Everything that money decides in the model of one core."""

    def __init__(self, cp: Any, model: cp_model.CpModel, context: Context) -> None:
        self._cp = cp
        self._model = model
        self._context = context
        self._options: dict[str, list[Option]] = {}
        self._plain: dict[str, list[Plain]] = {}
        self._shares: dict[str, list[Shares]] = {}
        self._picks: dict[str, list[tuple[Row, Any]]] = {}
        self._orders: dict[str, _Order] = {}
        self._price: list[Any] = []
        self._most_listed: dict[str, int] = {}  # by family, what one row comes to at list prices
        self._most_invoiced = 0
        # Bills of a dearer invoice than this are not in the model; None: all are.
        self.counted_to: int | None = None

    # -- building ----------------------------------------------------------------------

    def add(self, row: Row, pick: Any, pieces: Any) -> None:
        """A row that is bought if ``pick``, and then for as many pieces as are fitted."""
        family = row.rule.family
        self._picks.setdefault(family, []).append((row, pick))
        if splits(self._context, row):
            self._split(family, row, pick, pieces)
            return
        each = plain_price(self._context, row)
        if each is not None:
            self._plain.setdefault(family, []).append(Plain(row, pick, pieces))
            self._price.append(each * pieces)
            self._listed(family, each * row.most)
            return
        found: list[tuple[int, Source, Lot | None]] = []
        for source in row.sources:
            for fitted in row.quantities:
                needed = row.needed(fitted)
                if needed == 0:
                    found.append((fitted, source, None))
                else:
                    terms = self._context.prices.terms_of(source)
                    found += [
                        (fitted, source, lot) for lot in useful_lots(terms, source.lots(needed))
                    ]
        single = len(found) == 1 and len(row.quantities) == 1
        options: list[Option] = []
        for fitted, source, lot in found:
            name = f"{row.part.id}<-{source.supplier or 'list'}x{fitted}"
            var: Any = pick if single else self._model.new_bool_var(name)
            options.append(Option(row, source, lot, var))
            if lot is not None:
                self._pay(row, source, lot.price, lot.bought, var, var)
        self._options.setdefault(family, []).extend(options)
        if single:
            return
        self._model.add(self._sum([one.var for one in options]) == pick)
        if len(row.quantities) > 1:
            counted = [fitted * one.var for (fitted, _, _), one in zip(found, options, strict=True)]
            self._model.add(self._sum(counted) == pieces)

    def _split(self, family: str, row: Row, pick: Any, pieces: Any) -> None:
        model = self._model
        need = self._need(row, pick, pieces)
        most = max(row.needed(fitted) for fitted in row.quantities)
        bought: dict[str, Any] = {}
        used: dict[str, Any] = {}
        trimmed: list[tuple[Any, Any, int]] = []
        for source in row.sources:
            here: list[Any] = []
            taken: list[Any] = []
            for step in source.steps:
                pack = step.pack_size
                numbers = _packs_of(source, step, most)
                if not numbers:
                    continue
                name = f"{row.part.id}<-{source.supplier} from {step.quantity_from}"
                domain = self._cp.Domain.from_values([0, *numbers])
                packs = model.new_int_var_from_domain(domain, name)
                active, at_least = model.new_bool_var(name), model.new_bool_var("")
                model.add(packs >= numbers[0] * active)
                model.add(packs <= numbers[-1] * active)
                model.add(pack * packs <= step.least).only_enforce_if(at_least)
                model.add_implication(at_least, active)
                trimmed.append((active, at_least, pack))
                here.append(pack * packs)
                taken.append(active)
                self._pay(row, source, pack * step.unit_price, pack, packs, active, numbers[-1])
            if taken:
                any_taken = self._sum(taken)
                model.add(any_taken <= pick)
                bought[source.supplier], used[source.supplier] = self._sum(here), any_taken
        whole = self._sum(list(bought.values()))
        model.add(whole >= need)
        for active, at_least, pack in trimmed:
            model.add(whole <= need + pack - 1).only_enforce_if([active, at_least.negated()])
        for supplier, any_taken in used.items():
            # Without this supplier's share the rest does not suffice: else it is not needed.
            rest = self._sum([one for name, one in bought.items() if name != supplier])
            model.add(rest <= need - 1 + _beyond(row) * (1 - any_taken))
        self._shares.setdefault(family, []).append(Shares(row, pick, bought, used))

    def _need(self, row: Row, pick: Any, pieces: Any) -> Any:
        """Pieces to buy, zero when the row is not picked."""
        if len(row.quantities) == 1:
            return row.needed(row.quantities[0]) * pick
        fits = [self._model.new_bool_var(f"{row.part.id}x{fitted}") for fitted in row.quantities]
        self._model.add(self._sum(fits) == pick)
        counted = [fitted * var for fitted, var in zip(row.quantities, fits, strict=True)]
        self._model.add(self._sum(counted) == pieces)
        return self._sum(
            [row.needed(fitted) * var for fitted, var in zip(row.quantities, fits, strict=True)]
        )

    def _pay(
        self,
        row: Row,
        source: Source,
        price: int,
        pieces: int,
        var: Any,
        buying: Any,
        most: int = 1,
    ) -> None:
        """``var`` times so much money and so many pieces go on the source's order."""
        if not source.supplier:
            self._price.append(price * var)
            self._listed(row.rule.family, price * most)
            return
        order = self._orders.setdefault(source.supplier, _Order())
        order.mass.append(pieces * row.part.mass_g * var)
        if price:
            # What costs nothing is no order; it is sent with what does.
            order.goods.append(price * var)
            order.buying.append(buying)
        goods, mass = order.most.get(row.rule.family, (0, 0))
        order.most[row.rule.family] = (
            max(goods, price * most),
            max(mass, pieces * row.part.mass_g * most),
        )

    def _listed(self, family: str, price: int) -> None:
        self._most_listed[family] = max(self._most_listed.get(family, 0), price)

    @property
    def most_price(self) -> int:
        """No bill comes to more; to be asked after the total."""
        return sum(self._most_listed.values()) + self._most_invoiced

    def total(self) -> Any:
        """The price of the whole bill; to be asked once, when every row is in."""
        used = []
        most = self._context.project.buying.suppliers_max
        for supplier, order in sorted(self._orders.items()):
            if order.goods:
                terms = self._context.prices.terms[supplier]
                asks = terms.flat or terms.per_kg or terms.minimum_order or most is not None
                used.append(self._used_at(supplier, order) if asks else 0)
                self._invoice(terms, order, used[-1])
        if most is not None:
            self._model.add(self._sum(used) <= most)
        return self._sum(self._price)

    def _used_at(self, supplier: str, order: _Order) -> Any:
        """Whether anything is bought there."""
        model = self._model
        used = model.new_bool_var(f"{supplier} used")
        for var in order.buying:
            if isinstance(var, int):
                model.add(used >= var)
            else:
                model.add_implication(var, used)
        model.add(self._sum(order.buying) >= used)
        return used

    def _invoice(self, terms: Terms, order: _Order, used: Any) -> None:
        model = self._model
        goods = self._sum(order.goods)
        if terms.minimum_order > 0:
            model.add(goods >= terms.minimum_order * used)
        shipping = self._shipping(terms, order, goods, used)
        fine = terms.fine
        sent = terms.flat + terms.per_kg * (order.most_mass // 1000 + 1)
        most = int(terms.on_goods * order.most_goods + terms.on_shipping * sent) + 1
        self._most_invoiced += most
        exact = int(terms.on_goods * fine) * goods + int(terms.on_shipping * fine) * shipping
        if fine == 1:
            self._price.append(exact)
            return
        if most > MOST_FINE // fine:
            most = MOST_FINE // fine
            self.counted_to = most if self.counted_to is None else min(most, self.counted_to)
        total = model.new_int_var(0, most, f"invoice of {terms.supplier}")
        model.add(fine * total >= exact)
        model.add(fine * total <= exact + fine - 1)
        self._price.append(total)

    def _shipping(self, terms: Terms, order: _Order, goods: Any, used: Any) -> Any:
        model = self._model
        always_free = terms.free_above is not None and terms.free_above <= 0
        if always_free or (terms.flat == 0 and terms.per_kg == 0):
            return 0
        paid: Any = used
        if terms.free_above is not None and order.most_goods >= terms.free_above:
            free = model.new_bool_var(f"{terms.supplier} free")
            model.add_implication(free, used)
            model.add(goods >= terms.free_above).only_enforce_if(free)
            model.add(goods <= terms.free_above - 1).only_enforce_if(free.negated())
            paid = used - free
        if terms.per_kg == 0:
            return terms.flat * paid
        mass = self._sum(order.mass)
        most_kg = order.most_mass // 1000 + 1
        carried = model.new_int_var(0, most_kg, f"kilograms from {terms.supplier}")
        # Every started kilogram of an order that pays for its shipping; else none.
        model.add(carried <= most_kg * paid)
        model.add(1000 * carried <= mass + 999)
        model.add(1000 * carried >= mass - 1000 * most_kg * (1 - paid))
        return terms.flat * paid + terms.per_kg * carried

    # -- order among bills that are equal ------------------------------------------------

    def rank(self, family: str) -> Any:
        """A number that grows with the row's id, and within a row with its suppliers' ids."""
        terms, offset = [], 0
        for row, pick in self._picks[family]:
            terms.append(offset * pick)
            for bit, source in enumerate(row.sources):
                terms.append((1 << bit) * self._used(family, row, source.supplier))
            offset += 1 << len(row.sources)
        return self._sum(terms)

    def rank_of(self, family: str, chosen: Chosen) -> int:
        """The same number of a bill that was found."""
        offset = 0
        for row, _ in self._picks[family]:
            if row.part.id == chosen.part.id:
                used = suppliers_of(chosen, splits(self._context, row))
                return offset + sum(
                    1 << bit for bit, source in enumerate(row.sources) if source.supplier in used
                )
            offset += 1 << len(row.sources)
        raise KeyError(chosen.part.id)

    def _used(self, family: str, row: Row, supplier: str) -> Any:
        shares = [one for one in self._shares.get(family, []) if one.row is row]
        if shares:
            return shares[0].used.get(supplier, 0)
        plain = [one.pick for one in self._plain.get(family, []) if one.row is row]
        if plain:
            return plain[0]
        return self._sum(
            [
                one.var
                for one in self._options.get(family, [])
                if one.row is row and one.source.supplier == supplier
            ]
        )

    @property
    def loose(self) -> bool:
        """Whether the same suppliers may be asked for other numbers of pieces."""
        sold = Counter(
            (one.row.part.id, one.source.supplier)
            for options in self._options.values()
            for one in options
            if one.lot is not None
        )
        most = {
            row.part.id: len(row.quantities) for rows in self._picks.values() for row, _ in rows
        }
        return bool(self._shares) or any(number > most[part] for (part, _), number in sold.items())

    def pieces(self) -> Any:
        """Pieces bought, all families together."""
        bought = [
            one.lot.bought * one.var
            for options in self._options.values()
            for one in options
            if one.lot is not None
        ]
        bought += [one.pieces for plain in self._plain.values() for one in plain]
        for shares in self._shares.values():
            for one in shares:
                bought += list(one.pieces.values())
        return self._sum(bought)

    # -- reading back ------------------------------------------------------------------

    def chosen(self, solver: cp_model.CpSolver) -> dict[str, Chosen]:
        """What the solver took, family by family in the order of the rows."""
        found: dict[str, Chosen] = {}
        for family in self._picks:
            for option in self._options.get(family, []):
                if solver.value(option.var):
                    lots = () if option.lot is None else (option.lot,)
                    found[family] = Chosen(option.row.part, option.source, lots)
            for plain in self._plain.get(family, []):
                if solver.value(plain.pick):
                    source = plain.row.sources[0]
                    bought = source.lots(int(solver.value(plain.pieces)))
                    found[family] = Chosen(plain.row.part, source, bought)
            for shares in self._shares.get(family, []):
                if solver.value(shares.pick):
                    found[family] = self._read(solver, shares)
        return found

    def _read(self, solver: cp_model.CpSolver, shares: Shares) -> Chosen:
        lots = []
        for source in shares.row.sources:
            pieces = shares.pieces.get(source.supplier)
            bought = 0 if pieces is None else int(solver.value(pieces))
            if bought:
                lot = source.lot(bought)
                assert lot is not None
                lots.append(lot)
        first = lots[0].source if lots else shares.row.sources[0]
        return Chosen(shares.row.part, first, tuple(lots))

    def _sum(self, terms: list[Any]) -> Any:
        return self._cp.LinearExpr.sum(terms)


def plain_price(context: Context, row: Row) -> int | None:
    """What each piece of this row costs, if no other way to buy it is to be weighed."""
    if row.at_hand or row.spares:
        return None
    return context.prices.list_price(row.part)


def splits(context: Context, row: Row) -> bool:
    """Whether several suppliers may share in this row."""
    if not context.project.buying.split or len(row.sources) < 2:
        return False
    return max(row.needed(fitted) for fitted in row.quantities) >= 2


def _packs_of(source: Source, step: Step, most: int) -> list[int]:
    """Numbers of packs that fall under a step where at most so many pieces are needed."""
    pack = step.pack_size
    highest = -(-max(most, step.quantity_from) // pack)
    return [
        number
        for number in range(step.least // pack, highest + 1)
        if source.sells(step, number * pack)
    ]


def useful_lots(terms: Terms, lots: tuple[Lot, ...]) -> tuple[Lot, ...]:
    """The lots of one source that some cheapest bill may hold, for one number of pieces.

    A dearer lot can pay where it brings an order over a threshold, by no more than is saved
    there, and a lot of more pieces costs no less to send.
    """
    kept: list[Lot] = []
    for lot in lots:
        if not any(_no_dearer(terms, other, lot) for other in kept):
            kept.append(lot)
    return tuple(kept)


def _no_dearer(terms: Terms, other: Lot, lot: Lot) -> bool:
    """Whether ``other``, which costs no more, makes ``lot`` useless."""
    if terms.per_kg and other.bought > lot.bought:
        return False
    if other.price == lot.price or not terms.has_threshold:
        return True
    if terms.minimum_order or terms.per_kg:
        return False
    saved = terms.on_shipping * terms.flat
    return terms.on_goods * (lot.price - other.price) > saved


def suppliers_of(chosen: Chosen, split: bool) -> frozenset[str]:
    """Of whom a family's pieces come; of a row without splits its source, even for none."""
    if chosen.lots or split:
        return frozenset(lot.source.supplier for lot in chosen.lots)
    return frozenset({chosen.source.supplier})


def _beyond(row: Row) -> int:
    """More pieces than are ever bought of this row."""
    steps = [step for source in row.sources for step in source.steps]
    most = max(max(row.quantities), max(step.quantity_from for step in steps))
    return len(row.sources) * (most + max(step.pack_size for step in steps)) + 1
