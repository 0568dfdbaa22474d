"""From catalogue rows and the donor to the physics room's arrays: one core, ready to drive.

The simulator reads the core and three couplers (added mass, external resistance, mean 12 V
load). Nothing else of a plan reaches the physics, so that placement and small parts can be
chosen without simulating again.
"""

from __future__ import annotations

import math
from functools import cached_property

import numpy as np
import numpy.typing as npt

from bomplan.catalog.records import Part
from bomplan.design.context import Context
from bomplan.design.drive import LEAD, Drive, may_regenerate, pack_figures
from bomplan.design.records import Couplers
from bomplan.design.road import drag_torque_nm, road_load, shift_seconds, wheel_torque_limit_nm
from bomplan.design.rolling import sizes_conductors
from bomplan.design.series_machine import series_motor
from bomplan.physics import (
    Acceleration,
    CellCurve,
    Climb,
    Controller,
    Driveline,
    EnvelopeMotor,
    Pack,
    PackData,
    Profile,
    RangeAnswer,
    SeriesMotor,
    System,
    TemperatureTable,
    TopSpeed,
    acceleration,
    choose_gears,
    climb,
    condition_pack,
    grip_turns,
    peukert_exponent,
    range_answer,
    top_speed,
)
from bomplan.physics.acceleration import FIRST_HOLD_S
from bomplan.physics.asked_lap import AskedLap
from bomplan.physics.powertrain import TableAsked, reference_asked
from bomplan.physics.screen import Asked, Classes, PackTable
from bomplan.project.records import (
    AccelerationTarget,
    ClimbTarget,
    Condition,
    RangeTarget,
    SpeedTarget,
)

RPM = math.pi / 30
KW = 1000.0


class Simulator:
    """One core on the donor. Answers are cached by couplers; everything is deterministic."""

    def __init__(self, context: Context, drive: Drive) -> None:
        self.context = context
        self.drive = drive
        self._systems: dict[tuple[str, str], System] = {}
        self._gears: dict[str, npt.NDArray[np.int64]] = {}
        self._laps: dict[str, AskedLap] = {}
        self._ranges: dict[tuple[str, int, int, int], RangeAnswer] = {}
        # The same core with its uncertain figures drawn otherwise, made when first asked for.
        self.others: tuple[tuple[Simulator, int], ...] | None = None

    # -- the three couplers ------------------------------------------------------------

    def mass_kg(self, load_case: str, couplers: Couplers) -> float:
        """Laden mass in this load case."""
        context = self.context
        return (context.base.mass_g + context.load(load_case).mass_g + couplers.added_g) / 1000

    def auxiliary_w(self, couplers: Couplers) -> float:
        """The mean 12 V load as the traction pack feels it, through the converter."""
        return couplers.mean_12v_w / self.context.project.house_rules.dcdc_efficiency

    # -- answers -----------------------------------------------------------------------

    def profile(self, target: RangeTarget) -> Profile:
        return self.context.profile(target.profile, target.speed_cap_m_s)

    def range(self, target: RangeTarget, couplers: Couplers) -> RangeAnswer:
        """How far the pack takes the car on the target's profile, in its condition."""
        key = (target.name, couplers.added_g, couplers.external_uohm, couplers.mean_12v_w)
        known = self._ranges.get(key)
        if known is None:
            known = self._drive_profile(
                target,
                self.mass_kg(target.load_case, couplers),
                couplers.external_uohm * 1e-6,
                self.auxiliary_w(couplers),
            )
            self._ranges[key] = known
        return known

    def range_in(
        self, target: RangeTarget, condition: Condition, couplers: Couplers
    ) -> RangeAnswer:
        """The target in another condition than its own, declared or not; not kept."""
        if condition == self.context.condition(target.condition):
            return self.range(target, couplers)
        system, profile = self.system_in(condition, target.load_case), self.profile(target)
        return range_answer(
            system,
            profile,
            choose_gears(system, profile, self.context.reference_mass_g / 1000),
            mass_kg=self.mass_kg(target.load_case, couplers),
            external_resistance_ohm=couplers.external_uohm * 1e-6,
            auxiliary_w=self.auxiliary_w(couplers),
            heater_w=condition.heater_w,
            reserve=target.reserve,
        )

    def classes(
        self,
        target: RangeTarget,
        wanted_m: int,
        table: PackTable,
        which: npt.NDArray[np.int64],
        nominal_v: npt.NDArray[np.float64],
        added_g: npt.NDArray[np.int64],
        battery_a: npt.NDArray[np.float64],
        mean_12v_w: int,
        number: tuple[int, int],
        hour_limit_a: float,
    ) -> Classes:
        """Many packs with this drive, ready to be asked which may reach the target.

        Reads no pack of its own. ``nominal_v``, the least ``added_g`` and the controller's
        setting ``battery_a`` go with ``which``; ``mean_12v_w`` is the least 12 V load of all,
        ``number`` how many classes by strength and by mass, ``hour_limit_a`` what the motor may
        carry for an hour, see :mod:`bomplan.physics.screen`.
        """
        context, condition = self.context, self.context.condition(target.condition)
        load = context.base.mass_g + context.load(target.load_case).mass_g
        pair = self.drive.pair
        # An envelope without a reference voltage holds at each pack's nominal one.
        own = self.drive.motor.text("kind") != "series_dc" and pair and not pair.reference_v
        system, profile = self.system(condition, target.load_case), self.profile(target)
        lap = self._laps.get(target.name)
        if lap is None:
            lap = AskedLap(system, profile, context.reference_mass_g / 1000)
            self._laps[target.name] = lap
        return Classes(
            system,
            profile,
            Asked(
                wanted_m=float(wanted_m),
                reserve=target.reserve,
                beside_w=mean_12v_w / context.project.house_rules.dcdc_efficiency
                + condition.heater_w,
                reference_mass_kg=context.reference_mass_g / 1000,
                gear_circuit_ohm=context.project.house_rules.reference_circuit_ohm,
                battery_a=battery_a,
                reference_v=nominal_v if own else None,
            ),
            table,
            which,
            (load + added_g) / 1000,
            *number,
            lap,
            hour_limit_a,
        )

    def gears(self, target: RangeTarget) -> npt.NDArray[np.int64]:
        """The driver's gear in every second, settled at the reference mass."""
        known = self._gears.get(target.name)
        if known is None:
            known = choose_gears(
                self.system(self.context.condition(target.condition), target.load_case),
                self.profile(target),
                reference_mass_kg=self.context.reference_mass_g / 1000,
                external_resistance_ohm=self.context.project.house_rules.reference_circuit_ohm,
            )
            self._gears[target.name] = known
        return known

    def at_reference_mass(self, target: RangeTarget) -> RangeAnswer:
        """The same at the reference mass and circuit: what conductors are sized for."""
        context = self.context
        return self._drive_profile(
            target,
            context.reference_mass_g / 1000,
            context.project.house_rules.reference_circuit_ohm,
            context.project.donor.load_12v_w / context.project.house_rules.dcdc_efficiency,
        )

    def top_speed(self, target: SpeedTarget, couplers: Couplers) -> TopSpeed:
        condition = self.context.condition(target.condition)
        return top_speed(
            self.system(condition, target.load_case),
            soc=self.context.project.targets.power_state_of_charge,
            mass_kg=self.mass_kg(target.load_case, couplers),
            external_resistance_ohm=couplers.external_uohm * 1e-6,
            auxiliary_w=self.auxiliary_w(couplers) + condition.heater_w,
            hold_s=target.hold_s,
        )

    def climb(self, target: ClimbTarget, couplers: Couplers) -> Climb:
        return self.climb_at(
            target,
            self.mass_kg(target.load_case, couplers),
            couplers.external_uohm * 1e-6,
            self.auxiliary_w(couplers),
        )

    def climb_at(
        self, target: ClimbTarget, mass_kg: float, external_ohm: float, auxiliary_w: float
    ) -> Climb:
        condition = self.context.condition(target.condition)
        return climb(
            self.system(condition, target.load_case),
            grade=target.grade,
            speed_m_s=target.speed_m_s,
            hold_s=target.hold_s,
            soc=self.context.project.targets.power_state_of_charge,
            mass_kg=mass_kg,
            external_resistance_ohm=external_ohm,
            auxiliary_w=auxiliary_w + condition.heater_w,
        )

    def acceleration(self, target: AccelerationTarget, couplers: Couplers) -> Acceleration:
        condition = self.context.condition(target.condition)
        return acceleration(
            self.system(condition, target.load_case),
            to_speed_m_s=target.speed_m_s,
            soc=self.context.project.targets.power_state_of_charge,
            mass_kg=self.mass_kg(target.load_case, couplers),
            external_resistance_ohm=couplers.external_uohm * 1e-6,
            auxiliary_w=self.auxiliary_w(couplers) + condition.heater_w,
        )

    def grip_decides(self, target: SpeedTarget | ClimbTarget | AccelerationTarget) -> bool:
        """Whether grip may be what limits this target, so that mass need not make it worse.

        A run up to speed turns where the motor can spin the wheels. A speed or a climb is
        held back by grip at every mass or at none, but for the air: its force does not grow
        with mass and the grip does, so that a car too light for the wind may hold when laden.
        """
        condition = self.context.condition(target.condition)
        lightest = (self.context.base.mass_g + self.context.load(target.load_case).mass_g) / 1000
        system = self.system(condition, target.load_case)
        if not isinstance(target, AccelerationTarget):
            grade = target.grade if isinstance(target, ClimbTarget) else 0.0
            return grip_turns(system, target.speed_m_s, grade, lightest)
        return acceleration(
            system,
            to_speed_m_s=target.speed_m_s,
            soc=self.context.project.targets.power_state_of_charge,
            mass_kg=lightest,
            external_resistance_ohm=0.0,
            auxiliary_w=0.0,
        ).grip_limited

    # -- what many cars need, worked out together ----------------------------------------

    def profile_table(self, target: RangeTarget) -> TableAsked:
        """The table of torques that the target's profile is held against."""
        system = self.system(self.context.condition(target.condition), target.load_case)
        return reference_asked(system, system.reference_external_ohm)

    def tables_asked(self, couplers: Couplers) -> list[TableAsked]:
        """Every table of torques that the project's targets need at these couplers.

        But those of an acceleration that lasts longer than the first guess: how long shows
        only when it is driven.
        """
        targets = self.context.project.targets
        found = [self.profile_table(target) for target in targets.range]
        at = couplers.external_uohm * 1e-6, self.auxiliary_w(couplers)
        found += [self._table_of(one, *at) for one in targets.climb]
        found += [self._table_of(one, *at) for one in targets.top_speed]
        found += [self._table_of(one, *at) for one in targets.acceleration]
        return found

    def climbs_asked(self, external_ohm: float, auxiliary_w: float) -> list[TableAsked]:
        """The tables of :meth:`climb_at` for every climb that currents are found by."""
        climbs = [one for one in self.context.project.targets.climb if sizes_conductors(one)]
        return [self._table_of(climb, external_ohm, auxiliary_w) for climb in climbs]

    def _table_of(
        self,
        target: SpeedTarget | ClimbTarget | AccelerationTarget,
        external_ohm: float,
        auxiliary_w: float,
    ) -> TableAsked:
        condition = self.context.condition(target.condition)
        return TableAsked(
            self.system(condition, target.load_case),
            self.context.project.targets.power_state_of_charge,
            external_ohm,
            auxiliary_w + condition.heater_w,
            FIRST_HOLD_S if isinstance(target, AccelerationTarget) else target.hold_s,
        )

    # -- building ----------------------------------------------------------------------

    def system(self, condition: Condition, load_case: str) -> System:
        """Road, driveline, machine and pack in this condition and load case."""
        key = (condition.name, load_case)
        known = self._systems.get(key)
        if known is None:
            known = self.system_in(condition, load_case)
            self._systems[key] = known
        return known

    def system_in(self, condition: Condition, load_case: str) -> System:
        """The same for any condition, whether or not the project declares it; not kept."""
        return System(
            road=road_load(self.context.project.donor, condition),
            driveline=self._driveline(condition, load_case),
            motor=self.machine,
            controller=self.controller,
            pack=pack_in(
                self.context,
                self.drive.module,
                self.drive.core.series,
                self.drive.core.parallel,
                condition,
                self.controller.min_voltage_v,
                self.controller.max_voltage_v,
            ),
            regeneration=may_regenerate(self.context, self.drive),
            reference_external_ohm=self.context.project.house_rules.reference_circuit_ohm,
        )

    def _drive_profile(
        self, target: RangeTarget, mass_kg: float, external_ohm: float, auxiliary_w: float
    ) -> RangeAnswer:
        # Parts by their rows, which the answer keeps: another draw of a figure is another row.
        drive, core = self.drive, self.drive.core
        rows = (drive.motor, drive.controller, drive.module, drive.pair)
        asked = (target.profile, target.speed_cap_m_s, target.condition, target.load_case)
        key = (
            *map(id, rows), core.final_ratio, core.series, core.parallel, core.topology,
            core.battery_a, *asked, target.reserve, mass_kg, external_ohm, auxiliary_w,
        )  # fmt: skip
        known: tuple[RangeAnswer, object] | None = self.context.driven.get(key)
        if known is None:
            known = self._driven(target, mass_kg, external_ohm, auxiliary_w), rows
            self.context.driven[key] = known
        return known[0]

    def _driven(
        self, target: RangeTarget, mass_kg: float, external_ohm: float, auxiliary_w: float
    ) -> RangeAnswer:
        condition = self.context.condition(target.condition)
        system = self.system(condition, target.load_case)
        return range_answer(
            system,
            self.profile(target),
            self.gears(target),
            mass_kg=mass_kg,
            external_resistance_ohm=external_ohm,
            auxiliary_w=auxiliary_w,
            heater_w=condition.heater_w,
            reserve=target.reserve,
        )

    def _driveline(self, condition: Condition, load_case: str) -> Driveline:
        context, motor = self.context, self.drive.motor
        donor = context.project.donor
        line = donor.driveline
        unit = motor.text("mount") == "axle"
        if unit:
            ratios: tuple[float, ...] = (motor.number("unit_ratio"),)
            efficiency = motor.number_or("unit_efficiency", 0.96)
        else:
            ratios = tuple(gear * self.drive.core.final_ratio for gear in line.gear_ratios)
            efficiency = line.efficiency
        load = context.load(load_case)
        mass = context.base.mass_g + load.mass_g
        rear = (context.base.moment_gmm + load.moment_gmm) / (mass * context.wheelbase_mm)
        # A drive unit's own half-shafts are in its figure; it has neither gearbox nor chain.
        limit = line.wheel_torque_limit_nm if unit else wheel_torque_limit_nm(line)
        if unit and motor.has("max_axle_torque_nm"):
            own = motor.number("max_axle_torque_nm")
            limit = own if limit is None else min(own, limit)
        return Driveline(
            ratios=ratios,
            wheel_radius_m=line.wheel_radius_mm / 1000,
            efficiency=efficiency,
            # A drive unit's own drag is in its efficiency; the donor's gearbox is gone.
            drag_torque_nm=0.5 if unit else drag_torque_nm(line, condition.temperature_c),
            shift_speeds_m_s=() if unit else line.shift_speeds_m_s,
            shift_seconds=shift_seconds(line),
            input_torque_limit_nm=None if unit else line.input_torque_limit_nm,
            wheel_torque_limit_nm=limit,
            rotating_mass_factor=line.rotating_mass_factor,
            rotor_inertia_kgm2=motor.number_or("rotor_inertia_kgm2", 0.0),
            driven=line.driven,
            grip=donor.grip_wet if condition.wet else donor.grip,
            wheelbase_m=donor.wheelbase_mm / 1000,
            centre_height_m=donor.centre_height_mm / 1000,
            driven_share=rear if line.driven == "rear" else 1 - rear,
            wheelie=line.driven == "rear"
            and (donor.kind == "motorcycle" if line.wheelie_limit is None else line.wheelie_limit),
        )

    @cached_property
    def machine(self) -> SeriesMotor | EnvelopeMotor:
        machines = self.context.machines
        key = (self.drive.motor.id, self.drive.controller.id, self.drive.figures.nominal_v)
        if self.drive.motor.text("kind") == "series_dc":
            key = (self.drive.motor.id, "", 0.0)  # its figures are its own, whatever feeds it
        if key not in machines:
            machines[key] = self._machine()
        return machines[key]

    def _machine(self) -> SeriesMotor | EnvelopeMotor:
        motor, pair = self.drive.motor, self.drive.pair
        if motor.text("kind") == "series_dc":
            return series_motor(motor)
        if pair is None or pair.peak_torque_nm is None or pair.peak_kw is None:
            raise ValueError(f"{motor.id} has no envelope with {self.drive.controller.id}")
        hour_kw = pair.hour_kw or motor.number("hour_kw")
        continuous_kw = pair.continuous_kw or motor.number("continuous_kw")
        base_rpm = pair.base_speed_rpm or pair.peak_kw * KW / pair.peak_torque_nm / RPM
        return EnvelopeMotor(
            kind="permanent_magnet" if motor.text("kind") == "permanent_magnet" else "induction",
            peak_torque_nm=pair.peak_torque_nm,
            peak_power_w=pair.peak_kw * KW,
            base_speed_rad_s=base_rpm * RPM,
            reference_voltage_v=pair.reference_v or self.drive.figures.nominal_v,
            max_speed_rad_s=motor.number("max_speed_rpm") * RPM,
            copper_w_per_nm2=motor.number_or("copper_w_per_nm2", 0.0),
            iron_w_per_rad_s=motor.number_or("iron_w_per_rpm", 0.0) / RPM,
            iron_w_per_rad_s2=motor.number_or("iron_w_per_rpm2", 0.0) / RPM**2,
            fixed_w=motor.number_or("fixed_w", 0.0),
            ratings=(
                (pair.peak_s or 30.0, pair.peak_kw * KW),
                (3600.0, hour_kw * KW),
                (math.inf, continuous_kw * KW),
            ),
            regeneration_torque_nm=pair.regeneration_torque_nm or 0.0,
            emf_v_per_rad_s=motor.number_or("emf_v_per_krpm", 0.0) / 1000 / RPM,
        )

    @cached_property
    def controller(self) -> Controller:
        part = self.drive.controller
        return Controller(
            kind="chopper" if part.text("kind") == "chopper" else "inverter",
            min_voltage_v=part.number("v_min"),
            max_voltage_v=part.number("v_max_abs"),
            battery_current_a=self.drive.battery_limit_a,
            motor_current_peak_a=part.number("motor_a_peak"),
            peak_s=part.number("peak_s"),
            motor_current_hour_a=part.number("motor_a_hour"),
            motor_current_continuous_a=part.number("motor_a_continuous"),
            loss_fixed_w=part.number_or("loss_fixed_w", 0.0),
            loss_v=part.number_or("loss_v", 0.0),
            loss_ohm=part.number_or("loss_mohm", 0.0) * 1e-3,
            regeneration=may_regenerate(self.context, self.drive),
        )


def pack_in(
    context: Context,
    module: Part,
    series: int,
    parallel: int,
    condition: Condition,
    controller_min_v: float,
    controller_max_v: float,
) -> Pack:
    """The pack of these modules in this condition, between the controller's limits."""
    figures = pack_figures(module, series, parallel)
    points = context.curve(module.text("curve"))
    factors = context.temperature_factors(module.text("chemistry"))
    hours = module.number("rated_hours")
    peukert = 1.0
    if module.text("chemistry") in LEAD and module.has("capacity_1h_ah"):
        peukert = peukert_exponent(
            module.number("capacity_ah"), hours, module.number("capacity_1h_ah"), 1.0
        )
    data = PackData(
        curve=CellCurve(
            soc=np.array([point.state_of_charge for point in points]),
            open_circuit_v=np.array([point.open_circuit_v for point in points]),
            resistance_factor=np.array([point.resistance_factor for point in points]),
        ),
        cells_series=figures.cells_series,
        capacity_ah=module.number("capacity_ah") * parallel,
        resistance_ohm=figures.resistance_dc_ohm,
        rated_hours=hours,
        peukert=peukert,
        soc_min=module.number("soc_min"),
        soc_max=module.number("soc_max"),
        cell_cut_off_v=module.number("cell_v_min"),
        cell_charge_v=module.number("cell_v_charge"),
        discharge_continuous_a=figures.discharge_continuous_a,
        discharge_10s_a=figures.discharge_10s_a,
        charge_10s_a=module.number("charge_10s_a") * parallel,
        charge_min_c=module.number("charge_min_c"),
        charge_max_c=module.number("charge_max_c"),
        state_of_health=module.number_or("state_of_health", 1.0),
        end_of_life_capacity=module.number("end_of_life_capacity"),
        end_of_life_resistance=module.number("end_of_life_resistance"),
    )
    temperatures = TemperatureTable(
        temperature_c=np.array([point.temperature_c for point in factors]),
        capacity_factor=np.array([point.capacity_factor for point in factors]),
        resistance_factor=np.array([point.resistance_factor for point in factors]),
    )
    return condition_pack(
        data,
        temperatures,
        condition.temperature_c,
        condition.aged,
        controller_min_v,
        controller_max_v,
        context.project.margins.cell_spread,
    )
