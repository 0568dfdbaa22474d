"""The driving record of a finished plan, from the core and its three couplers."""

from __future__ import annotations

import math

from bomplan.design.adapter import RPM, Simulator
from bomplan.design.assemble import Chosen
from bomplan.design.context import Context
from bomplan.design.curve_figures import curves_record
from bomplan.design.drive import charge_return
from bomplan.design.driving import (
    Driving,
    HeldGrade,
    HeldSpeed,
    HillStart,
    LongDescent,
    PackVoltage,
    RangeState,
    Sprint,
    SteadySpeed,
)
from bomplan.design.records import Couplers
from bomplan.physics import (
    System,
    acceleration,
    climb,
    gradeability,
    hardest_pull,
    steady_table,
    top_speed,
    wall_wh_per_km,
    worst_descent,
)
from bomplan.physics.powertrain import NEARLY_EMPTY
from bomplan.project.records import Condition, RangeTarget

SPEED_HOLDS_S = (60.0, 1800.0)
CLIMB_KMH = (30.0, 50.0, 80.0)
PEAK_S, SUSTAINED_S, START_S = 60.0, 1800.0, 10.0
SPRINTS_KMH = (50.0, 80.0, 100.0)
STEADY_KMH = (20.0, 30.0, 40.0, 50.0, 60.0, 80.0, 100.0, 120.0)
HILL, HILL_S, FLAT_S = 0.05, 300.0, 1800.0


class _Question:
    """One system with the couplers put into the arguments of every question."""

    def __init__(
        self, simulator: Simulator, condition: Condition, load_case: str, couplers: Couplers
    ) -> None:
        self.system: System = simulator.system_in(condition, load_case)
        self.soc = simulator.context.project.targets.power_state_of_charge
        self.mass_kg = simulator.mass_kg(load_case, couplers)
        self.external_ohm = couplers.external_uohm * 1e-6
        self.auxiliary_w = simulator.auxiliary_w(couplers) + condition.heater_w

    def grade(self, speed_m_s: float, hold_s: float) -> float | None:
        """Steepest grade, floored to a tenth of a per cent."""
        found = gradeability(
            self.system, speed_m_s, hold_s, self.soc, self.mass_kg, self.external_ohm,
            self.auxiliary_w,
        )  # fmt: skip
        return None if math.isnan(found) else int(found * 1000 + 1e-6) / 1000

    def held(self, hold_s: float) -> HeldSpeed:
        found = top_speed(
            self.system, self.soc, self.mass_kg, self.external_ohm, self.auxiliary_w, hold_s
        )
        return HeldSpeed(
            hold_s=hold_s,
            speed_kmh=int(found.speed_m_s * 36 + 1e-6) / 10,
            gear=found.gear + 1,
            cause=found.cause,
        )

    def start(self, wet: bool) -> HillStart:
        grade = self.grade(0.0, START_S)
        at = climb(
            self.system, (grade or 0.0) + 0.002, 0.0, START_S, self.soc, self.mass_kg,
            self.external_ohm, self.auxiliary_w,
        )  # fmt: skip
        return HillStart(wet=wet, grade=grade, cause=at.limit_cause)

    def sprint(self, kmh: float) -> Sprint:
        found = acceleration(
            self.system, kmh / 3.6, self.soc, self.mass_kg, self.external_ohm, self.auxiliary_w
        )
        return Sprint(
            to_kmh=kmh,
            seconds=_rounded(found.seconds, 1),
            metres=_rounded(found.distance_m, 0),
            grip_limited=found.grip_limited,
        )

    def steady(self, fastest_kmh: float) -> tuple[SteadySpeed, ...]:
        pack = self.system.pack
        low = pack.soc_min + NEARLY_EMPTY * (pack.soc_max - pack.soc_min)
        speeds = tuple(kmh / 3.6 for kmh in STEADY_KMH if kmh <= fastest_kmh)
        rows = []
        for grade, hold_s in ((0.0, FLAT_S), (HILL, HILL_S)):
            full, empty = (
                steady_table(
                    self.system, speeds, soc, self.mass_kg, self.external_ohm, self.auxiliary_w,
                    grade, hold_s,
                )
                for soc in (pack.soc_max, low)
            )  # fmt: skip
            rows += [
                SteadySpeed(
                    speed_kmh=round(one.speed_m_s * 3.6, 1),
                    gear=one.gear + 1,
                    grade=grade,
                    motor_rpm=round(one.motor_speed_rad_s / RPM),
                    motor_a=round(one.motor_current_a, 1),
                    battery_a=_rounded(one.battery_current_a, 1),
                    pack_full_v=_rounded(one.pack_voltage_v, 1),
                    pack_nearly_empty_v=_rounded(other.pack_voltage_v, 1),
                    possible=one.feasible and other.feasible,
                )
                for one, other in zip(full, empty, strict=True)
                if one.motor_speed_rad_s <= self.system.motor.max_speed_rad_s
            ]
        return tuple(rows)

    def voltages(self) -> tuple[PackVoltage, ...]:
        low, high = self.system.pack.soc_min, self.system.pack.soc_max
        found = []
        for state, share in (("full", 1.0), ("half", 0.5), ("nearly empty", NEARLY_EMPTY)):
            soc = low + share * (high - low)
            pull = hardest_pull(self.system, soc, self.external_ohm, self.auxiliary_w)
            found.append(
                PackVoltage.model_validate(
                    {
                        "state": state,
                        "state_of_charge": round(soc, 3),
                        "rest_v": round(pull.rest_v, 1),
                        "pull_v": round(pull.pull_v, 1),
                        "pull_a": round(pull.pull_a, 1),
                    }
                )
            )
        return tuple(found)


def driving_record(
    context: Context, couplers: Couplers, chosen: dict[str, Chosen], simulator: Simulator
) -> Driving:
    """Every driving answer of a finished plan."""
    project = context.project
    condition = project.conditions[0]
    load_case = max(context.loads, key=lambda load: load.mass_g).name
    dry = _Question(simulator, condition, load_case, couplers)
    wet = _Question(simulator, condition.model_copy(update={"wet": True}), load_case, couplers)
    speeds = tuple(dry.held(hold_s) for hold_s in SPEED_HOLDS_S)
    charger = chosen["charger"].part.number("efficiency")
    states = tuple(
        (target, state, weather)
        for target in project.targets.range
        for state, weather in _states(context, target)
    )
    return Driving(
        condition=condition.name,
        load_case=load_case,
        ranges=tuple(
            _range_state(simulator, target, state, weather, couplers, charger)
            for target, state, weather in states
        ),
        speeds=speeds,
        climbs=tuple(
            HeldGrade(
                speed_kmh=kmh,
                peak=dry.grade(kmh / 3.6, PEAK_S),
                sustained=dry.grade(kmh / 3.6, SUSTAINED_S),
            )
            for kmh in CLIMB_KMH
            if kmh <= speeds[0].speed_kmh
        ),
        starts=(wet.start(True),) if condition.wet else (dry.start(False), wet.start(True)),
        sprints=tuple(dry.sprint(kmh) for kmh in SPRINTS_KMH if kmh <= speeds[0].speed_kmh),
        steady=dry.steady(speeds[0].speed_kmh),
        voltages=dry.voltages(),
        descent=_descent(simulator, couplers),
        curves=curves_record(simulator, couplers, load_case, speeds[0].speed_kmh, states),
    )


def _states(context: Context, target: RangeTarget) -> tuple[tuple[str, Condition], ...]:
    """The target's own weather with a new and a worn pack, and the coldest day declared."""
    own = context.condition(target.condition)
    coldest = min(
        context.project.conditions, key=lambda one: (one.temperature_c, -one.heater_w, one.name)
    )
    return (
        ("new", own.model_copy(update={"aged": False})),
        ("worn", own.model_copy(update={"aged": True})),
        ("coldest", coldest),
    )


def _range_state(
    simulator: Simulator,
    target: RangeTarget,
    state: str,
    condition: Condition,
    couplers: Couplers,
    charger_efficiency: float,
) -> RangeState:
    answer = simulator.range_in(target, condition, couplers)
    return RangeState.model_validate(
        {
            "target": target.name,
            "state": state,
            "temperature_c": condition.temperature_c,
            "aged": condition.aged,
            "heater_w": condition.heater_w,
            "range_km": kilometres(answer.distance_m) if answer.followed else 0.0,
            "not_followed_s": answer.not_followed_s,
            "not_followed_m": round(answer.not_followed_m),
            "wheel_wh_per_km": round(answer.energy_wheel_wh_km, 1) + 0.0,
            "battery_wh_per_km": round(answer.energy_battery_wh_km, 1) + 0.0,
            "wall_wh_per_km": round(
                wall_wh_per_km(
                    answer.energy_battery_wh_km, charger_efficiency, charge_return(simulator.drive)
                ),
                1,
            ),
            "end_cause": answer.end_cause,
        }
    )


def _descent(simulator: Simulator, couplers: Couplers) -> LongDescent | None:
    worst: tuple[float, LongDescent] | None = None
    for target in simulator.context.project.targets.range:
        profile = simulator.profile(target)
        mass_kg = simulator.mass_kg(target.load_case, couplers)
        found = worst_descent(
            simulator.system(simulator.context.condition(target.condition), target.load_case),
            profile,
            simulator.gears(target),
            mass_kg,
            pack_full=True,
        )
        if found is None or (worst is not None and found.brake_j / mass_kg <= worst[0]):
            continue
        worst = (
            found.brake_j / mass_kg,
            LongDescent(
                profile=target.profile,
                height_m=round(found.height_m, 1),
                seconds=found.seconds,
                brake_mj=round(found.brake_j / 1e6, 3),
                brake_kw=round(found.mean_brake_w / 1000, 2),
                warn=found.warn,
            ),
        )
    return None if worst is None else worst[1]


def kilometres(distance_m: float) -> float:
    """Whole metres as kilometres; a drive without end counts as 1,000,000 km."""
    return int(min(distance_m, 1e9)) / 1000


def _rounded(value: float, digits: int) -> float | None:
    return round(value, digits) if math.isfinite(value) else None
