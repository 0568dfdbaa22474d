"""What a drive is asked in each kind of second of a lap, whatever pack feeds it."""

from __future__ import annotations

import numpy as np

from bomplan.physics.arrays import FloatArray, IntArray
from bomplan.physics.bounds import pack_free_limit
from bomplan.physics.demand import force_terms, least_force
from bomplan.physics.gears import by_table, preference
from bomplan.physics.powertrain import draw, least_torque
from bomplan.physics.profile import Profile
from bomplan.physics.system import System


class AskedLap:
    """A lap by kinds of seconds; arrays are over (gears, kinds) or over kinds.

    Reads road, driveline, motor and controller of the system, never its pack, so that it is
    made once for all the packs of a drive. ``settling`` is the torque at the reference mass,
    which settles the gears; ``free`` and ``lowest`` bound the torque whatever the pack;
    ``ranks`` holds for each gear of the driver's table the order in which he would take the
    gears, -1 for kinds of seconds that are never driven in it.
    """

    def __init__(self, system: System, profile: Profile, reference_mass_kg: float) -> None:
        line = system.driveline
        self._system = system
        self.profile = profile
        first, self.kind = profile.distinct
        self.count = np.bincount(self.kind)
        self.acceleration = profile.acceleration_m_s2[first]
        self._cosine = profile.cosine[first]
        self.per_kg, self._fixed = (
            terms[first] for terms in force_terms(system.road, profile, line.rotating_mass_factor)
        )
        self.moving = profile.mean_speed_m_s[first] > 0
        self.ratio = np.asarray(line.ratios, dtype=np.float64)[:, None]
        self.speed = line.motor_speed(profile.mean_speed_m_s[first], self.ratio)
        self.in_speed = self.speed <= system.motor.max_speed_rad_s
        self.gearbox = line.greatest_shaft_torque(self.ratio)
        force = reference_mass_kg * self.per_kg + self._fixed
        grip = line.grip_force(reference_mass_kg, self._cosine, system.road.gravity)
        self.settling = line.shaft_torque(np.minimum(force, grip), self.ratio, self.acceleration)
        self.usual_w = draw(system, np.maximum(self.settling[0], 0.0), self.speed[0]).power_w
        free = pack_free_limit(system, self.speed, self.ratio)
        self.free = np.broadcast_to(free, self.speed.shape)
        gives_back = system.regeneration and system.controller.regeneration
        self.lowest = least_torque(system, self.speed, gives_back)
        self.ranks = self._ranks(first)

    def wanted(
        self, mass_kg: FloatArray, kinds: IntArray, gears: IntArray | None = None
    ) -> FloatArray:
        """(masses, gears, kinds) N·m at the shaft for these kinds of seconds.

        (masses, kinds) where ``gears`` names one gear for each kind.
        """
        system, line = self._system, self._system.driveline
        terms = self.per_kg[kinds], self._fixed[kinds]
        force = least_force(line, system.road.gravity, terms, self._cosine[kinds], mass_kg)
        if gears is None:
            return line.shaft_torque(force[:, None, :], self.ratio, self.acceleration[kinds])
        return line.shaft_torque(force, self.ratio[gears, 0], self.acceleration[kinds])

    def taken_w(self, torque_nm: FloatArray, speed_rad_s: FloatArray) -> FloatArray:
        """Power at the controller's input, W."""
        torque = np.where(speed_rad_s > 0, torque_nm, 0.0)
        return draw(self._system, torque, speed_rad_s).power_w

    def motor_a(self, torque_nm: FloatArray, speed_rad_s: FloatArray) -> FloatArray:
        """Motor current for a driving torque, A; none where nothing turns."""
        current = draw(self._system, torque_nm, speed_rad_s).motor_current_a
        return np.where(speed_rad_s > 0, current, 0.0)

    def _ranks(self, first: IntArray) -> IntArray:
        gears = len(self.ratio)
        table = by_table(self.profile, self._system.driveline.shift_speeds_m_s)
        rank = preference(table, gears)
        ranks = np.full((gears, gears, len(first)), -1, dtype=np.int64)
        for gear in range(gears):
            seconds = np.flatnonzero(table == gear)
            if len(seconds):
                ranks[gear][:, self.kind[seconds]] = rank[:, seconds]
        return ranks
