"""Requirements that only driving the car can answer: range, speed, climbs, acceleration.

Each reads the core and the three couplers and nothing else of the plan. Each declares
whether it can only get worse as a coupler grows (``worsens``), so that one failure rules
out every heavier bill, or not (``none``), so that it rules out just itself.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from bomplan.design.adapter import Simulator
from bomplan.design.bill import at_least, at_most
from bomplan.design.context import Context
from bomplan.design.records import Check, Couplers
from bomplan.design.road import road_load
from bomplan.design.uncertain import couplers_with, other_cars
from bomplan.physics import RangeAnswer, asks_much_downhill
from bomplan.project.records import (
    AccelerationTarget,
    ClimbTarget,
    RangeTarget,
    SpeedTarget,
)
from bomplan.requirements.shown import ceiled, floored
from bomplan.source import computed

Direction = Literal["worsens", "none"]
Target = RangeTarget | SpeedTarget | ClimbTarget | AccelerationTarget
SIMULATED = computed("simulation, docs/explanation/driving.md")


@dataclass(frozen=True)
class Simulated:
    """One target of the project as a requirement."""

    target: Target

    @property
    def id(self) -> str:
        kind = {
            RangeTarget: "range",
            SpeedTarget: "speed",
            ClimbTarget: "climb",
            AccelerationTarget: "acceleration",
        }[type(self.target)]
        return f"{kind}.{self.target.name}"

    def direction(self, simulator: Simulator) -> Direction:
        """How a heavier bill, more resistance and more 12 V load change the figure."""
        if isinstance(self.target, RangeTarget):
            context = simulator.context
            never_pays = mass_never_pays(context, self.target, self._wanted_m(simulator))
            worsens = never_pays and not asked_downhill(context, self.target)
            return "worsens" if worsens else "none"
        return "none" if simulator.grip_decides(self.target) else "worsens"

    def fails_beyond(self, simulator: Simulator, couplers: Couplers) -> bool:
        """Whether what failed at these couplers fails at all that are worse, too.

        A range that ends because the pack is empty does so even where there is no direction
        because of what may be missed, or end the drive, on a descent.
        """
        if self.direction(simulator) == "worsens":
            return True
        if not isinstance(self.target, RangeTarget):
            return False
        wanted = self._wanted_m(simulator)
        return mass_never_pays(simulator.context, self.target, wanted) and self._empty_before(
            simulator, couplers, wanted
        )

    def _empty_before(self, simulator: Simulator, couplers: Couplers, wanted: int) -> bool:
        """Whether the pack is empty before so many metres."""
        assert isinstance(self.target, RangeTarget)
        return _is_empty(simulator.range(self.target, couplers), wanted)

    def check(self, simulator: Simulator, couplers: Couplers) -> Check:
        """The figure at these couplers against the target with its margin."""
        target = self.target
        if isinstance(target, RangeTarget):
            return self._range(target, simulator, couplers)
        if isinstance(target, SpeedTarget):
            found = simulator.top_speed(target, couplers)
            return at_least(
                self.id,
                f"speed held for {target.hold_s:.0f} s, {target.load_case}, {target.condition}",
                floored(found.speed_m_s * 3.6, 10) / 10,
                ceiled(target.speed_m_s * 3.6, 10) / 10,
                "km/h",
                SIMULATED,
            )
        if isinstance(target, ClimbTarget):
            climb = simulator.climb(target, couplers)
            value = floored(climb.margin_n) if climb.possible else -1
            words = (
                "starts on" if target.speed_m_s == 0 else f"{target.speed_m_s * 3.6:.0f} km/h up"
            )
            return at_least(
                self.id,
                f"{words} a {target.grade * 100:.0f} % hill for {target.hold_s:.0f} s, thrust left,"
                f" {target.load_case}, {target.condition}",
                value,
                0,
                "N",
                SIMULATED,
            )
        result = simulator.acceleration(target, couplers)
        return at_most(
            self.id,
            f"0 to {target.speed_m_s * 3.6:.0f} km/h, {target.load_case}, {target.condition}",
            ceiled(result.seconds, 10) / 10,
            floored(target.within_s, 10) / 10,
            "s",
            SIMULATED,
        )

    def _wanted_m(self, simulator: Simulator) -> int:
        """Metres that a range must come to."""
        assert isinstance(self.target, RangeTarget)
        return wanted_m(simulator.context, self.target)

    def _range(self, target: RangeTarget, simulator: Simulator, couplers: Couplers) -> Check:
        answer = simulator.range(target, couplers)
        wanted = self._wanted_m(simulator)
        reached = floored(answer.distance_m) if answer.followed else 0
        missed = ""
        if not answer.followed:
            missed = (
                f"the car cannot follow {target.profile}:"
                f" {answer.not_followed_s:.0f} s missed in a lap"
            )
        return at_least(
            self.id,
            f"range on {target.profile}, {target.condition}, {target.load_case}"
            + (f", {target.reserve * 100:.0f} % kept back" if target.reserve else ""),
            reached / 1000,
            wanted / 1000,
            "km",
            SIMULATED,
            missed,
        )


@dataclass(frozen=True)
class Confident(Simulated):
    """A range target with a confidence: enough of a hundred other cars go the distance.

    The cars are the same core with every uncertain figure drawn otherwise, a fixed set, so
    that the figure is as exact as any other: the distance that the asked share of them
    reaches. It stands beside the target with its margin, and worsens with the same couplers.
    """

    @property
    def id(self) -> str:
        return f"confidence.{self.target.name}"

    def _empty_before(self, simulator: Simulator, couplers: Couplers, wanted: int) -> bool:
        assert isinstance(self.target, RangeTarget)
        assert self.target.confidence is not None
        target, cars = self.target, other_cars(simulator)
        may = sum(
            not _is_empty(car.range(target, couplers_with(couplers, more_w)), wanted)
            for car, more_w in cars
        )
        return may < math.ceil(self.target.confidence * len(cars) - 1e-9)

    def _wanted_m(self, simulator: Simulator) -> int:
        del simulator  # the margin is the target's own
        assert isinstance(self.target, RangeTarget)
        return math.ceil(self.target.distance_m - 1e-6)

    def _range(self, target: RangeTarget, simulator: Simulator, couplers: Couplers) -> Check:
        assert target.confidence is not None
        reached = []
        for car, more_w in other_cars(simulator):
            answer = car.range(target, couplers_with(couplers, more_w))
            reached.append(floored(answer.distance_m) if answer.followed else 0)
        enough = math.ceil(target.confidence * len(reached) - 1e-9)
        return at_least(
            self.id,
            f"range on {target.profile}, {target.condition}, {target.load_case}, that {enough} of"
            f" {len(reached)} cars reach",
            sorted(reached, reverse=True)[enough - 1] / 1000,
            self._wanted_m(simulator) / 1000,
            "km",
            computed("simulation, docs/explanation/how-sure.md"),
        )


def wanted_m(context: Context, target: RangeTarget) -> int:
    """Metres that the range must come to: the target with the project's margin on top.

    More where the search for the most range asks for more.
    """
    asked = math.ceil(target.distance_m * (1 + context.project.margins.range) - 1e-6)
    return max(asked, context.farther_m.get(target.name, 0))


def mass_never_pays(context: Context, target: RangeTarget, wanted: int | None = None) -> bool:
    """Whether no heavier bill of a core reaches the target where a lighter one does not.

    With a reserve the drive must last beyond ``wanted``: where the cut-off voltage ends it, a
    share of the distance is kept back.
    """
    profile = context.profile(target.profile, target.speed_cap_m_s)
    near = wanted_m(context, target) if wanted is None else wanted
    return profile.mass_never_pays(near) and profile.mass_never_pays(near / (1.0 - target.reserve))


def asked_downhill(context: Context, target: RangeTarget) -> bool:
    """Whether the lightest car may miss most, or end its drive, where the slope drives it."""
    key = ("asked downhill", target.name)
    known = context.remembered.get(key)
    if known is None:
        donor = context.project.donor
        known = context.remembered[key] = asks_much_downhill(
            road_load(donor, context.condition(target.condition)),
            context.profile(target.profile, target.speed_cap_m_s),
            donor.driveline.rotating_mass_factor,
            (context.base.mass_g + context.load(target.load_case).mass_g) / 1000,
        )
    return bool(known)


def _is_empty(answer: RangeAnswer, wanted: int) -> bool:
    """Whether the drive ended before so many metres for want of energy alone."""
    return answer.followed and answer.end_cause != "voltage" and floored(answer.distance_m) < wanted


def simulated(simulator: Simulator) -> tuple[Simulated, ...]:
    """Every simulated requirement of the project, cheap ones first."""
    targets = simulator.context.project.targets
    ordered: tuple[Target, ...] = (
        *targets.climb,
        *targets.top_speed,
        *targets.acceleration,
        *targets.range,
    )
    sure = (target for target in targets.range if target.confidence is not None)
    return (*(Simulated(target) for target in ordered), *(Confident(target) for target in sure))


def all_worsen(simulator: Simulator) -> bool:
    """Whether every simulated requirement only gets worse with mass, resistance and load."""
    return all(
        requirement.direction(simulator) == "worsens" for requirement in simulated(simulator)
    )


def simulated_checks(simulator: Simulator, couplers: Couplers) -> Iterator[Check]:
    """Every simulated check at these couplers, one after the other."""
    for requirement in simulated(simulator):
        yield requirement.check(simulator, couplers)
