"""What each motor asks of any pack at least, found once for its like and all their controllers."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np
import numpy.typing as npt

from bomplan.design.adapter import Simulator
from bomplan.design.context import Context
from bomplan.physics.energy_floor import LeastLap
from bomplan.physics.lap_floor import LapFloor, best_of, lap_floor, least_lap
from bomplan.physics.pack_table import PackTable
from bomplan.physics.system import System
from bomplan.physics.torque_bounds import Strength
from bomplan.planner.kinds_of_drives import Kinds
from bomplan.planner.screen import DriveRow, Packs
from bomplan.project.records import RangeTarget
from bomplan.requirements.simulated import mass_never_pays, wanted_m

MASSES_OF_SEVERAL = 24  # where motors or controllers of several masses share a floor
MASSES = 12  # at which laps are driven; a pack stands with the next lighter one
MASSES_ALONE = 32  # of the core alone
HEAVIER = 8  # beyond the heaviest pack, where more mass may pay
IntArray = npt.NDArray[np.int64]
FloatArray = npt.NDArray[np.float64]
# A simulator of a drive with some pack.
Simulated = Callable[[DriveRow, int], Simulator]


@dataclass(frozen=True, eq=False)
class Asking:
    """A drive that asks about packs: it, one of its packs, and its simulator with that."""

    row: DriveRow
    pack: int
    simulator: Simulator


@dataclass(frozen=True, eq=False)
class Alone:
    """Laps with nothing added but motor, controller and modules, at some masses that rise.

    ``load_g`` is the stripped donor and what it carries.
    """

    load_g: int
    mass_kg: FloatArray
    lap: LeastLap

    def least_j_per_m(self, added_g: IntArray, from_m: float) -> FloatArray:
        """J/m with so much added: the mean of no drive of at least so many metres is below it."""
        return np.asarray(self.lap.least_j_per_m(from_m)[self._place(added_g)], dtype=np.float64)

    def most_distance_m(self, added_g: IntArray, energy_j: FloatArray) -> FloatArray:
        """m that no drive on so much energy gets beyond."""
        return self.lap.most_distance_m(self._place(added_g), energy_j)

    def _place(self, added_g: IntArray) -> IntArray:
        laden_kg = (self.load_g + added_g) / 1000
        place = np.searchsorted(self.mass_kg, laden_kg * (1.0 + 1e-12), side="right") - 1
        return np.asarray(np.maximum(place, 0), dtype=np.int64)


class Floors:
    """Floors of laps by motor, ratio and target, kept for all that asks the same."""

    def __init__(
        self,
        context: Context,
        found: Packs,
        rest_g: int,
        drives: Sequence[DriveRow],
        simulated: Simulated,
        kinds: Kinds,
    ) -> None:
        """``drives`` are those that share; any other is looked at by itself."""
        self._context, self._found, self._rest_g = context, found, rest_g
        self._simulated, self._kinds = simulated, kinds
        self._alike: defaultdict[tuple[object, ...], list[DriveRow]] = defaultdict(list)
        for row in drives:
            self._alike[kinds.of_motor(row)].append(row)
        self._named = {id(row) for row in drives}
        self._known: dict[tuple[object, ...], LapFloor] = {}
        self._heaviest: dict[tuple[str, int], float | None] = {}
        self._alone: dict[tuple[int, str], Alone] = {}

    def heaviest_kg(self, target: RangeTarget) -> float | None:
        """The greatest laden mass of any plan, where more mass may pay on the target's way.

        None where it never pays: there the least mass tells.
        """
        context = self._context
        key = target.name, wanted_m(context, target)
        if key not in self._heaviest:
            found = None
            if not mass_never_pays(context, target):
                found = (context.load(target.load_case).mass_g + most_laden_g(context)) / 1000
            self._heaviest[key] = found
        return self._heaviest[key]

    def may_reach(
        self,
        asking: Asking,
        target: RangeTarget,
        table: PackTable,
        packs: IntArray,
        added_g: IntArray,
        battery_a: FloatArray,
        mean_12v_w: IntArray | int | None = None,
    ) -> npt.NDArray[np.bool_]:
        """Which packs may follow the target's profile and go the distance with this drive.

        ``added_g`` and the controller's setting ``battery_a`` go with ``packs``, and so may
        ``mean_12v_w``: the donor's load unless given.
        """
        context = self._context
        condition = context.condition(target.condition)
        load_g = context.base.mass_g + context.load(target.load_case).mass_g
        if mean_12v_w is None:
            mean_12v_w = round(context.project.donor.load_12v_w)
        open_v, ohm = table.nearly_empty(packs, self._circuit_ohm)
        limit_a = np.minimum(battery_a, table.greatest_a[packs])
        most_w = table.greatest_power_w(packs, limit_a, self._circuit_ohm)
        reference_v = self.reference_v(asking.row, packs)
        return self._floor(asking, target, table).may_reach(
            float(wanted_m(context, target)),
            target.reserve,
            table,
            packs,
            (load_g + added_g) / 1000,
            Strength(open_v, ohm, most_w, reference_v),
            mean_12v_w / context.project.house_rules.dcdc_efficiency + condition.heater_w,
        )

    def may_overload(
        self, asking: Asking, target: RangeTarget, table: PackTable, limit_a: float
    ) -> bool:
        """Whether the motor may carry more than this for an hour; a guess, not a bound."""
        return self._floor(asking, target, table).hour_a > limit_a

    @property
    def _circuit_ohm(self) -> float:
        return self._context.project.house_rules.reference_circuit_ohm

    def reference_v(self, row: DriveRow, packs: IntArray) -> FloatArray:
        """Where the envelope holds with each pack, V; 1 where a motor has none."""
        if row.motor.text("kind") == "series_dc":
            return np.ones(len(packs))
        if row.pair is not None and row.pair.reference_v:
            return np.full(len(packs), float(row.pair.reference_v))
        return self._found.nominal_v[packs]

    def _floor(self, asking: Asking, target: RangeTarget, table: PackTable) -> LapFloor:
        row = asking.row
        alike = self._kinds.of_motor(row)
        key: tuple[object, ...] = (
            *alike, target.profile, target.speed_cap_m_s, target.condition, target.load_case,
            self.heaviest_kg(target),
        )  # fmt: skip
        rows = self._alike[alike]
        if id(row) not in self._named:
            rows = [row]
            key = (*key, row.motor.id, row.controller.id, row.named_a)
        known = self._known.get(key)
        if known is None:
            known = self._known[key] = self._made(key, rows, asking, target, table)
        return known

    def _made(
        self,
        key: tuple[object, ...],
        rows: Sequence[DriveRow],
        asking: Asking,
        target: RangeTarget,
        table: PackTable,
    ) -> LapFloor:
        context, laps, every = self._context, self._context.laps, np.arange(len(self._found.rows))
        load_g = context.base.mass_g + context.load(target.load_case).mass_g
        own_g = np.unique([row.own_g for row in rows])
        mass_kg = (load_g + self._rest_g + self._masses_g(own_g)) / 1000
        heaviest_kg = self.heaviest_kg(target)
        if heaviest_kg is not None:
            mass_kg = _up_to(mass_kg, heaviest_kg)
        # Drives that drive alike have one machine and one controller to the physics.
        rows = list({self._kinds.of_drive(row): row for row in rows}.values())
        _, ohm = table.nearly_empty(every, self._circuit_ohm)
        scaled = [ohm / self.reference_v(row, every) ** 2 for row in rows]
        span = min(float(one.min()) for one in scaled), max(float(one.max()) for one in scaled)
        if laps is not None:
            names = tuple((row.motor.id, row.controller.id, row.ratio, row.named_a) for row in rows)
            named = key[len(self._kinds.of_motor(asking.row)) :]
            key = ("floor", names, *named, mass_kg.tobytes(), span)
            if key in laps:
                return cast(LapFloor, laps[key])
        made = lap_floor(
            self._best(asking, target, rows),
            asking.simulator.profile(target),
            mass_kg,
            span,
            context.reference_mass_g / 1000,
            heaviest_kg,
        )
        if laps is not None:
            laps[key] = made
        return made

    def _best(self, asking: Asking, target: RangeTarget, rows: Sequence[DriveRow]) -> System:
        """The motor of these rows with the best of all their controllers."""
        condition = self._context.condition(target.condition)
        simulators = [self._simulated(row, asking.pack) for row in rows]
        return best_of(
            asking.simulator.system(condition, target.load_case),
            [one.machine for one in simulators],
            [one.controller for one in simulators],
        )

    def alone(self, row: DriveRow, pack: int, target: RangeTarget) -> Alone:
        """What a drive takes on the target's way with motor, controller and modules alone added.

        ``pack`` is any that suits. Found once for a motor with all its controllers.
        """
        rows = self._alike[self._kinds.of_motor(row)] if id(row) in self._named else [row]
        key = id(rows[0]), target.name
        known = self._alone.get(key)
        if known is None:
            known = self._alone[key] = self._of_alone(row, pack, target, rows)
        return known

    def _of_alone(
        self, row: DriveRow, pack: int, target: RangeTarget, rows: Sequence[DriveRow]
    ) -> Alone:
        context = self._context
        condition = context.condition(target.condition)
        load_g = context.base.mass_g + context.load(target.load_case).mass_g
        own_g = [one.own_g for one in rows]
        lightest, heaviest = (
            (load_g + own + int(most)) / 1000
            for own, most in (
                (min(own_g), self._found.mass_g.min()),
                (max(own_g), self._found.mass_g.max()),
            )
        )
        mass_kg = np.linspace(lightest, heaviest, MASSES_ALONE)
        asking = Asking(row, pack, self._simulated(row, pack))
        rows = list({self._kinds.of_drive(one): one for one in rows}.values())
        lap = least_lap(
            self._best(asking, target, rows),
            asking.simulator.profile(target),
            mass_kg,
            np.append(mass_kg[1:], heaviest),  # a pack stands with the next lighter mass
            round(context.project.donor.load_12v_w) / context.project.house_rules.dcdc_efficiency
            + condition.heater_w,
        )
        return Alone(load_g, mass_kg, lap)

    def _masses_g(self, own_g: IntArray) -> FloatArray:
        """Masses of motor, controller and modules, the least first: a pack stands with the next
        lighter one."""
        of_packs = np.linspace(0.0, 1.0, MASSES)
        packs_g = np.quantile(self._found.mass_g, of_packs, method="lower")
        if len(own_g) > 1:
            beyond = np.quantile(own_g, of_packs, method="lower") - own_g[0]
            both = np.add.outer(packs_g, beyond)
            shares = np.linspace(0.0, 1.0, MASSES_OF_SEVERAL)
            packs_g = np.quantile(both, shares, method="lower")
        return np.asarray(own_g[0] + np.unique(packs_g), dtype=np.float64)


def most_laden_g(context: Context) -> int:
    """What the donor and everything added weigh at most, by the plate's limit on the whole."""
    return context.limits.gross_g - max((load.mass_g for load in context.loads), default=0)


def _up_to(mass_kg: FloatArray, heaviest_kg: float) -> FloatArray:
    """These masses, more between them, and some beyond them up to the heaviest that may be."""
    between = 0.5 * (mass_kg[1:] + mass_kg[:-1])
    beyond = np.linspace(mass_kg[-1], max(heaviest_kg, mass_kg[-1]), HEAVIER, endpoint=False)
    found = np.unique(np.concatenate([mass_kg, between, beyond]))
    return np.asarray(found[found <= max(heaviest_kg, mass_kg[0])], dtype=np.float64)


__all__ = ["Asking", "Floors"]
