"""What the walk hands on: cores that it opened, the best bills, and what it came to."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

from bomplan.design.adapter import Simulator
from bomplan.design.bill import DesignCurrents
from bomplan.design.drive import Drive
from bomplan.design.records import Core
from bomplan.planner.core_bounds import CoreBounds
from bomplan.planner.core_search import CoreResult
from bomplan.planner.cuts import Cuts
from bomplan.planner.options import Options
from bomplan.planner.screen import Screened


@dataclass(frozen=True)
class Opened:
    """A core with all that its model needs, and the bound that it is walked by.

    ``bounds``: those of its rows, once what the limits make dearer is in the bound;
    ``floor`` is what they were last looked for from,
    ``tried`` what the solver found no bill within.
    """

    core: Core
    drive: Drive
    currents: DesignCurrents
    options: Options
    simulator: Simulator
    key: int
    cuts: Cuts = ()
    bounds: CoreBounds | None = None
    floor: int | None = None
    tried: int = 0

    def again(self, result: CoreResult) -> Opened:
        """The same core after a look that it is not done with."""
        key = self.key if result.bound is None else max(self.key, result.bound)
        return replace(self, key=key, cuts=result.cuts, floor=result.floor, tried=result.tried)


Spread = Callable[[list[Opened], int | None], list[CoreResult]]


@dataclass
class Best:
    """The best bill so far, and every core that reaches the same figure, price and mass.

    ``figure`` is what the bill comes to by the goal.
    """

    figure: int
    price: int
    added_g: int
    cores: list[tuple[Opened, CoreResult]] = field(default_factory=list)


@dataclass
class Walked:
    """What the walk came to. ``bound`` is proven: no plan comes to less by the goal.

    ``waiting``: cores bounded closely and never opened, since their bound passed the best.
    """

    best: Best | None
    bound: int | None
    complete: bool
    screened: Screened
    solved: int = 0
    simulated: int = 0
    cut: int = 0
    opened: list[tuple[Opened, CoreResult]] = field(default_factory=list)
    waiting: list[Opened] = field(default_factory=list)
