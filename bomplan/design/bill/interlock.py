"""The chain that opens the contactors, and the driver's own way to cut the pack off."""

from __future__ import annotations

from collections.abc import Iterator
from math import sqrt

from bomplan.catalog.records import Part
from bomplan.design.bill.rule import DesignCurrents, at_least, at_most, same
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.records import Check
from bomplan.sizing.contactor import poles_switched
from bomplan.source import computed, practice, recalled

CHAIN_V = 14.4
"""Highest voltage of the 12 V side, which the chain's contacts break; common practice."""
TRIP_G = (8.0, 14.0)
"""An inertia switch trips in a crash and not at a kerb; common practice."""
REACH_SOURCE = recalled(
    "master switch in easy reach of the driver: Australian guideline summary (seen); hand reach of"
    " a driver in his belt: ISO 3958 (from memory)"
)
_OUT_OF_REACH = "a drive that does not let go is stopped by a disconnect that the driver reaches"


def inertia_checks(part: Part) -> Iterator[Check]:
    """Whether the switch breaks its circuit, and trips when it should."""
    if part.has("v_dc"):
        yield at_least(
            "inertia-switch.voltage",
            "the inertia switch breaks the voltage of the contactors' coils",
            part.number("v_dc"),
            CHAIN_V,
            "V",
            practice("12 V side at its charge voltage (common practice)"),
            "contacts that burn together leave the pack on the cables after a crash",
        )
    if part.has("trip_g"):
        low, high = TRIP_G
        yield at_least(
            "inertia-switch.kerb",
            "the inertia switch does not trip below this",
            part.number("trip_g"),
            low,
            "g",
            practice("trips at 8 to 14 g (common practice)"),
            "a switch that trips at a kerb takes the drive away in traffic",
        )
        yield at_most(
            "inertia-switch.crash",
            "the inertia switch trips at the latest here",
            part.number("trip_g"),
            high,
            "g",
            practice("trips at 8 to 14 g (common practice)"),
            "a switch that sleeps through a crash leaves the pack on torn cables",
        )


def inertia_and_contactor(
    context: Context,  # noqa: ARG001
    drive: Drive,
    currents: DesignCurrents,  # noqa: ARG001
    switch: Part,
    contactor: Part,
) -> Iterator[Check]:
    """The chain carries the coils of all contactors, one in each pole above 60 V."""
    if not switch.has("rated_a"):
        return
    yield at_least(
        "inertia-switch.coils",
        "the inertia switch carries the coils of all contactors, for they hang on its chain",
        switch.number("rated_a"),
        poles_switched(drive.figures.charge_v) * contactor.number_or("coil_w", 0) / 12.0,
        "A",
        computed("coil power over 12 V (computed)"),
        "contacts that burn together leave the pack on the cables after a crash",
    )


def cut_checks(controller: Part) -> Iterator[Check]:
    """Torque is taken away before a contactor opens: no arc, no machine that feeds back."""
    if controller.has("cut_input"):
        yield same(
            "controller.cut-input",
            f"{controller.id} has an input that takes the torque away, so that the throttle is cut"
            " before the contactor opens",
            controller.flag("cut_input"),
            practice("throttle first, contactor last: common practice"),
            "contactors that open under current arc and weld, and the drive stays on",
        )


def reach_checks(context: Context, disconnect: Part) -> Iterator[Check]:
    """The driver's disconnect against his hand, where both places are known."""
    away = _away_mm(context)
    if away is None or disconnect.flag("pull_cable"):
        return
    yield at_most(
        "emergency_disconnect.reach",
        "from the middle of the driver's seat to the driver's disconnect",
        away,
        context.project.house_rules.drivers_reach_mm,
        "mm",
        REACH_SOURCE,
        _OUT_OF_REACH,
    )


def reach_open(context: Context, disconnect: Part | None) -> tuple[str, ...]:
    """A sentence where nothing says whether the driver reaches the disconnect."""
    if disconnect is None or disconnect.flag("pull_cable") or _away_mm(context) is not None:
        return ()
    return (
        f"Not checked: whether the driver reaches {disconnect.id} from the seat; the project says"
        " neither where the driver sits (places.driver_x) nor where the disconnect is"
        " (places.parts, family emergency_disconnect), or only one of them.",
    )


def _away_mm(context: Context) -> float | None:
    """From the driver to the disconnect in mm, by as many axes as both places give."""
    places = context.project.places
    own = places.own("emergency_disconnect")
    if own is None or places.driver_x_mm is None:
        return None
    pairs = (
        (places.driver_x_mm, own.x_mm),
        (places.driver_y_mm, own.y_mm),
        (places.driver_z_mm, own.z_mm),
    )
    gaps = [a - b for a, b in pairs if a is not None and b is not None]
    return sqrt(sum(gap * gap for gap in gaps))
