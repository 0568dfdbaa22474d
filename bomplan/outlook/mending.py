"""Which figures a row would need to pass its checks, found by trying: no rule tells them.

A rule judges a row by checks, and a check reads some of the row's figures. The figure that
holds a check up is found by moving one after the other and asking again; how far it must be
moved by halving. So every family is told about alike, those that are added later too.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from bomplan.catalog.columns import Column, schema
from bomplan.catalog.records import Figure, Part
from bomplan.design.records import Check
from bomplan.design.studies import FigureNeeded

Judge = Callable[[Part], Sequence[Check]]
SIDES: Final = ("length_mm", "width_mm", "height_mm")
_FACTORS: Final = (1.02, 1.05, 1.1, 1.2, 1.35, 1.6, 2.0, 3.0, 5.0, 10.0, 30.0, 100.0)
_HALVINGS: Final = 12
_DIGITS: Final = 3
_OTHER_KIND: Final = 0.3  # what another word in a column counts as, beside shares of a figure
_ROUNDS: Final = 6


@dataclass(frozen=True)
class Mended:
    """A row that passes, and by how much its figures were moved in all (shares added up)."""

    part: Part
    moved: float


def mended(part: Part, judge: Judge, rows: Iterable[Part]) -> Mended | None:
    """The row with as few and as little changed figures as let it pass; None if none do.

    ``rows`` are those of its family: the words that a column may hold are theirs.
    """
    others = list(rows)
    now, moved = part, 0.0
    for _ in range(_ROUNDS):
        checks = judge(now)
        failed = [check.id for check in checks if not check.passed]
        if not failed:
            return Mended(now, moved)
        better = min(
            _moves(now, failed[0], len(failed), judge, others),
            key=lambda one: (one.moved, one.part.id),
            default=None,
        )
        if better is None:
            return None
        now, moved = better.part, moved + better.moved
    return None


def _moves(
    part: Part, check: str, failing: int, judge: Judge, others: Sequence[Part]
) -> Iterator[Mended]:
    """Every single figure with which the check passes, and no other fails that did not."""

    def passes(changed: Part) -> bool:
        try:
            failed = [one.id for one in judge(changed) if not one.passed]
        except (ValueError, ArithmeticError):
            return False  # figures that no such part can have together
        return check not in failed and len(failed) < failing

    columns = schema()[part.family].columns
    for name in (*SIDES, *part.figures):
        value, column = figure_of(part, name), columns.get(name)
        if value is None or column is None:
            continue
        if isinstance(value, (bool, str)):
            words = sorted({other.figures.get(name, value) for other in others}, key=str)
            if isinstance(value, bool):
                words = [not value]
            for word in [one for one in words if one != value][:4]:
                changed = with_figure(part, name, word)
                if passes(changed):
                    yield Mended(changed, _OTHER_KIND)
                    break
        elif value > 0:
            for upwards in (True, False):
                found = _least_move(part, column, float(value), upwards, passes)
                if found is not None:
                    yield found


def _least_move(
    part: Part, column: Column, value: float, upwards: bool, passes: Callable[[Part], bool]
) -> Mended | None:
    near = value
    for factor in _FACTORS:
        far = _held(column, value * factor if upwards else value / factor)
        if far == near:
            return None  # a catalogue takes no figure beyond
        if passes(with_figure(part, column.name, far)):
            break
        near = far
    else:
        return None
    for _ in range(_HALVINGS):
        middle = (near + far) / 2
        if passes(with_figure(part, column.name, middle)):
            far = middle
        else:
            near = middle
    shown = _held(column, rounded(far, upwards, whole=column.type == "integer"))
    changed = with_figure(part, column.name, shown)
    if not passes(changed):
        return None
    return Mended(changed, abs(math.log(shown / value)) if shown > 0 else math.inf)


def _held(column: Column, value: float) -> float:
    """The figure, within what a catalogue takes."""
    if column.minimum is not None:
        value = max(value, column.minimum)
    return value if column.maximum is None else min(value, column.maximum)


def rounded(value: float, upwards: bool, *, whole: bool = False) -> float:
    """To a figure that a person would write down, away from what fails."""
    digits = 0 if whole else _DIGITS - 1 - math.floor(math.log10(abs(value))) if value else 0
    scale = 10.0 ** (max(digits, 0) if whole else digits)
    steps = value * scale
    found = math.ceil(steps - 1e-9) if upwards else math.floor(steps + 1e-9)
    return round(found / scale, max(digits, 0))


def figure_of(part: Part, name: str) -> Figure | None:
    """The figure in a column, outer sizes included; None where the row leaves it blank."""
    if name in SIDES:
        value: int | None = getattr(part, name)
        return value
    return part.figures.get(name)


def with_figure(part: Part, name: str, value: Figure) -> Part:
    """The row with another figure in one column."""
    if name in SIDES:
        return part.model_copy(update={name: max(1, math.floor(float(value) + 1e-9))})
    whole = isinstance(part.figures.get(name), int) and not isinstance(value, (bool, str))
    if whole and float(value) == int(value):
        value = int(value)
    return part.model_copy(update={"figures": {**part.figures, name: value}})


def differences(before: Part, after: Part) -> tuple[FigureNeeded, ...]:
    """The figures in which a row that was moved differs from the one that it was made of."""
    columns = schema()[before.family].columns
    found = []
    for name in (*SIDES, *before.figures):
        has, needed = figure_of(before, name), figure_of(after, name)
        if has is None or needed is None or has == needed:
            continue
        column = columns[name]
        if isinstance(needed, (bool, str)) or isinstance(has, (bool, str)):
            found.append(
                FigureNeeded(
                    column=name, words=column.description or name, unit=column.unit,
                    sense="exactly", needed=_word(needed), has=_word(has),
                )
            )  # fmt: skip
            continue
        found.append(
            FigureNeeded(
                column=name,
                words=column.description or name,
                unit=column.unit,
                sense="at least" if needed > has else "at most",
                needed=float(needed),
                has=float(has),
            )
        )
    return tuple(found)


def _word(value: Figure) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)
