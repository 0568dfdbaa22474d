"""The traction circuit: everything that the pack's current flows through, and its switches."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import cast

from bomplan.catalog.records import Part
from bomplan.design.bill.ends import bend_words
from bomplan.design.bill.interlock import reach_checks
from bomplan.design.bill.lug_ends import (
    STUB_ENDS,
    motor_conductors,
)
from bomplan.design.bill.peak_drop import peak_drop_checks
from bomplan.design.bill.people import bonding_checks, orange_checks
from bomplan.design.bill.rule import (
    DesignCurrents,
    Rule,
    at_least,
    at_most,
    from_finding,
    voltage_check,
)
from bomplan.design.bill.studs import core_stud_checks
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.faults import greatest_fault_a
from bomplan.design.records import Check
from bomplan.design.sections import cut_inside
from bomplan.sizing import ampacity_a, precharge
from bomplan.sizing.contactor import poles_switched
from bomplan.sizing.fuse import FuseData, check_fuse, check_least_fault
from bomplan.source import COMMON, practice

STUB_METRES = 2  # controller to motor and to the junction box, both poles


def _rms_wanted_a(context: Context, currents: DesignCurrents) -> float:
    return currents.rms_a * (1 + context.project.margins.continuous)


def _carries(family: str, context: Context, currents: DesignCurrents, rated_a: float) -> Check:
    return at_least(
        f"{family}.continuous",
        f"the {family.replace('_', ' ')} carries the worst ten-minute mean current",
        rated_a,
        _rms_wanted_a(context, currents),
        "A",
        practice(
            f"currents at {currents.at_mass_g / 1000:.0f} kg on {currents.profile}; common practice"
        ),
    )


def _string_share(drive: Drive, resistance_uohm: float) -> int:
    """One of ``parallel`` string parts, fitted ``parallel`` times, seen by the whole circuit."""
    return math.ceil(resistance_uohm / drive.strings**2)


# From a box's middle to the hand that pulls the disconnect in its wall: common practice.
CUT_TAIL_MM = 250


def pole_pair_m(context: Context, drive: Drive, bay: int) -> int:
    """Metres of traction cable from a box to the junction box: both poles of every string."""
    run_mm = context.bays[bay].cable_run_mm
    slack = 1 + context.project.house_rules.cable_slack
    return math.ceil(2 * run_mm * slack / 1000) * drive.strings


def cut_pair_m(context: Context, drive: Drive, bay: int, rows: int) -> int:
    """Metres to the service disconnect and back in a box that it cuts; 0 in any other.

    Half the box's longer side and a tail, for it stands in the wall where a hand reaches it.
    Where the string is cut at the gap between two boxes it stands in the junction box, at
    which the cables of both boxes end.
    """
    if cut_inside(rows, drive.core.series) is None:
        return 0
    box = context.bays[bay]
    one_way = max(box.length_mm, box.width_mm) / 2 + CUT_TAIL_MM
    slack = 1 + context.project.house_rules.cable_slack
    return math.ceil(2 * one_way * slack / 1000) * drive.strings


def _loop_m(context: Context, drive: Drive) -> int:
    """Metres of the loop through every bay and the service disconnect."""
    series, key = drive.core.series, ("traction loop", (drive.core.series, drive.strings))
    known = context.remembered.get(key)
    if known is None:
        bays = range(len(context.bays))
        known = context.remembered[key] = (
            STUB_METRES
            + sum(pole_pair_m(context, drive, bay) for bay in bays)
            + max(cut_pair_m(context, drive, bay, series) for bay in bays)
        )
    return cast(int, known)


class Cable(Rule):
    """Traction cable by the metre: both poles to every box, to the service disconnect in a box
    that it cuts, and the stub to the motor."""

    family = "cable"
    system = "traction circuit"
    unit = "m"
    least_ever = STUB_METRES

    def base(self, context: Context, drive: Drive, part: Part) -> int:  # noqa: ARG002
        return STUB_METRES

    def in_bay(self, context: Context, drive: Drive, part: Part, bay: int, rows: int) -> int:  # noqa: ARG002
        return pole_pair_m(context, drive, bay) + cut_pair_m(context, drive, bay, rows)

    def suits(
        self, context: Context, drive: Drive, currents: DesignCurrents, part: Part
    ) -> Iterator[Check]:
        rules = context.project.house_rules
        yield voltage_check(context, drive, "cable", part.number("v_rating"))
        ampacity = ampacity_a(
            part.number("resistance_mohm_per_m"),
            rules.conductor_ambient_c,
            part.number("insulation_c"),
        )
        yield _carries("cable", context, currents, ampacity)
        density = currents.peak_a / part.number("area_mm2")
        yield at_most(
            "cable.peak-density",
            "the peak current per square millimetre stays short of quick heating",
            density,
            15.0,
            "A/mm²",
            COMMON,
        )
        yield at_most(
            "cable.drop",
            "volts lost at the mean current with every bay cabled (cable at 70 °C)",
            self.lost_share(context, drive, part, currents.rms_a),
            1.0,
            "% of pack",
            COMMON,
        )
        yield from peak_drop_checks(context, self.lost_share(context, drive, part, currents.peak_a))

    @staticmethod
    def lost_share(context: Context, drive: Drive, part: Part, amps: float) -> float:
        """Volts lost in the loop through every bay with the cable at 70 °C, in % of the pack."""
        drop = amps * _loop_m(context, drive) * part.number("resistance_mohm_per_m") * 1e-3 * 1.2
        return 100.0 * drop / drive.figures.nominal_v

    def external_uohm(self, drive: Drive, part: Part) -> int:  # noqa: ARG002
        # Copper at 50 °C: 1 + 0.00393 x 30 of the resistance at 20 °C (IEC 60028).
        return math.ceil(part.number("resistance_mohm_per_m") * 1000 * 1.118)

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:
        lost = self.lost_share(context, drive, part, currents.peak_a)
        return (
            f"{currents.rms_a:.0f} A mean over ten minutes and {currents.peak_a:.0f} A for"
            f" {currents.peak_s:.0f} s at {currents.at_mass_g / 1000:.0f} kg; at that peak it takes"
            f" up to {math.ceil(10 * lost) / 10:.1f} % of the pack's volts (2 to 3 % is usual);"
            f" {bend_words(part, 'towards the motor, which moves')}"
        )


class Lug(Rule):
    family = "lug"
    system = "traction circuit"
    least_ever = 12

    def base(self, context: Context, drive: Drive, part: Part) -> int:  # noqa: ARG002
        return STUB_ENDS + 2 * motor_conductors(drive)

    def in_bay(self, context: Context, drive: Drive, part: Part, bay: int, rows: int) -> int:  # noqa: ARG002
        cut = cut_inside(rows, drive.core.series) is not None
        return (8 if cut else 4) * drive.strings

    def suits(
        self,
        context: Context,
        drive: Drive,
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        yield from core_stud_checks(context, drive, part)

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return "two for every piece of traction cable"


class Conduit(Rule):
    """A cover of its own for every metre of cable outside the boxes, each pole and string."""

    family = "conduit"
    side = "pack"
    system = "traction circuit"
    unit = "m"
    least_ever = STUB_METRES
    too_few = "a pack's cable that is not orange outside its box is cut by who does not know it"

    def base(self, context: Context, drive: Drive, part: Part) -> int:  # noqa: ARG002
        return STUB_METRES

    def in_bay(self, context: Context, drive: Drive, part: Part, bay: int, rows: int) -> int:  # noqa: ARG002
        return math.ceil(2 * context.bays[bay].cable_run_mm / 1000) * drive.strings

    def suits(
        self,
        context: Context,  # noqa: ARG002
        drive: Drive,
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        yield from orange_checks(drive, part)

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return "orange cover for cable outside the boxes"


class Fuse(Rule):
    """One in every box, and in every string of it."""

    family = "fuse"
    system = "traction circuit"
    too_few = "a box or a string without a fuse of its own burns at the first short circuit"

    def base(self, context: Context, drive: Drive, part: Part) -> int:  # noqa: ARG002
        return 0

    def in_bay(self, context: Context, drive: Drive, part: Part, bay: int, rows: int) -> int:  # noqa: ARG002
        return drive.strings

    def suits(
        self, context: Context, drive: Drive, currents: DesignCurrents, part: Part
    ) -> Iterator[Check]:
        strings = drive.strings
        margins = context.project.margins
        for finding in check_fuse(
            fuse_data(part),
            highest_v=drive.figures.charge_v,
            rms_a=currents.rms_a / strings,
            peak_a=currents.peak_a / strings,
            peak_s=currents.peak_s,
            greatest_fault_a=greatest_fault_a(context, drive),
            ambient_c=context.project.house_rules.conductor_ambient_c,
            continuous_margin=margins.continuous,
            voltage_margin=margins.voltage,
        ):
            yield from_finding(finding, FUSE_CAUTIONS.get(finding.id, ""))
        least = currents.least_fault_a / strings * (1.0 - margins.fault_current)
        for finding in check_least_fault(fuse_data(part), least):
            yield from_finding(finding, FUSE_CAUTIONS.get(finding.id, ""))
        yield from bonding_checks(context, drive, fuse_data(part))

    def external_uohm(self, drive: Drive, part: Part) -> int:
        return _string_share(drive, part.number("resistance_uohm"))

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        per = "each string of each box" if drive.strings > 1 else "each box"
        return f"one for {per}; short circuit up to {greatest_fault_a(context, drive):.0f} A"


FUSE_CAUTIONS = {
    "fuse-breaking": "a fuse that cannot break the fault explodes or arcs on",
    "fuse-voltage": "a fuse below the pack's voltage burns on as an arc",
    "fuse-least-fault": "a weak cold pack behind a big fuse burns instead of blowing it",
    "fuse-clears-in-time": "a weak cold pack behind a big fuse burns instead of blowing it",
    "fuse-continuous": "a fuse that runs hot ages, opens on the road and takes the drive with it",
}


def fuse_data(part: Part) -> FuseData:
    """A catalogue fuse as the sizing room sees it."""
    return FuseData(
        v_dc=part.number("v_dc"),
        rated_a=part.number("rated_a"),
        breaking_a=part.number("breaking_ka") * 1000,
        kind="aR" if part.text("class") == "aR" else "full_range",
        melt_s_at_2x=part.number("melt_s_at_2x"),
        melt_s_at_3x=part.number("melt_s_at_3x"),
        melt_s_at_5x=part.number("melt_s_at_5x"),
        clearing_a2s=part.number("clearing_ka2s") * 1000,
        min_breaking_a=part.number("min_breaking_a") if part.has("min_breaking_a") else None,
    )


class FuseHolder(Rule):
    family = "fuse_holder"
    side = "pack"
    system = "traction circuit"

    def base(self, context: Context, drive: Drive, part: Part) -> int:  # noqa: ARG002
        return 0

    def in_bay(self, context: Context, drive: Drive, part: Part, bay: int, rows: int) -> int:  # noqa: ARG002
        return drive.strings

    def suits(
        self,
        context: Context,
        drive: Drive,
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        yield voltage_check(context, drive, "fuse_holder", part.number("v_dc"))

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return "one for each fuse"


class Contactor(Rule):
    family = "contactor"
    system = "traction circuit"
    place = "controller"
    too_few = "with one pole left closed a single fault to the chassis puts the pack on the body"

    def base(self, context: Context, drive: Drive, part: Part) -> int:  # noqa: ARG002
        return poles_switched(drive.figures.charge_v)

    def suits(
        self, context: Context, drive: Drive, currents: DesignCurrents, part: Part
    ) -> Iterator[Check]:
        yield voltage_check(context, drive, "contactor", part.number("v_max"))
        yield _carries("contactor", context, currents, part.number("carry_a"))
        yield at_least(
            "contactor.break",
            "the contactor can break the peak current in an emergency",
            part.number("break_a"),
            currents.peak_a,
            "A",
            COMMON,
            "a contactor that welds leaves the motor running",
        )

    def external_uohm(self, drive: Drive, part: Part) -> int:  # noqa: ARG002
        return math.ceil(part.number("resistance_uohm"))

    def mean_12v_w(self, part: Part) -> int:
        return math.ceil(part.number_or("coil_w", 0))

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        both = poles_switched(drive.figures.charge_v) == 2
        return "one in each pole above 60 V" if both else "cuts the pack off"


class ServiceDisconnect(Rule):
    family = "service_disconnect"
    system = "safety"
    too_few = "a string that cannot be split is worked on at its full voltage"

    def base(self, context: Context, drive: Drive, part: Part) -> int:  # noqa: ARG002
        return drive.strings

    def suits(
        self, context: Context, drive: Drive, currents: DesignCurrents, part: Part
    ) -> Iterator[Check]:
        yield voltage_check(context, drive, "service_disconnect", part.number("v_dc"))
        yield _carries(
            "service_disconnect", context, currents, part.number("continuous_a") * drive.strings
        )

    def external_uohm(self, drive: Drive, part: Part) -> int:
        return _string_share(drive, part.number("resistance_uohm"))

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return "splits the pack before anyone works on it"


class EmergencyDisconnect(Rule):
    family = "emergency_disconnect"
    system = "safety"

    def suits(
        self, context: Context, drive: Drive, currents: DesignCurrents, part: Part
    ) -> Iterator[Check]:
        yield voltage_check(context, drive, "emergency_disconnect", part.number("v_dc"))
        yield _carries("emergency_disconnect", context, currents, part.number("continuous_a"))
        yield at_least(
            "emergency_disconnect.break",
            "the driver's disconnect breaks the peak current: it is pulled when the drive does not"
            " let go",
            part.number("load_break_a"),
            currents.peak_a,
            "A",
            COMMON,
            "a chopper fails full on: the driver needs a mechanical way out",
        )
        yield from reach_checks(context, part)

    def external_uohm(self, drive: Drive, part: Part) -> int:  # noqa: ARG002
        return math.ceil(part.number("resistance_uohm"))

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return "mechanical, within the driver's reach, opens under load"


class PrechargeResistor(Rule):
    family = "precharge_resistor"
    system = "traction circuit"
    place = "controller"

    def needed(self, context: Context, drive: Drive) -> bool:  # noqa: ARG002
        return not drive.controller.flag("precharge_built_in")

    def suits(
        self,
        context: Context,
        drive: Drive,
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        volts = drive.figures.charge_v
        for finding in precharge.check_precharge(
            resistance_ohm=part.number("ohm"),
            pulse_rating_j=part.number("pulse_j"),
            power_rating_w=part.number("power_w"),
            voltage_rating_v=part.number("v_max"),
            source_v=volts,
            capacitance_f=drive.controller.number("capacitance_mf") * 1e-3,
            longest_s=context.project.house_rules.precharge_seconds,
            voltage_margin=context.project.margins.voltage,
        ):
            yield from_finding(
                finding,
                "a pre-charge resistor that is too small burns open; the contactor then closes"
                " onto empty capacitors, welds, and no longer opens",
            )
        yield at_least(
            "precharge.slow-enough",
            "the inrush stays under 25 A",
            part.number("ohm"),
            volts / 25.0,
            "ohm",
            COMMON,
        )

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        farads = drive.controller.number("capacitance_mf") * 1e-3
        share = precharge.closing_share(drive.figures.charge_v)
        seconds = precharge.time_to_share_s(part.number("ohm"), farads, share)
        peak_w = precharge.peak_power_w(drive.figures.charge_v, part.number("ohm"))
        return (
            f"fills the controller's capacitors in {seconds:.1f} s before the contactor closes,"
            f" {peak_w:.0f} W at its first instant"
        )


class PrechargeRelay(Rule):
    family = "precharge_relay"
    system = "traction circuit"
    place = "controller"

    def needed(self, context: Context, drive: Drive) -> bool:  # noqa: ARG002
        return not drive.controller.flag("precharge_built_in")

    def suits(
        self,
        context: Context,
        drive: Drive,
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        yield voltage_check(context, drive, "precharge_relay", part.number("v_dc"))

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return "switches the pre-charge resistor"


_CHARGED = (
    "capacitors that stay charged can kill long after the key is off: wait, then measure below"
    " 60 V before you touch"
)


class DischargeResistor(Rule):
    """Across the controller's input, unless the controller itself is known to be quick enough."""

    family = "discharge_resistor"
    system = "traction circuit"
    place = "controller"
    too_few = _CHARGED

    def needed(self, context: Context, drive: Drive) -> bool:
        longest = context.project.house_rules.discharge_seconds
        own = drive.controller.number_or("discharge_s", math.inf)
        return not drive.touchable and own > longest

    def suits(
        self,
        context: Context,
        drive: Drive,
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        for finding in precharge.check_discharge(
            resistance_ohm=part.number("ohm"),
            power_rating_w=part.number("power_w"),
            voltage_rating_v=part.number("v_max"),
            highest_v=drive.figures.charge_v,
            capacitance_f=drive.controller.number("capacitance_mf") * 1e-3,
            longest_s=context.project.house_rules.discharge_seconds,
            voltage_margin=context.project.margins.voltage,
        ):
            yield from_finding(finding, _CHARGED)

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        farads = drive.controller.number("capacitance_mf") * 1e-3
        seconds = precharge.discharge_s(drive.figures.charge_v, part.number("ohm"), farads)
        return (
            f"brings the controller's capacitors below 60 V in {seconds:.0f} s, bolted to its"
            " terminals; nothing is known of its own discharge"
            if not drive.controller.has("discharge_s")
            else f"brings the controller's capacitors below 60 V in {seconds:.0f} s, bolted to its"
            " terminals; its own discharge is slower than asked"
        )


class Shunt(Rule):
    family = "shunt"
    system = "instruments"
    place = "controller"

    def suits(
        self,
        context: Context,  # noqa: ARG002
        drive: Drive,  # noqa: ARG002
        currents: DesignCurrents,
        part: Part,
    ) -> Iterator[Check]:
        yield at_least(
            "shunt.rating",
            "the shunt is rated for the peak current",
            part.number("rated_a"),
            currents.peak_a,
            "A",
            COMMON,
        )

    def external_uohm(self, drive: Drive, part: Part) -> int:  # noqa: ARG002
        return math.ceil(part.number_or("resistance_uohm", 0))

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return f"lets the gauge read up to {currents.peak_a:.0f} A"


RULES: tuple[Rule, ...] = (
    Cable(),
    Lug(),
    Conduit(),
    Fuse(),
    FuseHolder(),
    Contactor(),
    ServiceDisconnect(),
    EmergencyDisconnect(),
    PrechargeResistor(),
    PrechargeRelay(),
    DischargeResistor(),
    Shunt(),
)
