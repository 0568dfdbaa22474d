"""The most range within a budget: the same search, asked again and again for more metres.

A range is counted in steps of 100 m. Whether some plan within the budget goes so far is a
search of its own, with its proof; the last two say that a plan goes so many steps and that none
goes one more. Of the plans that go as far, the last search then finds the cheapest.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

from bomplan.design.context import Context
from bomplan.design.pack_life import usual_target
from bomplan.planner.events import Event, Listener, Stop, Until
from bomplan.planner.walked import Walked
from bomplan.project.records import RangeTarget
from bomplan.requirements.shown import floored

STEP_M: Final = 100
FARTHER: Final = 1.3  # what is tried first, as a multiple of what is known to be possible
# Contexts differ in the metres that they ask for alone, so that one judge serves them all.
Search = Callable[[Context, Stop, Listener | None], Walked]


@dataclass(frozen=True)
class Farthest:
    """The cheapest plans of the most range; ``bound_m``: proven, none goes farther than this.

    ``beyond`` is the search that proves it.
    """

    walked: Walked
    reached_m: int | None
    bound_m: int | None = None
    beyond: Walked | None = None


def farthest_target(context: Context) -> RangeTarget:
    """The range target that the goal is about."""
    name = context.project.goal.target
    if name is None:
        return usual_target(context.project)
    return next(one for one in context.project.targets.range if one.name == name)


def farthest(context: Context, search: Search, stop: Stop) -> Farthest:
    """The most range of any plan; the best so far where the user stops it."""
    target = farthest_target(context)
    tally = _Tally()

    def goes(metres: int) -> Walked:
        """Any plan of so many metres, or the proof that there is none."""
        until = Until(stop)

        def hear(event: Event) -> None:
            if event.kind == "better":
                until.request()

        asked = context if metres == 0 else context.going(target.name, metres)
        return tally.add(search(asked, until, hear))

    best = goes(0)
    if best.best is None:
        return Farthest(best, None)
    low, high = _reached(target, best), None
    beyond: Walked | None = None
    proven = True
    while not stop.requested and (high is None or low < high):
        tried = int(low * FARTHER) // STEP_M + 1 if high is None else (low + high) // STEP_M // 2
        metres = max(low + STEP_M, tried * STEP_M)
        found = goes(metres)
        if found.best is not None:
            low, best = _reached(target, found), found
        elif stop.requested:
            break
        else:
            high, beyond = metres - STEP_M, found
            proven = found.complete
    bound = high if proven else None
    if stop.requested:
        return Farthest(tally.on(replace(best, complete=False)), low, bound, beyond)
    last = tally.add(search(context.going(target.name, low), stop, None))
    if last.best is None:
        return Farthest(tally.on(replace(best, complete=False)), low, bound, beyond)
    complete = last.complete and bound == low
    return Farthest(tally.on(replace(last, complete=complete)), low, bound, beyond)


def _reached(target: RangeTarget, walked: Walked) -> int:
    """Whole steps that the first of the best bills goes, in metres."""
    assert walked.best is not None
    opened, result = walked.best.cores[0]
    assert result.bill is not None
    metres = floored(opened.simulator.range(target, result.bill.couplers).distance_m)
    return metres // STEP_M * STEP_M


@dataclass
class _Tally:
    """Effort of all searches together."""

    solved: int = 0
    simulated: int = 0
    cut: int = 0

    def add(self, walked: Walked) -> Walked:
        self.solved += walked.solved
        self.simulated += walked.simulated
        self.cut += walked.cut
        return walked

    def on(self, walked: Walked) -> Walked:
        return replace(walked, solved=self.solved, simulated=self.simulated, cut=self.cut)
