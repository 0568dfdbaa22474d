"""What can hurt someone, in one place: shown wherever a plan is shown."""

from __future__ import annotations

from bomplan.design.drive import Drive
from bomplan.design.driving import Driving
from bomplan.design.records import Check

DEFER = (
    "Local codes, inspection and licensed practice decide; this plan is arithmetic on the"
    " figures it was given, not an approval."
)


def cautions(
    drive: Drive, checks: tuple[Check, ...], driving: Driving | None = None
) -> tuple[str, ...]:
    """The cautions of a plan, the most urgent first; those of failed checks lead."""
    found = [check.caution for check in checks if not check.passed and check.caution]
    figures = drive.figures
    if figures.charge_v > 60:
        found.append(
            f"The pack reaches {figures.charge_v:.0f} V direct voltage: above 60 V a touch can"
            " kill. Build it in sections of at most 60 V, one hand, insulating gloves, and fit"
            " the link between sections last."
        )
    megajoules = figures.nominal_wh * 3600 / 1e6
    found.append(
        f"The pack stores {megajoules:.0f} MJ and cannot be switched off: a dropped spanner"
        " welds and burns. Cover every terminal that is not being worked on."
    )
    if drive.module.number_or("gassing_a_per_100ah", 0) > 0:
        found.append(
            "Lead-acid cells give off hydrogen while they charge: fan running, no spark, no"
            " flame, and the vent leads outside."
        )
    if drive.lithium_or_sodium:
        found.append("Never charge lithium cells below 0 °C: they plate and may burn later.")
    if drive.motor.text("kind") == "series_dc":
        found.append(
            "A series motor without load runs away and bursts, and a failed chopper goes full"
            " on: keep the clutch or a mechanical disconnect within reach."
        )
    descent = None if driving is None else driving.descent
    if descent is not None and descent.warn:
        found.append(
            f"On {descent.profile} the friction brakes take {descent.brake_mj:.1f} MJ over"
            f" {descent.height_m:.0f} m of descent when the pack is full and takes nothing back:"
            " more than light brakes are known to stand. Go down slowly, stop to cool them, or"
            " leave the top without a full charge."
        )
    found.append("Lift and prop the car on rated stands; batteries and motors crush hands.")
    found.append(DEFER)
    unique = list(dict.fromkeys(found))
    return tuple(unique)
