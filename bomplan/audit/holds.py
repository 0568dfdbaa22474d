"""The kilograms that the hold-down is bought for, counted again from the modules in each bay.

Shares no code with the rule of the bill: the modules are those of the plan's placement (series
places by modules in parallel), and what one weighs is what its line says. A bay's modules are
held together, so each bay is rounded up to a whole kilogram once; in plans made before that,
each module was.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import ceil

from bomplan.design.bill.rule import same
from bomplan.design.records import Check, Plan
from bomplan.source import computed

SOURCE = computed("modules of the placement and mass of one of them")


def hold_checks(plan: Plan) -> Iterator[Check]:
    """Whether the bill holds down what stands in the bays, neither more nor less."""
    lines = {line.family: line for line in plan.lines}
    if plan.core is None or "module" not in lines or "hold_down" not in lines:
        return
    each_kg = Fraction(str(lines["module"].unit_mass_kg))
    parallel = plan.core.parallel
    standing = sum(ceil(use.series * parallel * each_kg) for use in plan.placement)
    counted = lines["hold_down"].quantity
    yield same(
        "audit.hold-down",
        f"the hold-down is counted for {counted} kg of modules, {standing} kg stand in the bays",
        counted == standing,
        SOURCE,
        "modules that nothing holds fly through the car in a crash" if counted < standing else "",
    )
