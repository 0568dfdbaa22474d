"""Induction or permanent-magnet machine with its inverter: an envelope and losses by parts.

Torque is constant up to the base speed, then power; both move with the voltage of the pack
under load, because the flux an inverter can drive falls with volts per speed. Loss by parts:
copper grows with torque squared, iron with speed and its square, the rest is fixed. Sources:
J. Larminie and J. Lowry, *Electric Vehicle Technology Explained* (Wiley, 2nd ed. 2012), ch. 7
(loss form k_c T² + k_i w + k_w w³ + C; the cubic windage is left out, the square put in).
Not modelled: the third region in which power itself falls, saturation of torque against
current, extra current of field weakening beyond what the envelope implies.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from bomplan.physics.arrays import FloatArray, log_interpolated
from bomplan.physics.controller import Controller


@dataclass(frozen=True)
class EnvelopeMotor:
    """The envelope of a pair at ``reference_voltage_v``, and the machine's losses.

    ``ratings`` are (seconds, shaft W), seconds rising; ``regeneration_torque_nm`` is what the
    pair brakes with at most; ``emf_v_per_rad_s`` the open-circuit peak line voltage of a
    permanent-magnet machine (0 for induction).
    """

    kind: Literal["induction", "permanent_magnet"]
    peak_torque_nm: float
    peak_power_w: float
    base_speed_rad_s: float
    reference_voltage_v: float
    max_speed_rad_s: float
    copper_w_per_nm2: float = 0.0
    iron_w_per_rad_s: float = 0.0
    iron_w_per_rad_s2: float = 0.0
    fixed_w: float = 0.0
    ratings: tuple[tuple[float, float], ...] = ()
    regeneration_torque_nm: float = 0.0
    emf_v_per_rad_s: float = 0.0

    def envelope(self, speed_rad_s: FloatArray, voltage_v: float | FloatArray) -> FloatArray:
        """Greatest torque at a speed and a pack voltage under load, N·m."""
        scale = np.asarray(voltage_v, dtype=np.float64) / self.reference_voltage_v
        power = min(self.peak_power_w, self.peak_torque_nm * self.base_speed_rad_s) * scale
        return np.minimum(self.peak_torque_nm, power / np.maximum(speed_rad_s, 1e-9))

    def held(self, speed_rad_s: FloatArray, hold_s: float) -> FloatArray:
        """Torque that the machine stands for ``hold_s``, N·m, whatever the voltage.

        Below base speed the rated torque is taken to fall with the rated power, since it is
        the copper that heats.
        """
        power = log_interpolated(hold_s, self.ratings)
        share = min(1.0, power / self.peak_power_w)
        return np.minimum(self.peak_torque_nm * share, power / np.maximum(speed_rad_s, 1e-9))

    def current_per_torque(self, speed_rad_s: FloatArray, controller: Controller) -> FloatArray:
        """Motor amps per newton metre: peak amps buy the envelope at the reference voltage."""
        return controller.motor_current_peak_a / self.envelope(
            speed_rad_s, self.reference_voltage_v
        )

    def idle_loss_w(self, speed_rad_s: FloatArray) -> FloatArray:
        """Iron, windage and fixed loss as it turns, W; none at rest."""
        turning = self.iron_w_per_rad_s * speed_rad_s + self.iron_w_per_rad_s2 * speed_rad_s**2
        return turning + np.where(speed_rad_s > 0, self.fixed_w, 0.0)

    def loss_w(self, torque_nm: FloatArray, speed_rad_s: FloatArray) -> FloatArray:
        """Every loss in the machine, W."""
        return self.copper_w_per_nm2 * torque_nm**2 + self.idle_loss_w(speed_rad_s)

    def overspeed_emf_v(self, speed_rad_s: float) -> float:
        """Open-circuit peak voltage at a speed, V: what the controller sees if it lets go.

        Must stay under the controller's absolute limit at the highest speed the vehicle can
        reach downhill, or the gates must never be let go there.
        """
        return self.emf_v_per_rad_s * speed_rad_s

    def least_torque(
        self, speed_rad_s: FloatArray, controller: Controller, regenerate: bool
    ) -> FloatArray:
        """Most negative torque worth asking for, N·m (zero or below).

        Beyond w/(2 c) more braking torque returns less energy, c being all that grows with
        torque squared; below the iron loss over w, braking by the machine returns nothing,
        but spares what would keep its iron alive.
        """
        amps = self.current_per_torque(speed_rad_s, controller)
        square = self.copper_w_per_nm2 + controller.loss_ohm * amps**2
        slope = np.maximum(speed_rad_s - controller.loss_v * amps, 0.0)
        best = slope / (2.0 * square) if np.all(square > 0) else np.where(slope > 0, np.inf, 0.0)
        idle = self.idle_loss_w(speed_rad_s) / np.maximum(speed_rad_s, 1e-9)
        if regenerate:
            envelope = self.envelope(speed_rad_s, self.reference_voltage_v)
            allowed = np.maximum(np.minimum(self.regeneration_torque_nm, envelope), idle)
        else:
            allowed = idle
        return -np.minimum(allowed, best)
