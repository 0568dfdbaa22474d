"""Many packs against one drive at once: which of them may go a distance.

A screen is only allowed to be optimistic. Packs are put into classes of like strength and
like mass. A class drives with its least mass; in each second it takes the cheapest gear that
the driver's table can come to for a pack between the class's weakest and its strongest; where
a torque may be cut, it is cut to what the weakest gives. A lap is cut into pieces of a few
minutes, each kept as the mean powers of a few groups of its seconds. What a pack loses is a
convex function of power, so that means never lose more than the seconds they stand for
(Jensen's inequality). Piece by piece the energy left of each pack is bounded from above: the
voltage that goes with the bound is no lower, the resistance no higher, the current and the
loss no greater than the real ones, so the bound stays one. A pack is thrown out when the
energy is gone, or kept back as reserve, before the distance is reached; when even the bound's
voltage falls under the cut-off; or when the strongest of its class misses more seconds of a
lap than may be missed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from bomplan.physics.arrays import BoolArray, FloatArray, IntArray
from bomplan.physics.bounds import STEP_SLACK, pack_free_limit
from bomplan.physics.demand import force_terms
from bomplan.physics.drive import FOLLOWED_SHARE
from bomplan.physics.following import missed_seconds
from bomplan.physics.gears import by_table, preference
from bomplan.physics.pack_table import PackTable, pack_table
from bomplan.physics.powertrain import draw, least_torque
from bomplan.physics.profile import Profile
from bomplan.physics.system import System
from bomplan.physics.torque_bounds import Strength, between, torque_bounds, voltage_under

PIECES = 40  # of the whole drive
GROUPS = (0.0, 0.3, 0.5, 0.65, 0.77, 0.87, 0.94, 1.0)  # of a piece's seconds, weakest first
HAIR_M = 1e-3
FOLLOWED_MASSES = 5
MOST_W = 1e12  # stands for what no gear can do


@dataclass(frozen=True)
class Asked:
    """The drive that is asked, and what settles its gears.

    ``battery_a`` is what the controller is set to with each pack. ``reference_v``, if given, is
    where each pack's envelope holds, in place of the motor's own reference voltage.
    """

    wanted_m: float
    reserve: float
    beside_w: float
    reference_mass_kg: float
    gear_circuit_ohm: float
    battery_a: FloatArray | float
    reference_v: FloatArray | None = None


def may_reach(
    system: System,
    profile: Profile,
    asked: Asked,
    table: PackTable,
    which: IntArray,
    mass_kg: FloatArray,
    strengths: int,
    masses: int,
) -> BoolArray:
    """Whether each pack of ``which`` may go the distance; False is proven, True is not.

    ``mass_kg`` is the laden mass with each pack; holds for every bill of that mass and more,
    on a closed profile. ``strengths`` classes by strength, ``masses`` classes by mass.
    """
    if not len(which):
        return np.zeros(0, dtype=np.bool_)
    classes = Classes(system, profile, asked, table, which, mass_kg, strengths, masses)
    return classes.may_reach(np.arange(len(which)))


class Classes:
    """Packs in classes (rows), each row with its powers and whether it can follow.

    Made once for many packs; :meth:`may_reach` then answers for any of them. ``row`` gives
    each pack's row; ``follows`` whether it may follow the profile.
    """

    def __init__(
        self,
        system: System,
        profile: Profile,
        asked: Asked,
        table: PackTable,
        which: IntArray,
        mass_kg: FloatArray,
        strengths: int,
        masses: int,
    ) -> None:
        line = system.driveline
        first, kind = profile.distinct
        count = np.bincount(kind)
        circuits = (system.reference_external_ohm, asked.gear_circuit_ohm)
        weak = _strength(system, asked, table, which, max(circuits), table.peak_a)
        strong = _strength(system, asked, table, which, min(circuits), table.greatest_a)
        acceleration = profile.acceleration_m_s2[first]
        cosine = profile.cosine[first]
        per_kg, fixed = (
            terms[first] for terms in force_terms(system.road, profile, line.rotating_mass_factor)
        )
        ratio = np.asarray(line.ratios, dtype=np.float64)[:, None]
        speed = line.motor_speed(profile.mean_speed_m_s[first], ratio)
        gearbox = line.greatest_shaft_torque(ratio)
        gravity = system.road.gravity
        # At the reference mass: the torque that settles the gears.
        force = asked.reference_mass_kg * per_kg + fixed
        grip = line.grip_force(asked.reference_mass_kg, cosine, gravity)
        settling = line.shaft_torque(np.minimum(force, grip), ratio, acceleration)
        usual = draw(system, np.maximum(settling[0], 0.0), speed[0]).power_w
        score = weak.left(np.full(len(which), float(np.quantile(usual, 0.95))))
        score = np.where(np.isinf(score), weak.left(np.zeros(len(which))) - 1e9, score)
        classes = _quantiles(score, strengths)
        number = int(classes.max()) + 1
        tables = [
            torque_bounds(system, packs, classes, number, strong=is_strong)
            for packs, is_strong in ((weak, False), (strong, True))
        ]
        lower = np.minimum(between(system, tables[0], speed, strong=False), gearbox)
        upper = np.minimum(between(system, tables[1], speed, strong=True), gearbox)
        in_speed = speed <= system.motor.max_speed_rad_s
        possible = _possible(
            profile, line.shift_speeds_m_s, first, settling, lower, upper, in_speed,
            [line.wheel_force(limit, ratio, acceleration) for limit in (lower, upper)],
        )  # fmt: skip
        # Rows: every class of strength with every class of mass that a pack of it stands in.
        weights = _quantiles(mass_kg, masses)
        least_kg = np.full(int(weights.max()) + 1, np.inf)
        np.minimum.at(least_kg, weights, mass_kg)
        rows, self.row = np.unique(classes * len(least_kg) + weights, return_inverse=True)
        of_class, of_mass = np.divmod(rows, len(least_kg))
        mass = least_kg[:, None, None]
        force = np.minimum(mass * per_kg + fixed, line.grip_force(mass, cosine, gravity))
        force = np.maximum(force, -line.braking_force(mass, cosine, gravity))
        wanted = line.shaft_torque(force, ratio, acceleration)
        free = pack_free_limit(system, speed, ratio)
        lowest = least_torque(system, speed, system.regeneration and system.controller.regeneration)
        # What each mass takes where the pack does not matter, and what each class takes at most:
        # the lesser is what is taken, for power rises with a driving torque.
        freely = _taken(system, np.maximum(np.minimum(wanted, free), lowest), speed)
        at_most = _taken(system, np.minimum(free, lower), speed)
        power = np.full((len(rows), len(first)), MOST_W)
        for gear in range(len(ratio)):
            taken = np.minimum(freely[of_mass, gear], at_most[of_class, gear])
            np.minimum(power, taken, out=power, where=possible[of_class, gear])
        # On a slope that drives a heavier car, a lighter one may miss what that one follows.
        asks = np.where((per_kg >= 0.0) & (profile.mean_speed_m_s[first] > 0), wanted, 0.0)
        # A few masses will do here: each pack is asked what a lighter car asks.
        few = np.unique(np.linspace(0, len(least_kg) - 1, FOLLOWED_MASSES).astype(np.int64))
        light = np.searchsorted(few, weights, side="right") - 1
        missed = missed_seconds(system, asks[few], speed, count, strong, light)
        self.follows = missed <= (1.0 - FOLLOWED_SHARE) * profile.steps + 1e-9
        self._system, self._asked, self._table, self._which = system, asked, table, which
        self._lap(profile, power + asked.beside_w)

    def _lap(self, profile: Profile, kinds_w: FloatArray) -> None:
        """The lap of every row in pieces: mean powers of its groups, peak, and what comes back."""
        usual = kinds_w[len(kinds_w) // 2]
        self._cuts = _Cuts(profile, self._asked, usual)
        self._means = self._cuts.means(kinds_w)
        self._peaks = kinds_w[:, self._cuts.hardest].max(axis=2)
        self._backs = self._cuts.sums(np.maximum(-kinds_w, 0.0)).sum(axis=2)

    def may_reach(self, places: IntArray) -> BoolArray:
        """Which of these packs, given by their places, may go the distance."""
        found = np.zeros(len(places), dtype=np.bool_)
        alive = np.flatnonzero(self.follows[places])
        here = places[alive]
        some = _at_mean_power(
            self._asked, self._table, self._which[here], self.row[here], self._means, self._cuts
        )
        alive, here = alive[some], here[some]
        found[alive] = self._lasts(self._which[here], self.row[here])
        return found

    def _lasts(self, which: IntArray, row: IntArray) -> BoolArray:
        """Whose energy and voltage may last, piece by piece."""
        asked, table, cuts, means = self._asked, self._table, self._cuts, self._means
        whole = table.energy_j[which]
        left = whole * (1.0 + STEP_SLACK)
        least_v = np.maximum(table.least_v[which], self._system.controller.min_voltage_v)
        least_v = least_v * (1.0 - 1e-9)
        alive = np.ones(len(which), dtype=np.bool_)
        rated, exponent = table.rated_a[which][:, None], table.peukert[which]
        peukert = bool((exponent > 1.0).any())
        base = left
        for piece, times, afresh, checkpoint in cuts.steps:
            mean = means[row, piece]
            if afresh:
                base = left
            # Nothing that comes back before the next look lifts the energy above this.
            back = self._backs[row, piece] if times == 1 else self._backs[row].sum(axis=1)
            volts, ohm = table.at_level(which, (base + back * times) / whole)
            alive &= voltage_under(self._peaks[row, piece], volts, ohm) >= least_v
            root = np.maximum(volts[:, None] ** 2 - 4.0 * mean * ohm[:, None], 0.0)
            current = 2.0 * mean / (volts[:, None] + np.sqrt(root))
            taken = mean + ohm[:, None] * current**2
            if peukert:
                excess = np.maximum(current / rated, 1.0) ** (exponent - 1.0)[:, None]
                taken = taken * excess
            taken = np.where(mean > 0, taken, mean)
            left = left - times * (taken @ cuts.seconds[piece])
            alive &= left >= 0.0
            if checkpoint:
                alive &= left >= asked.reserve * whole
            if not alive.any():
                break
        return alive


def _taken(system: System, torque: FloatArray, speed: FloatArray) -> FloatArray:
    return draw(system, np.where(speed > 0, torque, 0.0), speed).power_w


def _strength(
    system: System,
    asked: Asked,
    table: PackTable,
    which: IntArray,
    circuit_ohm: float,
    limit_a: FloatArray,
) -> Strength:
    open_v, ohm = table.nearly_empty(which, circuit_ohm)
    limit = np.minimum(asked.battery_a, limit_a[which])
    reference = getattr(system.motor, "reference_voltage_v", 1.0)
    own = np.full(len(which), reference) if asked.reference_v is None else asked.reference_v
    return Strength(open_v, ohm, table.greatest_power_w(which, limit, circuit_ohm), own)


def _quantiles(values: FloatArray, number: int) -> IntArray:
    """Classes of equal numbers by rising value."""
    places = np.argsort(np.argsort(values, kind="stable"), kind="stable")
    return np.asarray(places * min(number, len(values)) // len(values), dtype=np.int64)


def _possible(
    profile: Profile,
    shifts: tuple[float, ...],
    first: IntArray,
    torque: FloatArray,
    lower: FloatArray,
    upper: FloatArray,
    in_speed: BoolArray,
    pull: list[FloatArray],
) -> BoolArray:
    """Gears that some pack of a class may be driven in, over (classes, gears, seconds).

    The driver takes the first able gear in his order of preference, so none behind the first
    that the weakest pack can take, and none that the strongest cannot; where no gear may be
    able, the one that pulls hardest, or the highest where the motor turns in none.
    """
    gears = len(torque)
    rank = preference(by_table(profile, shifts), gears)
    # One kind of second may be driven in several gears of the table: each stays possible.
    kinds = profile.distinct[1]
    ranks = np.full((gears, gears, len(first)), -1, dtype=np.int64)
    table = by_table(profile, shifts)
    for gear in range(gears):
        seconds = np.flatnonzero(table == gear)
        if len(seconds):
            ranks[gear][:, kinds[seconds]] = rank[:, seconds]
    surely = (torque <= lower) & in_speed
    maybe = (torque * (1 - 1e-8) - 1e-8 <= upper) & in_speed
    weakest = np.where(in_speed, pull[0], -np.inf).max(axis=1, keepdims=True)
    strongest = in_speed & (pull[1] >= weakest)
    strongest |= ~in_speed.any(axis=0) & (np.arange(gears)[:, None] == gears - 1)
    none = ~surely.any(axis=1, keepdims=True)
    found = np.zeros(surely.shape, dtype=np.bool_)
    for by_gear in ranks:
        used = by_gear >= 0
        best = np.min(np.where(surely, by_gear, 10 * gears), axis=1, keepdims=True)
        found |= used & maybe & (by_gear <= best)
        found |= used & none & strongest
    return found


def _at_mean_power(
    asked: Asked,
    table: PackTable,
    which: IntArray,
    row: IntArray,
    means: FloatArray,
    cuts: _Cuts,
) -> BoolArray:
    """Who has the energy for the distance at its mean power and from a full pack throughout.

    Weaker than the walk through the pieces, by the same convexity, and much cheaper.
    """
    times = np.zeros(len(cuts.seconds))
    for piece, number, _, checkpoint in cuts.steps:
        times[piece] += number
        if checkpoint:
            break
    seconds = cuts.seconds * times[:, None]
    drive_s = max(float(seconds.sum()), 1.0)
    power = np.tensordot(means, seconds, axes=2)[row] / drive_s
    whole = table.energy_j[which]
    volts, ohm = table.at_level(which, np.ones(len(which)))
    root = np.maximum(volts**2 - 4.0 * power * ohm, 0.0)
    current = np.maximum(2.0 * power / (volts + np.sqrt(root)), 0.0)
    left = whole * (1.0 + STEP_SLACK) - drive_s * (power + ohm * current**2)
    return np.asarray(left >= asked.reserve * whole, dtype=np.bool_)


class _Cuts:
    """Where a lap is cut into pieces, their groups, and in which order they are driven.

    With a reserve kept back as a share of the distance, the drive must last to the distance
    over one less the reserve; the energy kept back is looked at where the distance is reached.
    """

    def __init__(self, profile: Profile, asked: Asked, usual_w: FloatArray) -> None:
        lap_m, steps = profile.length_m, profile.steps
        travelled = np.cumsum(profile.distance_m)
        ends = []
        for distance in (asked.wanted_m, asked.wanted_m / (1.0 - asked.reserve)):
            distance = max(0.0, distance - HAIR_M)
            laps = math.floor(distance / lap_m)
            part = int(np.searchsorted(travelled, distance - laps * lap_m, side="left"))
            ends.append((laps, min(part, steps - 1)))
        (laps, part), (far_laps, far_part) = ends
        seconds = far_laps * steps + far_part
        length = max(1, -(-seconds // PIECES))
        edges = sorted({*range(0, steps, length), part, far_part, steps})
        self.edges = np.array(edges[:-1], dtype=np.int64)
        pieces = len(self.edges)
        number = {edge: place for place, edge in enumerate(edges)}
        # (piece, how often, whether to look at the energy left, whether the distance is
        # reached after it)
        self.steps: list[tuple[int, int, bool, bool]] = []
        at_once = max(1, far_laps // PIECES)
        self._drive(laps, number[part], pieces, at_once)
        if self.steps:
            self.steps[-1] = (*self.steps[-1][:3], True)
        if (far_laps, far_part) != (laps, part):
            if far_laps > laps:
                self.steps += [(piece, 1, True, False) for piece in range(number[part], pieces)]
                self._drive(far_laps - laps - 1, number[far_part], pieces, at_once)
            else:
                between = range(number[part], number[far_part])
                self.steps += [(piece, 1, True, False) for piece in between]
        kind = profile.distinct[1]
        order_by = usual_w[kind]
        groups = len(GROUPS) - 1
        self.seconds = np.zeros((pieces, groups))
        # How many seconds of each kind each group and each piece has; the hardest kinds of it.
        group = np.zeros(steps, dtype=np.int64)
        hardest = []
        for piece, (first, last) in enumerate(pairwise(edges)):
            ordered = first + np.argsort(order_by[first:last], kind="stable")
            at = [round(share * (last - first)) for share in GROUPS]
            self.seconds[piece] = np.diff(at)
            group[ordered] = piece * groups + np.repeat(np.arange(groups), np.diff(at))
            hardest.append([kind[ordered[max(-place, first - last)]] for place in (1, 2, 4, 8)])
        self.hardest = np.array(hardest, dtype=np.int64)
        cells = pieces * groups
        both, self._often = np.unique(group * len(usual_w) + kind, return_counts=True)
        cell, self._kind = np.divmod(both, len(usual_w))
        self._filled, self._starts = np.unique(cell, return_index=True)
        self._cells = cells

    def _drive(self, laps: int, end: int, pieces: int, at_once: int) -> None:
        """So many whole laps, several at once where there are very many, and a part lap."""
        while laps > 0:
            times = min(at_once, laps)
            self.steps += [
                (piece, times, times == 1 or piece == 0, False) for piece in range(pieces)
            ]
            laps -= times
        self.steps += [(piece, 1, True, False) for piece in range(end)]

    def sums(self, kinds_w: FloatArray) -> FloatArray:
        """(rows, pieces, groups): the sum over each group's seconds, 0 for an empty one.

        Added up in a fixed order, unlike a product of matrices.
        """
        found = np.zeros((len(kinds_w), self._cells))
        entries = kinds_w[:, self._kind] * self._often
        found[:, self._filled] = np.add.reduceat(entries, self._starts, axis=1)
        return found.reshape(len(kinds_w), *self.seconds.shape)

    def means(self, kinds_w: FloatArray) -> FloatArray:
        """(rows, pieces, groups): mean power of each group, 0 for an empty one."""
        return self.sums(kinds_w) / np.maximum(self.seconds, 1.0)


__all__ = ["Asked", "Classes", "PackTable", "may_reach", "pack_table"]
