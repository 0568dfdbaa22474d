"""Answers of studies that lie beside a plan, each a file of its own."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final, TypeVar

from pydantic import ValidationError

from bomplan.design.chances import Chances
from bomplan.design.comparison import Comparison
from bomplan.design.record import Record
from bomplan.design.records import Plan
from bomplan.design.studies import Alternatives, Bindings, Headline
from bomplan.report.text import clean

ALTERNATIVES_FILE: Final = "alternatives.json"
BINDINGS_FILE: Final = "binds.json"
CHANCES_FILE: Final = "chances.json"
COMPARISON_FILE: Final = "comparison.json"
_MOST_BYTES: Final = 5_000_000
_DRIVEN: Final = ("range.", "speed.", "climb.", "acceleration.")
Kept = TypeVar("Kept", bound=Record)


@dataclass(frozen=True)
class Studies:
    """What was found beside the plan; ``notes`` say what could not be read, or is of another."""

    alternatives: Alternatives | None = None
    comparison: Comparison | None = None
    notes: tuple[str, ...] = ()
    bindings: Bindings | None = None
    chances: Chances | None = None

    @property
    def of_other_plans(self) -> bool:
        """Whether there is anything about other plans to show, or to mind."""
        return bool(self.alternatives or self.comparison or self.notes)


def kept_studies(folder: Path, plan: Plan) -> Studies:
    """The answers in the folder, as far as they are whole and in the plan's currency.

    Alternatives to another plan are shown with a note; what binds another, and its chances,
    are left out, for they would be read as this one's.
    """
    notes: list[str] = []

    def read(name: str, kind: type[Kept]) -> Kept | None:
        found = _read(folder / name, kind, notes)
        currency = getattr(found, "currency", plan.currency)
        if currency != plan.currency:
            notes.append(f"{name} counts in {clean(currency, 10)}: left out")
            return None
        return found

    alternatives = read(ALTERNATIVES_FILE, Alternatives)
    comparison = read(COMPARISON_FILE, Comparison)
    bindings = read(BINDINGS_FILE, Bindings)
    chances = read(CHANCES_FILE, Chances)
    if alternatives is not None and not _same(alternatives.chosen, plan):
        notes.append(
            "The alternatives were found beside another plan than this one: ask for them again"
            " with 'bomplan alternatives'."
        )
    if bindings is not None and not _same(bindings.chosen, plan):
        notes.append(
            "What relaxing costs was found beside another plan than this one: left out; ask for"
            " it again with 'bomplan binds'."
        )
        bindings = None
    if chances is not None and not _of_this(chances, plan):
        notes.append(
            "The chances are those of another plan than this one: left out; ask for them again"
            " with 'bomplan chances'."
        )
        chances = None
    return Studies(alternatives, comparison, tuple(notes), bindings, chances)


def _same(chosen: Headline, plan: Plan) -> bool:
    core = plan.core
    return (
        core is not None
        and chosen.price == plan.objective.value
        and (chosen.motor, chosen.controller, chosen.module, chosen.series, chosen.parallel)
        == (core.motor, core.controller, core.module, core.series, core.parallel)
    )


def _of_this(chances: Chances, plan: Plan) -> bool:
    """Whether every driven figure that the chances were asked about is the plan's own."""
    stated = {check.id: float(check.value) for check in plan.checks if check.id.startswith(_DRIVEN)}
    return (
        chances.chosen is not None
        and _same(chances.chosen, plan)
        and all(stated.get(one.id, one.at) == one.at for one in chances.chances)
    )


def _read(path: Path, kind: type[Kept], notes: list[str]) -> Kept | None:
    if not path.is_file():
        return None
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise ValueError("too large")
        return kind.model_validate_json(path.read_text("utf-8"))
    except (OSError, ValueError, ValidationError):
        notes.append(f"{path.name} cannot be read: left out")
        return None
