"""Help for the brakes when the engine that made the vacuum is gone."""

from __future__ import annotations

from collections.abc import Iterator

from bomplan.catalog.records import Part
from bomplan.design.bill.rule import at_least
from bomplan.design.context import Context
from bomplan.design.records import Check
from bomplan.project.records import Donor
from bomplan.sizing.vacuum import (
    VACUUM_LOST_KPA,
    VACUUM_ON_KPA,
    booster_l,
    presses_left,
    swept_l,
)
from bomplan.source import practice


def presses(donor: Donor, reservoir_l: float) -> int:
    """Full presses with help once the pump has failed, from where it would have started."""
    swept = swept_l(donor.booster_diameter_mm)
    volume = reservoir_l + booster_l(donor.booster_diameter_mm)
    return presses_left(volume, VACUUM_ON_KPA, swept, VACUUM_LOST_KPA)


def vacuum_checks(context: Context, vacuum_set: Part) -> Iterator[Check]:
    """Whether the reservoir stops the car without the pump. Nothing where its size is not told."""
    if not vacuum_set.has("reservoir_l"):
        return
    donor = context.project.donor
    yield at_least(
        "vacuum.presses",
        f"full presses of the pedal that are left when the pump fails: {VACUUM_ON_KPA:.0f} kPa in"
        f" {vacuum_set.number('reservoir_l'):g} l and a booster of {donor.booster_diameter_mm} mm,"
        f" help until {VACUUM_LOST_KPA:.0f} kPa",
        presses(donor, vacuum_set.number("reservoir_l")),
        context.project.house_rules.brake_presses,
        "presses",
        practice(
            "air let in spreads at its temperature (computed); 20 kPa tells a fault in a factory"
            " car (seen); three presses and the sizes of boosters: common practice"
        ),
        "a booster that runs out of vacuum at the second press leaves a pedal as hard as stone",
    )


def unheld(donor: Donor, vacuum_set: Part | None) -> tuple[str, ...]:
    """A sentence where nobody can say how often the brakes help without the pump."""
    if vacuum_set is None or vacuum_set.has("reservoir_l") or not donor.brake_booster:
        return ()
    return (
        f"{vacuum_set.id} does not tell the size of its vacuum reservoir: how many presses with"
        " help are left when the pump fails is not known. Measure it before the first drive, pump"
        " off.",
    )
