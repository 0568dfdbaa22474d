"""Which rows of a family suit a core, remembered by the figures that the answer depended on.

A rule judges a row by a few figures of the core: a voltage, a limit, a shaft. While it judges
the first time, every figure that it reads is noted; another core with the same figures gets the
same answer without asking again. What was not read cannot have mattered, for rules are pure.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, TypeVar, cast

import numpy as np
import numpy.typing as npt

from bomplan.catalog.records import Part
from bomplan.design.bill import JOINTS, DesignCurrents, Joint, Rule
from bomplan.design.bill.fits import row_checks
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.records import Check
from bomplan.errors import InternalError

if TYPE_CHECKING:
    from bomplan.planner.options import Row

BoolArray = npt.NDArray[np.bool_]
Tables = tuple[tuple[int, ...], ...]
Made = TypeVar("Made")
# Attribute names from the root down, and the arguments where the last is a method.
Path = tuple[str, tuple[str, ...], tuple[Any, ...] | None]
PLAIN = (int, float, str, bool, type(None))
ABSENT = object()  # a figure of a record that this core does not have


class _Noted:
    """Stands for a record and notes every plain value that is read of it."""

    __slots__ = ("_log", "_record", "_root", "_steps")

    def __init__(
        self, record: object, root: str, steps: tuple[str, ...], log: dict[Path, Any]
    ) -> None:
        self._record, self._root, self._steps, self._log = record, root, steps, log

    def __getattr__(self, name: str) -> Any:
        value = getattr(self._record, name)
        steps = (*self._steps, name)
        if callable(value):
            return self._method(value, steps)
        if isinstance(value, PLAIN):
            self._log[self._root, steps, None] = value
            return value
        return _Noted(value, self._root, steps, self._log)

    def _method(self, method: Callable[..., Any], steps: tuple[str, ...]) -> Callable[..., Any]:
        def noted(*args: Any) -> Any:
            value = method(*args)
            if not isinstance(value, PLAIN):
                raise TypeError(f"a rule reads {'.'.join(steps)} of a core as a whole")
            self._log[self._root, steps, args] = value
            return value

        return noted


def _read(roots: dict[str, object], path: Path) -> Any:
    root, steps, args = path
    value: Any = roots[root]
    for step in steps:
        if value is None:
            return ABSENT
        value = getattr(value, step)
    return value if args is None else value(*args)


class NotOfPackError(Exception):
    """A rule asks for motor, controller or what hangs on them where the pack alone is known."""


def _values(roots: dict[str, object], paths: tuple[Path, ...]) -> tuple[Any, ...]:
    try:
        return tuple([_read(roots, path) for path in paths])
    except (KeyError, NotOfPackError):
        return (ABSENT,)  # this core does not even have one of the figures


# For each set of figures that some answer read, the answers by value.
Known = dict[tuple[Path, ...], dict[tuple[Any, ...], Any]]


def _recalled(known: Known, roots: dict[str, object], make: Callable[[dict[str, Any]], Any]) -> Any:
    """What ``make`` gives for these roots; made only where the figures that it reads are new."""
    for paths, answers in known.items():
        values = _values(roots, paths)
        if values in answers:
            return answers[values]
    log: dict[Path, Any] = {}
    made = make({name: _Noted(root, name, (), log) for name, root in roots.items()})
    known.setdefault(tuple(log), {})[tuple(log.values())] = made
    return made


class Suiting:
    """The rows of a family that suit, by id, and where none does the check that most fail."""

    def __init__(
        self, parts: tuple[Part, ...], most_failed: str, nearest: Check | None = None
    ) -> None:
        self.parts = parts
        self.most_failed = most_failed
        self.nearest = nearest  # of the checks of that name, the one that came closest


class Judge:
    """Judges rows of one project's catalogue; keeps what it found."""

    def __init__(self, context: Context) -> None:
        self._context = context
        self._known: dict[int, Known] = {}
        self._tables: dict[tuple[Any, ...], dict[tuple[Path, ...], dict[Any, list[int]]]] = {}
        self._same_tables: dict[Tables, Tables] = {}
        self._made: dict[tuple[Any, ...], Known] = {}
        self._whole: dict[tuple[Any, ...], BoolArray] = {}
        self._beside: dict[tuple[Any, ...], Known] = {}

    def suiting(self, rule: Rule, drive: Drive, currents: DesignCurrents) -> Suiting:
        """The family's rows that suit this core at these currents."""
        return cast(
            Suiting,
            _recalled(
                self._known.setdefault(id(rule), {}),
                {"drive": drive, "currents": currents},
                lambda noted: self._judge(
                    rule, noted["drive"], noted["currents"], candidates(self._context, rule)
                ),
            ),
        )

    def tables(self, rule: Rule, drive: Drive, part: Part, capacity: tuple[int, ...]) -> Tables:
        """Pieces of a row per bay and series places in it; none for a family of no bay."""
        if type(rule).in_bay is Rule.in_bay:
            return ()
        found = tuple(
            [
                tuple(self._table(rule, drive, part, bay, most)[: most + 1])
                for bay, most in enumerate(capacity)
            ]
        )
        # Equal tables are one object, so that what is made of them can be remembered.
        return self._same_tables.setdefault(found, found)

    def remembered(self, key: tuple[Any, ...], drive: Drive, make: Callable[[Drive], Made]) -> Made:
        """What ``make`` gives for this core, made once for all cores with the figures it reads."""
        known = self._made.setdefault(key, {})
        return cast(Made, _recalled(known, {"drive": drive}, lambda noted: make(noted["drive"])))

    def beside(
        self,
        joint: Joint,
        drive: Drive,
        currents: DesignCurrents,
        firsts: Sequence[Row],
        seconds: Sequence[Row],
    ) -> BoolArray:
        """(firsts, seconds): which rows may stand beside each other in this core."""
        key: tuple[Any, ...] = (
            id(joint),
            tuple([row.part.id for row in firsts]),
            tuple([row.part.id for row in seconds]),
        )
        if joint.first_tells:
            # It reads figures that hardly two cores share: remembered by the core as a whole.
            key = (*key, drive.core, currents)
            if key not in self._whole:
                self._whole[key] = self._stand(joint, drive, currents, firsts, seconds)
            return self._whole[key]
        return cast(
            BoolArray,
            _recalled(
                self._beside.setdefault(key, {}),
                {"drive": drive, "currents": currents},
                lambda noted: self._stand(
                    joint, noted["drive"], noted["currents"], firsts, seconds
                ),
            ),
        )

    def none_beside(
        self,
        drive: Drive,
        currents: DesignCurrents,
        rows: Mapping[str, Sequence[Row]],
        without: frozenset[tuple[str, str]],
    ) -> tuple[str, Check] | None:
        """The first joint that no two rows pass, and of its failed checks the nearest."""
        for joint in JOINTS:
            pair = (joint.first, joint.second)
            if pair in without or not (joint.first in rows and joint.second in rows):
                continue
            firsts, seconds = rows[joint.first], rows[joint.second]
            if self.beside(joint, drive, currents, firsts, seconds).any():
                continue
            failed = [
                next(check for check in checks if not check.passed)
                for first in firsts
                for second in seconds
                for checks in [joint.judge(self._context, drive, currents, first.part, second.part)]
            ]
            if failed:
                nearest = max(failed, key=lambda check: (check.margin, check.id))
                return f"part.{joint.first} beside {joint.second} ({nearest.id})", nearest
        return None

    def _stand(
        self,
        joint: Joint,
        drive: Drive,
        currents: DesignCurrents,
        firsts: Sequence[Row],
        seconds: Sequence[Row],
    ) -> BoolArray:
        return np.array(
            [
                [
                    joint.allows(self._context, drive, currents, first.part, second.part)
                    for second in seconds
                ]
                for first in firsts
            ],
            dtype=np.bool_,
        ).reshape(len(firsts), len(seconds))

    def _table(self, rule: Rule, drive: Drive, part: Part, bay: int, most: int) -> list[int]:
        """A table at least so long, by the figures of the core that its entries read."""
        known = self._tables.setdefault((id(rule), bay, part.id if rule.table_by_part else ""), {})
        roots: dict[str, object] = {"drive": drive}
        log: dict[Path, Any] = {}
        noted = cast(Drive, _Noted(drive, "drive", (), log))
        for paths, answers in known.items():
            table = answers.get(_values(roots, paths))
            if table is not None:
                break
        else:
            table = [0, rule.in_bay(self._context, noted, part, bay, 1)]
            paths = tuple(log)
            known.setdefault(paths, {})[tuple(log.values())] = table
        while len(table) <= most:
            # What is read is watched at both ends of the table: everywhere it would cost much.
            watched = noted if len(table) in (2, most) else drive
            table.append(rule.in_bay(self._context, watched, part, bay, len(table)))
        if not log.keys() <= set(paths):
            raise InternalError(f"{rule.family} reads other figures for other numbers in a bay")
        return table

    def _judge(
        self, rule: Rule, drive: Drive, currents: DesignCurrents, parts: list[Part]
    ) -> Suiting:
        found, reasons = [], Counter[str]()
        nearest: dict[str, Check] = {}
        for part in parts:
            failed = next(
                (
                    check
                    for check in row_checks(self._context, drive, currents, rule, part)
                    if not check.passed
                ),
                None,
            )
            if failed is not None:
                reasons[failed.id] += 1
                known = nearest.get(failed.id)
                if known is None or failed.margin > known.margin:
                    nearest[failed.id] = failed
            elif not self._context.prices.sources(part):
                reasons["supplier"] += 1
            else:
                found.append(part)
        most = max(sorted(reasons), key=lambda name: reasons[name], default="none listed")
        return Suiting(tuple(found), most, nearest.get(most))


def candidates(context: Context, rule: Rule) -> list[Part]:
    """The rows of a family that the builder's choices leave, by id."""
    choices = context.project.choices
    rows = context.catalog.family(rule.family)
    locked = choices.parts.get(rule.family)
    if locked is not None:
        return [rows[locked]] if locked in rows else []
    return [rows[part_id] for part_id in sorted(rows) if part_id not in choices.excluded]
