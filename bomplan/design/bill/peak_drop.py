"""Volts that the traction cables take at the peak current: told, or forbidden by a house rule.

Told by default. Nothing burns by it: heat is bound by checks of their own (peak density, mean
current, the fuse's route), and every range, speed and climb is driven with the cable's resistance
in the circuit, so that a target pays for the drop where it matters. What is left is a car that
pulls less hard than its pack could, for which the trade names two to three per cent.
"""

from __future__ import annotations

from collections.abc import Iterator

from bomplan.catalog.records import Part
from bomplan.design.bill.rule import at_most
from bomplan.design.context import Context
from bomplan.design.records import Check
from bomplan.source import practice

SOURCE = practice("two to three per cent of the pack's volts at the peak: common practice")
SAGS = (
    "at full throttle the controller sees the pack sag and takes power back, in the middle of"
    " overtaking"
)


def peak_drop_checks(context: Context, lost_percent: float) -> Iterator[Check]:
    """The limit as a check, where the builder forbids more; ``lost_percent`` of the pack."""
    rules = context.project.house_rules
    if rules.peak_drop == "forbid":
        yield at_most(
            "cable.drop-at-peak",
            "volts lost at the peak current with every bay cabled (cable at 70 °C)",
            lost_percent,
            100.0 * rules.peak_drop_share,
            "% of pack",
            SOURCE,
            SAGS,
        )


def peak_drop_words(
    context: Context, cable: Part, lost_percent: float, peak_a: float
) -> tuple[str, ...]:
    """A sentence where more is lost than the house rule names, and it only warns."""
    rules = context.project.house_rules
    most = 100.0 * rules.peak_drop_share
    if rules.peak_drop == "forbid" or lost_percent <= most:
        return ()
    return (
        f"{cable.id} takes up to {lost_percent:.1f} % of the pack's volts at the peak of"
        f" {peak_a:.0f} A, more than the {most:g} % of house_rules.peak_drop_share"
        f" ({SOURCE.words}):"
        f" {SAGS}. Shorter runs or thicker cable mend it; house_rules.peak_drop ="
        ' "forbid" makes it a limit.',
    )
