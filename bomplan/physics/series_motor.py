"""Series-wound direct-current motor: field and armature carry the same current.

E = k phi(I) w, T = k phi(I) I = E I / w, V = E + I R + V_brush. k phi follows from the
measured torque at each current, so saturation is in the table. Source: S. J. Chapman,
*Electric Machinery Fundamentals* (McGraw-Hill, 4th ed.), ch. 9 (from memory); the same in
A. E. Fitzgerald and others, *Electric Machinery*, ch. 7. Valid with neutral or fixed brushes
and without field weakening; the torque table is taken as torque at the shaft.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from bomplan.physics.arrays import FloatArray, frozen, log_interpolated
from bomplan.physics.controller import Controller

FULL_AIR_RAD_S = 209.0  # 2000 rpm
STILL_AIR_SHARE = 1.0 / 3.0
_POINTS = 600
_BEYOND = 2.0  # the table is continued at its last slope to this many times its last current


@dataclass(frozen=True, eq=False)
class SeriesMotor:
    """Magnetisation, resistance and limits.

    ``current_a`` and ``torque_nm`` are the measured points, both rising, without the origin.
    Between them torque follows a power of the current (straight on log-log paper), below the
    first the power of the first stretch, at most the square (an unsaturated iron path); above
    the last the last slope (saturated: torque grows in proportion). ``max_voltage_v`` is what
    the commutator stands at low current, falling in a straight line to
    ``max_voltage_high_v`` at ``high_current_a``. ``ratings`` are (seconds, A), seconds rising.
    ``self_cooled``: a fan on its own shaft, no blower.

    ValueError for a table of fewer than two points or one that does not rise.
    """

    current_a: FloatArray
    torque_nm: FloatArray
    resistance_ohm: float
    brush_v: float
    max_voltage_v: float
    high_current_a: float
    max_voltage_high_v: float
    max_speed_rad_s: float
    ratings: tuple[tuple[float, float], ...] = ()
    estimated: bool = False
    self_cooled: bool = False

    def __post_init__(self) -> None:
        current = np.asarray(self.current_a, dtype=np.float64)
        torque = np.asarray(self.torque_nm, dtype=np.float64)
        if len(current) < 2 or current[0] <= 0 or torque[0] <= 0:
            raise ValueError("a magnetisation table needs two points or more, above zero")
        if bool(np.any(np.diff(current) <= 0)) or bool(np.any(np.diff(torque) <= 0)):
            raise ValueError("current and torque must rise along the magnetisation table")

    @cached_property
    def dense_current_a(self) -> FloatArray:
        """Currents of the fine table, A."""
        top = float(self.current_a[-1]) * _BEYOND
        # Even in the square root: fine where torque goes with the square of the current.
        even = np.linspace(0.0, np.sqrt(top), _POINTS) ** 2
        return frozen(np.union1d(even, np.asarray(self.current_a, dtype=np.float64)))

    @cached_property
    def dense_torque_nm(self) -> FloatArray:
        """Torques of the fine table, N·m."""
        current = np.asarray(self.current_a, dtype=np.float64)
        torque = np.asarray(self.torque_nm, dtype=np.float64)
        slopes = np.diff(np.log(torque)) / np.diff(np.log(current))
        dense = self.dense_current_a
        with np.errstate(divide="ignore"):
            middle = np.exp(
                np.interp(np.log(np.maximum(dense, 1e-9)), np.log(current), np.log(torque))
            )
        low = torque[0] * (dense / current[0]) ** float(np.clip(slopes[0], 1.0, 2.0))
        steep = (torque[-1] - torque[-2]) / (current[-1] - current[-2])
        high = torque[-1] + steep * (dense - current[-1])
        table = np.where(dense < current[0], low, np.where(dense > current[-1], high, middle))
        return frozen(table)

    def torque(self, current_a: FloatArray) -> FloatArray:
        """Torque at a current, N·m."""
        return np.interp(current_a, self.dense_current_a, self.dense_torque_nm)

    def current(self, torque_nm: FloatArray) -> FloatArray:
        """Current for a torque, A; none for a torque of zero and below."""
        return np.interp(torque_nm, self.dense_torque_nm, self.dense_current_a)

    def flux_v_s(self, current_a: FloatArray) -> FloatArray:
        """k phi: volts of back-EMF per rad/s, which is torque over current."""
        current = np.maximum(current_a, float(self.dense_current_a[1]))
        return np.asarray(self.torque(current) / current, dtype=np.float64)

    def voltage(self, current_a: FloatArray, speed_rad_s: FloatArray) -> FloatArray:
        """Voltage at the motor's terminals, V."""
        back_emf = self.flux_v_s(current_a) * speed_rad_s
        return back_emf + np.asarray(current_a) * self.resistance_ohm + self.brush_v

    def voltage_limit(self, current_a: FloatArray) -> FloatArray:
        """Voltage the commutator stands at a current, V."""
        return np.interp(
            current_a, [0.0, self.high_current_a], [self.max_voltage_v, self.max_voltage_high_v]
        )

    def speed(self, voltage_v: float, current_a: float) -> float:
        """Speed at which this voltage drives this current, rad/s (0 if it cannot)."""
        back_emf = voltage_v - current_a * self.resistance_ohm - self.brush_v
        return float(max(0.0, back_emf) / self.flux_v_s(np.array([current_a]))[0])

    def runaway_speed(self, voltage_v: float, drag_torque_nm: float) -> float:
        """Speed the motor runs up to against nothing but a small drag torque, rad/s.

        The less it is loaded the weaker its field and the faster it must turn to make the
        back-EMF: far above ``max_speed_rad_s`` for any voltage of use. That is why a clutch
        or a declutched coupling needs a speed limiter.
        """
        return self.speed(voltage_v, float(self.current(np.array([drag_torque_nm]))[0]))

    def loss_parts(
        self, torque_nm: FloatArray, controller: Controller
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """(motor current A, motor loss W, controller loss W) at a torque."""
        current = self.current(torque_nm)
        motor = current * (current * self.resistance_ohm + self.brush_v)
        return current, motor, controller.loss_w(current)

    def current_limit_a(self, hold_s: float) -> float:
        """Current that may be held for ``hold_s``, A.

        Shorter than the first rating the heat stays where it is made, so I² t holds (IEC
        60034-1's reasoning for short duty), up to the last current of the table: beyond it
        nobody has measured the commutation.
        """
        if not self.ratings:
            return float(self.current_a[-1])
        first_s, first_a = self.ratings[0]
        if hold_s < first_s:
            held = first_a * (first_s / max(hold_s, 1.0)) ** 0.5
            return float(max(first_a, min(held, float(self.current_a[-1]))))
        return log_interpolated(hold_s, self.ratings)

    def stall_seconds(self, current_a: float) -> float:
        """How long it may stand still under a current, s: :func:`stall_seconds`."""
        first_a = self.ratings[0][1] if self.ratings else float(self.current_a[-1])
        return stall_seconds(first_a, current_a)

    def fan_share(self, speed_rad_s: FloatArray) -> FloatArray:
        """Share of the rated cooling air that its own fan moves: air goes with speed.

        Full from 2000 rpm up, none at rest (common practice); with a blower always 1.
        """
        speed = np.asarray(speed_rad_s, dtype=np.float64)
        if not self.self_cooled:
            return np.ones_like(speed)
        return np.clip(speed / FULL_AIR_RAD_S, 0.0, 1.0)

    def held_current_a(self, speed_rad_s: FloatArray, hold_s: float) -> FloatArray:
        """:meth:`current_limit_a` at each speed, less where the fan turns slowly.

        Up to the first rating the heat stays inside whatever the air does. At the second and
        beyond, a third of the rated heat leaves without moving air (common practice), the
        rest with the fan's share; heat goes with the square of the current.
        """
        held = np.full_like(np.asarray(speed_rad_s, dtype=np.float64), self.current_limit_a(hold_s))
        if not self.self_cooled or len(self.ratings) < 2 or hold_s <= self.ratings[0][0]:
            return held
        (first_s, _), (second_s, _) = self.ratings[:2]
        weight = min(1.0, float(np.log(hold_s / first_s) / np.log(second_s / first_s)))
        still = STILL_AIR_SHARE + (1.0 - STILL_AIR_SHARE) * self.fan_share(speed_rad_s)
        return np.asarray(held * still ** (0.5 * weight), dtype=np.float64)


def stall_seconds(five_minute_a: float, current_a: float) -> float:
    """How long a series motor may stand still under a current, s.

    At rest one pair of bars carries everything and nothing cools it: 3 s at the five-minute
    current, falling with the square above it (common practice).
    """
    return 3.0 * min(1.0, (five_minute_a / current_a) ** 2) if current_a > 0 else float("inf")


def from_nameplate(
    voltage_v: float,
    current_a: float,
    power_w: float,
    speed_rad_s: float,
    saturation_current_a: float | None = None,
) -> SeriesMotor:
    """A series motor's curve estimated from its nameplate; marked ``estimated``.

    Torque at the rated point is P/w. Of the loss V I - P, 60 % is taken as copper (giving
    the resistance), 2 V as brush drop, the rest as iron and windage that the table's shaft
    torque already carries. Flux saturates after Froelich, phi ~ I/(I_s + I), with I_s the
    rated current unless given: torque ~ I²/(I_s + I). Common practice; +-20 % at best.
    Raises ValueError if more power comes out than goes in.
    """
    loss_w = voltage_v * current_a - power_w
    if loss_w <= 0:
        raise ValueError("a nameplate cannot promise more power than volts times amps")
    knee = current_a if saturation_current_a is None else saturation_current_a
    rated_torque = power_w / speed_rad_s
    currents = current_a * np.array([0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 4.0])
    shape = currents**2 / (knee + currents)
    at_rated = current_a**2 / (knee + current_a)
    return SeriesMotor(
        current_a=frozen(currents),
        torque_nm=frozen(rated_torque * shape / at_rated),
        resistance_ohm=0.6 * loss_w / current_a**2,
        brush_v=2.0,
        max_voltage_v=1.5 * voltage_v,
        high_current_a=3.0 * current_a,
        max_voltage_high_v=1.2 * voltage_v,
        max_speed_rad_s=2.0 * speed_rad_s,
        ratings=((300.0, 1.8 * current_a), (3600.0, 1.1 * current_a), (float("inf"), current_a)),
        estimated=True,
    )
