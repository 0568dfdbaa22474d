"""Many plans together: what binds, alternatives, fronts, which requirements clash."""

from bomplan.outlook.alternatives import alternatives
from bomplan.outlook.binding import what_binds
from bomplan.outlook.chances import chances
from bomplan.outlook.clash import find_clash
from bomplan.outlook.comparison import compare
from bomplan.outlook.fronts import AGAINST, front
from bomplan.outlook.solving import Solver, StudyStoppedError, by_cost, processes

__all__ = [
    "AGAINST",
    "Solver",
    "StudyStoppedError",
    "alternatives",
    "by_cost",
    "chances",
    "compare",
    "find_clash",
    "front",
    "processes",
    "what_binds",
]
