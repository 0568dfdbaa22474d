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
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

import numpy as np

from bomplan.physics.arrays import BoolArray, FloatArray, IntArray
from bomplan.physics.asked_lap import AskedLap
from bomplan.physics.bounds import STEP_SLACK
from bomplan.physics.drive import FOLLOWED_SHARE
from bomplan.physics.following import missed_seconds
from bomplan.physics.overload import Limits, first_hour, surely_lasts
from bomplan.physics.pack_table import PackTable, pack_table
from bomplan.physics.profile import Profile
from bomplan.physics.system import System
from bomplan.physics.torque_bounds import Strength, between, torque_bounds, voltage_under

PIECES = 40  # of the whole drive
GROUPS = (0.0, 0.3, 0.5, 0.65, 0.77, 0.87, 0.94, 1.0)  # of a piece's seconds, weakest first
HAIR_M = 1e-3
FOLLOWED_MASSES = 8
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

    Made once for many packs when :meth:`may_reach` is first asked, which then answers for any
    of them; :meth:`may_reach_at` answers for a few at masses and resistances of their own, and
    makes no classes. ``lap`` may be shared by all that ask the same of the same drive.
    ``overloads`` is by how much each pack surely lets the motor carry more than
    ``hour_limit_a`` for an hour, at the reference mass and in the circuit in which gears are
    chosen; 0 where that is not sure.
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
        lap: AskedLap | None = None,
        hour_limit_a: float = math.inf,
    ) -> None:
        self._system, self._asked, self._table, self._which = system, asked, table, which
        self._lap = lap or AskedLap(system, profile, asked.reference_mass_kg)
        self._mass_kg, self._number = mass_kg, (strengths, masses)
        self._hour_limit_a = hour_limit_a
        shaft_w = np.maximum(self._lap.settling[0], 0.0) * self._lap.speed[0]
        self._cuts = _Cuts(profile, asked, shaft_w, self._lap.per_kg >= 0.0)

    @cached_property
    def _made(self) -> _Made:
        """The classes; a close look does without them."""
        system, asked, which, lap = self._system, self._asked, self._which, self._lap
        strengths, masses = self._number
        weak, strong = self._strengths(np.arange(len(which)))
        score = weak.left(np.full(len(which), float(np.quantile(lap.usual_w, 0.95))))
        score = np.where(np.isinf(score), weak.left(np.zeros(len(which))) - 1e9, score)
        classes = _quantiles(score, strengths)
        gears = _Gears(system, lap, classes, weak, strong)
        # Rows: every class of strength with every class of mass that a pack of it stands in.
        weights = _quantiles(self._mass_kg, masses)
        least_kg = np.full(int(weights.max()) + 1, np.inf)
        np.minimum.at(least_kg, weights, self._mass_kg)
        rows, row = np.unique(classes * len(least_kg) + weights, return_inverse=True)
        of_class, of_mass = np.divmod(rows, len(least_kg))
        # A few masses will do here: each pack is asked what a lighter car asks. On a slope that
        # drives a heavier car, a lighter one may miss what that one follows.
        few = np.unique(np.linspace(0, len(least_kg) - 1, FOLLOWED_MASSES).astype(np.int64))
        light = np.searchsorted(few, weights, side="right") - 1
        return _Made(
            row,
            self._follow(least_kg[few], strong, light),
            _Rows(
                self._cuts,
                gears.powers(least_kg, of_mass, of_class),
                np.full(len(rows), asked.beside_w),
            ),
            self._overloads(gears, np.arange(len(which)), classes),
        )

    def _strengths(self, places: IntArray) -> tuple[Strength, Strength]:
        """These packs as they are least and most favoured."""
        system, asked, table, which = self._system, self._asked, self._table, self._which[places]
        circuits = (system.reference_external_ohm, asked.gear_circuit_ohm)
        if isinstance(asked.battery_a, np.ndarray):
            asked = replace(asked, battery_a=asked.battery_a[places])
        if asked.reference_v is not None:
            asked = replace(asked, reference_v=asked.reference_v[places])
        return (
            strength(system, asked, table, which, max(circuits), table.peak_a),
            strength(system, asked, table, which, min(circuits), table.greatest_a),
        )

    def _follow(self, mass_kg: FloatArray, packs: Strength, light: IntArray) -> BoolArray:
        """Which of these packs may follow the profile, each at ``mass_kg[light]`` or more."""
        lap, profile = self._lap, self._lap.profile
        asks = lap.wanted(mass_kg, np.arange(len(lap.count)))
        asks = np.where((lap.per_kg >= 0.0) & lap.moving, asks, 0.0)
        spare = (1.0 - FOLLOWED_SHARE) * profile.steps + 1e-9
        missed = missed_seconds(self._system, asks, lap.speed, lap.count, packs, light, spare)
        return np.asarray(missed <= spare, dtype=np.bool_)

    def _overloads(self, gears: _Gears, places: IntArray, classes: IntArray) -> FloatArray:
        system, asked, which = self._system, self._asked, self._which[places]
        found = np.zeros(len(places))
        gives_back = system.regeneration and system.controller.regeneration
        if gears.limits is None or gives_back or math.isinf(self._hour_limit_a):
            return found
        hour = first_hour(self._lap, gears.limits, asked.reserve)
        over = hour.least_a / self._hour_limit_a
        here = np.flatnonzero(over[classes] > 1.0 + HAIR_M)
        if len(here):
            lasts = surely_lasts(
                hour,
                self._table,
                which[here],
                classes[here],
                asked.gear_circuit_ohm,
                asked.beside_w + 1.0,  # the donor's load is rounded there
                np.maximum(self._table.least_v[which[here]], system.controller.min_voltage_v),
                asked.reserve,
            )
            found[here] = np.where(lasts, over[classes[here]], 0.0)
        return found

    @property
    def overloads(self) -> FloatArray:
        """By how much each pack surely overloads the motor for an hour; else 0."""
        return self._made.overloads

    def may_reach(self, places: IntArray) -> BoolArray:
        """Which of these packs, given by their places, may go the distance."""
        found, made = np.zeros(len(places), dtype=np.bool_), self._made
        alive = np.flatnonzero(made.follows[places])
        here = places[alive]
        found[alive] = self._enough(made.rows, self._which[here], made.row[here], self._table)
        return found

    def may_reach_at(
        self,
        places: IntArray,
        mass_kg: FloatArray,
        external_ohm: FloatArray,
        beside_w: FloatArray,
        early: bool = False,
    ) -> tuple[BoolArray, FloatArray]:
        """The same for a few packs, each at its own mass, circuit and load beside the drive.

        None of these may be less than what the classes were made with. Each is as strong as it
        is. Of those that may reach also ``overloads``, each by itself; none if ``early``.
        """
        found, over = np.zeros(len(places), dtype=np.bool_), np.zeros(len(places))
        weak, strong = self._strengths(places)
        alive = np.flatnonzero(self._follow(mass_kg, strong, np.arange(len(places))))
        if not len(alive):
            return found, over
        own = self._table.external_ohm.copy()
        own[self._which[places]] = external_ohm
        here, each = places[alive], np.arange(len(alive))
        gears = _Gears(self._system, self._lap, each, weak.some(alive), strong.some(alive))
        if not early:
            over[alive] = self._overloads(gears, here, each)
        powers = gears.powers(mass_kg[alive], each, each)
        rows = _Rows(self._cuts, powers, beside_w[alive])
        table = replace(self._table, external_ohm=own)
        found[alive] = self._enough(rows, self._which[here], each, table)
        return found, over * found

    def _enough(self, rows: _Rows, which: IntArray, row: IntArray, table: PackTable) -> BoolArray:
        """Whose energy may do: first by the mean power alone, then piece by piece."""
        found = np.zeros(len(which), dtype=np.bool_)
        some = _at_mean_power(self._asked, table, which, row, rows.means, self._cuts)
        found[some] = self._lasts(rows, which[some], row[some], table)
        return found

    def _lasts(self, rows: _Rows, which: IntArray, row: IntArray, table: PackTable) -> BoolArray:
        """Whose energy and voltage may last, piece by piece."""
        asked, cuts, means = self._asked, self._cuts, rows.means
        whole = table.energy_j[which]
        left = whole * (1.0 + STEP_SLACK)
        least_v = np.maximum(table.least_v[which], self._system.controller.min_voltage_v)
        least_v = least_v * (1.0 - 1e-9)
        alive = np.ones(len(which), dtype=np.bool_)
        rated, exponent = table.rated_a[which][:, None], table.peukert[which]
        peukert = bool((exponent > 1.0).any())
        whole_lap = rows.backs.sum(axis=1)[row]
        base = left
        for piece, times, afresh, checkpoint in cuts.steps:
            mean = means[row, piece]
            if afresh:
                base = left
            # Nothing that comes back before the next look lifts the energy above this.
            back = rows.backs[row, piece] if times == 1 else whole_lap
            volts, ohm = table.at_level(which, (base + back * times) / whole)
            alive &= voltage_under(rows.peaks[row, piece], volts, ohm) >= least_v
            root = np.maximum(volts[:, None] ** 2 - 4.0 * mean * ohm[:, None], 0.0)
            current = 2.0 * mean / (volts[:, None] + np.sqrt(root))
            taken = mean + ohm[:, None] * current**2
            if peukert:
                excess = np.maximum(current / rated, 1.0) ** (exponent - 1.0)[:, None]
                taken = taken * excess
            taken = np.where(mean > 0, taken, mean)
            left = left - times * (taken @ cuts.seconds[piece])
            # A piece of several laps at once comes before what these laps give back in between.
            alive &= left + (back * times if times > 1 else 0.0) >= 0.0
            if checkpoint:
                alive &= left >= asked.reserve * whole
            if not alive.any():
                break
        return alive


@dataclass(frozen=True, eq=False)
class _Made:
    """Classes: each pack's row and whether it may follow; the rows; see ``overloads``."""

    row: IntArray
    follows: BoolArray
    rows: _Rows
    overloads: FloatArray


@dataclass(frozen=True, eq=False)
class _Powers:
    """What rows take in each kind of second: for ``plain`` kinds the row's mass alone tells."""

    plain: IntArray
    plain_w: FloatArray
    of_mass: IntArray
    hard: IntArray
    hard_w: FloatArray

    def of_kinds(self, kinds: IntArray) -> FloatArray:
        """(rows, ...) the powers in these kinds of seconds."""
        both = np.empty((len(self.of_mass), len(self.plain) + len(self.hard)))
        both[:, self.plain] = self.plain_w[self.of_mass]
        both[:, self.hard] = self.hard_w
        return both[:, kinds]


class _Gears:
    """Which gears packs of a class may be driven in, and what they then take at least.

    In most kinds of seconds every class takes the same gear and gives the torque asked: there
    the power follows from the mass alone.
    """

    def __init__(
        self, system: System, lap: AskedLap, classes: IntArray, weak: Strength, strong: Strength
    ) -> None:
        self._lap = lap
        number = int(classes.max()) + 1
        tables = torque_bounds(system, weak, strong, classes, number)
        lower = np.minimum(between(system, tables[0], lap.speed, strong=False), lap.gearbox)
        upper = np.minimum(between(system, tables[1], lap.speed, strong=True), lap.gearbox)
        line = system.driveline
        pull = [line.wheel_force(limit, lap.ratio, lap.acceleration) for limit in (lower, upper)]
        self._possible = possible = _possible(lap, lower, upper, pull)
        self.limits: Limits | None = (possible, lower, upper)
        self._most = np.minimum(lap.free, lower)
        some = possible.any(axis=0)
        self._sole = (some.sum(axis=0) == 1) & possible.any(axis=1).all(axis=0)
        self._gear = np.argmax(some, axis=0)
        least = lower.min(axis=0)
        self._uncut = np.where(least >= lap.free, np.inf, least)

    def powers(self, mass_kg: FloatArray, of_mass: IntArray, of_class: IntArray) -> _Powers:
        """For rows of these masses (``mass_kg[of_mass]``) and classes."""
        lap = self._lap
        plain = np.flatnonzero(self._sole)
        gear = self._gear[plain]
        asked = lap.wanted(mass_kg, plain, gear)
        whole = (asked <= self._uncut[gear, plain]).all(axis=0)
        plain, gear, asked = plain[whole], gear[whole], asked[:, whole]
        torque = np.maximum(np.minimum(asked, lap.free[gear, plain]), lap.lowest[gear, plain])
        plain_w = lap.taken_w(torque, np.broadcast_to(lap.speed[gear, plain], torque.shape))
        easy = np.zeros(len(lap.count), dtype=np.bool_)
        easy[plain] = True
        hard = np.flatnonzero(~easy)
        # What each mass takes where the pack does not matter, and what each class takes at most:
        # the lesser is what is taken, for power rises with a driving torque.
        speed, free = lap.speed[:, hard], lap.free[:, hard]
        torque = np.maximum(np.minimum(lap.wanted(mass_kg, hard), free), lap.lowest[:, hard])
        freely = lap.taken_w(torque, np.broadcast_to(speed, torque.shape))
        most = self._most[:, :, hard]
        at_most = lap.taken_w(most, np.broadcast_to(speed, most.shape))
        power = np.full((len(of_mass), len(hard)), MOST_W)
        for number in range(len(lap.ratio)):
            taken = np.minimum(freely[of_mass, number], at_most[of_class, number])
            possible = self._possible[:, number, hard]
            np.minimum(power, taken, out=power, where=possible[of_class])
        return _Powers(plain, plain_w, of_mass, hard, power)


class _Rows:
    """The lap of every row in pieces: mean powers of its groups, peak, and what comes back."""

    def __init__(self, cuts: _Cuts, powers: _Powers, beside_w: FloatArray) -> None:
        sums = cuts.sums(powers.plain_w, powers.plain)[powers.of_mass]
        sums += cuts.sums(powers.hard_w, powers.hard)
        # An empty group has no seconds, so that what runs beside costs nothing there.
        self.means = sums / np.maximum(cuts.seconds, 1.0)
        self.means += beside_w[:, None, None] * (cuts.seconds > 0)
        # What asks less of a heavier car says nothing of the voltage that such a one is left.
        hardest = np.where(cuts.harder, powers.of_kinds(cuts.hardest), -MOST_W)
        self.peaks = hardest.max(axis=2) + beside_w[:, None]
        self.backs = np.zeros(self.peaks.shape)
        if any(
            some.size and float(some.min()) + float(beside_w.min()) < 0
            for some in (powers.plain_w, powers.hard_w)
        ):
            every = powers.of_kinds(np.arange(len(powers.plain) + len(powers.hard)))
            back = np.maximum(-(every + beside_w[:, None]), 0.0)
            self.backs = cuts.sums(back, np.arange(back.shape[1])).sum(axis=2)


def strength(
    system: System,
    asked: Asked,
    table: PackTable,
    which: IntArray,
    circuit_ohm: float,
    limit_a: FloatArray,
) -> Strength:
    """How strong packs are behind this much circuit, held to so many ampere each."""
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
    lap: AskedLap, lower: FloatArray, upper: FloatArray, pull: list[FloatArray]
) -> BoolArray:
    """Gears that some pack of a class may be driven in, over (classes, gears, seconds).

    The driver takes the first able gear in his order of preference, so none behind the first
    that the weakest pack can take, and none that the strongest cannot; where no gear may be
    able, the one that pulls hardest, or the highest where the motor turns in none.
    """
    gears, torque, in_speed = len(lap.ratio), lap.settling, lap.in_speed
    surely = (torque <= lower) & in_speed
    maybe = (torque * (1 - 1e-8) - 1e-8 <= upper) & in_speed
    weakest = np.where(in_speed, pull[0], -np.inf).max(axis=1, keepdims=True)
    strongest = in_speed & (pull[1] >= weakest)
    strongest |= ~in_speed.any(axis=0) & (np.arange(gears)[:, None] == gears - 1)
    none = ~surely.any(axis=1, keepdims=True)
    found = np.zeros(surely.shape, dtype=np.bool_)
    # One kind of second may be driven in several gears of the table: each stays possible.
    for by_gear in lap.ranks:
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

    def __init__(
        self, profile: Profile, asked: Asked, usual_w: FloatArray, harder: BoolArray
    ) -> None:
        """``harder``: kinds of seconds that ask no less of a heavier car."""
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
        self.harder = harder[self.hardest]
        cells = pieces * groups
        both, self._often = np.unique(group * len(usual_w) + kind, return_counts=True)
        self._cell, self._kind = np.divmod(both, len(usual_w))
        self._cells, self._kinds = cells, len(usual_w)

    def _drive(self, laps: int, end: int, pieces: int, at_once: int) -> None:
        """So many whole laps, several at once where there are very many, and a part lap."""
        while laps > 0:
            times = min(at_once, laps)
            self.steps += [
                (piece, times, times == 1 or piece == 0, False) for piece in range(pieces)
            ]
            laps -= times
        self.steps += [(piece, 1, True, False) for piece in range(end)]

    def sums(self, some_w: FloatArray, kinds: IntArray) -> FloatArray:
        """(rows, pieces, groups): what the seconds of these kinds add up to in each group.

        Added up in a fixed order, unlike a product of matrices.
        """
        found = np.zeros((len(some_w), self._cells))
        if len(kinds):
            place = np.full(self._kinds, -1, dtype=np.int64)
            place[kinds] = np.arange(len(kinds))
            here = np.flatnonzero(place[self._kind] >= 0)
            cell = self._cell[here]
            starts = np.flatnonzero(np.diff(cell, prepend=-1))
            entries = some_w[:, place[self._kind[here]]] * self._often[here]
            found[:, cell[starts]] = np.add.reduceat(entries, starts, axis=1)
        return found.reshape(len(some_w), *self.seconds.shape)


__all__ = ["Asked", "Classes", "PackTable", "may_reach", "pack_table", "strength"]
