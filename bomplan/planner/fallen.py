"""Cores that fell, remembered: in a near-alike project that asks no less they fall again.

A core that cannot go 60 km cannot go 70, and one whose bills are all too heavy for 160 kg is so for
155. So what felled a core is kept with the amounts that it hung on: none (its motor wears out,
whatever is asked), one target's metres, or all of them. In a later search the core is down
without being looked at if each of these amounts is at least as hard as it was.

Everything else of a project stands in the keys (:mod:`bomplan.planner.shared`): what a simulated
range may read for the screen on arrays, what a rule may read for single cores.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from bomplan.catalog.records import Part
from bomplan.design.context import Context
from bomplan.design.records import Core
from bomplan.planner.screen import DriveRow, Packs
from bomplan.project.records import RangeTarget
from bomplan.requirements.simulated import wanted_m

IntArray = npt.NDArray[np.int64]
Metres = npt.NDArray[np.int32]
Amount = tuple[str, str]  # what, and of which target
Needs = tuple[tuple[Amount, int], ...]
NEVER: Final = np.iinfo(np.int32).max
FIGURES_MOST: Final = 30_000_000  # of four bytes, in all tables together
CORES_MOST: Final = 200_000
GROUNDS_MOST: Final = 6  # projects that differ in more than amounts
NO_LIMIT: Final = 1 << 60
STOOD_MOST: Final = 3
# What a closed range target is asked by, its metres aside: two of one name are then the same.
OF_TARGET: Final = (
    "profile", "speed_cap_m_s", "condition", "load_case", "reserve",
)  # fmt: skip


def amounts(context: Context) -> dict[Amount, int]:
    """How much the project asks, each figure the harder the greater."""
    project = context.project
    targets, limits = project.targets, context.limits
    found: dict[Amount, int] = {}
    for target in targets.range:
        found["range", target.name] = wanted_m(context, target)
        found["sure", target.name] = round((target.confidence or 0) * 1e9)
    for name, most in (
        ("gross", limits.gross_g),
        ("front", limits.front_g),
        ("rear", limits.rear_g),
        ("laden", targets.laden_mass_max_g),
        ("front of the builder's", targets.front_axle_max_g),
        ("rear of the builder's", targets.rear_axle_max_g),
        ("budget", targets.budget),
    ):
        found[name, ""] = -NO_LIMIT if most is None else -int(most)
    return found


def needs(name: str, asked: Mapping[Amount, int]) -> Needs:
    """The amounts that a core's fall hung on, by what it is counted under."""
    if name == "range.energy":
        return tuple((key, value) for key, value in asked.items() if key[0] == "range")
    if name.startswith("range."):
        key = ("range", name.removeprefix("range."))
        return ((key, asked[key]),)
    if name.startswith(("mass", "money", "supplier", "confidence", "goal")):
        return tuple(asked.items())
    return ()


@dataclass
class Reach:
    """Of each pack by its number: the least metres that it surely does not go, and the most that a
    screen let pass. Of those that wear the drive out whatever is asked, by which check."""

    falls: Metres
    passes: Metres
    worn: dict[int, str] = field(default_factory=dict)


@dataclass
class Ground:
    """What is known of projects that differ in amounts alone."""

    cores: dict[tuple[Any, ...], tuple[str, Needs]] = field(default_factory=dict)


class Fallen:
    """What all searches of one catalogue found out so far."""

    def __init__(self) -> None:
        self._numbers: dict[tuple[str, int, int, str, int], int] = {}
        self._reach: OrderedDict[tuple[Any, ...], Reach] = OrderedDict()
        self._figures = 0
        self._grounds: OrderedDict[str, Ground] = OrderedDict()
        # Cores that worked: (motor, controller, module), and the last of them by their keys. An
        # order alone.
        self.stood: set[tuple[str, str, str]] = set()
        self.cores: list[tuple[Any, ...]] = []

    def remember(self, key: tuple[Any, ...], core: Core) -> None:
        """A core that worked: looked at first in the next searches."""
        self.stood.add((core.motor, core.controller, core.module))
        self.cores = [*[one for one in self.cores if one != key][1 - STOOD_MOST :], key]

    def ground(self, key: str) -> Ground:
        """What is known of single cores where rules and drives read just this."""
        found = self._grounds.pop(key, None) or Ground()
        self._grounds[key] = found
        while len(self._grounds) > GROUNDS_MOST:
            self._grounds.popitem(last=False)
        return found

    def numbers(self, found: Packs) -> IntArray:
        """A number for each pack, at the current that it allows: the same in all searches."""
        known = self._numbers
        return np.array(
            [
                known.setdefault((module.id, series, parallel, topology, limit_a), len(known))
                for (module, series, parallel, topology), limit_a in zip(
                    found.rows, found.limit_a.tolist(), strict=True
                )
            ],
            dtype=np.int64,
        )

    def reach(
        self, driven: str, row: DriveRow, target: RangeTarget, more: tuple[int, ...]
    ) -> Reach:
        """What is known of a drive on a target; ``more``: what else its screen goes by."""
        key = (
            driven, *drive_key(row), target.name,
            *[getattr(target, name) for name in OF_TARGET], *more,
        )  # fmt: skip
        size = len(self._numbers)
        found = self._reach.pop(key, None)
        if found is None:
            found = Reach(np.zeros(0, dtype=np.int32), np.zeros(0, dtype=np.int32))
        missing = size - len(found.falls)
        if missing > 0:
            self._figures += 2 * missing
            found.falls = np.concatenate([found.falls, np.full(missing, NEVER, dtype=np.int32)])
            found.passes = np.concatenate([found.passes, np.full(missing, -1, dtype=np.int32)])
        self._reach[key] = found
        while self._figures > FIGURES_MOST and len(self._reach) > 1:
            _, gone = self._reach.popitem(last=False)
            self._figures -= 2 * len(gone.falls)
        return found


def drive_key(row: DriveRow) -> tuple[Any, ...]:
    """What tells a drive from any other of its catalogue."""
    return (row.motor.id, row.controller.id, row.ratio, row.named_a, row.lower_a)


def core_key(row: DriveRow, pack: tuple[Part, int, int, str]) -> tuple[Any, ...]:
    """What tells a core from any other of its catalogue."""
    module, series, parallel, topology = pack
    return (*drive_key(row), module.id, series, parallel, topology)


def of_limits(asked: Mapping[Amount, int]) -> dict[Amount, int]:
    """The amounts that are not asked of a drive."""
    return {what: value for what, value in asked.items() if what[0] not in ("range", "sure")}


def bury(ground: Ground, key: tuple[Any, ...], name: str, hung_on: Mapping[Amount, int]) -> None:
    """Remember a core that fell by what it is counted under, and the amounts that it hung on."""
    if len(ground.cores) < CORES_MOST or key in ground.cores:
        ground.cores[key] = name, tuple(hung_on.items())


def is_down(ground: Ground, key: tuple[Any, ...], asked: Mapping[Amount, int]) -> str | None:
    """By what a core falls without being looked at; None if it has to be."""
    known = ground.cores.get(key)
    if known is None:
        return None
    name, hung_on = known
    least = -NO_LIMIT
    return name if all(asked.get(what, least) >= value for what, value in hung_on) else None
