"""Every plan there is, one after the other: the slow and plain answer that the planner must match.

Nothing of the planner is used and nothing is pruned: every core, every distribution of the
series places over the bays, every row of every family and every source is counted, and judged
by every check. Left out are only cores and rows that fail a check of their own, which no
choice beside them can mend. Sums are made here anew; :mod:`bomplan.design.assemble` has to
agree with them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import product

from oracle.buying_ways import Way, all_invoices, ways_of
from oracle.wheel_loads import failed_wheels

from bomplan.catalog.records import Catalog, Part
from bomplan.design.adapter import Simulator
from bomplan.design.assemble import Bill, Chosen, assemble, place_x_mm
from bomplan.design.bill import JOINTS, RULES, DesignCurrents, Rule
from bomplan.design.bill.fits import row_checks
from bomplan.design.bill.shared_places import shared_checks
from bomplan.design.context import Context
from bomplan.design.currents import design_currents
from bomplan.design.drive import LEAD, Drive, pack_figures, resolve
from bomplan.design.faults import least_fault_a
from bomplan.design.records import Core, Couplers, Topology
from bomplan.packing import fill_order
from bomplan.project.records import Project
from bomplan.requirements.core import core_checks
from bomplan.requirements.evaluate import all_checks
from bomplan.requirements.simulated import simulated_checks
from bomplan.requirements.sustained import sustained_checks

Point = tuple[int, int, int]
# Per part and number needed: who sells it, and every way to buy it with the price of the goods.
Known = dict[tuple[str, int], tuple[list[str], list[tuple[int, Way]]]]
Key = tuple[int, int, tuple[object, ...], tuple[tuple[str, int], ...], tuple[int, ...], int]


@dataclass(frozen=True)
class Share:
    """What one row from one source brings to a bill at one placement."""

    family: str
    part: Part
    sellers: tuple[str, ...]
    order: int
    way: Way
    fitted: int
    bought: int
    price: int
    mass_g: int
    moment_gmm: int
    bay_g: tuple[int, ...]
    external_uohm: int
    load_w: int
    supply_w: int
    dearer_than_needed: bool
    points: tuple[Point, ...] = ()


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
        return [(p.family, p.part.id, "+".join(p.sellers), p.fitted) for p in self.picks]


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
    compare_every: int = 97,
    by: Callable[[Simulator, Candidate], int] | None = None,
) -> Found:
    """The best plan of all, by price, added mass, core, rows by family, and placement.

    ``by`` is what another goal counts before all that, the less the better.

    Every ``compare_every``-th plan, and the best one, is put together by the program itself
    and all its checks are made: sums and verdict must be the same.
    """
    context = Context(project, catalog)
    found = Found()
    for core in cores(context):
        drive = resolve(context, core)
        if not all(check.passed for check in core_checks(context, drive)):
            continue
        simulator = Simulator(context, drive)
        currents = design_currents(context, drive, simulator)
        if not all(check.passed for check in sustained_checks(context, drive, currents)):
            continue
        found.cores += 1
        for candidate in _plans(context, drive, currents, simulator):
            found.plans += 1
            if by is not None and not candidate.failed:
                candidate = replace(candidate, figure=by(simulator, candidate))
            _keep(found, candidate)
            if found.plans % compare_every == 0:
                recount(context, drive, currents, simulator, candidate)
    found.optima.sort(key=lambda candidate: candidate.order)
    if found.best is not None:
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


def cores(context: Context) -> Iterator[Core]:
    """Every core that the builder's own choices leave, whether it can work or not."""
    choices, catalog = context.project.choices, context.catalog

    def rows(family: str, locked: str | None) -> list[Part]:
        return [
            part
            for part in catalog.family(family).values()
            if (part.id == locked if locked else part.id not in choices.excluded)
        ]

    most = sum(bay.length_mm * bay.width_mm * bay.height_mm for bay in context.bays)
    for motor, controller in product(
        rows("motor", choices.motor), rows("controller", choices.controller)
    ):
        # A drive unit brings its own gears: the donor's final drive is gone.
        own_gears = motor.text("mount") == "axle"
        ratios = (1.0,) if own_gears else context.project.donor.driveline.final_ratios
        for module in rows("module", choices.module):
            if choices.chemistries and module.text("chemistry") not in choices.chemistries:
                continue
            size = (module.length_mm or 1) * (module.width_mm or 1) * (module.height_mm or 1)
            for ratio, parallel in product(ratios, range(1, max(choices.parallel_max, 6) + 1)):
                if (choices.parallel or parallel) != parallel:
                    continue
                if choices.parallel is None and parallel > choices.parallel_max:
                    continue
                for series in range(1, most // size // parallel + 1):
                    if (choices.series or series) != series:
                        continue
                    for topology in _topologies(module, parallel):
                        if choices.topology not in (None, topology):
                            continue
                        for battery_a in _settings(context, controller, module, series, parallel):
                            yield Core(
                                motor=motor.id,
                                controller=controller.id,
                                final_ratio=ratio,
                                module=module.id,
                                series=series,
                                parallel=parallel,
                                topology=topology,
                                battery_a=battery_a,
                            )


def _settings(
    context: Context, controller: Part, module: Part, series: int, parallel: int
) -> set[int]:
    """Every battery current that the controller may be set to beside this pack."""
    figures = pack_figures(module, series, parallel)
    share = context.project.house_rules.peak_share_of_least_fault
    most = min(
        controller.number("battery_a_max"),
        figures.discharge_10s_a,
        max(1.0, share * least_fault_a(context, module, figures)),
    )
    named = context.project.choices.battery_current_a or (most,)
    return {int(min(most, amps) + 1e-9) for amps in named}


def _topologies(module: Part, parallel: int) -> tuple[Topology, ...]:
    """One string is a group of one; bare cells are joined in groups, lead never is."""
    if parallel == 1:
        return ("groups",)
    if module.flag("built_in_protection") or module.text("chemistry") in LEAD:
        return ("strings",)
    return ("groups", "strings") if module.number("cells_series") > 1 else ("groups",)


def placements(context: Context, drive: Drive) -> Iterator[tuple[int, ...]]:
    """Every distribution of the series places over the bays, as far as the layouts hold."""
    holds = [
        context.layout(bay, drive.module).count // drive.core.parallel
        for bay in range(len(context.bays))
    ]
    bays_max = context.project.choices.bays_max or len(holds)
    for rows in product(*(range(most + 1) for most in holds)):
        if sum(rows) == drive.core.series and sum(1 for count in rows if count) <= bays_max:
            yield rows


def _plans(
    context: Context, drive: Drive, currents: DesignCurrents, simulator: Simulator
) -> Iterator[Candidate]:
    families = [
        (rule, _suited(context, drive, currents, rule))
        for rule in RULES
        if rule.needed(context, drive)
    ]
    fits: dict[tuple[str, str], bool] = {}
    driven: dict[Couplers, frozenset[str]] = {}
    known: Known = {}
    for rows in placements(context, drive):
        shares = [
            [share for part in parts for share in _shares(context, drive, rule, part, rows, known)]
            for rule, parts in families
        ]
        for picks in product(*shares):
            yield _candidate(context, drive, currents, simulator, rows, picks, fits, driven)


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


def _shares(
    context: Context,
    drive: Drive,
    rule: Rule,
    part: Part,
    rows: tuple[int, ...],
    known: Known,
) -> Iterator[Share]:
    """The row with every way to buy as many pieces as this placement and the spares need."""
    fitted = _fitted(context, drive, rule, part, rows)
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
    for price, way in found:
        sellers = tuple(sorted(way)) or (names[0],)
        order = sum(1 << names.index(name) for name in way)
        yield _share(
            context, drive, rule, part, (price, way), sellers, (order, price > least), rows
        )


def _fitted(context: Context, drive: Drive, rule: Rule, part: Part, rows: tuple[int, ...]) -> int:
    return rule.base(context, drive, part) + sum(
        rule.in_bay(context, drive, part, bay, count) for bay, count in enumerate(rows) if count
    )


def _share(
    context: Context,
    drive: Drive,
    rule: Rule,
    part: Part,
    bought: tuple[int, Way],
    sellers: tuple[str, ...],
    rank: tuple[int, bool],
    rows: tuple[int, ...],
) -> Share:
    price, way = bought
    base = rule.base(context, drive, part)
    inside = [
        rule.in_bay(context, drive, part, bay, count) if count else 0
        for bay, count in enumerate(rows)
    ]
    fitted = base + sum(inside)
    moment = base * part.mass_g * place_x_mm(context, rule)
    for bay, pieces in enumerate(inside):
        if rule.family == "module":
            moment += part.mass_g * sum(_middles_mm(context, part, bay, pieces))
        else:
            record = context.bays[bay]
            moment += part.mass_g * pieces * (record.x_mm + record.length_mm // 2)
    return Share(
        points=_points(context, rule, part, base, inside),
        family=rule.family,
        part=part,
        sellers=sellers,
        order=rank[0],
        way=way,
        fitted=fitted,
        bought=sum(pieces for pieces, _ in way.values()),
        price=price,
        mass_g=fitted * part.mass_g,
        moment_gmm=moment,
        bay_g=tuple(pieces * part.mass_g for pieces in inside),
        external_uohm=fitted * rule.external_uohm(drive, part),
        load_w=fitted * rule.mean_12v_w(part),
        supply_w=fitted * rule.supply_12v_w(part),
        dearer_than_needed=rank[1],
    )


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


def _candidate(
    context: Context,
    drive: Drive,
    currents: DesignCurrents,
    simulator: Simulator,
    rows: tuple[int, ...],
    picks: tuple[Share, ...],
    fits: dict[tuple[str, str], bool],
    driven: dict[Couplers, frozenset[str]],
) -> Candidate:
    price = sum(pick.price for pick in picks)
    most = context.project.buying.suppliers_max
    bought = [(pick.part.mass_g, pick.way) for pick in picks]
    invoices = all_invoices(context.catalog.suppliers, bought, most)
    shipping = (invoices or 0) - sum(
        pieces * each for pick in picks for seller, (pieces, each) in pick.way.items() if seller
    )
    added = sum(pick.mass_g for pick in picks)
    couplers = Couplers(
        added_g=added,
        external_uohm=sum(pick.external_uohm for pick in picks) + _joints_uohm(context, drive),
        mean_12v_w=sum(pick.load_w for pick in picks) + round(context.project.donor.load_12v_w),
    )
    failed = set() if invoices is not None else {"order"}
    failed |= set(_failed_masses(context, drive, rows, picks, added))
    if sum(pick.supply_w for pick in picks) < couplers.mean_12v_w:
        failed.add("twelve-volt")
    budget = context.project.targets.budget
    if budget is not None and price + shipping > budget:
        failed.add("budget")
    if not _joined(context, drive, currents, picks, fits):
        failed.add("joint")
    together = shared_checks(context, drive, {pick.part.family: pick.part for pick in picks})
    if not all(check.passed for check in together):
        failed.add("shared-place")
    there, choices = {pick.part.id for pick in picks}, context.project.choices
    for part in there:
        if (
            set(choices.requires.get(part, ())) - there
            or set(choices.forbids.get(part, ())) & there
        ):
            failed.add("own-rule")
    if couplers not in driven:
        driven[couplers] = frozenset(
            check.id.split(".")[0]
            for check in simulated_checks(simulator, couplers)
            if not check.passed
        )
    return Candidate(
        key=(
            price + shipping,
            added,
            drive.core.sort_key(),
            tuple((pick.part.id, pick.order) for pick in picks),
            tuple(-count for count in rows),
            sum(pick.bought for pick in picks),
        ),
        core=drive.core,
        rows=rows,
        picks=picks,
        shipping=shipping,
        couplers=couplers,
        failed=frozenset(failed) | driven[couplers],
    )


def _joints_uohm(context: Context, drive: Drive) -> int:
    each = context.project.house_rules.joint_uohm
    whole, rest = divmod(drive.core.series * each, drive.core.parallel)
    return whole + (1 if rest else 0)


def _failed_masses(
    context: Context,
    drive: Drive,
    rows: tuple[int, ...],
    picks: tuple[Share, ...],
    added: int,
) -> Iterator[str]:
    """Gross, axles, shares, own limits, bays and boxes, by plain sums and fractions."""
    moment = sum(pick.moment_gmm for pick in picks)
    limits, share = context.limits, context.project.house_rules.minimum_front_share
    for load in context.loads:
        laden = context.base.mass_g + load.mass_g + added
        rear = Fraction(context.base.moment_gmm + load.moment_gmm + moment, context.wheelbase_mm)
        front = laden - rear
        if laden > limits.gross_g:
            yield "gross"
        if front > limits.front_g or rear > limits.rear_g:
            yield "axle"
        if share is not None and front < Fraction(round(share * 1000), 1000) * laden:
            yield "share"
        own = context.project.targets
        for value, most in (
            (laden, own.laden_mass_max_g),
            (front, own.front_axle_max_g),
            (rear, own.rear_axle_max_g),
        ):
            if most is not None and value > most:
                yield "own"
        greatest = context.project.house_rules.maximum_front_share
        if greatest is not None and front > Fraction(round(greatest * 1000), 1000) * laden:
            yield "share"
        if context.project.donor.weighing.front_left_g is not None:
            (case,) = [one for one in context.project.load_cases if one.name == load.name]
            yield from failed_wheels(context, picks, laden, case)
    for floor in context.project.floors:
        on_it = [n for n, bay in enumerate(context.bays) if bay.floor == floor.name]
        if sum(pick.bay_g[bay] for pick in picks for bay in on_it) > floor.mass_limit_g:
            yield "floor"
    box = next(pick.part for pick in picks if pick.family == "box")
    gassing = drive.module.number_or("gassing_a_per_100ah", 0) > 0
    for bay, count in enumerate(rows):
        if count == 0:
            continue
        record = context.bays[bay]
        if count * drive.core.parallel * drive.module.mass_g > 1000 * box.number("max_mass_kg"):
            yield "box"
        held = sum(pick.bay_g[bay] for pick in picks)
        if record.mass_limit_g is not None and held > record.mass_limit_g:
            yield "bay"
        if gassing and record.inside_cabin and not record.vented:
            yield "gas"


def _joined(
    context: Context,
    drive: Drive,
    currents: DesignCurrents,
    picks: tuple[Share, ...],
    fits: dict[tuple[str, str], bool],
) -> bool:
    parts = {pick.family: pick.part for pick in picks}
    for joint in JOINTS:
        if joint.first not in parts or joint.second not in parts:
            continue
        first, second = parts[joint.first], parts[joint.second]
        key = (first.id, second.id)
        if key not in fits:
            fits[key] = all(
                check.passed for check in joint.judge(context, drive, currents, first, second)
            )
        if not fits[key]:
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
    # Whether a supplier takes the order is for the audit to say.
    assert bool(missed) == bool(candidate.failed - {"order"}), (missed, candidate.failed)
    return bill


def _chosen(context: Context, pick: Share) -> Chosen:
    sources = {source.supplier: source for source in context.prices.sources(pick.part)}
    lots = []
    for seller, (pieces, _) in sorted(pick.way.items()):
        lot = sources[seller].lot(pieces)
        assert lot is not None
        lots.append(lot)
    return Chosen(pick.part, sources[pick.sellers[0]], tuple(lots))
