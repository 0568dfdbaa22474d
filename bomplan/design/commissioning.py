"""What is measured while a plan is built and first powered, and the figure to expect.

Nothing is decided or stored here: every figure follows from the plan's own parts by the rules
of the ``sizing`` room, once, so that all sheets print the same. None: the parts do not say.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, inf, pi
from typing import Final

from bomplan.buying.terms import CHARGES
from bomplan.catalog.records import Part
from bomplan.design.bill.charging import set_current_a
from bomplan.design.bill.ends import least_bend_mm
from bomplan.design.bill.people import bonding_strap_mm2, isolation_wanted_ohm, label_places
from bomplan.design.bill.restraint import accelerations_of
from bomplan.design.bill.studs import hole_sold
from bomplan.design.bill.traction import fuse_data
from bomplan.design.circuit import circuit, precharge_s
from bomplan.design.circuit_ends import cable_ends
from bomplan.design.circuit_records import Box, Circuit
from bomplan.design.commutator import Commutator, commutator
from bomplan.design.context import Context
from bomplan.design.drive import Drive, may_regenerate, resolve, rest_v
from bomplan.design.driving import SteadySpeed
from bomplan.design.held_gears import best_gears
from bomplan.design.planfile import catalog_of, project_of
from bomplan.design.records import Plan
from bomplan.project.records import Bay, Project
from bomplan.sizing import isolation, precharge, restraint, ventilation
from bomplan.sizing.joining import greatest_difference_v

BENT: Final = ("cable", "branch_cable", "link_cable")
"""Cables whose rows give an outer diameter."""
BOLT_SIZES_MM: Final = {"car": (8, 10, 12), "motorcycle": (6, 8, 10)}
"""Sizes that are usual for a box; the builder takes one of them."""


@dataclass(frozen=True)
class Section:
    """Modules that are joined before the last link closes: at most 60 V if one module is.

    ``places``: first and last series place of the pack; None in plans without a series order.
    """

    box: str
    string: int
    number: int
    series: int
    places: tuple[int, int] | None
    empty_v: float
    full_v: float


@dataclass(frozen=True)
class PreCharge:
    """The resistor with the controller's capacitors. Voltages are those of the full pack."""

    ohm: float
    millifarad: float
    share: float
    seconds: float
    time_out_s: float
    peak_a: float
    gap_v: float
    retries: int = precharge.RETRIES
    pause_s: float = precharge.RETRY_PAUSE_S


@dataclass(frozen=True)
class Discharge:
    """How the controller's capacitors fall below 60 V: seconds, and where that figure is from."""

    seconds: float
    source: str


@dataclass(frozen=True)
class Isolation:
    """``wanted_kohm`` is rounded up to a tenth; ``per_volt_ohm`` says by which rule."""

    voltage_class: str
    per_volt_ohm: float
    wanted_kohm: float
    expected_kohm: float
    bonding_ohm: float
    resistor_w: float


@dataclass(frozen=True)
class Restraint:
    """What holds one box: forces [N] at the guideline accelerations, bolts by size.

    ``bolts``: (size in mm, how many in single shear, tightening torque in N m), class 8.8, dry.
    """

    bay: str
    mass_kg: float
    modules_only: bool
    forward_n: float
    side_n: float
    rearward_n: float
    up_n: float
    bolts: tuple[tuple[int, int, float], ...]


@dataclass(frozen=True)
class Gas:
    """Hydrogen of cells that gas: air flow wanted, openings for natural draught, the fan's flow.

    ``hydrogen_l_h`` and ``hydrogen_g_h`` come off while the gassing current flows.
    """

    wanted_m3_h: float
    opening_cm2: float
    current_a: float
    hydrogen_l_h: float
    hydrogen_g_h: float
    fan_m3_h: float | None


@dataclass(frozen=True)
class Idle:
    """Current with the key on and the car at rest: controller alone, and with all 12 V loads."""

    least_a: float
    most_a: float


@dataclass(frozen=True)
class Charge:
    """The charger as it is to be set."""

    set_v: float
    set_a: float
    cell_v: float
    hours: float | None
    least_c: float
    most_c: float


@dataclass(frozen=True)
class Bend:
    """Least inner radius [mm] of a cable where it lies still, and where it moves."""

    still_mm: int
    moving_mm: int


@dataclass(frozen=True)
class LugHole:
    """Ends of traction cable on studs of one size; ``stud_mm`` None where nobody knows it.

    ``tags`` are those of the circuit, each once; ``lug`` the row to order, empty without one.
    """

    stud_mm: float | None
    ends: int
    tags: tuple[str, ...]
    lug: str


@dataclass(frozen=True)
class Gear:
    """The speed at which the motor turns as fast as it may."""

    number: int
    most_kmh: float


@dataclass(frozen=True)
class Commissioning:
    """Every figure that the sheets need and that no record of the plan carries."""

    project: Project
    drive: Drive
    found: Circuit
    parts: dict[str, Part]
    bays: tuple[Bay, ...]
    sections: tuple[Section, ...]
    last_links: tuple[str, ...]
    joining_v: float | None
    rest_empty_v: float
    rest_full_v: float
    discharge: Discharge | None
    pre_charge: PreCharge | None
    isolation: Isolation
    labels: tuple[str, ...]
    strap_mm2: float | None
    held_at: restraint.Accelerations
    restraints: tuple[Restraint, ...]
    gas: Gas | None
    idle: Idle
    charge: Charge | None
    gears: tuple[Gear, ...]
    bends: dict[str, Bend]
    holes: tuple[LugHole, ...]
    first_spin: SteadySpeed | None
    commutator: Commutator | None
    regenerates: bool

    @property
    def series_motor(self) -> bool:
        return self.drive.motor.text("kind") == "series_dc"

    @property
    def motorcycle(self) -> bool:
        return self.project.donor.kind == "motorcycle"

    @property
    def touchable(self) -> bool:
        """Whether the pack never rises above the voltage that needs no protection from touch."""
        return self.drive.touchable

    @property
    def gassing(self) -> bool:
        return self.drive.module.number_or("gassing_a_per_100ah", 0) > 0

    @property
    def wet_cells(self) -> bool:
        """Whether the cells can be opened and their acid measured."""
        return self.drive.module.text("chemistry") == "flooded"

    @property
    def monitored(self) -> bool:
        return "monitor" in self.parts


def commissioning(plan: Plan) -> Commissioning:
    """The figures of a plan with a core. InputError where its embedded rows are not whole."""
    if plan.core is None:
        raise ValueError("a plan without a core has nothing to build")
    context = Context(project_of(plan), catalog_of(plan))
    drive = resolve(context, plan.core)
    found = circuit(plan)
    parts = {
        line.family: context.catalog.family(line.family)[line.part]
        for line in plan.lines
        if line.family not in CHARGES and line.part in context.catalog.family(line.family)
    }
    module = drive.module
    held_at = accelerations_of(context)
    return Commissioning(
        project=context.project,
        drive=drive,
        found=found,
        parts=parts,
        bays=tuple(bay for use in plan.placement for bay in context.bays if bay.name == use.bay),
        sections=tuple(_sections(context, plan, drive, found)),
        last_links=tuple(
            f"{link.first}{link.first_pole} to {link.second}{link.second_pole}"
            for use in plan.placement
            for link in use.links
            if link.last
        ),
        joining_v=greatest_difference_v(
            module.number("resistance_dc_mohm") * 1e-3, module.number("charge_continuous_a")
        )
        if plan.core.parallel > 1
        else None,
        rest_empty_v=rest_v(context, drive, module.number("soc_min")),
        rest_full_v=rest_v(context, drive, module.number("soc_max")),
        pre_charge=_pre_charge(drive, parts),
        discharge=_discharge(drive, parts),
        isolation=_isolation(drive),
        labels=label_places(context, drive, len(found.boxes)),
        strap_mm2=_strap(context, drive, parts),
        held_at=held_at,
        restraints=tuple(
            _restraint(plan, drive, box, held_at, BOLT_SIZES_MM[context.project.donor.kind])
            for box in found.boxes
        ),
        gas=_gas(drive, parts),
        idle=_idle(context, plan, drive),
        charge=_charge(context, plan, drive, parts),
        gears=_gears(context, drive),
        bends={
            family: Bend(least_bend_mm(part), least_bend_mm(part, moving=True))
            for family, part in parts.items()
            if family in BENT
        },
        holes=_holes(context, drive, found, parts),
        first_spin=_first_spin(plan),
        commutator=commutator(drive, plan.driving),
        regenerates=may_regenerate(context, drive),
    )


def _holes(
    context: Context, drive: Drive, found: Circuit, parts: dict[str, Part]
) -> tuple[LugHole, ...]:
    """Every end of traction cable by the stud that it goes on, unknown ones last."""
    lug = parts.get("lug")
    if lug is None:
        return ()
    ends: dict[float | None, list[str]] = {}
    for family, tags in cable_ends(found).items():
        part = parts.get(family)
        known = part is not None and part.has("stud_mm")
        ends.setdefault(part.number("stud_mm") if part and known else None, []).extend(tags)
    rows = []
    for stud in sorted(ends, key=lambda one: inf if one is None else one):
        row = None if stud is None else hole_sold(context, drive, lug.number("area_mm2"), stud)
        own = stud == lug.number("stud_mm")
        name = lug.id if own else "" if row is None else row.id
        rows.append(LugHole(stud, len(ends[stud]), tuple(dict.fromkeys(ends[stud])), name))
    return tuple(rows)


def _first_spin(plan: Plan) -> SteadySpeed | None:
    """The slowest speed of the steady table: with the wheels off the ground it takes less."""
    rows = best_gears(plan.driving, 0.0)
    return rows[0] if rows else None


def _sections(context: Context, plan: Plan, drive: Drive, found: Circuit) -> Iterator[Section]:
    """Those of the plan's series order; for an older plan by the same rule, box by box."""
    core = drive.core
    empty = rest_v(context, drive, drive.module.number("soc_min")) / core.series
    full = drive.figures.charge_v / core.series
    ordered = {use.bay: use.sections for use in plan.placement}
    for string in range(1, drive.strings + 1):
        for box in found.boxes:
            known = ordered.get(box.bay, ())
            sizes = (
                [(one.last - one.first + 1, (one.first, one.last)) for one in known]
                if known
                else [(size, None) for size in isolation.sections(box.series, full)]
            )
            for number, (size, places) in enumerate(sizes, start=1):
                yield Section(box.bay, string, number, size, places, size * empty, size * full)


def _pre_charge(drive: Drive, parts: dict[str, Part]) -> PreCharge | None:
    resistor = parts.get("precharge_resistor")
    if resistor is None:
        return None
    volts, ohm = drive.figures.charge_v, resistor.number("ohm")
    millifarad = drive.controller.number("capacitance_mf")
    share = precharge.closing_share(volts)
    seconds = precharge_s(drive, resistor)
    return PreCharge(
        ohm=ohm,
        millifarad=millifarad,
        share=share,
        seconds=seconds,
        time_out_s=precharge.FAULT_TIME_FACTOR * seconds,
        peak_a=precharge.peak_current_a(volts, ohm),
        gap_v=precharge.gap_v(volts, share),
    )


def _discharge(drive: Drive, parts: dict[str, Part]) -> Discharge | None:
    """None up to 60 V, and where nothing is known of it (older plans)."""
    resistor, volts = parts.get("discharge_resistor"), drive.figures.charge_v
    if drive.touchable:
        return None
    if resistor is not None:
        farads = drive.controller.number("capacitance_mf") * 1e-3
        seconds = precharge.discharge_s(volts, resistor.number("ohm"), farads)
        return Discharge(seconds, f"R C ln(V/60) with {resistor.id} (computed)")
    if drive.controller.has("discharge_s"):
        own = drive.controller.number("discharge_s")
        return Discharge(own, f"{drive.controller.id}: its own figure")
    return None


def _isolation(drive: Drive) -> Isolation:
    volts = drive.figures.charge_v
    joined = drive.motor.text("kind") != "series_dc"
    wanted = isolation_wanted_ohm(drive)
    return Isolation(
        voltage_class=isolation.voltage_class(volts),
        per_volt_ohm=isolation.OHM_PER_V_AC if joined else isolation.OHM_PER_V_DC,
        wanted_kohm=ceil(round(wanted / 100.0, 6)) / 10,
        expected_kohm=isolation.EXPECTED_OHM / 1000.0,
        bonding_ohm=isolation.BONDING_OHM,
        resistor_w=volts * volts / wanted,
    )


def _restraint(
    plan: Plan,
    drive: Drive,
    box: Box,
    limits: restraint.Accelerations,
    sizes: tuple[int, ...],
) -> Restraint:
    weights = None if plan.mass is None else plan.mass.weights
    modules_kg = box.modules * drive.module.mass_g / 1000
    mass_kg = (
        modules_kg
        if weights is None
        else round(sum(item.mass_kg for item in weights.items if item.bay == box.bay), 3)
    )
    return Restraint(
        bay=box.bay,
        mass_kg=mass_kg,
        modules_only=weights is None,
        forward_n=restraint.force_n(mass_kg, limits.forward_g),
        side_n=restraint.force_n(mass_kg, limits.side_g),
        rearward_n=restraint.force_n(mass_kg, limits.rearward_g),
        up_n=restraint.force_n(mass_kg, limits.up_g),
        bolts=tuple(
            (
                size,
                restraint.bolts_needed(mass_kg, size, accelerations=limits),
                restraint.tightening_nm(size),
            )
            for size in sizes
        ),
    )


def _strap(context: Context, drive: Drive, parts: dict[str, Part]) -> float | None:
    """Section of the bonding straps.

    None without a fuse, with one that never clears, or where the plan does not embed what its
    faults follow from.
    """
    fuse = parts.get("fuse")
    try:
        found = inf if fuse is None else bonding_strap_mm2(context, drive, fuse_data(fuse))
    except KeyError:
        return None
    return None if found == inf else found


def _gas(drive: Drive, parts: dict[str, Part]) -> Gas | None:
    gassing = drive.module.number_or("gassing_a_per_100ah", 0)
    if gassing <= 0:
        return None
    figures = drive.figures
    flow = ventilation.air_flow_m3_h(figures.cells_series, gassing, figures.capacity_ah)
    fan = parts.get("vent_fan")
    return Gas(
        wanted_m3_h=flow,
        opening_cm2=ventilation.opening_cm2(flow),
        current_a=ventilation.gassing_a(gassing, figures.capacity_ah),
        hydrogen_l_h=ventilation.hydrogen_l_h(figures.cells_series, gassing, figures.capacity_ah),
        hydrogen_g_h=ventilation.hydrogen_g(
            figures.cells_series, gassing, figures.capacity_ah, hours=1.0
        ),
        fan_m3_h=None if fan is None else fan.number("flow_m3h"),
    )


def _idle(context: Context, plan: Plan, drive: Drive) -> Idle:
    """At the nominal voltage; the 12 V loads through the converter, as the range counts them."""
    volts = drive.figures.nominal_v
    own_w = drive.controller.number("loss_fixed_w")
    loads_w = 0.0
    if plan.couplers is not None:
        loads_w = plan.couplers.mean_12v_w / context.project.house_rules.dcdc_efficiency
    return Idle(own_w / volts, (own_w + loads_w) / volts)


def _charge(context: Context, plan: Plan, drive: Drive, parts: dict[str, Part]) -> Charge | None:
    charger = parts.get("charger")
    if charger is None:
        return None
    module = drive.module
    return Charge(
        set_v=drive.figures.charge_v,
        set_a=set_current_a(context, drive, charger),
        cell_v=module.number("cell_v_charge"),
        hours=None if plan.performance is None else plan.performance.charge_hours,
        least_c=module.number("charge_min_c"),
        most_c=module.number("charge_max_c"),
    )


def _gears(context: Context, drive: Drive) -> tuple[Gear, ...]:
    driveline = context.project.donor.driveline
    most = drive.motor.number("max_speed_rpm") * 2 * pi / 60
    if drive.motor.text("mount") == "axle":
        ratios: tuple[float, ...] = (drive.motor.number("unit_ratio"),)
    else:
        ratios = tuple(gear * drive.core.final_ratio for gear in driveline.gear_ratios)
    return tuple(
        Gear(number, 3.6 * most / ratio * driveline.wheel_radius_mm / 1000)
        for number, ratio in enumerate(ratios, start=1)
    )
