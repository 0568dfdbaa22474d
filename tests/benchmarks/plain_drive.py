"""The drive as a plain loop over seconds, in scalars: the oracle of the fast form.

Same model, other code: no arrays over time, no repeated guessing, one second after the other
until the pack is empty. Slow on purpose, and easy to read against the equations. Only the
table of greatest torques is taken from the package.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence

from bomplan.physics import EnvelopeMotor, Profile, SeriesMotor, System
from bomplan.physics.powertrain import reference_table


def interpolate(x: float, xs: Sequence[float], ys: Sequence[float]) -> float:
    """Straight between points, flat outside."""
    if x <= xs[0]:
        return ys[0]
    if x >= xs[-1]:
        return ys[-1]
    k = bisect_right(xs, x) - 1
    return ys[k] + (x - xs[k]) / (xs[k + 1] - xs[k]) * (ys[k + 1] - ys[k])


class PlainDrive:
    """One system, one profile, one gear per second."""

    def __init__(self, system: System, profile: Profile, gears: Sequence[int]) -> None:
        self.system = system
        self.speed = profile.speed_m_s.tolist()
        self.grade = profile.grade.tolist()
        self.gears = [int(gear) for gear in gears]
        table = reference_table(system, system.reference_external_ohm)
        self.table = (table.speed_rad_s.tolist(), table.torque_nm.tolist())
        curve = system.pack.curve
        self.soc = list(map(float, curve.soc))
        self.volts = list(map(float, curve.open_circuit_v))
        self.ohms = list(map(float, curve.resistance_factor))
        if isinstance(system.motor, SeriesMotor):
            self.amps = system.motor.dense_current_a.tolist()
            self.torques = system.motor.dense_torque_nm.tolist()

    def road_work(self, a: float, b: float, grade: float, mass: float) -> float:
        """J of rolling, drag and grade over one second from speed a to b."""
        road = self.system.road
        cosine, sine = 1 / math.hypot(1, grade), grade / math.hypot(1, grade)

        def power(v: float) -> float:
            air = v + road.headwind_m_s
            rolling = road.rolling + road.rolling_speed_s2_m2 * v * v
            drag = 0.5 * road.air_density_kg_m3 * road.drag_area_m2 * abs(air) * air
            return (mass * road.gravity * rolling * cosine + drag) * v

        middle = 0.5 * (a + b)
        rolled = (power(a) + 4 * power(middle) + power(b)) / 6
        return rolled + mass * road.gravity * sine * middle

    def amps_per_nm(self, turning: float) -> float:
        motor = self.system.motor
        assert isinstance(motor, EnvelopeMotor)
        corner = min(motor.peak_power_w, motor.peak_torque_nm * motor.base_speed_rad_s)
        envelope = min(motor.peak_torque_nm, corner / max(turning, 1e-9))
        return self.system.controller.motor_current_peak_a / envelope

    def draw(self, torque: float, turning: float) -> float:
        """W into the controller."""
        motor, controller = self.system.motor, self.system.controller
        if isinstance(motor, SeriesMotor):
            amps = interpolate(torque, self.torques, self.amps)
            lost = amps * amps * motor.resistance_ohm + amps * motor.brush_v
        else:
            amps = abs(torque) * self.amps_per_nm(turning)
            lost = motor.copper_w_per_nm2 * torque**2 + self.idle(turning)
        bridge = controller.loss_fixed_w + controller.loss_v * amps + controller.loss_ohm * amps**2
        return torque * turning + lost + bridge

    def idle(self, turning: float) -> float:
        motor = self.system.motor
        assert isinstance(motor, EnvelopeMotor)
        fixed = motor.fixed_w if turning > 0 else 0.0
        return motor.iron_w_per_rad_s * turning + motor.iron_w_per_rad_s2 * turning**2 + fixed

    def lowest_torque(self, turning: float) -> float:
        motor, controller = self.system.motor, self.system.controller
        if isinstance(motor, SeriesMotor):
            return 0.0
        per = self.amps_per_nm(turning)
        square = motor.copper_w_per_nm2 + controller.loss_ohm * per**2
        best = max(turning - controller.loss_v * per, 0.0) / (2 * square)
        idle = self.idle(turning) / turning
        allowed = idle
        if self.system.regenerates:
            envelope = controller.motor_current_peak_a / per
            allowed = max(min(motor.regeneration_torque_nm, envelope), idle)
        limit = self.system.driveline.input_torque_limit_nm
        return max(-min(allowed, best), -limit if limit is not None else -math.inf)

    def traction(self, second: int, mass: float) -> float:
        """W into the controller in one second of the lap."""
        line = self.system.driveline
        a, b = self.speed[second], self.speed[second + 1]
        v = 0.5 * (a + b)
        if v <= 0:
            return self.draw(0.0, 0.0)
        gravity = self.system.road.gravity
        work = self.road_work(a, b, self.grade[second], mass)
        force = work / v + mass * line.rotating_mass_factor * (b - a)
        cosine = 1 / math.hypot(1, self.grade[second])
        lever = line.centre_height_m / line.wheelbase_m
        sign = 1.0 if line.driven == "front" else -1.0
        axle = mass * gravity * cosine * line.driven_share
        force = min(force, axle * line.grip / (1 + sign * line.grip * lever))
        back = line.regeneration_grip
        force = max(force, -axle * back / (1 - sign * back * lever))
        ratio = line.ratios[self.gears[second]]
        turning = v * ratio / line.wheel_radius_m
        at_shaft = force * line.wheel_radius_m / ratio
        at_shaft = at_shaft / line.efficiency if force > 0 else at_shaft * line.efficiency
        spin = line.rotor_inertia_kgm2 * (b - a) * ratio / line.wheel_radius_m
        torque = at_shaft + line.drag_torque_nm + spin
        top = self.system.motor.max_speed_rad_s
        ceiling = interpolate(min(turning, top), *self.table)
        if line.input_torque_limit_nm is not None:
            ceiling = min(ceiling, line.input_torque_limit_nm)
        if line.wheel_torque_limit_nm is not None:
            through = line.wheel_torque_limit_nm / (ratio * line.efficiency)
            ceiling = min(ceiling, through + line.drag_torque_nm)
        torque = max(min(torque, ceiling), self.lowest_torque(turning))
        return self.draw(torque, turning)

    def distance(self, mass: float, external: float, beside: float) -> float:
        """Metres until the cut-off or the end of the window."""
        pack = self.system.pack
        soc, metres = pack.soc_max, 0.0
        rated = pack.capacity_ah / pack.rated_hours
        steps = len(self.grade)
        second = 0
        while True:
            at = second % steps
            power = self.traction(at, mass) + beside
            open_v = interpolate(soc, self.soc, self.volts) * pack.cells_series
            ohm = interpolate(soc, self.soc, self.ohms) * pack.resistance_ohm + external
            inside = open_v**2 - 4 * ohm * power
            if inside < 0:
                return metres
            amps = (open_v - math.sqrt(inside)) / (2 * ohm)
            if amps < 0:
                room = min(1.0, max(0.0, (pack.soc_max - soc) / 0.02))
                ceiling = max(0.0, pack.max_voltage_v - open_v) / ohm
                amps = max(amps, -min(pack.charge_limit_a * room, ceiling))
            if open_v - ohm * amps < pack.min_voltage_v:
                return metres
            felt = amps * (amps / rated) ** (pack.peukert - 1) if amps > rated else amps
            after = soc - felt / (3600 * pack.capacity_ah)
            moved = 0.5 * (self.speed[at] + self.speed[at + 1])
            if after <= pack.soc_min:
                return metres + moved * (soc - pack.soc_min) / (soc - after)
            soc, metres, second = after, metres + moved, second + 1
