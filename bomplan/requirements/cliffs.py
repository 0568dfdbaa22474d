"""Ranges that a little more of everything would break: where the drive ends at one hill."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from bomplan.design.adapter import Simulator
from bomplan.design.records import Couplers
from bomplan.physics import RangeAnswer
from bomplan.requirements.shown import floored

# What a careful builder may be off by: common practice.
MORE_RESISTANCE: Final = 1.1
MORE_LOAD_12V: Final = 1.1
MORE_MASS: Final = 0.01  # of the reference mass


_OPENING: Final = "Do not lean on the"


def hangs_at_a_hill(told: Iterable[str], target: str) -> bool:
    """Whether one of a plan's cautions says so of this range target."""
    return any(one.startswith(_OPENING) and f" of {target}: with" in one for one in told)


def cliffs(simulator: Simulator, couplers: Couplers) -> tuple[str, ...]:
    """A sentence for each range target that is met, and missed with a little more of all three.

    So little more takes a few parts in a hundred from a range that ends when the pack is empty.
    Where it takes more than the whole margin, the pack falls under its cut-off at some hill, and
    the distance jumps.
    """
    context = simulator.context
    worse = Couplers(
        added_g=couplers.added_g + round(MORE_MASS * context.reference_mass_g),
        external_uohm=round(couplers.external_uohm * MORE_RESISTANCE),
        mean_12v_w=round(couplers.mean_12v_w * MORE_LOAD_12V),
    )
    found = []
    for target in context.project.targets.range:
        planned, less = (simulator.range(target, one) for one in (couplers, worse))
        asked = target.distance_m
        if planned.distance_m < asked or not planned.followed:
            continue  # a failed check of its own
        if less.followed and less.distance_m >= asked:
            continue
        found.append(
            f"{_OPENING} {floored(planned.distance_m / 100) / 10:.1f} km of {target.name}:"
            " with a tenth more resistance in the circuit, a tenth more 12 V load and"
            f" {MORE_MASS * context.reference_mass_g / 1000:.0f} kg more it is"
            f" {floored(less.distance_m / 100) / 10 if less.followed else 0:.1f} km, less than the"
            f" {asked / 1000:.1f} km asked{_why(less)}. A pack with less resistance or thicker"
            " cable moves it away from there."
        )
    return tuple(found)


def _why(answer: RangeAnswer) -> str:
    if not answer.followed:
        return ": the car no longer follows the drive"
    return (
        ": the pack falls under its cut-off at some hill" if answer.end_cause == "voltage" else ""
    )
