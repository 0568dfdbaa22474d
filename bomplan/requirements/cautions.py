"""What can hurt someone, in one place: shown wherever a plan is shown."""

from __future__ import annotations

from typing import Final, Literal

from bomplan.design.drive import Drive
from bomplan.design.driving import Driving
from bomplan.design.records import Check
from bomplan.requirements.mounting import warned

DEFER = (
    "Local codes, inspection and licensed practice decide; this plan is arithmetic on the"
    " figures it was given, not an approval."
)
COLD_CHARGE: Final = "Never charge lithium cells below 0 °C: they plate and may burn later."
HYDROGEN: Final = (
    "Lead-acid cells give off hydrogen while they charge: fan running, no spark, no"
    " flame, and the vent leads outside."
)
RUNAWAY: Final = (
    "A series motor without load runs away and bursts, and a failed chopper goes full"
    " on: keep the clutch or a mechanical disconnect within reach."
)
LIFTING: Final = "Lift and prop the vehicle on rated stands; batteries and motors crush hands."

# Where on a sheet a caution stands: beside the work that it is about.
Work = Literal["cells", "first power", "spin", "lifting", "charging", "driving"]

_ON_A_STAND: Final = (
    "Strap the motorcycle upright on a stand that lifts the driven wheel, on level ground: it"
    " falls on whoever pulls at it. Keep fingers and clothes out of chain and sprocket."
)
_CHARGED: Final = (
    "The controller's capacitors stay charged after the pack is off: wait, then measure below"
    " 60 V with a meter that you have just tried on the pack, before you touch."
)
_ARC: Final = (
    "Never open a connector or a disconnect that carries current unless it is made for that: a"
    " direct-current arc does not go out by itself."
)
_ACID: Final = "Acid burns: goggles, gloves, and water at hand before a cap is opened."
_WRONG_WAY: Final = (
    "A motor that is wired or set wrongly may start by itself or the wrong way: driven wheels in"
    " the air, nobody in line with the vehicle, a hand on the disconnect."
)
_NO_ENGINE: Final = (
    "Nothing is heard when it is ready to drive: key out whenever you leave it, and whenever"
    " anyone works on it."
)


_SMOULDERS: Final = (
    "A crushed or burnt lithium cell may burn again hours or days later, and its smoke is"
    " poisonous: much water, distance, open air, and tell whoever tows it."
)
_LEAKS: Final = (
    "Acid may run out, and hydrogen may stand in the box: no spark, air it before it is opened."
)
_STAYS_LIVE: Final = (
    "With everything off, the cells and the cables up to the contactors stay live. Never cut a"
    " thick orange cable or a battery box."
)


# How a sentence begins that leaves something to find out or to buy, and tells no danger.
TO_SETTLE = ("Not checked:", "Not in the bill:", "To order:")


def to_settle(words: str) -> bool:
    """Whether a plan's sentence is for who measures and orders, not for hands at work."""
    return words.startswith(TO_SETTLE)


def at_rescue(drive: Drive) -> tuple[str, ...]:
    """What a rescuer must know of this pack, in few words; common practice."""
    chemistry = _SMOULDERS if drive.lithium_or_sodium else _LEAKS
    over_60 = drive.figures.charge_v > 60
    return (*((_STAYS_LIVE,) if over_60 else ()), chemistry)


def touch(drive: Drive) -> str | None:
    """What a hand on two poles means; None up to 60 V, where a touch does not kill."""
    volts = drive.figures.charge_v
    if volts <= 60:
        return None
    return (
        f"The pack reaches {volts:.0f} V direct voltage: above 60 V a touch can"
        " kill. Build it in sections of at most 60 V, one hand, insulating gloves, and fit"
        " the link between sections last."
    )


def stored(drive: Drive) -> str:
    """The energy that no switch turns off."""
    megajoules = drive.figures.nominal_wh * 3600 / 1e6
    return (
        f"The pack stores {megajoules:.0f} MJ and cannot be switched off: a dropped spanner"
        " welds and burns. Cover every terminal that is not being worked on."
    )


def cold_regeneration(drive: Drive, regenerates: bool) -> tuple[str, ...]:
    """That braking charges too, for lithium and sodium cells; figures of the module's row."""
    if not (regenerates and drive.lithium_or_sodium):
        return ()
    least, most = (drive.module.number(one) for one in ("charge_min_c", "charge_max_c"))
    return (
        f"Regeneration charges the cells too: none while a cell is below {least:g} °C or above"
        f" {most:g} °C. Something has to take it away there: controller, monitors, or a switch.",
    )


def gassing(drive: Drive) -> bool:
    """Whether the cells give off hydrogen."""
    return drive.module.number_or("gassing_a_per_100ah", 0) > 0


def at_work(
    drive: Drive, kind: Literal["car", "motorcycle"], *, regenerates: bool = False
) -> dict[Work, tuple[str, ...]]:
    """The cautions of a drive, each at the work in which it can hurt."""
    over_60 = touch(drive)
    series = drive.motor.text("kind") == "series_dc"
    acid = (_ACID,) if drive.module.text("chemistry") == "flooded" else ()
    lift = _ON_A_STAND if kind == "motorcycle" else LIFTING
    return {
        "cells": (*((over_60,) if over_60 else ()), stored(drive), *acid),
        "first power": (*((_CHARGED,) if over_60 else ()), _ARC),
        "spin": (RUNAWAY, _WRONG_WAY) if series else (_WRONG_WAY,),
        "lifting": (lift,),
        "charging": (
            *((HYDROGEN,) if gassing(drive) else ()),
            *((COLD_CHARGE,) if drive.lithium_or_sodium else ()),
        ),
        "driving": (
            *((RUNAWAY,) if series else ()),
            *cold_regeneration(drive, regenerates),
            _NO_ENGINE,
        ),
    }


# First words of the ids of how the car drives.
_DRIVING = ("range.", "speed.", "climb.", "acceleration.")


def refusal_cautions(checks: tuple[Check, ...]) -> tuple[str, ...]:
    """What would have been dangerous in what the planner refused."""
    return tuple(dict.fromkeys(check.caution for check in checks if check.caution))


def cautions(
    drive: Drive,
    checks: tuple[Check, ...],
    driving: Driving | None = None,
    unchecked: tuple[str, ...] = (),
    *,
    regenerates: bool = False,
) -> tuple[str, ...]:
    """The cautions of a plan, the most urgent first; those of failed checks lead.

    ``unchecked``: what could not be looked at for want of a figure, and what hangs by a hair.
    """
    failed = [check for check in checks if not check.passed and check.caution]
    # What hurts somebody comes before what only leaves him standing.
    failed.sort(key=lambda check: check.id.startswith(_DRIVING))
    found = [check.caution for check in failed]
    found += [
        f"{check.words}: {check.value:.0f} mm; {check.caution}."
        for check in checks
        if warned(check)
    ]
    over_60 = touch(drive)
    if over_60 is not None:
        found.append(over_60)
    found.append(stored(drive))
    if gassing(drive):
        found.append(HYDROGEN)
    if drive.lithium_or_sodium:
        found.append(COLD_CHARGE)
    found += cold_regeneration(drive, regenerates)
    if drive.motor.text("kind") == "series_dc":
        found.append(RUNAWAY)
    descent = None if driving is None else driving.descent
    if descent is not None and descent.warn:
        found.append(
            f"On {descent.profile} the friction brakes take {descent.brake_mj:.1f} MJ over"
            f" {descent.height_m:.0f} m of descent when the pack is full and takes nothing back:"
            " more than light brakes are known to stand. Go down slowly, stop to cool them, or"
            " leave the top without a full charge."
        )
    found.append(LIFTING)
    found.extend(unchecked)
    found.append(DEFER)
    unique = list(dict.fromkeys(found))
    return tuple(unique)
