"""From the motor's shaft to the road: ratios, losses, limits and grip.

Sources: T. D. Gillespie, *Fundamentals of Vehicle Dynamics* (SAE, 1992), ch. 2 (power- and
traction-limited acceleration); J. Larminie and J. Lowry, *Electric Vehicle Technology
Explained* (Wiley, 2nd ed. 2012), ch. 8. Drag torque beside an efficiency: common practice.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from bomplan.physics.arrays import GRAVITY_M_S2, FloatArray

# Of the driven axle's load, what braking by the motor may use; common practice for a wet
# road and no anti-lock action on the motor's torque.
REGENERATION_GRIP = 0.2


@dataclass(frozen=True)
class Driveline:
    """Gearbox, final drive and driven wheels.

    ``ratios`` are overall (gear times final drive), lowest gear first. ``drag_torque_nm``
    stands at the input and is there even without load. ``shift_speeds_m_s`` are the speeds
    at which the driver changes up, one fewer than the gears; empty means one gear or the
    highest. ``driven_share`` is the static share of the laden weight on the driven axle.
    ``rotating_mass_factor`` is inertial mass over mass for everything behind the gearbox.

    ``efficiency`` is power out over power in, ``grip`` the friction of tyre on road,
    ``regeneration_grip`` the share of it that braking by the motor may use, both without unit.
    ValueError for ratios that do not fall, an efficiency outside (0, 1] or shift speeds that do
    not rise.
    """

    ratios: tuple[float, ...]
    wheel_radius_m: float
    efficiency: float
    drag_torque_nm: float = 0.0
    shift_speeds_m_s: tuple[float, ...] = ()
    shift_seconds: float = 1.0
    input_torque_limit_nm: float | None = None
    wheel_torque_limit_nm: float | None = None
    rotating_mass_factor: float = 1.04
    rotor_inertia_kgm2: float = 0.0
    driven: Literal["front", "rear"] = "front"
    grip: float = 0.8
    wheelbase_m: float = 2.5
    centre_height_m: float = 0.55
    driven_share: float = 0.5
    wheelie: bool = False
    regeneration_grip: float = REGENERATION_GRIP

    def __post_init__(self) -> None:
        if not self.ratios or min(self.ratios) <= 0:
            raise ValueError("a driveline needs ratios above zero")
        if any(a <= b for a, b in zip(self.ratios, self.ratios[1:], strict=False)):
            raise ValueError("gear ratios must fall from the lowest gear to the highest")
        if not 0 < self.efficiency <= 1:
            raise ValueError("driveline efficiency must lie in (0, 1]")
        shifts = self.shift_speeds_m_s
        if len(shifts) > len(self.ratios) - 1 or list(shifts) != sorted(shifts):
            raise ValueError("shift speeds must rise and be fewer than the gears")

    @property
    def gears(self) -> int:
        """Number of gears."""
        return len(self.ratios)

    def motor_speed(self, speed_m_s: FloatArray, ratio: float | FloatArray) -> FloatArray:
        """Shaft speed, rad/s."""
        return np.asarray(speed_m_s * ratio / self.wheel_radius_m, dtype=np.float64)

    def shaft_torque(
        self, force_n: FloatArray, ratio: float | FloatArray, acceleration_m_s2: float | FloatArray
    ) -> FloatArray:
        """Torque at the motor's shaft for a force at the wheels, N·m.

        Losses hinder both ways: a driving force is divided by the efficiency, a braking one
        multiplied with it. Includes the drag torque and the rotor's own inertia.
        """
        arm = self.wheel_radius_m / ratio
        carried = np.where(force_n > 0, force_n / self.efficiency, force_n * self.efficiency)
        inertia = self.rotor_inertia_kgm2 * acceleration_m_s2 / arm
        return np.asarray(carried * arm + self.drag_torque_nm + inertia, dtype=np.float64)

    def wheel_force(
        self,
        torque_nm: FloatArray,
        ratio: float | FloatArray,
        acceleration_m_s2: float | FloatArray,
    ) -> FloatArray:
        """Force at the wheels for a torque at the shaft, N: the inverse of the above."""
        arm = self.wheel_radius_m / ratio
        net = (
            torque_nm - self.drag_torque_nm - self.rotor_inertia_kgm2 * acceleration_m_s2 / arm
        ) / arm
        return np.where(net > 0, net * self.efficiency, net / self.efficiency)

    def greatest_shaft_torque(self, ratio: float | FloatArray) -> FloatArray:
        """Torque at the shaft that gearbox, differential and half-shafts stand, N·m."""
        limit = np.full_like(np.asarray(ratio, dtype=np.float64), np.inf)
        if self.input_torque_limit_nm is not None:
            limit = np.minimum(limit, self.input_torque_limit_nm)
        if self.wheel_torque_limit_nm is not None:
            through = self.wheel_torque_limit_nm / (ratio * self.efficiency)
            limit = np.minimum(limit, through + self.drag_torque_nm)
        return limit

    def grip_force(
        self,
        mass_kg: float | FloatArray,
        cosine: float | FloatArray = 1.0,
        gravity: float = GRAVITY_M_S2,
    ) -> FloatArray:
        """Greatest driving force the tyres pass on, N, with load transfer by that force.

        Gillespie, ch. 2: mu W s / (1 -+ mu h/L), minus for rear drive; the transfer by
        rolling resistance and by the drag's height is neglected. A motorcycle is held to the
        force at which its front wheel leaves the ground.
        """
        weight = mass_kg * gravity * np.asarray(cosine, dtype=np.float64)
        lever = self.centre_height_m / self.wheelbase_m
        if self.driven == "rear":
            shrink = 1.0 - self.grip * lever
            force = (
                weight * self.grip * self.driven_share / shrink if shrink > 0 else weight * np.inf
            )
            if self.wheelie:
                force = np.minimum(force, weight * (1.0 - self.driven_share) / lever)
            return np.asarray(force, dtype=np.float64)
        return np.asarray(weight * self.grip * self.driven_share / (1.0 + self.grip * lever))

    def braking_force(
        self,
        mass_kg: float | FloatArray,
        cosine: float | FloatArray = 1.0,
        gravity: float = GRAVITY_M_S2,
    ) -> FloatArray:
        """Greatest force with which the motor may brake through the driven axle, N."""
        weight = mass_kg * gravity * np.asarray(cosine, dtype=np.float64)
        lever = self.centre_height_m / self.wheelbase_m
        transfer = self.regeneration_grip * lever * (1.0 if self.driven == "rear" else -1.0)
        return np.asarray(weight * self.regeneration_grip * self.driven_share / (1.0 + transfer))
