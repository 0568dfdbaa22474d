"""Every plan there is, one after the other: the slow and plain answer that the planner must match.

Nothing of the planner is used and nothing is pruned: every core, every distribution of the
series places over the bays, every row of every family and every source is counted, and judged
by every check. Left out are only cores and rows that fail a check of their own, which no
choice beside them can mend. Sums are made here anew; :mod:`bomplan.design.assemble` has to
agree with them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from typing import Any

from oracle.buying_ways import Invoices, Way, ways_of
from oracle.cores import least_price, placements, standing
from oracle.mass_limits import failed_masses
from oracle.shares import Point, Share, Sums, every_choice

from bomplan.catalog.records import Catalog, Part
from bomplan.design.adapter import Simulator
from bomplan.design.assemble import Bill, Chosen, assemble, place_x_mm
from bomplan.design.bill import JOINTS, RULE_OF, RULES, DesignCurrents, Rule
from bomplan.design.bill.fits import row_checks
from bomplan.design.bill.shared_places import shared_checks
from bomplan.design.context import Context
from bomplan.design.currents import design_currents
from bomplan.design.drive import Drive, resolve
from bomplan.design.records import Core, Couplers
from bomplan.packing import fill_order
from bomplan.project.records import Project
from bomplan.requirements.evaluate import all_checks
from bomplan.requirements.simulated import simulated_checks
from bomplan.requirements.sustained import sustained_checks

# Per part and number needed: who sells it, and every way to buy it with the price of the goods.
Known = dict[tuple[str, int], tuple[list[str], list[tuple[int, Way]]]]
Key = tuple[int, int, tuple[object, ...], tuple[tuple[str, int], ...], tuple[int, ...], int]


@dataclass(frozen=True)
class Plain:
    """One whole plan as it is counted: nothing yet that only its rank or its verdict needs."""

    price: int
    shipping: int
    rows: tuple[int, ...]
    picks: tuple[Share, ...]
    couplers: Couplers
    failed: Callable[[], frozenset[str]]


@dataclass(frozen=True)
class Candidate:
    """One whole plan with the kinds of requirement that it fails."""

    key: Key
    core: Core
    rows: tuple[int, ...]
    picks: tuple[Share, ...]
    shipping: int
    couplers: Couplers
    failed: frozenset[str]
    figure: int = 0  # by another goal than the price

    @property
    def price(self) -> int:
        return self.key[0]

    @property
    def added_g(self) -> int:
        return self.key[1]

    @property
    def order(self) -> tuple[int, Key]:
        return self.figure, self.key

    @property
    def first(self) -> tuple[int, int]:
        return self.figure, self.price

    def quantities(self) -> list[tuple[str, str, str, int]]:
        """Of families that a plan may need no piece of, only what is fitted."""
        return [
            (p.family, p.part.id, "+".join(p.sellers), p.fitted)
            for p in self.picks
            if p.fitted or not RULE_OF[p.family].may_be_none
        ]


@dataclass
class Found:
    """The answer, and what a test of the generator wants to know of the way there.

    ``optima`` are all plans of the least price, in order. ``without[kind]`` is the best plan
    were that one kind of requirement given up.
    """

    optima: list[Candidate] = field(default_factory=list)
    without: dict[str, Candidate] = field(default_factory=dict)
    cores: int = 0
    plans: int = 0

    @property
    def best(self) -> Candidate | None:
        return self.optima[0] if self.optima else None


def brute_force(
    project: Project,
    catalog: Catalog,
    compare_every: int = 397,
    by: Callable[[Simulator, Candidate], int] | None = None,
) -> Found:
    """The best plan of all, by price, added mass, core, rows by family, and placement.

    ``by`` is what another goal counts before all that, the less the better.

    Every ``compare_every``-th plan, and the best one, is put together by the program itself
    and all its checks are made: sums and verdict must be the same.
    """
    return _search(project, catalog, compare_every, by, only_better=False)


def best_alone(project: Project, catalog: Catalog, core: Core | None = None) -> Candidate | None:
    """The best plan by price, for making a case: what is dearer than one found is not judged.

    Cores come by what they cost at the very least, so that most of the dear ones are not opened;
    where a ``core`` is given, no other is.
    """
    return _search(project, catalog, None, None, only_better=True, alone=core).best


def _search(
    project: Project,
    catalog: Catalog,
    compare_every: int | None,
    by: Callable[[Simulator, Candidate], int] | None,
    only_better: bool,
    alone: Core | None = None,
) -> Found:
    context = Context(project, catalog)
    found = Found()
    invoices = Invoices(catalog.suppliers, project.buying.suppliers_max)
    every: Iterable[Drive] = standing(context, alone)
    if only_better:
        every = sorted(every, key=lambda drive: least_price(context, drive))
    for drive in every:
        core, best = drive.core, found.best
        if only_better and best is not None and least_price(context, drive) > best.price:
            break
        simulator = Simulator(context, drive)
        currents = design_currents(context, drive, simulator)
        if not all(check.passed for check in sustained_checks(context, drive, currents)):
            continue
        found.cores += 1
        for plain in _plans(context, drive, currents, simulator, invoices):
            found.plans += 1
            compared = compare_every is not None and found.plans % compare_every == 0
            if only_better and found.best is not None and plain.price > found.best.price:
                continue
            failed = plain.failed()
            # Plans that fail in two ways at once are counted; nobody asks for more of them.
            if len(failed) > 1 and not compared:
                continue
            candidate = _candidate(core, plain, failed)
            if by is not None and not candidate.failed:
                candidate = replace(candidate, figure=by(simulator, candidate))
            _keep(found, candidate)
            if compared:
                recount(context, drive, currents, simulator, candidate)
    found.optima.sort(key=lambda candidate: candidate.order)
    if found.best is not None and compare_every is not None:
        drive = resolve(context, found.best.core)
        simulator = Simulator(context, drive)
        recount(context, drive, design_currents(context, drive, simulator), simulator, found.best)
    return found


def _keep(found: Found, candidate: Candidate) -> None:
    if not candidate.failed:
        if found.optima and candidate.first < found.optima[0].first:
            found.optima = []
        if not found.optima or candidate.first == found.optima[0].first:
            found.optima.append(candidate)
        return
    if len(candidate.failed) == 1:
        (kind,) = candidate.failed
        known = found.without.get(kind)
        if known is None or candidate.key < known.key:
            found.without[kind] = candidate


def _plans(
    context: Context,
    drive: Drive,
    currents: DesignCurrents,
    simulator: Simulator,
    invoices: Invoices,
) -> Iterator[Plain]:
    families = [
        (rule, _suited(context, drive, currents, rule))
        for rule in RULES
        if rule.needed(context, drive)
    ]
    together = _Together(context, drive, currents)
    driven: dict[tuple[int, int, int], frozenset[str]] = {}
    known: Known = {}
    counted = _Pieces(context, drive)
    for rows in placements(context, drive):
        shares = [
            [
                share
                for part in parts
                for share in _shares(context, counted, rule, part, rows, known)
            ]
            for rule, parts in families
        ]
        for sums, picks in every_choice(shares, invoices.sellers, context.wheelbase_mm):
            yield _plain(context, drive, simulator, rows, sums, picks, invoices, together, driven)


def _suited(context: Context, drive: Drive, currents: DesignCurrents, rule: Rule) -> list[Part]:
    core, choices = drive.core, context.project.choices
    fixed = {"motor": core.motor, "controller": core.controller, "module": core.module}
    locked = fixed.get(rule.family, choices.parts.get(rule.family))
    return [
        part
        for part in context.catalog.family(rule.family).values()
        if (part.id == locked if locked else part.id not in choices.excluded)
        and all(check.passed for check in row_checks(context, drive, currents, rule, part))
    ]


class _Pieces:
    """How many pieces of a row each rule asks for, asked once for one number of rows in a bay."""

    def __init__(self, context: Context, drive: Drive) -> None:
        self._context, self.drive = context, drive
        self._known: dict[tuple[str, str, int, int], int] = {}

    def apart(self, rule: Rule, part: Part) -> int:
        """Those that stand in no bay."""
        key = (rule.family, part.id, -1, 0)
        if key not in self._known:
            self._known[key] = rule.base(self._context, self.drive, part)
        return self._known[key]

    def inside(self, rule: Rule, part: Part, rows: tuple[int, ...]) -> list[int]:
        """Those of each bay."""
        return [self._in_bay(rule, part, bay, count) for bay, count in enumerate(rows)]

    def _in_bay(self, rule: Rule, part: Part, bay: int, count: int) -> int:
        if not count:
            return 0
        key = (rule.family, part.id, bay, count)
        if key not in self._known:
            self._known[key] = rule.in_bay(self._context, self.drive, part, bay, count)
        return self._known[key]


def _shares(
    context: Context,
    counted: _Pieces,
    rule: Rule,
    part: Part,
    rows: tuple[int, ...],
    known: Known,
) -> Iterator[Share]:
    """The row with every way to buy as many pieces as this placement and the spares need."""
    base, inside = counted.apart(rule, part), counted.inside(rule, part, rows)
    fitted = base + sum(inside)
    project = context.project
    spare = sum(
        one.pieces + (math.ceil(fitted / one.one_per) if one.one_per else 0)
        for one in project.buying.spares
        if one.family == rule.family and fitted
    )
    needed = max(0, fitted + spare - project.choices.owned.get(part.id, 0))
    if (part.id, needed) not in known:
        known[part.id, needed] = ways_of(project, context.catalog, part, needed)
    names, found = known[part.id, needed]
    least = min((price for price, _ in found), default=0)
    fitting = _fitting(context, counted.drive, rule, part, base, inside)
    for price, way in found:
        yield Share(
            family=rule.family,
            part=part,
            sellers=tuple(sorted(way)) or (names[0],),
            order=sum(1 << names.index(name) for name in way),
            way=way,
            bought=sum(pieces for pieces, _ in way.values()),
            price=price,
            dearer_than_needed=price > least,
            **fitting,
        )


def _fitting(
    context: Context, drive: Drive, rule: Rule, part: Part, base: int, inside: list[int]
) -> dict[str, Any]:
    """What the pieces bring wherever they are bought."""
    fitted = base + sum(inside)
    moment = base * part.mass_g * place_x_mm(context, rule)
    for bay, pieces in enumerate(inside):
        if rule.family == "module":
            moment += part.mass_g * sum(_middles_mm(context, part, bay, pieces))
        else:
            record = context.bays[bay]
            moment += part.mass_g * pieces * (record.x_mm + record.length_mm // 2)
    return {
        "points": _points(context, rule, part, base, inside),
        "fitted": fitted,
        "mass_g": fitted * part.mass_g,
        "moment_gmm": moment,
        "bay_g": tuple(pieces * part.mass_g for pieces in inside),
        "external_uohm": fitted * rule.external_uohm(drive, part),
        "load_w": fitted * rule.mean_12v_w(part),
        "supply_w": fitted * rule.supply_12v_w(part),
    }


def _points(
    context: Context, rule: Rule, part: Part, base: int, inside: list[int]
) -> tuple[Point, ...]:
    """Every piece with its mass and place, where loads of wheels are limited; else none."""
    if context.project.donor.weighing.front_left_g is None:
        return ()
    places = context.project.places
    own = {place.family: place for place in places.parts}
    x_mm, y_mm = place_x_mm(context, rule), getattr(places, f"{rule.place}_y_mm")
    if rule.family in own:
        x_mm, y_mm = own[rule.family].x_mm, own[rule.family].y_mm
    points = [(base * part.mass_g, x_mm, y_mm or 0)]
    for bay, pieces in enumerate(inside):
        record = context.bays[bay]
        if rule.family != "module":
            middle = 0 if record.y_mm is None else record.y_mm + record.width_mm // 2
            points.append((pieces * part.mass_g, record.x_mm + record.length_mm // 2, middle))
            continue
        layout = context.layout(bay, part)
        for x_mm, index in zip(
            _middles_mm(context, part, bay, pieces), fill_order(layout), strict=False
        ):
            stand = layout.positions[index]
            aside = stand.y_mm + stand.width_mm // 2
            points.append((part.mass_g, x_mm, 0 if record.y_mm is None else record.y_mm + aside))
    return tuple(points)


def _middles_mm(context: Context, module: Part, bay: int, pieces: int) -> list[int]:
    """Where along the car the first modules of a bay stand, in the order of filling."""
    layout = context.layout(bay, module)
    front = context.bays[bay].x_mm
    return [
        front + layout.positions[index].x_mm + layout.positions[index].length_mm // 2
        for index in fill_order(layout)[:pieces]
    ]


def _plain(
    context: Context,
    drive: Drive,
    simulator: Simulator,
    rows: tuple[int, ...],
    sums: Sums,
    picks: tuple[Share, ...],
    invoices: Invoices,
    together: _Together,
    driven: dict[tuple[int, int, int], frozenset[str]],
) -> Plain:
    """One plan's price, and how to find what it fails."""
    asked = invoices.of(sums.orders)
    price = sums.price - sum(goods for _, goods, _ in sums.orders) + (asked or 0)
    couplers = Couplers(
        added_g=sums.mass_g,
        external_uohm=sums.external_uohm + _joints_uohm(context, drive),
        mean_12v_w=sums.load_w + round(context.project.donor.load_12v_w),
    )

    def failed() -> frozenset[str]:
        """What the plan fails; it is not driven if that is two things before it moves."""
        kinds = set() if asked is not None else {"order"}
        kinds |= set(failed_masses(context, sums))
        kinds |= set(_failed_rooms(context, drive, rows, sums, picks))
        if sums.supply_w < couplers.mean_12v_w:
            kinds.add("twelve-volt")
        budget = context.project.targets.budget
        if budget is not None and price > budget:
            kinds.add("budget")
        kinds |= together.failed(picks)
        if len(kinds) > 1:
            return frozenset(kinds)
        key = (couplers.added_g, couplers.external_uohm, couplers.mean_12v_w)
        if key not in driven:
            driven[key] = frozenset(
                check.id.split(".")[0]
                for check in simulated_checks(simulator, couplers)
                if not check.passed
            )
        return frozenset(kinds) | driven[key]

    return Plain(price, price - sums.price, rows, picks, couplers, failed)


def _candidate(core: Core, plain: Plain, failed: frozenset[str]) -> Candidate:
    return Candidate(
        key=(
            plain.price,
            plain.couplers.added_g,
            core.sort_key(),
            tuple((pick.part.id, pick.order) for pick in plain.picks),
            tuple(-count for count in plain.rows),
            sum(pick.bought for pick in plain.picks),
        ),
        core=core,
        rows=plain.rows,
        picks=plain.picks,
        shipping=plain.shipping,
        couplers=plain.couplers,
        failed=failed,
    )


def _joints_uohm(context: Context, drive: Drive) -> int:
    each = context.project.house_rules.joint_uohm
    whole, rest = divmod(drive.core.series * each, drive.core.parallel)
    return whole + (1 if rest else 0)


def _failed_rooms(
    context: Context, drive: Drive, rows: tuple[int, ...], sums: Sums, picks: tuple[Share, ...]
) -> Iterator[str]:
    """Floors, bays and boxes by what they hold, and what gives off gas beside people."""
    for floor in context.project.floors:
        on_it = [n for n, bay in enumerate(context.bays) if bay.floor == floor.name]
        if sum(sums.bay_g[bay] for bay in on_it) > floor.mass_limit_g:
            yield "floor"
    box = next(pick.part for pick in picks if pick.family == "box")
    gassing = drive.module.number_or("gassing_a_per_100ah", 0) > 0
    for bay, count in enumerate(rows):
        if count == 0:
            continue
        record = context.bays[bay]
        if count * drive.core.parallel * drive.module.mass_g > 1000 * box.number("max_mass_kg"):
            yield "box"
        if record.mass_limit_g is not None and sums.bay_g[bay] > record.mass_limit_g:
            yield "bay"
        if gassing and record.inside_cabin and not record.vented:
            yield "gas"


class _Together:
    """What parts fail beside one another, whatever their number, place and price."""

    def __init__(self, context: Context, drive: Drive, currents: DesignCurrents) -> None:
        self._context, self._drive, self._currents = context, drive, currents
        self._known: dict[tuple[str, ...], frozenset[str]] = {}
        self._fits: dict[tuple[str, str], bool] = {}

    def failed(self, picks: tuple[Share, ...]) -> frozenset[str]:
        fitted = [p for p in picks if p.fitted or not RULE_OF[p.family].may_be_none]
        key = tuple(pick.part.id for pick in picks) + tuple(pick.family for pick in fitted)
        if key not in self._known:
            self._known[key] = frozenset(self._judge(fitted))
        return self._known[key]

    def _judge(self, fitted: list[Share]) -> Iterator[str]:
        parts = {pick.family: pick.part for pick in fitted}
        if not self._joined(parts):
            yield "joint"
        if not all(c.passed for c in shared_checks(self._context, self._drive, parts)):
            yield "shared-place"
        there, choices = {pick.part.id for pick in fitted}, self._context.project.choices
        for part in there:
            if (
                set(choices.requires.get(part, ())) - there
                or set(choices.forbids.get(part, ())) & there
            ):
                yield "own-rule"

    def _joined(self, parts: dict[str, Part]) -> bool:
        for joint in JOINTS:
            if joint.first not in parts or joint.second not in parts:
                continue
            first, second = parts[joint.first], parts[joint.second]
            key = (first.id, second.id)
            if key not in self._fits:
                self._fits[key] = all(
                    check.passed
                    for check in joint.judge(
                        self._context, self._drive, self._currents, first, second
                    )
                )
            if not self._fits[key]:
                return False
        return True


def recount(
    context: Context,
    drive: Drive,
    currents: DesignCurrents,
    simulator: Simulator,
    candidate: Candidate,
) -> Bill:
    """The program's own bill and checks of a plan; both must say what was found here."""
    chosen = {pick.family: _chosen(context, pick) for pick in candidate.picks}
    bill = assemble(context, drive, currents, candidate.rows, chosen)
    if "order" not in candidate.failed:
        assert bill.price == candidate.price
    assert bill.added_g == candidate.added_g
    assert bill.couplers == candidate.couplers
    assert bill.moment_gmm == sum(pick.moment_gmm for pick in candidate.picks)
    checks = all_checks(context, drive, currents, candidate.rows, chosen, bill, simulator)
    missed = sorted(check.id for check in checks if not check.passed)
    # Whether a supplier takes the order is for the audit to say; a refused one has no price.
    failed = candidate.failed
    if "order" in failed:
        failed -= {"order", "budget"}
        missed = [name for name in missed if name != "money.budget"]
    assert bool(missed) == bool(failed), (missed, candidate.failed)
    return bill


def _chosen(context: Context, pick: Share) -> Chosen:
    sources = {source.supplier: source for source in context.prices.sources(pick.part)}
    lots = []
    for seller, (pieces, _) in sorted(pick.way.items()):
        lot = sources[seller].lot(pieces)
        assert lot is not None
        lots.append(lot)
    return Chosen(pick.part, sources[pick.sellers[0]], tuple(lots))
