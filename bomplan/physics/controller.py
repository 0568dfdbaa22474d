"""The controller between pack and motor: chopper or inverter."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from bomplan.physics.arrays import FloatArray, log_interpolated


@dataclass(frozen=True)
class Controller:
    """Limits and losses.

    Losses are fixed + loss_v·I + loss_ohm·I², I the motor current: switching and conduction
    of a bridge (N. Mohan, T. M. Undeland, W. P. Robbins, *Power Electronics*, Wiley, ch. 2,
    from memory, gives the two current terms). ``min_voltage_v`` is where it stops working,
    ``max_voltage_v`` what it must never see.
    """

    kind: Literal["chopper", "inverter"]
    min_voltage_v: float
    max_voltage_v: float
    battery_current_a: float
    motor_current_peak_a: float
    peak_s: float
    motor_current_hour_a: float
    motor_current_continuous_a: float
    loss_fixed_w: float = 0.0
    loss_v: float = 0.0
    loss_ohm: float = 0.0
    regeneration: bool = False

    def motor_current_a(self, hold_s: float) -> float:
        """Motor current that may be held for ``hold_s``, A."""
        return log_interpolated(
            hold_s,
            (
                (min(self.peak_s, 3599.0), self.motor_current_peak_a),
                (3600.0, self.motor_current_hour_a),
                (math.inf, self.motor_current_continuous_a),
            ),
        )

    def loss_w(self, motor_current_a: FloatArray) -> FloatArray:
        """Losses at a motor current, W; its sign does not matter."""
        current = np.abs(motor_current_a)
        return self.loss_fixed_w + current * (self.loss_v + current * self.loss_ohm)
