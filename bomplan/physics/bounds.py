"""Cheap figures that are proven never to be pessimistic: for screens.

The pack's part: terminals never give more than the open-circuit energy of the window, since
resistance and Peukert only take. The road's part: a lap never takes less than its own power
summed. Together they bound the range from above without walking the states of charge.
"""

from __future__ import annotations

import math

import numpy as np

from bomplan.physics.arrays import FloatArray, IntArray
from bomplan.physics.battery import Pack
from bomplan.physics.demand import drive_lap, force_terms
from bomplan.physics.drive import FOLLOWED_SHARE
from bomplan.physics.powertrain import PEAK_HOLD_S, draw, least_torque
from bomplan.physics.profile import Profile
from bomplan.physics.series_motor import SeriesMotor
from bomplan.physics.system import System

# A second's charge is counted at the voltage it began with, so the summed energy may pass
# the integral by half the voltage change of a second: under 0.03 % at 4 C, even back and
# forth. One per mille covers it.
STEP_SLACK = 1e-3
VOLTAGE_HALVINGS = 12  # low by 1/4096 of the torque at most, to the safe side


def most_usable_energy(pack: Pack) -> float:
    """Upper bound on what the terminals give from full to the end of the window, J, net of
    what comes back."""
    return pack.usable_energy_j() * (1.0 + STEP_SLACK)


def optimistic_range(
    system: System,
    profile: Profile,
    gears: IntArray,
    mass_kg: float,
    auxiliary_w: float,
    heater_w: float = 0.0,
    reserve: float = 0.0,
) -> float:
    """A range in metres that :func:`range_answer` never exceeds for the same arguments, at
    any external resistance; ``inf`` where a lap takes nothing.

    Each second takes at least as much open-circuit energy as it would from a full pack with
    its least resistance (current falls with voltage and grows with resistance), and Peukert's
    excess at least that current's. Cut-off voltage and charge acceptance are left out.

    ``reserve`` is the share of the energy that is kept back.
    """
    power = drive_lap(system, profile, gears, mass_kg).traction_w + auxiliary_w + heater_w
    pack = system.pack
    inside = (pack.curve.soc > pack.soc_min) & (pack.curve.soc < pack.soc_max)
    soc = np.concatenate([[pack.soc_min], pack.curve.soc[inside], [pack.soc_max]])
    full_v = float(pack.open_circuit(soc)[-1])
    least_ohm = float(pack.resistance(soc).min())
    under_root = np.maximum(full_v**2 - 4.0 * power * least_ohm, 0.0)
    current = np.maximum(2.0 * power / (full_v + np.sqrt(under_root)), 0.0)
    excess = np.maximum(current / pack.rated_current_a(), 1.0) ** (pack.peukert - 1.0)
    taken = np.where(power > 0, (power + least_ohm * current**2) * excess, power)
    return _furthest(taken, profile.distance_m, most_usable_energy(pack) * (1.0 - reserve))


def _furthest(power_w: FloatArray, distance_m: FloatArray, budget_j: float) -> float:
    used = np.cumsum(power_w)
    lap = float(used[-1])
    if lap <= 0:
        return math.inf
    # Last lap in which some second still lies within the budget.
    laps = math.floor((budget_j - min(0.0, float(used.min()))) / lap)
    travelled = np.cumsum(distance_m)
    while laps >= 0:
        inside = np.nonzero(laps * lap + used <= budget_j)[0]
        if len(inside):
            last = int(inside[-1])
            # One second more: the drive may end within it.
            beyond = float(distance_m[(last + 1) % len(distance_m)])
            return laps * float(travelled[-1]) + float(travelled[last]) + beyond
        laps -= 1
    return float(distance_m[0])


def least_battery_energy(
    system: System,
    profile: Profile,
    gears: IntArray | None,
    mass_kg: float,
    auxiliary_w: float,
    heater_w: float = 0.0,
    at_least_m: float | None = None,
    followed_share_min: float = FOLLOWED_SHARE,
) -> float:
    """Lower bound on energy per distance at the terminals, J/m, whatever the pack.

    Holds for every drive of ``at_least_m`` (one lap unless given) and more that follows the
    profile for ``followed_share_min`` of its seconds; reads road, driveline, motor,
    controller and whether regeneration is wanted, never the pack. With ``gears`` None every
    second takes the gear of least draw, so that it also holds for the gears another pack
    would call for.

    A pack may cut a few seconds short, at most k. A cut by current is a threshold on power, no
    lower than the (k+1)-th greatest. A cut by voltage holds shaft power to what the volts
    left allow, and volts fall with power: so a cut second has at least the shaft power, or
    at least the power, of every second that runs uncut, one of the k+1 strongest among them.
    A series motor's voltage limit is met by a pair of thresholds, see :func:`_series_floor`.
    """
    lines = system.driveline.ratios
    if gears is None:
        laps = [_Free(system, profile, np.full(profile.steps, ratio), mass_kg) for ratio in lines]
    else:
        laps = [_Free(system, profile, np.asarray(lines, dtype=np.float64)[gears], mass_kg)]
    power = _least([lap.power_w for lap in laps])
    shaft = _least([lap.shaft_w for lap in laps])
    spare = int((1.0 - followed_share_min) * profile.steps + 1e-9)
    if isinstance(system.motor, SeriesMotor):
        floor = _series_floor(laps, power, spare)
    else:
        strongest = np.argsort(-shaft, kind="stable")[: spare + 1]
        floor = _least([lap.power_below(float(shaft[strongest].min())) for lap in laps])
        floor = np.minimum(floor, min(float(power[strongest].min()), _ranked(power, spare)))
    saving = np.sort(np.maximum(power - floor, 0.0))[::-1]
    saved = float(saving[:spare].sum())
    return _least_ratio(power + auxiliary_w + heater_w, saved, profile, at_least_m)


def free_power(system: System, profile: Profile, mass_kg: float) -> FloatArray:
    """Power at the terminals each second in the gear of least draw, W, 12 V side left out.

    Every limit but the pack's; no second that the pack does not cut short takes less.
    """
    return _least(
        [
            _Free(system, profile, np.full(profile.steps, ratio), mass_kg).power_w
            for ratio in system.driveline.ratios
        ]
    )


def _series_floor(laps: list[_Free], power: FloatArray, spare: int) -> FloatArray:
    """What a second cut short by the pack's voltage still takes, W.

    The loaded pack gives a voltage that falls with power. If second j runs uncut at motor
    voltage V_j and power P_j, a second cut at V < V_j and P < P_j would have had volts to
    spare: a contradiction. So a cut one reaches V_j or P_j for every uncut j. Among the 2 k
    strongest seconds more than k lie above the thresholds taken here, so one of them is uncut.
    """
    volts = _least([lap.motor_voltage_v() for lap in laps])
    strongest = np.argsort(-power, kind="stable")[: 2 * spare + 1]
    least_w = float(power[strongest].min())
    least_v = _ranked(volts[strongest], spare)
    at_voltage = _least([lap.power_at_motor_voltage(least_v) for lap in laps])
    return np.minimum(at_voltage, least_w)


def _least(rows: list[FloatArray]) -> FloatArray:
    return np.asarray(np.min(np.stack(rows), axis=0), dtype=np.float64)


def _ranked(values: FloatArray, rank: int) -> float:
    """The value of this rank from the top, 0 being the greatest."""
    return float(np.sort(values)[::-1][min(rank, len(values) - 1)])


class _Free:
    """One lap with every limit but the pack's, in the given ratio each second."""

    def __init__(self, system: System, profile: Profile, ratio: FloatArray, mass_kg: float) -> None:
        line = system.driveline
        per_kg, fixed = force_terms(system.road, profile, line.rotating_mass_factor)
        gravity = system.road.gravity
        force = np.clip(
            mass_kg * per_kg + fixed,
            -line.braking_force(mass_kg, profile.cosine, gravity),
            line.grip_force(mass_kg, profile.cosine, gravity),
        )
        self.system = system
        self.speed = line.motor_speed(profile.mean_speed_m_s, ratio)
        wanted = line.shaft_torque(force, ratio, profile.acceleration_m_s2)
        within = np.minimum(wanted, pack_free_limit(system, self.speed, ratio))
        regenerate = system.regeneration and system.controller.regeneration
        lowest = least_torque(system, self.speed, regenerate)
        self.torque = np.where(self.speed > 0, np.maximum(within, lowest), 0.0)
        self.power_w = draw(system, self.torque, self.speed).power_w
        self.shaft_w = self.torque * self.speed

    def power_below(self, shaft_w: float) -> FloatArray:
        """The power with the shaft held to this power."""
        held = np.minimum(self.torque, max(0.0, shaft_w) / np.maximum(self.speed, 1e-9))
        return draw(self.system, held, self.speed).power_w

    def motor_voltage_v(self) -> FloatArray:
        """Voltage at a series motor's terminals, V."""
        motor = self.system.motor
        assert isinstance(motor, SeriesMotor)
        return motor.voltage(motor.current(self.torque), self.speed)

    def power_at_motor_voltage(self, voltage_v: float) -> FloatArray:
        """The power with a series motor held to this voltage."""
        motor = self.system.motor
        assert isinstance(motor, SeriesMotor)
        over = (self.motor_voltage_v() > voltage_v) & (self.torque > 0)
        speed, high = self.speed[over], self.torque[over]
        low = np.zeros_like(high)
        for _ in range(VOLTAGE_HALVINGS):
            middle = 0.5 * (low + high)
            above = motor.voltage(motor.current(middle), speed) > voltage_v
            low, high = np.where(above, low, middle), np.where(above, middle, high)
        power = self.power_w.copy()
        power[over] = draw(self.system, low, speed).power_w
        return power


def pack_free_limit(system: System, speed: FloatArray, ratio: FloatArray) -> FloatArray:
    """Greatest shaft torque that gearbox, motor and controller stand for ten seconds, N·m."""
    motor, controller = system.motor, system.controller
    gearbox = system.driveline.greatest_shaft_torque(ratio)
    if isinstance(motor, SeriesMotor):
        amps = min(motor.current_limit_a(PEAK_HOLD_S), controller.motor_current_a(PEAK_HOLD_S))
        return np.minimum(gearbox, float(motor.torque(np.array([amps]))[0]))
    return np.minimum(gearbox, motor.held(speed, PEAK_HOLD_S))


def _least_ratio(
    power_w: FloatArray, saved_per_lap_j: float, profile: Profile, at_least_m: float | None
) -> float:
    """Least energy per distance over every stop at ``at_least_m`` and beyond."""
    used = np.cumsum(power_w)
    travelled = np.cumsum(profile.distance_m)
    lap_j, lap_m = float(used[-1]) - saved_per_lap_j, float(travelled[-1])
    least_m = lap_m if at_least_m is None else at_least_m
    before = math.floor(least_m / lap_m)
    found = lap_j / lap_m  # what many laps tend to
    for laps in (max(0, before - 1), before, before + 1, before + 2):
        distance = laps * lap_m + travelled
        far = distance >= least_m * (1 - 1e-12)
        if far.any():
            # The seconds cut short may all lie in the part lap.
            energy = laps * lap_j + used[far] - saved_per_lap_j
            found = min(found, float(np.min(energy / distance[far])))
    return found
