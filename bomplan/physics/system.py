"""What drives: road, driveline, motor, controller and pack in one record.

The three figures through which a plan's other parts reach the simulation (laden mass,
resistance of the traction circuit outside the pack, 12 V load) are arguments of every
question, never fields here.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from bomplan.physics.arrays import FloatArray
from bomplan.physics.battery import Pack
from bomplan.physics.controller import Controller
from bomplan.physics.driveline import Driveline
from bomplan.physics.envelope_motor import EnvelopeMotor
from bomplan.physics.road import AnyRoad
from bomplan.physics.series_motor import SeriesMotor

AnyMotor = SeriesMotor | EnvelopeMotor
REFERENCE_EXTERNAL_OHM = 0.010  # cables, fuses, contactors and joints; common practice


TableKey = tuple[float, float, float, float, bool]


@dataclass(frozen=True, eq=False)
class TorqueTable:
    """Greatest shaft torque, N·m, at rising shaft speeds, rad/s, and what limits it."""

    speed_rad_s: FloatArray
    torque_nm: FloatArray
    cause: FloatArray

    def torque(self, speed_rad_s: FloatArray) -> FloatArray:
        """Torque at a speed; at the last speed beyond it."""
        return np.interp(speed_rad_s, self.speed_rad_s, self.torque_nm)

    def cause_at(self, speed_rad_s: float) -> int:
        """Index of the cause at the nearest tabulated speed."""
        return int(self.cause[np.argmin(np.abs(self.speed_rad_s - speed_rad_s))])


@dataclass(frozen=True, eq=False)
class System:
    """One core in one condition.

    ``regeneration`` asks for it; it happens only where motor, controller and pack permit.
    ``reference_external_ohm`` stands for the traction circuit where a limit must not depend
    on the plan's own cables (gear choice, how hard the profile may be driven).
    """

    road: AnyRoad
    driveline: Driveline
    motor: AnyMotor
    controller: Controller
    pack: Pack
    regeneration: bool = False
    reference_external_ohm: float = REFERENCE_EXTERNAL_OHM
    limit_tables: dict[TableKey, TorqueTable] = field(
        default_factory=dict, repr=False, compare=False
    )  # what powertrain.torque_table has worked out already

    @property
    def regenerates(self) -> bool:
        """Whether anything may flow back into the pack."""
        return bool(
            self.regeneration
            and self.controller.regeneration
            and self.pack.charge_limit_a > 0
            and isinstance(self.motor, EnvelopeMotor)
            and self.motor.regeneration_torque_nm > 0
        )
