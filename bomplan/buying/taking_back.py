"""Entries of an edited workbook put over the ledger, cell by cell.

The workbook carries what stood in it when it was written (its *base*). Only a cell that differs
from it has been touched by the builder, and only touched cells count; so a ledger that was
edited in the meantime keeps what the workbook did not touch. Nothing is dropped because a row
or a column is gone.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from bomplan.buying.ledger import OWN, Entry, Ledger, entry_texts, own_line

FIELDS: Final = ("what", "supplier", "expected", "ordered", "paid", "received", "date", "note")


@dataclass(frozen=True)
class Seen:
    """One row of the workbook: what stands in it, and the columns that it lacks."""

    entry: Entry
    row: int
    lacking: tuple[str, ...] = ()


@dataclass(frozen=True)
class Edit:
    """One cell that was taken: texts as they stand in the ledger, blank where nothing was."""

    line: str
    column: str
    before: str
    after: str

    def text(self) -> str:
        """The edit as one line."""
        return (
            f"{self.line}, {self.column}: {self.before or '(blank)'} -> {self.after or '(blank)'}"
        )


@dataclass(frozen=True)
class TakenBack:
    """The ledger that results, what changed in it, and what should be known.

    ``said`` is what the workbook says now, by line: the base for reading it once more.
    """

    ledger: Ledger
    edits: tuple[Edit, ...]
    notes: tuple[str, ...]
    said: Mapping[str, Entry]
    overruled: bool = False


def take_back(ledger: Ledger, base: Mapping[str, Entry], seen: Sequence[Seen]) -> TakenBack:
    """The ledger with every touched cell of ``seen`` in it.

    ``base`` holds every row as it was written, plan's lines without an entry among them. A row
    without a line is one of the builder's own; a second row of a line is a further order.
    """
    known = ledger.by_line()
    edits: list[Edit] = []
    notes: list[str] = []
    overruled = False
    currency = ledger.currency
    result: dict[str, Entry] = dict(known)
    said = dict(base)
    for one in _named(seen, known, base, notes):
        line = one.entry.line
        was = base.get(line, Entry(line))
        now = known.get(line)
        start = now if now is not None else replace(was, more=())
        stands = {name: getattr(one.entry, name) for name in FIELDS if name not in one.lacking}
        if not one.entry.own:
            stands.pop("expected", None)
        said[line] = replace(was, **stands)
        changed: dict[str, Any] = {}
        for name, mine in stands.items():
            then = getattr(was, name)
            if mine in (then, getattr(start, name)):
                continue
            changed[name] = mine
            overruled = overruled or (now is not None and getattr(now, name) != then)
        after = replace(start, **changed)
        result[line] = after
        before_texts, after_texts = entry_texts(start, currency), entry_texts(after, currency)
        edits.extend(Edit(line, name, before_texts[name], after_texts[name]) for name in changed)
    rows = {one.entry.line for one in seen}
    missing = [line for line, entry in base.items() if known.get(line, entry).recorded
               and line not in rows and line in known]  # fmt: skip
    if missing:
        notes.append(
            f"{_some(missing)} no longer in the workbook: what the ledger says of it stays "
            "(to drop an entry, blank its cells)"
        )
    return TakenBack(
        replace(ledger, entries=tuple(_kept(result, base, known))),
        tuple(edits),
        tuple(notes),
        said,
        overruled,
    )


def _named(
    seen: Sequence[Seen], known: Mapping[str, Entry], base: Mapping[str, Entry], notes: list[str]
) -> Iterable[Seen]:
    """Each row with a line of its own: copies numbered, rows without a line named."""
    present = {one.entry.line for one in seen} | known.keys() | base.keys()
    first: dict[str, Seen] = {}
    for one in seen:
        entry = one.entry
        if not entry.line:
            line = _line_of_own(entry, known, first) or own_line(present)
            present.add(line)
            one = replace(one, entry=replace(entry, line=line))
        elif entry.line in first:
            earlier = first[entry.line]
            if _same(entry, earlier.entry):
                notes.append(
                    f"rows {earlier.row} and {one.row} say the same of {entry.line}: counted once"
                )
                continue
            line = _further(entry, {one.entry.line for one in seen} | first.keys())
            present.add(line)
            notes.append(
                f"row {one.row} is a copy of {entry.line}: taken as a further order, {line}"
            )
            one = replace(one, entry=replace(entry, line=line))
        first[one.entry.line] = one
        yield one


def _line_of_own(entry: Entry, known: Mapping[str, Entry], taken: Mapping[str, Seen]) -> str | None:
    """The ledger's own line of the same name, so that reading twice adds nothing."""
    return next(
        (
            line
            for line, other in known.items()
            if line.startswith(OWN)
            and line not in taken
            and (other.what == entry.what if entry.what else _same(other, entry))
        ),
        None,
    )


def _further(entry: Entry, taken: Iterable[str]) -> str:
    used = set(taken)
    number = 2
    while f"{entry.bill_line}#{number}" in used:
        number += 1
    return f"{entry.bill_line}#{number}"


def _same(one: Entry, other: Entry) -> bool:
    return all(getattr(one, name) == getattr(other, name) for name in FIELDS)


def _kept(
    result: Mapping[str, Entry], base: Mapping[str, Entry], known: Mapping[str, Entry]
) -> Iterable[Entry]:
    """The ledger's rows in order: its own first, then those that are new to it.

    Lines of the plan without an entry are noted with what was planned, so that the next plan
    can say what is new; they go again when a plan no longer has them.
    """
    lines = [*known, *(line for line in result if line not in known)]
    lines += [line for line in base if line not in result]
    noted = {line: result.get(line) or base[line] for line in lines}
    if not any(entry.recorded for entry in noted.values()):
        return
    for line, entry in noted.items():
        planned = base.get(line)
        if planned is not None and not entry.own and planned.planned is not None:
            entry = replace(entry, planned=planned.planned, expected=planned.expected)
        if entry.recorded or (not entry.own and (planned is not None or not base)):
            yield entry


def _some(lines: Sequence[str]) -> str:
    shown = ", ".join(lines[:5]) + (" and more" if len(lines) > 5 else "")
    return f"{shown} {'is' if len(lines) == 1 else 'are'}"
