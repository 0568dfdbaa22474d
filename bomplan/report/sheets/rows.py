"""What a sheet is made of: stages of steps, each with what is wanted and boxes to write in."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

from bomplan.design.commissioning import Commissioning
from bomplan.design.records import Plan
from bomplan.report.text import clean
from bomplan.report.units import Show
from bomplan.requirements.cautions import Work, at_work

MEASURE: Final = "measure and write down"
"""Stands where the plan has no figure."""
BY_MAKER: Final = "the maker's figure: look it up and write it here"


NO_BREAK: Final = "\N{NO-BREAK SPACE}"


@dataclass(frozen=True)
class Step:
    """One thing to do or measure. ``wanted`` is the limit; ``tick``: done or not, no reading."""

    words: str
    wanted: str = ""
    source: str = ""
    tick: bool = False


@dataclass(frozen=True)
class Stage:
    """Steps that belong together. ``hold``: what must be true, and signed, before the next."""

    title: str
    steps: tuple[Step, ...]
    lead: str = ""
    cautions: tuple[str, ...] = ()
    hold: str = ""


@dataclass(frozen=True)
class Making:
    """A plan on its way to the sheets: its figures, its cautions, and how figures are written."""

    plan: Plan
    figures: Commissioning
    show: Show
    dangers: dict[Work, tuple[str, ...]] = field(default_factory=dict)

    @classmethod
    def of(cls, plan: Plan, figures: Commissioning, show: Show) -> Making:
        dangers = at_work(
            figures.drive, figures.project.donor.kind, regenerates=figures.regenerates
        )
        told = {work: tuple(show.words(one) for one in found) for work, found in dangers.items()}
        return cls(plan, figures, show, told)

    @property
    def vehicle(self) -> str:
        return self.figures.project.donor.kind

    def figure(self, value: float, unit: str) -> str:
        """Never torn from its unit at the end of a line."""
        return self.show.figure(value, unit).replace(" ", NO_BREAK)

    def span(self, low: float, high: float, unit: str) -> str:
        """``low to high unit``, both written alike."""
        first = self.figure(low, unit)
        return f"{first.removesuffix(unit).strip()} to {self.figure(high, unit)}"

    def at_most(self, value: float, unit: str) -> str:
        return f"at most {self.figure(value, unit)}"

    def at_least(self, value: float, unit: str) -> str:
        return f"at least {self.figure(value, unit)}"

    def near(self, value: float, unit: str) -> str:
        return f"about {self.figure(value, unit)}"

    def name(self, text: str) -> str:
        return clean(text, 60)

    def count(self, family: str) -> int:
        """Pieces of a family in the bill."""
        return sum(line.quantity for line in self.plan.lines if line.family == family)

    def to_spare(self, family: str) -> int:
        """Those of them that no place takes."""
        return sum(line.to_spare for line in self.plan.lines if line.family == family)

    def has(self, family: str) -> bool:
        return self.count(family) > 0
