"""Rules between two families: which row of one may stand beside which row of the other."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from bomplan.catalog.records import Part
from bomplan.design.bill.branches import branch_drop, longest_loop_m, loop_ohm
from bomplan.design.bill.charging import monitor_beside_charger, monitor_cuts_drive, set_current_a
from bomplan.design.bill.ends import barrel_fits, gland_fits
from bomplan.design.bill.interlock import inertia_and_contactor
from bomplan.design.bill.links import link_cable_and_cable
from bomplan.design.bill.low_side import (
    feed_fuse_and_battery,
    feed_fuse_and_converter,
    feed_fuse_and_wire,
)
from bomplan.design.bill.restraint import fasteners_and_box
from bomplan.design.bill.rule import DesignCurrents, at_least, at_most, from_finding, same
from bomplan.design.bill.studs import STUDDED, lug_and_stud
from bomplan.design.bill.traction import fuse_data
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.faults import greatest_fault_a, least_fault_a
from bomplan.design.records import Check
from bomplan.sizing import precharge
from bomplan.sizing.branch import protect_branch
from bomplan.sizing.protection import (
    CableData,
    Currents,
    Faults,
    SizingMargins,
    Surroundings,
    protect,
)
from bomplan.source import COMMON, computed, practice, recalled

# A fuse that is loaded for hours carries no more than 80 % of its rating.
FOR_HOURS = 1.25
Judge = Callable[[Context, Drive, DesignCurrents, Part, Part], Iterator[Check]]


@dataclass(frozen=True)
class Joint:
    """Two families and the checks that a row of each must pass together.

    ``first_tells``: the first check fails whenever another does. ``optional``: it binds only
    where pieces of the first family are fitted, of which a plan may need none.
    """

    first: str
    second: str
    judge: Judge
    first_tells: bool = False
    optional: bool = False

    def allows(
        self, context: Context, drive: Drive, currents: DesignCurrents, first: Part, second: Part
    ) -> bool:
        """Whether both rows pass every check together."""
        checks = self.judge(context, drive, currents, first, second)
        if self.first_tells:
            return next(checks).passed
        return all(check.passed for check in checks)


def _fuse_and_cable(
    context: Context, drive: Drive, currents: DesignCurrents, fuse: Part, cable: Part
) -> Iterator[Check]:
    """By which of two routes the fuse protects the cable, with every figure of that route."""
    strings = drive.strings
    ambient = context.project.house_rules.conductor_ambient_c
    margins = context.project.margins
    found = protect(
        fuse_data(fuse),
        CableData(
            resistance_mohm_per_m=cable.number("resistance_mohm_per_m"),
            insulation_c=cable.number("insulation_c"),
            v_rating=cable.number("v_rating"),
        ),
        Currents(
            rms_a=currents.rms_a / strings,
            peak_a=currents.peak_a / strings,
            peak_s=currents.peak_s,
            battery_limit_a=currents.peak_a / strings,
        ),
        Faults(
            greatest_a=greatest_fault_a(context, drive), least_a=currents.least_fault_a / strings
        ),
        Surroundings(
            highest_v=drive.figures.charge_v, fuse_ambient_c=ambient, cable_ambient_c=ambient
        ),
        SizingMargins(
            continuous=margins.continuous,
            voltage=margins.voltage,
            fault_current=margins.fault_current,
        ),
    )
    yield same(
        "protection.route",
        f"the fuse protects the cable by a named route ({found.route or 'none holds'})",
        found.passed,
        recalled("IEC 60364-4-43 (from memory) and common practice"),
        "a conductor that its fuse does not protect burns",
    )
    for finding in found.findings:
        if finding.id not in FUSE_ALONE:
            yield from_finding(finding, "a conductor that its fuse does not protect burns")


# Judged with the fuse's and the cable's own rows already.
FUSE_ALONE = frozenset(
    {
        "fuse-voltage",
        "fuse-continuous",
        "fuse-holds-peak",
        "fuse-breaking",
        "fuse-least-fault",
        "fuse-clears-in-time",
        "cable-voltage",
        "cable-continuous",
    }
)


def _holder_and_fuse(
    context: Context,  # noqa: ARG001
    drive: Drive,  # noqa: ARG001
    currents: DesignCurrents,  # noqa: ARG001
    holder: Part,
    fuse: Part,
) -> Iterator[Check]:
    yield same(
        "fuse_holder.body",
        "the holder takes the fuse's body",
        holder.text("body") == fuse.text("body"),
        COMMON,
    )
    yield at_least(
        "fuse_holder.current",
        "the holder carries the fuse's rating",
        holder.number("rated_a"),
        fuse.number("rated_a"),
        "A",
        COMMON,
    )


def _inlet_and_charger(
    context: Context,
    drive: Drive,  # noqa: ARG001
    currents: DesignCurrents,  # noqa: ARG001
    inlet: Part,
    charger: Part,
) -> Iterator[Check]:
    yield at_least(
        "inlet.charger-current",
        "the inlet carries the charger's supply current, or the outlet's where that is less",
        inlet.number("supply_a"),
        min(charger.number("supply_a"), context.project.charging.supply_a),
        "A",
        COMMON,
    )


def _branch_fuse_and_charger(
    context: Context,
    drive: Drive,
    currents: DesignCurrents,  # noqa: ARG001
    fuse: Part,
    charger: Part,
) -> Iterator[Check]:
    yield at_least(
        "branch_fuse.charger",
        "the branch fuse carries the charger's current for hours, with a quarter to spare",
        fuse.number("rated_a"),
        FOR_HOURS * set_current_a(context, drive, charger),
        "A",
        recalled(
            "continuous load at 80 % of the protective device, NFPA 70 article 625 (from memory)"
        ),
    )


def _branch_fuse_and_heater(
    context: Context,  # noqa: ARG001
    drive: Drive,
    currents: DesignCurrents,  # noqa: ARG001
    fuse: Part,
    heater: Part,
) -> Iterator[Check]:
    yield at_least(
        "branch_fuse.heater",
        "the branch fuse carries the heater at its full power and the pack's least voltage, with"
        " a quarter to spare",
        fuse.number("rated_a"),
        FOR_HOURS * heater.number("power_w") / drive.figures.least_v,
        "A",
        COMMON,
    )


def _branch_fuse_and_converter(
    context: Context,  # noqa: ARG001
    drive: Drive,
    currents: DesignCurrents,  # noqa: ARG001
    fuse: Part,
    converter: Part,
) -> Iterator[Check]:
    power = converter.number("output_a") * converter.number("output_v")
    yield at_least(
        "branch_fuse.converter",
        "the branch fuse carries the 12 V converter at its full power and the pack's least"
        " voltage, with a quarter to spare",
        fuse.number("rated_a"),
        FOR_HOURS * power / converter.number("efficiency") / drive.figures.least_v,
        "A",
        COMMON,
    )


def _branch_holder_and_fuse(
    context: Context,  # noqa: ARG001
    drive: Drive,  # noqa: ARG001
    currents: DesignCurrents,  # noqa: ARG001
    holder: Part,
    fuse: Part,
) -> Iterator[Check]:
    yield same(
        "branch_fuse_holder.body",
        "the branch holder takes the branch fuse's body",
        holder.text("body") == fuse.text("body"),
        COMMON,
    )
    yield at_least(
        "branch_fuse_holder.current",
        "the branch holder carries the branch fuse's rating",
        holder.number("rated_a"),
        fuse.number("rated_a"),
        "A",
        COMMON,
    )


# Without these a fuse cannot be held against the cable behind it.
_MELTING = ("class", "melt_s_at_2x", "melt_s_at_3x", "melt_s_at_5x", "clearing_ka2s")
_UNPROTECTED = "a branch cable that its fuse does not protect burns along its whole length"


def _branch_fuse_and_cable(
    context: Context,
    drive: Drive,
    currents: DesignCurrents,  # noqa: ARG001
    fuse: Part,
    cable: Part,
) -> Iterator[Check]:
    """By which route the branch fuse protects both poles of the branch behind it."""
    known = all(fuse.has(column) for column in _MELTING)
    if not known:
        yield same(
            "branch_cable.protection",
            f"{fuse.id} says how fast it melts (columns {', '.join(_MELTING)})",
            known,
            practice("a fuse without a curve cannot be shown to protect a cable (common practice)"),
            _UNPROTECTED,
        )
        return
    margins = context.project.margins
    end_ohm = loop_ohm(cable, longest_loop_m(context, drive), cable.number("insulation_c"))
    found = protect_branch(
        fuse_data(fuse),
        CableData(
            resistance_mohm_per_m=cable.number("resistance_mohm_per_m"),
            insulation_c=cable.number("insulation_c"),
            v_rating=cable.number("v_rating"),
        ),
        Faults(
            greatest_a=greatest_fault_a(context, drive),
            least_a=least_fault_a(context, drive.module, drive.figures, end_ohm),
        ),
        context.project.house_rules.conductor_ambient_c,
        SizingMargins(fault_current=margins.fault_current),
    )
    yield same(
        "branch_cable.protection",
        "every branch cable is protected by its own fuse by a named route"
        f" ({found.route or 'none holds'})",
        found.passed,
        recalled("IEC 60364-4-43 (from memory) and common practice"),
        _UNPROTECTED,
    )
    for finding in found.findings:
        yield from_finding(finding, _UNPROTECTED)
    yield branch_drop(context, drive, fuse, cable)


def _monitor_and_charger(
    context: Context,  # noqa: ARG001
    drive: Drive,
    currents: DesignCurrents,  # noqa: ARG001
    monitor: Part,
    charger: Part,
) -> Iterator[Check]:
    yield from monitor_beside_charger(drive, monitor, charger)


def _contactor_and_monitor(
    context: Context,  # noqa: ARG001
    drive: Drive,
    currents: DesignCurrents,  # noqa: ARG001
    contactor: Part,  # noqa: ARG001
    monitor: Part,
) -> Iterator[Check]:
    """Beside the contactor, for the two sides of a pack and a drive are judged apart."""
    yield from monitor_cuts_drive(drive, monitor)


def _precharge_and_discharge(
    context: Context,
    drive: Drive,
    currents: DesignCurrents,  # noqa: ARG001
    resistor: Part,
    discharge: Part,
) -> Iterator[Check]:
    """The discharge resistor is a load on the bus that the pre-charge has to lift."""
    volts = drive.figures.charge_v
    farads = drive.controller.number("capacitance_mf") * 1e-3
    share = precharge.closing_share(volts)
    seconds = precharge.time_with_load_s(
        resistor.number("ohm"), discharge.number("ohm"), farads, share
    )
    yield at_most(
        "precharge.time-with-discharge",
        f"time to {100 * share:.1f} % of the pack voltage with the discharge resistor on the bus",
        min(seconds, 1e12),
        context.project.house_rules.precharge_seconds,
        "s",
        computed("charging of a capacitor through a divider (computed)"),
        "a pre-charge that stalls closes the contactor onto half-empty capacitors, or never",
    )


def _conduit_and_cable(
    context: Context,  # noqa: ARG001
    drive: Drive,  # noqa: ARG001
    currents: DesignCurrents,  # noqa: ARG001
    conduit: Part,
    cable: Part,
) -> Iterator[Check]:
    yield at_least(
        "conduit.inner",
        "the conduit goes over one pole's cable",
        conduit.number("inner_mm"),
        cable.number("outer_diameter_mm"),
        "mm",
        COMMON,
    )


JOINTS: tuple[Joint, ...] = (
    Joint("fuse", "cable", _fuse_and_cable, first_tells=True),
    Joint("lug", "cable", barrel_fits),
    *(Joint("lug", family, lug_and_stud) for family in STUDDED),
    Joint("link_cable", "cable", link_cable_and_cable, optional=True),
    Joint("link_lug", "link_cable", barrel_fits, optional=True),
    Joint("gland", "cable", gland_fits),
    Joint("conduit", "cable", _conduit_and_cable),
    Joint("fuse_holder", "fuse", _holder_and_fuse),
    Joint("charge_inlet", "charger", _inlet_and_charger),
    Joint("branch_fuse", "charger", _branch_fuse_and_charger),
    Joint("branch_fuse", "heater", _branch_fuse_and_heater),
    Joint("branch_fuse", "dcdc", _branch_fuse_and_converter),
    Joint("branch_fuse_holder", "branch_fuse", _branch_holder_and_fuse),
    Joint("branch_fuse", "branch_cable", _branch_fuse_and_cable),
    Joint("branch_lug", "branch_cable", barrel_fits),
    Joint("branch_gland", "branch_cable", gland_fits),
    Joint("feed_fuse", "dcdc", feed_fuse_and_converter),
    Joint("feed_fuse", "battery_12v", feed_fuse_and_battery),
    Joint("feed_fuse", "feed_wire", feed_fuse_and_wire),
    Joint("feed_lug", "feed_wire", barrel_fits),
    Joint("precharge_resistor", "discharge_resistor", _precharge_and_discharge),
    Joint("monitor", "charger", _monitor_and_charger),
    Joint("contactor", "monitor", _contactor_and_monitor),
    Joint("fasteners", "box", fasteners_and_box),
    Joint("inertia_switch", "contactor", inertia_and_contactor),
)
