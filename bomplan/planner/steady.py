"""Which packs may hold the climbs and speeds asked with a drive, before any is simulated."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from bomplan.design.adapter import Simulator
from bomplan.design.context import Context
from bomplan.physics.holding import Feeds, may_climb, may_reach_speed
from bomplan.planner.screen import DriveRow
from bomplan.project.records import ClimbTarget, SpeedTarget
from bomplan.requirements.shown import NOISE

if TYPE_CHECKING:
    from bomplan.planner.energy import EnergyScreen

IntArray = npt.NDArray[np.int64]
FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]
Target = ClimbTarget | SpeedTarget
# A speed and what is asked of it are rounded to a tenth of a km/h, each a hair to its own good.
SHOWN_ALIKE_M_S = 3.0 * NOISE / (10 * 3.6)


@dataclass(frozen=True, eq=False)
class _Strengths:
    """Every pack where one is asked: V at rest, ohm of its own, A for as long as it lasts."""

    open_v: FloatArray
    ohm: FloatArray
    limit_a: FloatArray


class Steady:
    """The climbs and speeds of a project, held against the packs of one drive after the other."""

    def __init__(self, context: Context, screen: EnergyScreen) -> None:
        self._context, self._screen = context, screen
        self._strengths: dict[tuple[str, float], _Strengths] = {}
        targets = context.project.targets
        self.targets: tuple[Target, ...] = (*targets.climb, *targets.top_speed)

    def name(self, target: Target) -> str:
        """What a pack is counted under that fails this."""
        kind = "climb" if isinstance(target, ClimbTarget) else "speed"
        return f"{kind}.{target.name}"

    def may_hold(
        self,
        target: Target,
        row: DriveRow,
        simulator: Simulator,
        packs: IntArray,
        added_g: IntArray,
        external_ohm: FloatArray | None = None,
        mean_12v_w: IntArray | None = None,
    ) -> BoolArray:
        """Which of the packs may hold it with so much added at least.

        ``simulator`` of the drive with any pack, or of one that drives alike.
        ``external_ohm`` and ``mean_12v_w`` go with ``packs``: what bars and joints come to and
        the donor's load unless given.
        """
        if not len(packs):
            return np.zeros(0, dtype=np.bool_)
        context, screen = self._context, self._screen
        condition, table = context.condition(target.condition), screen.table(target.condition)
        here = self._strengths_at(target)
        load_g = context.base.mass_g + context.load(target.load_case).mass_g
        watts = mean_12v_w
        if watts is None:
            watts = np.full(len(packs), round(context.project.donor.load_12v_w), dtype=np.int64)
        beside_w = watts / context.project.house_rules.dcdc_efficiency + condition.heater_w
        open_v = here.open_v[packs]
        # The 12 V supply does not pass the controller's own current limit.
        limit_a = np.minimum(screen.set_a(row, packs) + beside_w / open_v, here.limit_a[packs])
        own_ohm = table.external_ohm[packs] if external_ohm is None else external_ohm
        feeds = Feeds(
            open_v=open_v,
            ohm=here.ohm[packs] + own_ohm,
            limit_a=limit_a,
            least_v=np.maximum(table.least_v[packs], row.controller.number("v_min")),
            reference_v=screen.floors.reference_v(row, packs),
            mass_kg=(load_g + added_g) / 1000,
            beside_w=beside_w,
        )
        system = simulator.system(condition, target.load_case)
        if isinstance(target, ClimbTarget):
            return may_climb(system, target.grade, target.speed_m_s, target.hold_s, feeds)
        # Both figures are judged as they are shown: what is missing by a hair is not missing.
        slowest = target.speed_m_s - SHOWN_ALIKE_M_S
        return may_reach_speed(system, max(0.0, slowest), target.hold_s, feeds)

    def _strengths_at(self, target: Target) -> _Strengths:
        key = target.condition, target.hold_s
        known = self._strengths.get(key)
        if known is None:
            screen, table = self._screen, self._screen.table(target.condition)
            soc = np.array([self._context.project.targets.power_state_of_charge])
            packs = screen.single_packs(self._context.condition(target.condition))
            volts = np.array([float(pack.open_circuit(soc)[0]) for pack in packs])
            ohms = np.array([float(pack.resistance(soc)[0]) for pack in packs])
            amps = np.array([pack.discharge_limit_a(target.hold_s) for pack in packs])
            known = self._strengths[key] = _Strengths(
                volts[table.module] * table.series,
                ohms[table.module] * table.series / table.parallel,
                amps[table.module] * table.parallel,
            )
        return known


__all__ = ["Steady"]
