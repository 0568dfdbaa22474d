"""The check of a parts list that a person typed, for a project: no search, no choosing.

The list names parts and quantities; how many modules stand in series and where is read from
it or said beside it. Where a family that the conversion needs is missing, that is a failed
check, and what can be checked without it is checked all the same.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from bomplan.audit.typed_list import TypedPart
from bomplan.buying.prices import Source
from bomplan.catalog.records import Catalog, Part
from bomplan.design.adapter import Simulator
from bomplan.design.assemble import Bill, Chosen, assemble, fitted_rules, placement_records
from bomplan.design.battery_setting import named_settings, setting_a
from bomplan.design.bill import JOINTS, RULE_OF, DesignCurrents, at_least
from bomplan.design.bill.fits import row_checks
from bomplan.design.bill.rule import at_most, same
from bomplan.design.context import Context
from bomplan.design.currents import design_currents
from bomplan.design.drive import Drive, may_regenerate, pack_figures, resolve
from bomplan.design.driving_figures import driving_record
from bomplan.design.figures import mass_record, performance_record
from bomplan.design.left_open import left_open
from bomplan.design.money import with_money
from bomplan.design.planfile import digest, parts_used
from bomplan.design.records import Check, Core, Objective, Plan, SearchCounts, Topology
from bomplan.design.supply import supply_record
from bomplan.errors import Fault, InputError
from bomplan.packing import moment_table
from bomplan.project.records import Project
from bomplan.requirements.cautions import cautions
from bomplan.requirements.cliffs import cliffs
from bomplan.requirements.core import core_checks, must_be_strings
from bomplan.requirements.evaluate import all_checks, bay_dangers
from bomplan.requirements.overspeed import wrong_gear
from bomplan.source import computed

COUNTED = computed("counted from the parts list")
CORE = ("motor", "controller", "module")


@dataclass(frozen=True)
class PackSaid:
    """What is said beside the list: rows in series per bay, and what the list cannot tell."""

    placement: Mapping[str, int] | None = None
    parallel: int | None = None
    topology: Topology | None = None
    final_ratio: float | None = None
    battery_a: float | None = None


@dataclass(frozen=True)
class ListAudit:
    """Every check that can be made, and the plan that the list comes to when it is whole."""

    checks: tuple[Check, ...]
    missing: tuple[str, ...]
    plan: Plan | None


def audit_parts_list(
    project: Project,
    catalog: Catalog,
    parts: Mapping[str, TypedPart],
    said: PackSaid | None = None,
) -> ListAudit:
    """Every check of the list for this project. Raises InputError where it is no list of a
    conversion: without motor, controller or modules, or with modules that stand nowhere.
    """
    context = Context(project, catalog)
    core, rows = _core(context, parts, said or PackSaid())
    drive = resolve(context, core)
    simulator = Simulator(context, drive)
    currents = design_currents(context, drive, simulator)
    chosen = _chosen(context, drive, rows, parts)
    missing = tuple(
        rule.family for rule in fitted_rules(context, drive, rows) if rule.family not in chosen
    )
    crowded = tuple(_crowded(context, drive, rows))
    if missing or crowded:
        return ListAudit(
            (
                *(_missing(family) for family in missing),
                *crowded,
                *core_checks(context, drive),
                *bay_dangers(context, drive, rows),
                *_parts_alone(context, drive, currents, rows, chosen),
            ),
            missing,
            None,
        )
    bill = assemble(context, drive, currents, rows, chosen)
    checks = (
        *_quantities(bill, parts),
        *all_checks(context, drive, currents, rows, chosen, bill, simulator),
    )
    plan = _plan(context, drive, currents, rows, chosen, bill, simulator, checks)
    return ListAudit(checks, (), plan)


def _crowded(context: Context, drive: Drive, rows: tuple[int, ...]) -> Iterator[Check]:
    """Bays that do not hold the modules said to stand in them: no such car can be weighed."""
    for bay, series in enumerate(rows):
        held = len(moment_table(context.layout(bay, drive.module))) - 1
        if series * drive.core.parallel > held:
            name = context.bays[bay].name
            yield at_most(
                f"list.room.{name}",
                f"modules of {drive.module.id} said to stand in bay {name} against what it holds",
                series * drive.core.parallel,
                held,
                "modules",
                computed("counted from the bay's and the module's measures"),
            )


def _core(
    context: Context, parts: Mapping[str, TypedPart], said: PackSaid
) -> tuple[Core, tuple[int, ...]]:
    absent = [
        Fault("list.no-core", f"the list has no {family}", hint=f"add a row of family {family}")
        for family in CORE
        if family not in parts
    ]
    if absent:
        raise InputError(absent)
    choices = context.project.choices
    modules = parts["module"]
    motor = context.catalog.family("motor")[parts["motor"].part]
    module = context.catalog.family("module")[modules.part]
    rows, parallel = _rows(context, modules, said, said.parallel or choices.parallel)
    ratios = (
        (1.0,) if motor.text("mount") == "axle" else context.project.donor.driveline.final_ratios
    )
    ratio = said.final_ratio if said.final_ratio is not None else ratios[0]
    if ratio not in ratios or (said.final_ratio is None and len(ratios) > 1):
        raise InputError(
            [
                Fault(
                    "list.ratio",
                    "the project offers several final drives, and the list says none"
                    if said.final_ratio is None
                    else "is no final drive that the project offers",
                    value=None if said.final_ratio is None else f"{said.final_ratio:g}",
                    allowed=", ".join(f"{one:g}" for one in ratios),
                    hint="say which with --ratio",
                )
            ]
        )
    usual: Topology = "strings" if parallel > 1 and must_be_strings(module) else "groups"
    core = Core(
        motor=motor.id,
        controller=parts["controller"].part,
        final_ratio=ratio,
        module=module.id,
        series=sum(rows),
        parallel=parallel,
        topology=said.topology or choices.topology or usual,
        battery_a=_battery_a(context, parts, module, sum(rows), parallel, said.battery_a),
    )
    return core, rows


def _battery_a(
    context: Context,
    parts: Mapping[str, TypedPart],
    module: Part,
    series: int,
    parallel: int,
    said: float | None,
) -> int:
    """What the controller is set to: as said beside the list, or as high as it may be."""
    if said is not None:
        return max(1, int(said))
    controller = context.catalog.family("controller")[parts["controller"].part]
    figures = pack_figures(module, series, parallel)
    named = named_settings(context)[-1]
    return setting_a(context, controller, module, figures, named)[0]


def _rows(
    context: Context, modules: TypedPart, said: PackSaid, parallel: int | None
) -> tuple[tuple[int, ...], int]:
    """Series places per bay and modules side by side; raises InputError where they clash."""
    names = [bay.name for bay in context.bays]
    if said.placement is not None:
        _known_bays(said.placement, names)
        series = sum(said.placement.values())
        if series < 1 or modules.quantity % series or min(said.placement.values()) < 0:
            raise _pack(
                f"{modules.quantity} modules cannot stand in {series} places in series",
                f"a number of places that divides {modules.quantity}",
            )
        found = modules.quantity // series
        if parallel is not None and said.parallel is not None and found != parallel:
            raise _pack(
                f"{modules.quantity} modules in {series} places are {found} side by side,"
                f" not {parallel}",
                "quantity = places x modules side by side",
            )
        return tuple(said.placement.get(name, 0) for name in names), found
    stands = modules.bays or ({names[0]: modules.quantity} if len(names) == 1 else {})
    _known_bays(stands, names)
    if sum(stands.values()) != modules.quantity:
        raise _pack(
            "the list does not say where every module stands",
            f"a column bay ({', '.join(names)}) in every row of family module, or"
            " --placement BAY=PLACES",
        )
    side = parallel or 1
    if any(count % side for count in stands.values()):
        raise _pack(
            f"modules stand {side} side by side, so every bay holds a multiple of {side}",
            f"multiples of {side}",
        )
    return tuple(stands.get(name, 0) // side for name in names), side


def _known_bays(stands: Mapping[str, int], names: list[str]) -> None:
    wrong = [
        Fault("list.bay", "is no bay of the project", value=bay, allowed=", ".join(names))
        for bay in stands
        if bay not in names
    ]
    if wrong:
        raise InputError(wrong)


def _pack(message: str, allowed: str) -> InputError:
    return InputError([Fault("list.pack", message, where="family module", allowed=allowed)])


def _chosen(
    context: Context, drive: Drive, rows: tuple[int, ...], parts: Mapping[str, TypedPart]
) -> dict[str, Chosen]:
    chosen: dict[str, Chosen] = {}
    faults = []
    for rule in fitted_rules(context, drive, rows):
        typed = parts.get(rule.family)
        if typed is None:
            continue
        part = context.catalog.family(rule.family)[typed.part]
        source = _source(context, context.prices.sources(part), typed)
        if source is None:
            faults.append(
                Fault(
                    "list.not-for-sale",
                    "no supplier that the project allows sells this part",
                    where=f"family {rule.family}",
                    value=typed.part,
                    allowed=", ".join(s.supplier for s in context.prices.sources(part)) or None,
                )
            )
        else:
            chosen[rule.family] = Chosen(part, source)
    if faults:
        raise InputError(faults)
    return chosen


def _source(context: Context, sources: tuple[Source, ...], typed: TypedPart) -> Source | None:
    """The supplier named, else whoever sells this many for the least."""
    if typed.supplier:
        return next((one for one in sources if one.supplier == typed.supplier), None)
    return min(
        sources,
        key=lambda one: (
            context.prices.terms_of(one).least(one.buy(typed.quantity)[2]),
            one.supplier,
        ),
        default=None,
    )


def _missing(family: str) -> Check:
    rule = RULE_OF.get(family)
    return same(
        f"list.missing.{family}",
        f"the list has a part of family {family}, which this conversion needs",
        False,
        COUNTED,
        "" if rule is None else rule.too_few,
    )


def _parts_alone(
    context: Context,
    drive: Drive,
    currents: DesignCurrents,
    rows: tuple[int, ...],
    chosen: Mapping[str, Chosen],
) -> Iterator[Check]:
    """What each named part must pass alone and beside its neighbours on the list."""
    for rule in fitted_rules(context, drive, rows):
        if rule.family in chosen:
            yield from row_checks(context, drive, currents, rule, chosen[rule.family].part)
    for joint in JOINTS:
        if joint.first in chosen and joint.second in chosen:
            first, second = chosen[joint.first].part, chosen[joint.second].part
            yield from joint.judge(context, drive, currents, first, second)


def _quantities(bill: Bill, parts: Mapping[str, TypedPart]) -> Iterator[Check]:
    """As many pieces as the conversion needs; more are spares, which are not counted in."""
    for line in bill.lines:
        typed = parts.get(line.family)
        if typed is None:
            continue
        spare = typed.quantity - line.quantity
        more = f" ({spare} spare, neither weighed nor paid here)" if spare > 0 else ""
        rule = RULE_OF.get(line.family)
        yield at_least(
            f"list.quantity.{line.family}",
            f"{line.part} on the list against what is fitted{more}",
            typed.quantity,
            line.quantity,
            f"{line.unit}s" if line.unit in ("piece", "metre") else line.unit,
            COUNTED,
            "" if rule is None else rule.too_few,
        )


def _plan(
    context: Context,
    drive: Drive,
    currents: DesignCurrents,
    rows: tuple[int, ...],
    chosen: dict[str, Chosen],
    bill: Bill,
    simulator: Simulator,
    checks: tuple[Check, ...],
) -> Plan:
    project = context.project
    used = project.model_dump(mode="json")
    driving = driving_record(context, bill.couplers, chosen, simulator)
    placement = placement_records(context, drive, rows)
    plan = Plan(
        status="feasible",
        objective=Objective(minimise="nothing: a typed list", value=bill.price, bound=None),
        currency=project.currency,
        project=project.name,
        as_of=project.as_of.isoformat(),
        core=drive.core,
        placement=placement,
        lines=bill.lines,
        invoices=bill.invoices,
        spares=bill.spares,
        mass=mass_record(context, bill),
        couplers=bill.couplers,
        performance=performance_record(context, drive, currents, bill, chosen, simulator),
        driving=driving,
        supply_12v=supply_record(context, bill),
        checks=checks,
        cautions=cautions(
            drive,
            checks,
            driving,
            (
                *wrong_gear(context, drive.motor, drive.core.final_ratio),
                *cliffs(simulator, bill.couplers),
                *left_open(
                    context, drive, currents, placement, {f: c.part for f, c in chosen.items()}
                ),
            ),
            regenerates=may_regenerate(context, drive),
        ),
        search=SearchCounts(screened=0, solved=0, simulated=0, cut=0),
        inputs={"catalog": context.catalog.digest, "project": digest(used)},
        parts_used=parts_used(context, drive, [one.part for one in chosen.values()]),
        project_used=used,
    )
    return with_money(plan, project)
