"""Every core there is and every way that it stands in the bays; nothing of the planner is used."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

from bomplan.catalog.records import Part
from bomplan.design.bill import RULES, Rule
from bomplan.design.context import Context
from bomplan.design.drive import LEAD, Drive, pack_figures, resolve
from bomplan.design.faults import least_fault_a
from bomplan.design.records import Core, Topology
from bomplan.requirements.core import core_checks


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


def standing(context: Context, alone: Core | None = None) -> Iterator[Drive]:
    """Every core that passes its own checks and stands somewhere."""
    for core in cores(context):
        if alone is not None and core != alone:
            continue
        drive = resolve(context, core)
        if not all(check.passed for check in core_checks(context, drive)):
            continue
        if any(True for _ in placements(context, drive)):
            yield drive


def least_price(context: Context, drive: Drive) -> int:
    """No plan of this core costs less: the cheapest row of each family at its least price."""
    core = drive.core
    fixed = {"motor": core.motor, "controller": core.controller, "module": core.module}
    least = 0
    for rule in RULES:
        rows = context.catalog.family(rule.family)
        if not rule.needed(context, drive):
            continue
        parts = [rows[fixed[rule.family]]] if rule.family in fixed else rows.values()
        least += min((_least_of(context, drive, rule, part) for part in parts), default=0)
    return least


def _least_of(context: Context, drive: Drive, rule: Rule, part: Part) -> int:
    """What the pieces cost that stand in no bay, and all modules."""
    pieces = rule.base(context, drive, part)
    if rule.family == "module":
        pieces += drive.core.series * drive.core.parallel
    prices = [one.unit_price for one in context.catalog.offers if one.part == part.id]
    owned = context.project.choices.owned.get(part.id, 0)
    return max(0, pieces - owned) * min(prices, default=part.price)
