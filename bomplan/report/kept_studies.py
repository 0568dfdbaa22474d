"""Answers of studies that lie beside a plan (``alternatives.json``, ``comparison.json``)."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final, TypeVar

from pydantic import ValidationError

from bomplan.design.comparison import Comparison
from bomplan.design.record import Record
from bomplan.design.records import Plan
from bomplan.design.studies import Alternatives, Headline

ALTERNATIVES_FILE: Final = "alternatives.json"
COMPARISON_FILE: Final = "comparison.json"
_MOST_BYTES: Final = 5_000_000
Kept = TypeVar("Kept", bound=Record)


@dataclass(frozen=True)
class Studies:
    """What was found beside the plan; ``notes`` say what could not be read, or is of another."""

    alternatives: Alternatives | None = None
    comparison: Comparison | None = None
    notes: tuple[str, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.alternatives or self.comparison or self.notes)


def kept_studies(folder: Path, plan: Plan) -> Studies:
    """The answers in the folder, as far as they are whole and in the plan's currency."""
    notes: list[str] = []
    alternatives = _read(folder / ALTERNATIVES_FILE, Alternatives, notes)
    comparison = _read(folder / COMPARISON_FILE, Comparison, notes)
    if alternatives is not None and alternatives.currency != plan.currency:
        notes.append(f"{ALTERNATIVES_FILE} counts in {alternatives.currency}: left out")
        alternatives = None
    if comparison is not None and comparison.currency != plan.currency:
        notes.append(f"{COMPARISON_FILE} counts in {comparison.currency}: left out")
        comparison = None
    if alternatives is not None and not _same(alternatives.chosen, plan):
        notes.append(
            "The alternatives were found beside another plan than this one: ask for them again"
            " with 'bomplan alternatives'."
        )
    return Studies(alternatives, comparison, tuple(notes))


def _same(chosen: Headline, plan: Plan) -> bool:
    core = plan.core
    return (
        core is not None
        and chosen.price == plan.objective.value
        and (chosen.motor, chosen.controller, chosen.module, chosen.series, chosen.parallel)
        == (core.motor, core.controller, core.module, core.series, core.parallel)
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
