"""The records of what many plans tell together: what binds, alternatives, fronts, clashes.

Money is an integer number of smallest units of the project's currency, masses are in
kilograms to the gram, as in the plan itself.
"""

from __future__ import annotations

from typing import Literal

from bomplan.design.record import Record
from bomplan.design.records import Topology

Outcome = Literal["plan", "none", "unknown", "not asked"]


class Headline(Record):
    """One plan in a line of a table: what it is, costs, weighs and does.

    ``range_km`` and ``wanted_km`` are those of the range target with the least to spare;
    ``front_left_kg`` and ``rear_left_kg`` the least that is left to the axles' limits, as in
    the plan: the margin that the project keeps is not taken off.
    """

    motor: str
    controller: str
    final_ratio: float
    module: str
    chemistry: str
    series: int
    parallel: int
    topology: Topology
    price: int
    kerb_kg: float
    laden_kg: float
    front_left_kg: float
    rear_left_kg: float
    rear_axle_kg: float
    range_target: str
    range_km: float
    wanted_km: float
    energy_wh_per_km: float
    usable_kwh: float
    nominal_v: float
    top_speed_kmh: float
    gradeability: float
    charge_hours: float
    own_hours: float


class Step(Record):
    """One lever moved by one step: the amount it then has, and what the cheapest plan costs."""

    amount: float
    outcome: Outcome
    price_change: int | None = None


class Binding(Record):
    """What one step more or less of a target or limit costs, planned anew for each."""

    lever: str
    words: str
    unit: str
    amount: float
    easier: Step
    harder: Step

    @property
    def binds(self) -> bool:
        """Whether asking less makes the plan cheaper."""
        return bool(self.easier.price_change)


class Bindings(Record):
    """What every target and limit of one plan costs, dearest first."""

    currency: str
    chosen: Headline
    bindings: tuple[Binding, ...]


class Alternative(Record):
    """Another plan with another motor or another module, and where it does better or worse.

    ``overtakes`` says whether it would be the cheaper one if the parts in which the two
    differ moved against the chosen plan by the share that the study asked about.
    """

    plan: Headline
    price_change: int
    better: tuple[str, ...] = ()
    worse: tuple[str, ...] = ()
    overtakes: bool = False


class Alternatives(Record):
    """The cheapest plan and the best different ones, cheapest first.

    ``complete`` says that there is no further different plan within what was asked for.
    """

    currency: str
    chosen: Headline
    others: tuple[Alternative, ...]
    complete: bool
    prices_move: float


class FrontPoint(Record):
    """One plan that nothing beats in both; ``figure`` is in the front's unit."""

    figure: float
    plan: Headline


class Front(Record):
    """Cost against one figure. ``complete``: no plan of the front is missing between its ends."""

    currency: str
    against: str
    words: str
    unit: str
    greater_is_better: bool
    points: tuple[FrontPoint, ...]
    complete: bool


class Member(Record):
    """One requirement of a clash: what is asked, and how far it alone would have to give.

    ``eased`` is the nearest amount with which there is a plan, the rest as asked (None: no
    amount of it alone helps, up to ``farthest``), ``price`` what that plan costs.
    """

    lever: str
    words: str
    unit: str = ""
    amount: float | None = None
    eased: float | None = None
    farthest: float | None = None
    helps: bool = False
    price: int | None = None
    instead: str = ""


class FigureNeeded(Record):
    """One figure that a part would need: ``sense`` (at least, at most, exactly) ``needed``.

    ``words`` and ``unit`` are those of the catalogue's column; ``has`` is what the row that it
    is held against has.
    """

    column: str
    words: str
    unit: str = ""
    sense: Literal["at least", "at most", "exactly"]
    needed: float | str
    has: float | str


class PartNeeded(Record):
    """A part that the catalogue lacks: like its row ``like`` but for these figures.

    ``sufficient``: with such a row in the catalogue there is a plan (``instead``: its core); if
    ``as_asked``, for the project as it stands, else for one with every requirement given up;
    ``together``: with all those that are so marked, each of another family, else by itself.
    Otherwise the figures are needed, but more may be.
    """

    family: str
    title: str
    like: str
    figures: tuple[FigureNeeded, ...]
    sufficient: bool
    as_asked: bool = False
    together: bool = False
    instead: str = ""
    because: str = ""


class Clash(Record):
    """A smallest set of requirements that no plan meets together.

    ``proven`` is False where some search behind it ended without an answer. An empty set
    with ``proven`` means that the catalogue itself holds no plan whatever is asked: then
    ``missing_parts`` are the most frequent refusals, and ``parts`` what a part would need
    (for a set with members only where it was asked for: ``parts_looked_for``).
    """

    currency: str
    possible: bool
    members: tuple[Member, ...] = ()
    proven: bool = True
    missing_parts: tuple[str, ...] = ()
    parts: tuple[PartNeeded, ...] = ()
    parts_looked_for: bool = False
    searches: int = 0
