"""What each motor asks of any pack at least, found once for all of its controllers."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np
import numpy.typing as npt

from bomplan.design.adapter import Simulator
from bomplan.design.context import Context
from bomplan.physics.lap_floor import LapFloor, best_of, lap_floor
from bomplan.physics.pack_table import PackTable
from bomplan.physics.torque_bounds import Strength
from bomplan.planner.screen import DriveRow, Packs
from bomplan.project.records import RangeTarget
from bomplan.requirements.simulated import wanted_m

MASSES = 12  # at which laps are driven; a pack stands with the next lighter one
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


class Floors:
    """Floors of laps by motor, ratio and target, kept for all that asks the same."""

    def __init__(
        self,
        context: Context,
        found: Packs,
        rest_g: int,
        drives: Sequence[DriveRow],
        simulated: Simulated,
    ) -> None:
        """``drives`` are those that share; any other is looked at by itself."""
        self._context, self._found, self._rest_g = context, found, rest_g
        self._simulated = simulated
        self._alike: defaultdict[tuple[str, float], list[DriveRow]] = defaultdict(list)
        for row in drives:
            self._alike[row.motor.id, row.ratio].append(row)
        self._known: dict[tuple[object, ...], LapFloor] = {}

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
        reference_v = self._reference_v(asking.row, packs)
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

    def _reference_v(self, row: DriveRow, packs: IntArray) -> FloatArray:
        """Where the envelope holds with each pack, V; 1 where a motor has none."""
        if row.motor.text("kind") == "series_dc":
            return np.ones(len(packs))
        if row.pair is not None and row.pair.reference_v:
            return np.full(len(packs), float(row.pair.reference_v))
        return self._found.nominal_v[packs]

    def _floor(self, asking: Asking, target: RangeTarget, table: PackTable) -> LapFloor:
        row = asking.row
        key: tuple[object, ...] = (
            row.motor.id, row.ratio, target.profile, target.speed_cap_m_s, target.condition,
            target.load_case,
        )  # fmt: skip
        rows = self._alike.get((row.motor.id, row.ratio), [])
        if not any(one is row for one in rows):
            rows = [row]
            key = (*key, row.controller.id, row.named_a)
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
        own_g = asking.row.motor.mass_g + min(row.controller.mass_g for row in rows)
        load_g = context.base.mass_g + context.load(target.load_case).mass_g
        packs_g = np.quantile(self._found.mass_g, np.linspace(0.0, 1.0, MASSES), method="lower")
        mass_kg = (load_g + own_g + self._rest_g + np.unique(packs_g)) / 1000
        _, ohm = table.nearly_empty(every, self._circuit_ohm)
        scaled = [ohm / self._reference_v(row, every) ** 2 for row in rows]
        span = min(float(one.min()) for one in scaled), max(float(one.max()) for one in scaled)
        if laps is not None:
            controllers = tuple((row.controller.id, row.named_a) for row in rows)
            key = ("floor", *key, controllers, mass_kg.tobytes(), span)
            if key in laps:
                return cast(LapFloor, laps[key])
        condition = context.condition(target.condition)
        simulators = [self._simulated(row, asking.pack) for row in rows]
        best = best_of(
            asking.simulator.system(condition, target.load_case),
            [one.machine for one in simulators],
            [one.controller for one in simulators],
        )
        made = lap_floor(
            best, asking.simulator.profile(target), mass_kg, span, context.reference_mass_g / 1000
        )
        if laps is not None:
            laps[key] = made
        return made


__all__ = ["Asking", "Floors"]
