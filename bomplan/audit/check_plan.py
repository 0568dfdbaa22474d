"""The independent check of any plan: counted again from its own lines and embedded parts.

The audit shares formulas with the planner (each stands in one place) and nothing else: no
bound, no scaling, no filter, no model. It trusts no total of the plan: quantities, masses,
moments, prices and shipping are counted again line by line, every check is made again, and
where the plan says something else, that is a failed check of its own.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from bomplan.audit.holds import hold_checks
from bomplan.audit.links import link_checks
from bomplan.audit.lugs import lug_checks
from bomplan.audit.money import money_checks
from bomplan.audit.series import series_checks
from bomplan.audit.standing import standing_checks
from bomplan.audit.statements import statement_checks
from bomplan.buying.prices import Source
from bomplan.buying.terms import CHARGES
from bomplan.catalog.records import Catalog
from bomplan.design.adapter import Simulator
from bomplan.design.assemble import Bill, Chosen, assemble, bay_moment_gmm, fitted_rules
from bomplan.design.bill import RULE_OF
from bomplan.design.bill.rule import at_least, at_most, same
from bomplan.design.context import Context, bay_box, module_box
from bomplan.design.currents import design_currents
from bomplan.design.drive import Drive, resolve
from bomplan.design.driving_figures import driving_record
from bomplan.design.figures import performance_record
from bomplan.design.planfile import catalog_of, project_of
from bomplan.design.records import Check, Line, Plan
from bomplan.design.series import geometry
from bomplan.errors import Fault, InputError
from bomplan.packing import Layout, check_layout
from bomplan.requirements.evaluate import all_checks
from bomplan.source import computed

COUNTED = computed("counted again from the plan's own lines")


def audit_plan(plan: Plan) -> tuple[Check, ...]:
    """Every check of the plan, made again. Empty for a plan that chose nothing.

    Raises InputError where the plan lacks what it needs to be checked: a part that is not
    embedded, a family without a line, a bay that its project does not know.
    """
    if plan.core is None:
        return ()
    # Plans of older versions list no purchases, and brought each price into their money alone.
    older = not any(line.purchases for line in plan.lines)
    catalog = catalog_of(plan)
    later = _later_families(plan, catalog)
    context = Context(
        project_of(plan), catalog, rounded_each=older, unknown_families=frozenset(later)
    )
    drive = _drive(context, plan)
    rows = _rows(context, plan)
    _room(context, drive, rows)
    chosen = _chosen(context, drive, rows, plan)
    simulator = Simulator(context, drive)
    currents = design_currents(context, drive, simulator)
    bill = assemble(context, drive, currents, rows, chosen)
    checks = all_checks(context, drive, currents, rows, chosen, bill, simulator)
    return (
        *_not_held(context, drive, later),
        *_honesty(context, drive, plan, bill),
        *statement_checks(
            context,
            drive,
            plan,
            bill,
            performance_record(context, drive, currents, bill, chosen, simulator),
            driving_record(context, bill.couplers, chosen, simulator),
        ),
        *money_checks(plan.model_copy(update={"lines": bill.lines}), context.project),
        *standing_checks(context, drive, currents, chosen, plan, checks),
        *checks,
    )


# Families that came after the first plans were written: such a plan has neither line nor rows.
LATER = (
    "branch_cable",
    "discharge_resistor",
    "branch_lug",
    "branch_gland",
    "wire_12v",
    "feed_fuse",
    "feed_wire",
    "feed_lug",
)


def _later_families(plan: Plan, catalog: Catalog) -> tuple[str, ...]:
    """Families younger than the plan, of which it knows nothing at all."""
    held = {line.family for line in plan.lines}
    return tuple(one for one in LATER if one not in held and not catalog.family(one))


def _not_held(context: Context, drive: Drive, families: tuple[str, ...]) -> Iterator[Check]:
    """What an older plan does not hold and its conversion needs: it is not whole."""
    for family in families:
        rule = RULE_OF[family]
        if rule.needed(context, drive):
            yield same(
                f"audit.older.{family}",
                f"the plan, made before it was counted, holds the family {family}: plan again",
                False,
                COUNTED,
                rule.too_few,
            )


def _drive(context: Context, plan: Plan) -> Drive:
    assert plan.core is not None
    try:
        return resolve(context, plan.core)
    except KeyError as error:
        raise InputError(
            [
                Fault(
                    "audit.part-missing",
                    "the plan does not embed a part of its core",
                    where="parts_used",
                    value=str(error.args[0]),
                )
            ]
        ) from None


def _rows(context: Context, plan: Plan) -> tuple[int, ...]:
    names = [bay.name for bay in context.bays]
    rows = [0] * len(names)
    for use in plan.placement:
        if use.bay not in names:
            raise InputError(
                [
                    Fault(
                        "audit.bay-unknown",
                        "the plan puts modules into a bay that its project does not have",
                        where="placement",
                        value=use.bay,
                        allowed=", ".join(names),
                    )
                ]
            )
        rows[names.index(use.bay)] += use.series
    return tuple(rows)


def _room(context: Context, drive: Drive, rows: tuple[int, ...]) -> None:
    """Without a place for each module nothing of the plan can be weighed: InputError."""
    faults = [
        Fault(
            "audit.bay-too-small",
            "the plan puts more modules into a bay than find room there",
            where=f"placement, {context.bays[bay].name}",
            value=f"{count * drive.core.parallel} modules",
            allowed=f"{context.layout(bay, drive.module).count} at most",
            hint="measure the bay again, or plan anew",
        )
        for bay, count in enumerate(rows)
        if count * drive.core.parallel > context.layout(bay, drive.module).count
    ]
    if faults:
        raise InputError(faults)


def _chosen(context: Context, drive: Drive, rows: tuple[int, ...], plan: Plan) -> dict[str, Chosen]:
    lines: dict[str, Line] = {}
    faults = []
    for line in plan.lines:
        if line.family in CHARGES:
            continue
        if line.family in lines:
            faults.append(Fault("audit.line-twice", f"two lines of family {line.family}"))
        lines[line.family] = line
    chosen: dict[str, Chosen] = {}
    for rule in fitted_rules(context, drive, rows):
        wanted = lines.get(rule.family)
        if wanted is None:
            faults.append(
                Fault(
                    "audit.line-missing",
                    f"the plan has no line of family {rule.family}",
                    where="lines",
                    hint="without it the conversion is not whole",
                )
            )
            continue
        part = context.catalog.family(rule.family).get(wanted.part)
        sources = () if part is None else context.prices.sources(part)
        source = _source(sources, wanted.supplier)
        if part is None or source is None:
            faults.append(
                Fault(
                    "audit.part-missing",
                    "the plan does not embed this part or its offer",
                    where="parts_used",
                    value=f"{wanted.part} from {wanted.supplier or 'list'}",
                )
            )
            continue
        lots = tuple(
            lot
            for one in wanted.purchases
            if (seller := _source(sources, one.supplier)) is not None
            and (lot := seller.lot(one.bought)) is not None
        )
        # What is not on offer in that number is counted as the cheapest way, and so differs.
        sold = len(lots) == len(wanted.purchases)
        chosen[rule.family] = Chosen(part, source, lots if sold else ())
    if faults:
        raise InputError(faults)
    return chosen


def _source(sources: tuple[Source, ...], supplier: str) -> Source | None:
    return next((source for source in sources if source.supplier == supplier), None)


def _honesty(context: Context, drive: Drive, plan: Plan, bill: Bill) -> Iterator[Check]:
    """What the plan says of itself against what its lines come to."""
    stated = {_key(line): line for line in plan.lines}
    counted = {_key(line): line for line in bill.lines}
    if not any(line.purchases for line in plan.lines):
        # Older than purchases: there are none to compare.
        counted = {key: line.model_copy(update={"purchases": ()}) for key, line in counted.items()}
    wrong = [
        family
        for family in sorted(stated.keys() | counted.keys())
        if _figures(stated.get(family)) != _figures(counted.get(family))
    ]
    yield at_most(
        "audit.lines",
        "lines whose quantity, price or mass differs" + (f": {', '.join(wrong)}" if wrong else ""),
        len(wrong),
        0,
        "lines",
        COUNTED,
    )
    yield from _dangerously_few(stated, counted)
    total = sum(line.price for line in plan.lines)
    yield same(
        "audit.price",
        f"the plan's price {plan.objective.value} is what its lines come to ({bill.price})",
        plan.objective.value == bill.price == total,
        COUNTED,
    )
    yield same(
        "audit.proof",
        "what a plan that is called the best comes to is the best that is proven possible",
        plan.status != "optimal" or _is_proven(plan),
        COUNTED,
    )
    if plan.invoices or plan.spares:
        yield same(
            "audit.invoices",
            "every supplier's invoice and the spares are those of the lines",
            (plan.invoices, plan.spares) == (bill.invoices, bill.spares),
            COUNTED,
        )
    mass = plan.mass
    yield same(
        "audit.mass",
        "the plan's kerb mass is that of its lines on the stripped donor",
        mass is not None and round(mass.kerb_kg * 1000) == context.base.mass_g + bill.added_g,
        COUNTED,
    )
    yield at_most(
        "audit.axles",
        "greatest difference between a stated axle load and the one counted from every stand",
        _axle_gap_kg(context, plan, bill),
        0.001,
        "kg",
        COUNTED,
    )
    yield from _stands(context, drive, plan)
    yield from series_checks(drive, plan)
    yield from hold_checks(plan)
    yield from link_checks(context, plan)
    yield from lug_checks(plan)


def _is_proven(plan: Plan) -> bool:
    """Whether the bound that a plan states by its goal is what it comes to."""
    objective = plan.objective
    if objective.goal is not None:
        return objective.goal.bound == objective.goal.figure
    return objective.bound == objective.value


def _dangerously_few(stated: dict[str, Line], counted: dict[str, Line]) -> Iterator[Check]:
    """Families whose pieces guard something, where the plan has fewer than its circuit needs."""
    for family, line in counted.items():
        rule = RULE_OF.get(family)
        if rule is None or not rule.too_few or family not in stated:
            continue
        if stated[family].quantity < line.quantity:
            yield at_least(
                f"audit.quantity.{family}",
                f"pieces of {line.part} in the plan against what its circuit needs",
                stated[family].quantity,
                line.quantity,
                f"{line.unit}s",
                COUNTED,
                rule.too_few,
            )


def _key(line: Line) -> str:
    """What a line stands for: a family, or a charge on one supplier's order."""
    return f"{line.family} by {line.part}" if line.family in CHARGES else line.family


def _figures(line: Line | None) -> tuple[object, ...]:
    if line is None:
        return ()
    return (
        line.part,
        line.supplier,
        line.quantity,
        line.to_spare,
        line.bought,
        line.owned,
        line.unit_price,
        line.price,
        line.unit_mass_kg,
        line.mass_kg,
        line.moment_gmm,
        line.moment_y_gmm,
        line.moment_xy_gmm2,
        line.purchases,
    )


def _axle_gap_kg(context: Context, plan: Plan, bill: Bill) -> float:
    """Axle loads from first principles: every module at its own stand, the rest by rule."""
    if plan.mass is None:
        return float("inf")
    module = next(line for line in bill.lines if line.family == "module")
    part = context.catalog.family("module")[module.part]
    by_name = {bay.name: bay for bay in context.bays}
    stood = sum(
        part.mass_g * (by_name[use.bay].x_mm + stand.x_mm + stand.length_mm // 2)
        for use in plan.placement
        for stand in use.stands
    )
    by_rule = _module_moment(context, plan)
    moment = bill.moment_gmm - by_rule + stood
    gap = 0.0
    for load in context.loads:
        mass = context.base.mass_g + load.mass_g + bill.added_g
        rear = Fraction(context.base.moment_gmm + load.moment_gmm + moment, context.wheelbase_mm)
        for axle in plan.mass.axles:
            if axle.load_case == load.name:
                loaded = rear if axle.name == "rear" else mass - rear
                gap = max(gap, abs(axle.load_kg - float(loaded) / 1000))
    return gap


def _module_moment(context: Context, plan: Plan) -> int:
    drive = _drive(context, plan)
    return sum(
        bay_moment_gmm(context, drive, RULE_OF["module"], drive.module, bay, count)
        for bay, count in enumerate(_rows(context, plan))
    )


def _stands(context: Context, drive: Drive, plan: Plan) -> Iterator[Check]:
    """The recorded stands: as many as modules, and a layout that can be built."""
    box = module_box(drive.module)
    for use in plan.placement:
        bay = next(bay for bay in context.bays if bay.name == use.bay)
        found = Layout(tuple(geometry(stand) for stand in use.stands), exact=False)
        faults = check_layout(bay_box(bay), box, found)
        missing = abs(len(use.stands) - use.modules)
        missing += abs(use.modules - use.series * drive.core.parallel)
        yield at_most(
            f"audit.stands.{use.bay}",
            f"faults of the layout in bay {use.bay}" + (f" ({faults[0]})" if faults else ""),
            len(faults) + missing,
            0,
            "faults",
            computed("geometry of the recorded stands"),
        )
