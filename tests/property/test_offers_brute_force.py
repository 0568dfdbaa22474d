"""Where to buy what, with the fitted quantities given: the model against trying every way.

Some hundreds of small orders with price steps, packs, thresholds, freight, duty, tax, exchange,
least orders, stock and splits. The quotas say in how many of them each of these decides.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from itertools import product
from random import Random
from types import SimpleNamespace
from typing import Any, cast

import pytest
from lanes import first_fast
from oracle.buying_ways import Seller, Way, ways

from bomplan.buying.envelope import Envelope
from bomplan.buying.prices import PriceBook
from bomplan.catalog.records import Catalog, Offer, Part, Supplier
from bomplan.design.context import Context
from bomplan.planner.bounds import Subsets
from bomplan.planner.options import Group, Row
from bomplan.planner.purchases import PurchaseModel

FAST = 200
MECHANISMS_EVERY = 1
RATES = {"USD": 0.92, "JPY": 0.00611, "KWD": 2.97}
SELLERS = ("harbour", "north", "yard")
Answer = tuple[Way, ...]


@dataclass(frozen=True)
class Case:
    """Parts with how many are fitted and at hand, and who sells them."""

    parts: tuple[Part, ...]
    fitted: tuple[int, ...]
    owned: tuple[int, ...]
    suppliers: tuple[Supplier, ...]
    offers: tuple[Offer, ...]
    suppliers_max: int | None = None
    split: bool = True

    @property
    def needed(self) -> tuple[int, ...]:
        return tuple(max(0, f - o) for f, o in zip(self.fitted, self.owned, strict=True))


def make_case(seed: int) -> Case:
    random = Random(f"offers {seed}")
    sellers = SELLERS[: random.choice((2, 2, 3))]
    suppliers = tuple(_supplier(random, name) for name in sellers)
    units = {row.id: _unit(row.currency) for row in suppliers}
    parts, offers, fitted = [], [], []
    for number in range(2):
        part = Part(
            id=f"part-{number}",
            family="link",
            description="a part",
            mass_g=random.choice((40, 350, 1_200, 4_800)),
            price=10_000,
            currency="EUR",
            price_date="2026-01-01",
            source="typical",
        )
        parts.append(part)
        fitted.append(random.randrange(1, 8))
        price = random.randrange(400, 4_000)
        names = random.sample(sellers, random.choice((1, 2, len(sellers))))
        for name in names:
            offers += _offers(random, part.id, name, price / units[name], fitted[-1])
    return Case(
        tuple(parts),
        tuple(fitted),
        tuple(random.choice((0, 0, 0, 1, 2)) for _ in parts),
        suppliers,
        tuple(offers),
        random.choice((None, None, 1)),
    )


def _supplier(random: Random, name: str) -> Supplier:
    currency = random.choice(("EUR", "EUR", "USD", "JPY", "KWD"))
    unit = _unit(currency)

    def money(*amounts: int) -> int:
        return round(random.choice(amounts) / unit)

    return Supplier(
        id=name,
        currency=currency,
        shipping_flat=money(0, 600, 1_500, 3_000),
        shipping_per_kg=money(0, 200, 700),
        free_above=None if random.random() < 0.45 else money(4_000, 8_000, 12_000),
        minimum_order=money(0, 0, 3_000, 7_000),
        duty_percent=random.choice(("0", "25", "25")),
        duty_on=random.choice(("goods", "goods+shipping")),
        tax_percent=random.choice(("0", "25")),
        tax_on=random.choice(("goods", "goods+shipping", "goods+shipping+duty")),
    )


def _unit(currency: str) -> float:
    """About how many euro cents one smallest unit is worth."""
    return {"EUR": 1.0, "USD": 0.92, "JPY": 0.611, "KWD": 0.297}[currency]


def _offers(random: Random, part: str, name: str, price: float, fitted: int) -> list[Offer]:
    first = max(1, round(price * random.randrange(88, 114) / 100))
    pack = random.choice((1, 1, 1, 2, 3, 4))
    stock = random.choice((None, None, None, max(pack, fitted // 2), fitted))
    found = [Offer(part=part, supplier=name, pack_size=pack, unit_price=first, stock=stock)]
    if random.random() < 0.6:
        found.append(
            Offer(
                part=part,
                supplier=name,
                pack_size=pack,
                quantity_from=random.choice((3, 4, 6, 8)),
                unit_price=max(1, first * random.randrange(60, 98) // 100),
                stock=stock,
            )
        )
    return found


# -- trying everything ---------------------------------------------------------------------


class Tried:
    """Every way to buy a case's lines, with the least total among them."""

    def __init__(self, case: Case) -> None:
        self.case = case
        self.sellers = {row.id: Seller(row, _rate(row.currency)) for row in case.suppliers}
        self._known: dict[tuple[str, int, int], int | None] = {}
        each = [
            list(ways([o for o in case.offers if o.part == part.id], needed, case.split))
            for part, needed in zip(case.parts, case.needed, strict=True)
        ]
        self.totals = {_key(answer): self.total(answer) for answer in product(*each)}
        possible = [total for total in self.totals.values() if total is not None]
        self.least = min(possible, default=None)
        self.best = {key for key, total in self.totals.items() if total == self.least}

    def total(self, answer: Answer) -> int | None:
        goods: Counter[str] = Counter()
        grams: Counter[str] = Counter()
        for part, way in zip(self.case.parts, answer, strict=True):
            for seller, (pieces, price) in way.items():
                goods[seller] += pieces * price
                grams[seller] += pieces * part.mass_g
        if self.case.suppliers_max is not None and len(goods) > self.case.suppliers_max:
            return None
        whole = 0
        for seller, value in goods.items():
            key = (seller, value, grams[seller])
            if key not in self._known:
                self._known[key] = self.sellers[seller].invoice(value, grams[seller])
            invoice = self._known[key]
            if invoice is None:
                return None
            whole += invoice
        return whole


def _rate(currency: str) -> Fraction:
    scale = {"EUR": Fraction(1), "USD": Fraction(1), "JPY": Fraction(100), "KWD": Fraction(1, 10)}
    return Fraction(str(RATES.get(currency, 1))) * scale[currency]


def _key(answer: Any) -> Any:
    return tuple(tuple(sorted(way.items())) for way in answer)


# -- the model -----------------------------------------------------------------------------


def model_answer(case: Case) -> tuple[int | None, Any, int | None]:
    """The model's least total with how it buys, and the planner's bound from below."""
    from ortools.sat.python import cp_model

    context, rows = _rows(case)
    model = cp_model.CpModel()
    buying = PurchaseModel(cp_model, model, context)
    for row in rows:
        buying.add(row, 1, row.base)
    total = buying.total()
    model.minimize(total)
    each = {row.rule.family: (row,) for row in rows}
    bound = _bound(Subsets(context), each)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        return None, None, bound
    assert status == cp_model.OPTIMAL
    chosen = buying.chosen(solver)
    answer = tuple(
        {lot.source.supplier: (lot.bought, lot.unit_price) for lot in chosen[part.id].lots}
        for part in case.parts
    )
    return int(solver.value(total)), _key(answer), bound


def _bound(subsets: Subsets, each: dict[str, tuple[Row, ...]]) -> int | None:
    """The least over the subsets of suppliers; None if none of them can deliver."""
    prices = [subsets.of(row.part, row.needed(row.base)) for (row,) in each.values()]
    sums = [
        sum(part for part in (*of_lines, sent) if part is not None)
        for *of_lines, sent in zip(*prices, subsets.unavoidable([Group(each)]), strict=True)
        if None not in (*of_lines, sent)
    ]
    return min(sums, default=None)


def _rows(case: Case) -> tuple[Context, list[Row]]:
    catalog = Catalog(
        name="offers",
        families={"link": {part.id: part for part in case.parts}},
        pairs=(),
        curves=(),
        temperatures=(),
        suppliers={row.id: row for row in case.suppliers},
        offers=case.offers,
    )
    prices = PriceBook(catalog, "EUR", RATES)
    buying = SimpleNamespace(split=case.split, suppliers_max=case.suppliers_max)
    context = SimpleNamespace(
        prices=prices,
        envelope=Envelope(prices, case.split),
        project=SimpleNamespace(buying=buying),
    )
    rows = [
        Row(
            rule=cast(Any, SimpleNamespace(family=part.id)),
            part=part,
            sources=prices.sources(part),
            base=fitted,
            tables=(),
            series=1,
            at_hand=owned,
            external_uohm=0,
            load_12v_w=0,
            supply_12v_w=0,
        )
        for part, fitted, owned in zip(case.parts, case.fitted, case.owned, strict=True)
    ]
    return cast(Context, context), rows


# -- what decides --------------------------------------------------------------------------


def _suppliers(case: Case, **changes: Any) -> Case:
    rows = tuple(row.model_copy(update=changes) for row in case.suppliers)
    return replace(case, suppliers=rows)


def _all_offers(case: Case, **changes: Any) -> Case:
    return replace(case, offers=tuple(one.model_copy(update=changes) for one in case.offers))


def _without_steps(case: Case) -> Case:
    return replace(case, offers=tuple(one for one in case.offers if one.quantity_from == 1))


WITHOUT: dict[str, Callable[[Case], Case]] = {
    "steps": _without_steps,
    "packs": lambda case: _all_offers(case, pack_size=1),
    "stock": lambda case: _all_offers(case, stock=None),
    "shipping": lambda case: _suppliers(case, shipping_flat=0),
    "freight": lambda case: _suppliers(case, shipping_per_kg=0),
    "threshold": lambda case: _suppliers(case, free_above=None),
    "least order": lambda case: _suppliers(case, minimum_order=0),
    "duty": lambda case: _suppliers(case, duty_percent="0"),
    "tax": lambda case: _suppliers(case, tax_percent="0"),
    "split": lambda case: replace(case, split=False),
    "suppliers_max": lambda case: replace(case, suppliers_max=None),
    "owned": lambda case: replace(case, owned=(0,) * len(case.owned)),
}


def decides(name: str, case: Case, tried: Tried) -> bool:
    """Whether without this mechanism something else would be bought, wrongly."""
    other = Tried(WITHOUT[name](case))
    if (other.least is None) != (tried.least is None):
        return True
    return tried.least is not None and not (other.best & tried.best)


@dataclass
class Tally:
    cases: int = 0
    possible: int = 0
    looked: int = 0
    split: int = 0
    deciding: Counter[str] | None = None
    wrong: list[str] | None = None


def run(seeds: range) -> Tally:
    tally = Tally(deciding=Counter(), wrong=[])
    assert tally.deciding is not None
    assert tally.wrong is not None
    for seed in seeds:
        case = make_case(seed)
        tried = Tried(case)
        found, answer, bound = model_answer(case)
        tally.cases += 1
        if found != tried.least:
            tally.wrong.append(f"{seed}: {found}, brute force {tried.least}")
        elif found is not None and tried.totals.get(answer) != found:
            tally.wrong.append(f"{seed}: {answer} does not cost {found}")
        if tried.least is not None and (bound is None or bound > tried.least):
            tally.wrong.append(f"{seed}: bound {bound} above {tried.least}")
        tally.possible += tried.least is not None
        tally.split += any(len(way) > 1 for key in tried.best for way in key)
        if seed % MECHANISMS_EVERY == 0:
            tally.looked += 1
            tally.deciding.update(name for name in WITHOUT if decides(name, case, tried))
    return tally


@cache
def fast() -> Tally:
    return run(range(FAST))


def test_the_model_buys_as_brute_force_does() -> None:
    assert fast().wrong == []


def test_the_cases_are_worth_testing() -> None:
    assert_worth_testing(fast())


def assert_worth_testing(tally: Tally) -> None:
    """Each mechanism decides what is bought in one case of twenty, or the run shows nothing."""
    assert tally.deciding is not None
    assert tally.possible >= 0.5 * tally.cases
    assert tally.split >= 0.05 * tally.cases
    rare = {
        name: tally.deciding[name] for name in WITHOUT if tally.deciding[name] < 0.05 * tally.looked
    }
    assert rare == {}, f"hardly ever decisive: {dict(tally.deciding)} of {tally.looked}"


# -- what must hold for every order ----------------------------------------------------------

PROPERTIES = range(5_000, 5_040)


def without_thresholds(case: Case) -> Case:
    """A lower price, or a piece less to buy, may cost an order its free shipping or its least
    value; without such limits it cannot hurt."""
    return _suppliers(case, free_above=None, minimum_order=0)


@pytest.mark.parametrize("seed", first_fast(PROPERTIES, 10))
def test_cheaper_offers_more_offers_and_parts_at_hand_never_cost_more(seed: int) -> None:
    case = without_thresholds(make_case(seed))
    before = model_answer(case)[0]
    if before is None:
        return
    first, *rest = case.offers
    lower = first.model_copy(update={"unit_price": max(1, first.unit_price * 9 // 10)})
    same_step = [one for one in rest if (one.part, one.supplier) == (first.part, first.supplier)]
    cheaper = replace(case, offers=(lower, *rest))
    if all(one.unit_price <= lower.unit_price for one in same_step):
        assert cast(int, model_answer(cheaper)[0]) <= before
    more = replace(case, owned=tuple(number + 1 for number in case.owned))
    assert cast(int, model_answer(more)[0]) <= before
    added = Offer(part=case.parts[0].id, supplier="added", unit_price=700)
    shop = Supplier(id="added", currency="EUR", shipping_flat=400)
    wider = replace(case, suppliers=(*case.suppliers, shop), offers=(*case.offers, added))
    assert cast(int, model_answer(wider)[0]) <= before


def test_a_lower_price_may_cost_an_order_its_free_shipping() -> None:
    """Why the property above leaves thresholds out: 80 and sent free, or 79 and 10 to send."""
    shop = Supplier(id="north", currency="EUR", shipping_flat=10, free_above=80)

    def total(price: int) -> int | None:
        offer = Offer(part="part-0", supplier="north", unit_price=price)
        part = make_case(0).parts[0]
        return model_answer(Case((part,), (1,), (0,), (shop,), (offer,)))[0]

    assert (total(80), total(79)) == (80, 89)


@pytest.mark.parametrize("seed", first_fast(PROPERTIES, 10))
@pytest.mark.parametrize("factor", [3, 100])
def test_all_money_times_a_factor_keeps_what_is_bought(seed: int, factor: int) -> None:
    """In one currency, with amounts that duty and tax leave whole: so rounding decides nothing."""

    def times(case: Case, by: int) -> Case:
        money = ("shipping_flat", "shipping_per_kg", "minimum_order", "free_above")
        suppliers = tuple(
            row.model_copy(
                update={"currency": "EUR"}
                | {name: getattr(row, name) * by for name in money if getattr(row, name)}
            )
            for row in case.suppliers
        )
        offers = tuple(
            one.model_copy(update={"unit_price": one.unit_price * by}) for one in case.offers
        )
        return replace(case, suppliers=suppliers, offers=offers)

    case = make_case(seed)
    rates = {"tax_percent": "25", "duty_percent": "25"}
    whole = times(_suppliers(case, **{k: v for k, v in rates.items() if seed % 2}), 16)
    before, scaled = Tried(whole), Tried(times(whole, factor))
    assert scaled.least == (None if before.least is None else before.least * factor)
    found, answer, _ = model_answer(times(whole, factor))
    assert found == scaled.least
    if before.least is not None:
        plain = {_pieces(key) for key in before.best}
        assert {_pieces(key) for key in scaled.best} == plain
        assert _pieces(answer) in plain


def _pieces(key: Any) -> Any:
    """Who sells how many, without the prices."""
    return tuple(tuple((seller, share[0]) for seller, share in way) for way in key)


@pytest.mark.slow
def test_many_orders_are_bought_as_brute_force_does() -> None:
    tally = run(range(FAST, FAST + 2_000))
    assert tally.wrong == []
    assert_worth_testing(tally)
