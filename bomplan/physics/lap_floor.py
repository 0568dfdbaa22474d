"""What a lap asks of any pack behind one motor, at a few masses: before packs are classed.

Both figures stand at the torque that motor, controller and gearbox allow whatever the pack,
in whichever gear asks least (and, where more mass may pay, at whichever mass up to the next):

- the energy of a distance. A pack may cut a few seconds of each lap short; what a second still
  takes that is cut bounds what this saves (:meth:`_FreeLap.still_taken`).
- the strength to follow. A pack that follows does at least one of any seconds that are more
  than may be missed, so it has the power and the voltage of the easiest of the hardest ones.

One floor serves all controllers of a motor: it is made with the best of each
(:func:`best_of`), whose losses are no greater and whose limits are no less.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from bomplan.physics.arrays import BoolArray, FloatArray, IntArray, log_interpolated
from bomplan.physics.bounds import STEP_SLACK, pack_free_limit
from bomplan.physics.controller import Controller
from bomplan.physics.demand import force_terms, least_force
from bomplan.physics.drive import FOLLOWED_SHARE
from bomplan.physics.energy_floor import LeastLap
from bomplan.physics.envelope_motor import EnvelopeMotor
from bomplan.physics.following import HAIR, needs
from bomplan.physics.gears import by_table
from bomplan.physics.pack_table import PackTable
from bomplan.physics.powertrain import PEAK_HOLD_S, REFERENCE_POINTS, draw, least_torque
from bomplan.physics.profile import Profile
from bomplan.physics.series_motor import SeriesMotor
from bomplan.physics.system import AnyMotor, System
from bomplan.physics.torque_bounds import Strength

HAIR_M = 1e-3
VOLTAGE_HALVINGS = 10  # low by 1/1024 of the torque at most, to the safe side
RESISTANCES = 16
CHOSEN_AT = (0.3, 0.7)  # of the way through the resistances: where the hardest are chosen
LOOKED_AT = 3  # times as many kinds of seconds as may be missed: those held to strength
NEVER = 1e12  # stands for what nothing can do


def best_of(
    system: System, motors: Sequence[AnyMotor], controllers: Sequence[Controller]
) -> System:
    """The system with the best of one motor's controllers: no less torque, no greater loss.

    ``motors`` is the motor as it is with each of ``controllers``. ValueError if these are not of
    one kind.
    """
    motor = motors[0]
    controller = replace(
        system.controller,
        min_voltage_v=min(one.min_voltage_v for one in controllers),
        max_voltage_v=max(one.max_voltage_v for one in controllers),
        battery_current_a=max(one.battery_current_a for one in controllers),
        peak_s=max(PEAK_HOLD_S, *(one.peak_s for one in controllers)),
        motor_current_peak_a=max(one.motor_current_a(PEAK_HOLD_S) for one in controllers),
        loss_fixed_w=min(one.loss_fixed_w for one in controllers),
        loss_v=min(one.loss_v for one in controllers),
        loss_ohm=min(one.loss_ohm for one in controllers),
        regeneration=any(one.regeneration for one in controllers),
    )
    if isinstance(motor, EnvelopeMotor):
        several = [one for one in motors if isinstance(one, EnvelopeMotor)]
        torque = max(one.peak_torque_nm for one in several)
        power = max(one.peak_power_w for one in several)
        # Where a peak is shorter, what is held for ten seconds may stand above it.
        held = max(power, *(log_interpolated(PEAK_HOLD_S, one.ratings) for one in several))
        motor = replace(
            motor,
            peak_torque_nm=torque,
            peak_power_w=power,
            base_speed_rad_s=power / torque,
            max_speed_rad_s=max(one.max_speed_rad_s for one in several),
            copper_w_per_nm2=min(one.copper_w_per_nm2 for one in several),
            iron_w_per_rad_s=min(one.iron_w_per_rad_s for one in several),
            iron_w_per_rad_s2=min(one.iron_w_per_rad_s2 for one in several),
            fixed_w=min(one.fixed_w for one in several),
            ratings=((math.inf, held),),
            regeneration_torque_nm=max(one.regeneration_torque_nm for one in several),
        )
        # The least current for a torque: the current buys the envelope, which is the greatest.
        controller = replace(
            controller, motor_current_peak_a=min(one.motor_current_peak_a for one in controllers)
        )
    if any(type(one) is not type(motor) for one in motors):
        raise ValueError("one motor cannot be of two kinds")
    return replace(
        system,
        motor=motor,
        controller=controller,
        regeneration=controller.regeneration,
        limit_tables={},
    )


@dataclass(frozen=True, eq=False)
class LapFloor:
    """Over (masses): W that must be given; over (masses, sets, ohms): V at rest.

    ``power_w`` is what each kind of second takes at least, over (masses, kinds), ``saved_j`` what
    a lap takes less at most. ``ohm`` and ``least_v`` stand over the square of the reference
    voltage and over the reference voltage of :class:`Strength`. ``mass_kg`` rises. ``hour_a`` is
    about what a motor that gives nothing back carries for an hour at the reference mass.
    """

    profile: Profile
    mass_kg: FloatArray
    power_w: FloatArray
    saved_j: FloatArray
    least_w: FloatArray
    ohm: FloatArray
    least_v: FloatArray
    hour_a: float
    energies: dict[float, tuple[FloatArray, float]] = field(default_factory=dict, repr=False)

    def may_reach(
        self,
        wanted_m: float,
        reserve: float,
        table: PackTable,
        which: IntArray,
        mass_kg: FloatArray,
        packs: Strength,
        beside_w: FloatArray | float,
    ) -> BoolArray:
        """Whether each pack of ``which`` may follow and go the distance; False is proven.

        ``mass_kg`` is a laden mass and ``beside_w`` a load beside the drive that no bill with
        that pack undercuts, ``packs`` how strong each is at most.
        """
        place = np.searchsorted(self.mass_kg, mass_kg, side="right") - 1
        lighter = place < 0  # than any that the floor was made for
        place = np.maximum(place, 0)
        strong = packs.most_w * (1.0 + HAIR) >= self.least_w[place]
        at_rest = packs.open_v / packs.reference_v * (1.0 + HAIR)
        strong &= at_rest >= self._voltage(place, packs)
        least_j, seconds = self.energy(wanted_m)
        energy = least_j[place] + beside_w * seconds
        whole = table.energy_j[which]
        volts, ohm = table.at_level(which, np.ones(len(which)))
        # The pack's own loss at its mean power from a full pack throughout: loss, Peukert's too,
        # is convex in power, voltage falls and resistance is never less, so the real loss is no
        # smaller.
        mean = energy / max(seconds, 1.0)
        root = np.maximum(volts**2 - 4.0 * mean * ohm, 0.0)
        current = np.maximum(2.0 * mean / (volts + np.sqrt(root)), 0.0)
        spent = energy + seconds * ohm * current**2
        excess = np.maximum(current / table.rated_a[which], 1.0) ** (table.peukert[which] - 1.0)
        left = whole * (1.0 + STEP_SLACK) - np.where(energy > 0, spent * excess, spent)
        return np.asarray((strong & (left >= reserve * whole)) | lighter, dtype=np.bool_)

    def energy(self, wanted_m: float) -> tuple[FloatArray, float]:
        """(J for each mass, seconds): what a pack gives over a distance, nothing beside it."""
        known = self.energies.get(wanted_m)
        if known is None:
            known = self.energies[wanted_m] = self._energy(wanted_m)
        return known

    def _energy(self, wanted_m: float) -> tuple[FloatArray, float]:
        profile = self.profile
        kind = profile.distinct[1]
        distance = max(0.0, wanted_m - HAIR_M)
        laps = math.floor(distance / profile.length_m)
        rest = distance - laps * profile.length_m
        travelled = np.cumsum(profile.distance_m)
        part = min(int(np.searchsorted(travelled, rest, side="left")), profile.steps - 1)
        count = laps * np.bincount(kind) + np.bincount(kind[:part], minlength=int(kind.max()) + 1)
        energy = (self.power_w * count).sum(axis=1) - (laps + (part > 0)) * self.saved_j
        # Where more mass never takes less it is so but for rounding; elsewhere it may take less.
        return _of_heavier(energy), float(laps * profile.steps + part)

    def _voltage(self, place: IntArray, packs: Strength) -> FloatArray:
        """What each pack must have at rest: straight between the resistances, so no more.

        The voltage at rest that a torque asks is a concave function of the resistance.
        """
        own = packs.ohm / packs.reference_v**2
        ohm = np.clip(own, self.ohm[0], self.ohm[-1])
        at = np.clip(np.searchsorted(self.ohm, ohm, side="right") - 1, 0, len(self.ohm) - 2)
        share = (ohm - self.ohm[at]) / (self.ohm[at + 1] - self.ohm[at])
        low, high = self.least_v[place, :, at], self.least_v[place, :, at + 1]
        asked = (low + (high - low) * share[:, None]).max(axis=1)
        return np.where(own >= self.ohm[0], asked, 0.0)


def lap_floor(
    system: System,
    profile: Profile,
    mass_kg: FloatArray,
    ohm: tuple[float, float],
    reference_mass_kg: float,
    heaviest_kg: float | None = None,
) -> LapFloor:
    """The floor at these masses; the system's pack is not read.

    ``ohm`` is the least and the greatest resistance that packs have, over the square of their
    reference voltage. Without ``heaviest_kg`` it holds for a mass and all that are heavier where
    more mass never pays; with it for any way and all masses up to that: each mass stands for
    those up to the next.
    """
    upto = None
    if heaviest_kg is not None:
        upto = np.append(mass_kg[1:], max(heaviest_kg, float(mass_kg[-1])))
    lap = _FreeLap(system, profile, mass_kg, upto)
    spare = _spare(profile)
    power, saved = lap.powers(spare)
    least, most = max(ohm[0], 1e-12), max(ohm[1], 1e-12)
    grid = np.geomspace(least, max(most, least * 1.01), RESISTANCES)
    least_w, least_v = lap.strength(spare, grid)
    if upto is not None:
        least_w, least_v = _of_heavier(least_w), _of_heavier(least_v)
    hour_a = 0.0
    if not system.controller.regeneration:
        hour_a = _FreeLap(system, profile, np.array([reference_mass_kg])).mean_a(profile)
    return LapFloor(profile, mass_kg, power, saved, least_w, grid, least_v, hour_a)


def least_lap(
    system: System, profile: Profile, mass_kg: FloatArray, upto_kg: FloatArray, beside_w: float
) -> LeastLap:
    """What drives take at least at any mass from each of these to its ``upto_kg``.

    Whatever the pack: the system's is not read.
    """
    power, saved = _FreeLap(system, profile, mass_kg, upto_kg).powers(_spare(profile))
    return LeastLap(profile, power[:, profile.distinct[1]], saved, beside_w)


def _spare(profile: Profile) -> int:
    """How many seconds of a lap may be missed."""
    return math.floor((1.0 - FOLLOWED_SHARE) * profile.steps + 1e-9)


class _FreeLap:
    """Each kind of second with every limit but the pack's, over (masses, gears, kinds).

    With ``heaviest_kg`` the least that is asked of any mass between each and its heaviest: all
    figures here only need that no less is asked.
    """

    def __init__(
        self,
        system: System,
        profile: Profile,
        mass_kg: FloatArray,
        heaviest_kg: FloatArray | None = None,
    ) -> None:
        self._system, line = system, system.driveline
        first, kind = profile.distinct
        self.count = np.bincount(kind)
        per_kg, fixed = (
            terms[first] for terms in force_terms(system.road, profile, line.rotating_mass_factor)
        )
        force = least_force(
            line, system.road.gravity, (per_kg, fixed), profile.cosine[first], mass_kg, heaviest_kg
        )
        ratio = np.asarray(line.ratios, dtype=np.float64)[:, None]
        speed = line.motor_speed(profile.mean_speed_m_s[first], ratio)
        wanted = line.shaft_torque(force[:, None, :], ratio, profile.acceleration_m_s2[first])
        # What a heavier car asks less of is left out where strength is asked.
        self._asked = np.where((per_kg >= 0.0) & (speed > 0), wanted, 0.0)
        self._gearbox = line.greatest_shaft_torque(ratio)
        within = np.minimum(wanted, pack_free_limit(system, speed, ratio))
        gives_back = system.regeneration and system.controller.regeneration
        lowest = least_torque(system, speed, gives_back)
        in_speed = speed <= system.motor.max_speed_rad_s
        # Where the motor turns too fast in every gear the second is missed: it may take anything.
        lost = ~in_speed.any(axis=0)
        torque = np.where(lost, lowest, np.maximum(within, lowest))
        self.possible = in_speed | lost
        self.speed = np.broadcast_to(speed, torque.shape)
        self.torque = np.where(self.speed > 0, torque, 0.0)
        taken = draw(system, self.torque, self.speed)
        self.power_w, self._amps = taken.power_w, taken.motor_current_a
        self._flux: FloatArray | None = None
        self._wheel_w = force * profile.mean_speed_m_s[first]
        # The limits of a lap stand in a table over speed, straight between its entries, so
        # that a torque is cut by what holds up to one step away.
        self._step = system.motor.max_speed_rad_s / (REFERENCE_POINTS - 1)

    def powers(self, spare: int) -> tuple[FloatArray, FloatArray]:
        """(W of each kind of second at least, over (masses, kinds); J that a lap saves at most)."""
        power = np.where(self.possible, self.power_w, np.inf).min(axis=1)
        saved = np.zeros(len(power))
        if spare:
            saving = np.maximum(power - self.still_taken(power, spare), 0.0)
            some = _top(saving, spare)
            count = self.count[some]
            taken = np.clip(spare - (np.cumsum(count, axis=1) - count), 0, count)
            saved = (np.take_along_axis(saving, some, axis=1) * taken).sum(axis=1)
        return power, saved

    def still_taken(self, power: FloatArray, spare: int) -> FloatArray:
        """(masses, kinds) W that a second which a pack or a limit cuts short takes at least.

        A limit is on power, on shaft power, on torque, or on a series motor's voltage, which
        the pack gives the less of the more power it gives. Where a second that is cut stands at
        one of them, every second that is not cut stands below it: one of any that are more
        than may be missed. So it takes at least what the greatest but for those do.
        """
        system, motor, step = self._system, self._system.motor, self._step
        if (
            isinstance(motor, SeriesMotor)
            and motor.self_cooled
            and (not motor.ratings or motor.ratings[0][0] < PEAK_HOLD_S)
        ):
            return np.minimum(power, 0.0)  # its own fan limits the torque by the speed
        speed, driving = self.speed, np.maximum(self.torque, 0.0)
        slower, faster = np.maximum(speed - step, 0.0), speed + step
        share = slower / np.maximum(speed, step)
        torque = np.minimum(driving, self._ranked(driving, spare))
        if isinstance(motor, SeriesMotor):
            other = self._volts(motor, slower)
            least_v = self._ranked(other, spare)
            over = np.nonzero(self._volts(motor, faster) > least_v)
            limit = np.broadcast_to(least_v, torque.shape)[over]
            torque[over] = np.minimum(
                torque[over], _torque_at(motor, driving[over], faster[over], limit)
            )
        else:
            other = driving * slower
            torque = np.minimum(torque, self._ranked(other, spare) / faster)
        # Power and the other figure of the same seconds: one of these is not cut, and stands
        # below in one of both. The greatest of each taken apart may be of two seconds.
        least_w = self._among(np.maximum(self.power_w, 0.0) * share**2, other, spare)
        still = self.power_w.copy()
        cut = np.flatnonzero((torque < driving).any(axis=(0, 1)))
        some = np.where(speed > 0, torque, 0.0)[:, :, cut]
        still[:, :, cut] = draw(system, some, speed[:, :, cut]).power_w
        still = np.minimum(still, least_w) * (speed / faster) ** 2
        still = np.where(self.possible, still, np.inf).min(axis=1)
        return np.asarray(np.minimum(power, still), dtype=np.float64)

    def _volts(self, motor: SeriesMotor, speed: FloatArray) -> FloatArray:
        """Voltage at the motor's terminals at its torques and another speed, V."""
        if self._flux is None:
            self._flux = motor.flux_v_s(self._amps)
        volts = self._flux * speed + self._amps * motor.resistance_ohm + motor.brush_v
        return np.asarray(volts, dtype=np.float64)

    def mean_a(self, profile: Profile) -> float:
        """Root mean square of the motor current, in the gears of the driver's table, A."""
        system = self._system
        gear = by_table(profile, system.driveline.shift_speeds_m_s)[profile.distinct[0]]
        amps = draw(system, np.maximum(self.torque[0], 0.0), self.speed[0]).motor_current_a
        amps = np.where(self.speed[0] > 0, amps, 0.0)[gear, np.arange(len(gear))]
        return math.sqrt(float((amps**2 * self.count).sum()) / profile.steps)

    def strength(self, spare: int, ohm: FloatArray) -> tuple[FloatArray, FloatArray]:
        """(masses) W and (masses, sets, ohms) V over reference that a follower has at least."""
        # Any seconds that are more than may be missed will do: those that take most at the wheels.
        system = self._system
        some = np.sort(_top(self._wheel_w[-1:], LOOKED_AT * (spare + 1))[0])
        count, speed = self.count[some], self.speed[:, :, some]
        torque = self._asked[:, :, some] * (1.0 - HAIR) - HAIR
        turns = speed <= system.motor.max_speed_rad_s * (1.0 + HAIR)
        below = np.minimum(np.floor(speed / self._step), REFERENCE_POINTS - 2) * self._step
        power, volts, free = needs(system, np.maximum(torque, 0.0), below)
        nothing = turns & (torque <= 0.0)
        power = np.where(turns & (torque <= self._gearbox) & free, power, NEVER)
        power, volts = np.where(nothing, 0.0, power), np.where(nothing, 0.0, volts)
        least_w = _ranked(power.min(axis=1), count, spare)
        sets = []
        for share in CHOSEN_AT:
            asked = _at_rest(power, volts, ohm[round(share * (len(ohm) - 1))]).min(axis=1)
            hardest = _top(asked, spare + 1)
            few = np.broadcast_to(hardest[:, None], (*power.shape[:2], hardest.shape[1]))
            some_w = np.take_along_axis(power, few, axis=2)[..., None]
            some_v = np.take_along_axis(volts, few, axis=2)[..., None]
            asked = _at_rest(some_w, some_v, ohm).min(axis=1)
            asked[_past(count[hardest], spare)] = np.inf
            sets.append(asked.min(axis=1))
        return least_w, np.stack(sets, axis=1)

    def _among(self, values: FloatArray, order: FloatArray, spare: int) -> FloatArray:
        """(masses, 1, 1) the least value, each in its least gear, of those greatest in ``order``.

        These are just more seconds than ``spare``.
        """
        least, by = (np.where(self.possible, one, np.inf).min(axis=1) for one in (values, order))
        hardest = _top(by, spare + 1)
        found = np.take_along_axis(least, hardest, axis=1)
        found = np.where(_past(self.count[hardest], spare), np.inf, found)
        return np.asarray(found.min(axis=1)[:, None, None])

    def _ranked(self, values: FloatArray, spare: int) -> FloatArray:
        """(masses, 1, 1) the greatest, each in its least gear, but for ``spare`` seconds."""
        least = np.where(self.possible, values, np.inf).min(axis=1)
        return _ranked(least, self.count, spare)[:, None, None]


def _of_heavier(values: FloatArray) -> FloatArray:
    """(masses, ...) the least of each mass and all heavier ones."""
    return np.asarray(np.minimum.accumulate(values[::-1])[::-1], dtype=np.float64)


def _ranked(values: FloatArray, count: IntArray, spare: int) -> FloatArray:
    """(rows) the greatest value but for ``spare`` seconds, ``count`` of each kind."""
    hardest = _top(values, spare + 1)
    found = np.take_along_axis(values, hardest, axis=1)
    return np.asarray(np.where(_past(count[hardest], spare), np.inf, found).min(axis=1))


def _past(count: IntArray, spare: int) -> BoolArray:
    """(rows, kinds) those behind the first that are more seconds than ``spare`` together."""
    return np.asarray(np.cumsum(count, axis=1) - count > spare, dtype=np.bool_)


def _torque_at(
    motor: SeriesMotor, torque: FloatArray, speed: FloatArray, volts: FloatArray
) -> FloatArray:
    """The torque, of these and below, at which each speed comes to these volts."""
    low, high = np.zeros(len(torque)), torque
    for _ in range(VOLTAGE_HALVINGS):
        middle = 0.5 * (low + high)
        above = motor.voltage(motor.current(middle), speed) > volts
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    return low


def _at_rest(power_w: FloatArray, volts: FloatArray, ohm: FloatArray) -> FloatArray:
    """Voltage at rest that leaves ``volts`` under a power, over a resistance.

    No power leaves less than half of the voltage at rest: where less is asked, the greatest
    power that there is tells.
    """
    under = np.maximum(np.maximum(volts * (1.0 - HAIR), np.sqrt(power_w * ohm)), 1e-300)
    return np.asarray(under + power_w * ohm / under, dtype=np.float64)


def _top(values: FloatArray, number: int) -> IntArray:
    """(rows, number) the places of the greatest, falling: so many kinds, if there are."""
    number = min(number, values.shape[1])
    some = np.argpartition(-values, number - 1, axis=1)[:, :number]
    order = np.argsort(-np.take_along_axis(values, some, axis=1), axis=1, kind="stable")
    return np.take_along_axis(some, order, axis=1)


__all__ = ["LapFloor", "best_of", "lap_floor", "least_lap"]
