"""Motor, controller, modules and what joins the motor to the car."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil

from bomplan.catalog.records import Part
from bomplan.design.battery_setting import WORDS, setting_a
from bomplan.design.bill.rule import DesignCurrents, Rule, at_least, same, vehicle_check
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.records import Check
from bomplan.source import COMMON


class Motor(Rule):
    family = "motor"
    system = "drive"
    place = "motor"

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return f"drives the wheels through its {part.text('mount')}"


class Controller(Rule):
    family = "controller"
    system = "drive"
    place = "controller"

    def mean_12v_w(self, part: Part) -> int:
        return ceil(part.number_or("load_12v_w", 0))

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        known = "a known pair with the motor" if drive.pair else "paired on the builder's word"
        core, named = drive.core, context.project.choices.battery_current_a
        if core.battery_a is None:
            return f"{known}; at most {drive.battery_limit_a:.0f} A from the pack"
        low = [float(core.battery_a)] if core.battery_a in named else []
        _, held_by = setting_a(context, part, drive.module, drive.figures, *low)
        return f"{known}; set to {core.battery_a} A from the pack: {WORDS[held_by]}"


class Module(Rule):
    """The pack's modules; their number is the core's, their places the placement's."""

    family = "module"
    system = "pack"

    def base(self, context: Context, drive: Drive, part: Part) -> int:  # noqa: ARG002
        return 0

    def in_bay(self, context: Context, drive: Drive, part: Part, bay: int, rows: int) -> int:  # noqa: ARG002
        return rows * drive.core.parallel

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        core = drive.core
        return f"{core.series} in series x {core.parallel} in parallel ({core.topology})"


class AdapterPlate(Rule):
    family = "adapter_plate"
    side = "drive"
    system = "drive"
    place = "motor"

    def needed(self, context: Context, drive: Drive) -> bool:  # noqa: ARG002
        return drive.motor.text("mount") == "gearbox"

    def suits(
        self,
        context: Context,
        drive: Drive,
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        yield same(
            "adapter.motor-face",
            "the plate's motor side fits the motor's face",
            part.text("face_pattern") in ("any", drive.motor.text("face_pattern")),
            COMMON,
        )
        wanted = context.project.donor.driveline.gearbox_pattern or "any"
        yield same(
            "adapter.gearbox",
            "the plate's gearbox side fits the bell housing",
            part.text("gearbox_pattern") in ("any", wanted),
            COMMON,
        )
        yield at_least(
            "adapter.torque",
            "the plate holds the motor's greatest torque",
            part.number("max_torque_nm"),
            drive.motor_torque_nm,
            "N m",
            COMMON,
        )

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return f"joins the motor to the gearbox, {drive.motor_torque_nm:.0f} N m at most"


class Coupler(Rule):
    """The coupler, the sprocket set of a chain drive, or the kit of a drive unit."""

    family = "coupler"
    side = "drive"
    system = "drive"
    place = "motor"

    def suits(
        self,
        context: Context,  # noqa: ARG002
        drive: Drive,
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        yield same(
            "coupler.mount",
            "the coupler is of the motor's kind of mount",
            part.text("mount") == drive.motor.text("mount"),
            COMMON,
        )
        yield same(
            "coupler.shaft",
            "the coupler's bore fits the motor's shaft",
            part.text("shaft") in ("any", "", drive.motor.text("shaft")),
            COMMON,
        )
        yield at_least(
            "coupler.torque",
            "the coupler holds the motor's greatest torque (of a drive unit: at the axle)",
            part.number("max_torque_nm"),
            _coupled_torque_nm(drive),
            "N m",
            COMMON,
        )

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return f"carries {_coupled_torque_nm(drive):.0f} N m"


def _coupled_torque_nm(drive: Drive) -> float:
    """What the coupler carries: shaft torque, or axle torque behind a drive unit's gears."""
    return drive.motor_torque_nm * drive.motor.number_or("unit_ratio", 1.0)


class Throttle(Rule):
    family = "throttle"
    side = "drive"
    system = "drive"
    place = "controller"

    def suits(
        self,
        context: Context,
        drive: Drive,  # noqa: ARG002
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        yield at_least(
            "throttle.channels",
            "two sensors that must agree: one broken wire must not mean full power",
            part.number("channels"),
            2,
            "sensors",
            COMMON,
        )
        yield vehicle_check(self.family, context, part)

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return "tells the controller what the driver wants"


class CoolingSet(Rule):
    family = "cooling_set"
    system = "drive"
    place = "controller"

    def mean_12v_w(self, part: Part) -> int:
        return ceil(part.number_or("load_12v_w", 0))

    def needed(self, context: Context, drive: Drive) -> bool:  # noqa: ARG002
        return "liquid" in (drive.motor.text("cooling"), drive.controller.text("cooling"))

    def suits(
        self,
        context: Context,  # noqa: ARG002
        drive: Drive,  # noqa: ARG002
        currents: DesignCurrents,
        part: Part,
    ) -> Iterator[Check]:
        # A tenth of the shaft power is a plain upper figure for motor and controller losses
        # of liquid-cooled machines at their continuous rating.
        yield at_least(
            "cooling.heat",
            "the radiator sheds a tenth of the mean motor power",
            part.number("reject_w"),
            100.0 * currents.motor_rms_kw,
            "W",
            COMMON,
        )

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return f"motor or controller is liquid-cooled; {currents.motor_rms_kw:.1f} kW mean"


RULES: tuple[Rule, ...] = (
    Motor(),
    Controller(),
    Module(),
    AdapterPlate(),
    Coupler(),
    Throttle(),
    CoolingSet(),
)
