"""Boxes and small parts that follow by count: what is forgotten first and bought last."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil

from bomplan.catalog.records import Part
from bomplan.design.bill.brakes import vacuum_checks
from bomplan.design.bill.branches import DEVICES_BRING, branches, isolation_watched
from bomplan.design.bill.interlock import inertia_checks
from bomplan.design.bill.people import kit_checks, label_checks
from bomplan.design.bill.rule import DesignCurrents, Rule, at_least, same, vehicle_check
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.records import Check
from bomplan.sizing.isolation import least_isolation_ohm
from bomplan.sizing.ventilation import air_flow_m3_h, gassing_a, hydrogen_g, hydrogen_l_h
from bomplan.source import COMMON, practice, seen


class _PerBox(Rule):
    """So many pieces for each bay that holds modules."""

    system = "pack"
    per_box = 1

    def base(self, context: Context, drive: Drive, part: Part) -> int:  # noqa: ARG002
        return 0

    def in_bay(self, context: Context, drive: Drive, part: Part, bay: int, rows: int) -> int:  # noqa: ARG002
        return self.per_box

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return f"{self.per_box} for each box of modules"


class Box(_PerBox):
    """One row for every box of the car; the heaviest bay decides which."""

    family = "box"
    side = "pack"

    def suits(
        self,
        context: Context,  # noqa: ARG002
        drive: Drive,
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        if drive.module.number_or("gassing_a_per_100ah", 0) > 0:
            yield same(
                "box.vented",
                "gassing cells need a box that vents to the outside",
                part.flag("vented"),
                practice("IEC 62485-3 / EN 50272-3; common practice"),
                "hydrogen gathers in a closed box",
            )


class Gland(Rule):
    """Both poles of every string through the wall of its box and into the junction box, the two
    that go on to the controller."""

    family = "gland"
    side = "pack"
    system = "pack"
    least_ever = 2
    too_few = "a cable that rubs on the rim of a hole puts the pack on the chassis"

    def base(self, context: Context, drive: Drive, part: Part) -> int:  # noqa: ARG002
        return 2

    def in_bay(self, context: Context, drive: Drive, part: Part, bay: int, rows: int) -> int:  # noqa: ARG002
        return 4 * drive.strings

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return f"every pole through the walls of its box and of the junction box; {DEVICES_BRING}"


class _ForVehicle(Rule):
    """A set that comes in sizes for cars and for motorcycles."""

    def suits(
        self,
        context: Context,
        drive: Drive,  # noqa: ARG002
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        yield vehicle_check(self.family, context, part)


class Fasteners(_ForVehicle, _PerBox):
    family = "fasteners"
    side = "pack"


class HoldDown(Rule):
    """Frames, straps and end plates, bought by the kilogram of modules that they hold.

    The modules of a bay are held together, so their whole mass is rounded up to a kilogram once.
    """

    family = "hold_down"
    side = "pack"
    system = "pack"
    unit = "kg of modules"

    def base(self, context: Context, drive: Drive, part: Part) -> int:  # noqa: ARG002
        return 0

    def in_bay(self, context: Context, drive: Drive, part: Part, bay: int, rows: int) -> int:  # noqa: ARG002
        grams = rows * drive.core.parallel * drive.module.mass_g
        return -(-grams // 1000)

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return "holds the modules down, for every kilogram of them"


class VacuumSet(Rule):
    family = "vacuum_set"
    side = "pack"
    system = "brakes"
    place = "motor"

    def needed(self, context: Context, drive: Drive) -> bool:  # noqa: ARG002
        return context.project.donor.brake_booster

    def suits(
        self,
        context: Context,
        drive: Drive,  # noqa: ARG002
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        yield from vacuum_checks(context, part)

    def mean_12v_w(self, part: Part) -> int:
        return ceil(part.number_or("load_12v_w", 0))

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return "the brake booster has lost the engine's vacuum"


class VentFan(_PerBox):
    family = "vent_fan"
    side = "pack"
    system = "pack"
    too_few = "hydrogen gathers in a box without a fan of its own"

    def needed(self, context: Context, drive: Drive) -> bool:  # noqa: ARG002
        return drive.module.number_or("gassing_a_per_100ah", 0) > 0

    def suits(
        self,
        context: Context,  # noqa: ARG002
        drive: Drive,
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        cells, ah = drive.figures.cells_series, drive.figures.capacity_ah
        gassing = drive.module.number("gassing_a_per_100ah")
        flow = air_flow_m3_h(cells=cells, a_per_100ah=gassing, capacity_ah=ah)
        yield at_least(
            "ventilation.flow",
            "one box's fan alone clears the gas of the whole pack: at a gassing current of"
            f" {gassing_a(gassing, ah):.1f} A {hydrogen_l_h(cells, gassing, ah):.0f} l of hydrogen"
            f" an hour ({hydrogen_g(cells, gassing, ah, 1.0):.1f} g)",
            part.number("flow_m3h"),
            flow,
            "m³/h",
            seen("IEC 62485-3 / EN 50272-3, 0.055 m³/h per cell and ampere (seen in reproduction)"),
            "charging lead-acid cells gives off hydrogen: no spark, no closed room",
        )

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return "the cells give off hydrogen while they charge"


class IsolationMonitor(Rule):
    family = "isolation_monitor"
    side = "pack"
    system = "safety"
    place = "controller"

    def needed(self, context: Context, drive: Drive) -> bool:  # noqa: ARG002
        return isolation_watched(drive)

    def suits(
        self,
        context: Context,  # noqa: ARG002
        drive: Drive,
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        yield at_least(
            "isolation-monitor.voltage",
            "the isolation monitor is rated for the charge voltage",
            part.number("v_max"),
            drive.figures.charge_v,
            "V",
            COMMON,
        )
        if part.has("alarm_kohm"):
            yield at_least(
                "isolation-monitor.alarm",
                "isolation at which the monitor can be set to warn against what this pack must"
                " keep beside an inverter",
                part.number("alarm_kohm"),
                least_isolation_ohm(drive.figures.charge_v, ac_joined=True) / 1000,
                "kΩ",
                seen("500 Ω/V with alternating parts joined: UN R100 5.1.3 (seen)"),
                "a monitor that is silent above the pack's own limit lets a leak grow until it"
                " kills",
            )

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return f"advised above 120 V; this pack charges at {drive.figures.charge_v:.0f} V"


class _Single(Rule):
    """One of it in every car."""

    reason = "always needed"

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return self.reason


class JunctionBox(_Single):
    family = "junction_box"
    side = "pack"
    system = "traction circuit"
    place = "controller"
    reason = "where the traction cables meet"

    def suits(
        self,
        context: Context,
        drive: Drive,
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        yield at_least(
            "junction_box.voltage",
            "the junction box is rated for the charge voltage with its margin",
            part.number("v_dc"),
            drive.figures.charge_v * (1 + context.project.margins.voltage),
            "V",
            COMMON,
        )
        yield at_least(
            "junction_box.branches",
            "the junction box has room for every branch",
            part.number("branches"),
            len(branches(context, drive)),
            "branches",
            COMMON,
        )


class InertiaSwitch(_Single):
    family = "inertia_switch"
    side = "pack"
    system = "safety"
    reason = "opens the contactor in a crash"

    def suits(
        self,
        context: Context,  # noqa: ARG002
        drive: Drive,  # noqa: ARG002
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        yield from inertia_checks(part)


class Gauge(_Single):
    family = "gauge"
    side = "pack"
    system = "instruments"
    reason = "shows volts, amps and what is left"

    def suits(
        self,
        context: Context,  # noqa: ARG002
        drive: Drive,  # noqa: ARG002
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        yield same(
            "gauge.kind",
            "the gauge counts what is left in the pack",
            part.text("kind") in ("state_of_charge", "display"),
            COMMON,
        )

    def mean_12v_w(self, part: Part) -> int:
        return ceil(part.number_or("load_12v_w", 0))


class Labels(_ForVehicle, _Single):
    family = "labels"
    side = "pack"
    system = "safety"
    reason = "warn whoever opens a cover"

    def suits(
        self, context: Context, drive: Drive, currents: DesignCurrents, part: Part
    ) -> Iterator[Check]:
        yield from super().suits(context, drive, currents, part)
        yield from label_checks(context, drive, part)


class Consumables(_ForVehicle, _Single):
    family = "consumables"
    side = "pack"
    system = "small parts"
    reason = "heat-shrink, ties, tape, grease and the like"


class SafetyKit(_Single):
    family = "safety_kit"
    side = "pack"
    system = "safety"
    reason = "insulating gloves, meter and covers before the first module is touched"

    def suits(
        self,
        context: Context,
        drive: Drive,
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        yield from kit_checks(context, drive, part)


RULES: tuple[Rule, ...] = (
    Box(),
    HoldDown(),
    Gland(),
    Fasteners(),
    VentFan(),
    VacuumSet(),
    JunctionBox(),
    InertiaSwitch(),
    IsolationMonitor(),
    Gauge(),
    Labels(),
    Consumables(),
    SafetyKit(),
)


def box_holds_g(box: Part) -> int:
    """Grams of modules that one box of this row holds."""
    return round(box.number("max_mass_kg") * 1000)
