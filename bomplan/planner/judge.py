"""Which rows of a family suit a core, remembered by the figures that the answer depended on.

A rule judges a row by a few figures of the core: a voltage, a limit, a shaft. While it judges
the first time, every figure that it reads is noted; another core with the same figures gets the
same answer without asking again. What was not read cannot have mattered, for rules are pure.
For the same reason rows that differ in nothing that is read of them are judged once
(:mod:`bomplan.planner.alike`).
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import compress
from operator import attrgetter
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
from bomplan.planner.alike import Columns, Kinds, by_kind

if TYPE_CHECKING:
    from bomplan.planner.options import Row

BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int64]
Tables = tuple[tuple[int, ...], ...]
Made = TypeVar("Made")
# Attribute names from the root down, and the arguments where the last is a method.
Path = tuple[str, tuple[str, ...], tuple[Any, ...] | None]
PLAIN = (int, float, str, bool, type(None))


class _Noted:
    """Stands for a record and notes every plain value that is read of it.

    What was read once stands beside it from then on: records do not change, and it is noted.
    """

    def __init__(
        self, record: object, root: str, steps: tuple[str, ...], log: dict[Path, Any]
    ) -> None:
        self._record, self._root, self._steps, self._log = record, root, steps, log

    def __getattr__(self, name: str) -> Any:
        value = getattr(self._record, name)
        steps = (*self._steps, name)
        if isinstance(value, PLAIN):
            self._log[self._root, steps, None] = value
        elif callable(value):
            value = self._method(value, steps)
        else:
            value = _Noted(value, self._root, steps, self._log)
        self.__dict__[name] = value
        return value

    def _method(self, method: Callable[..., Any], steps: tuple[str, ...]) -> Callable[..., Any]:
        def noted(*args: Any) -> Any:
            value = method(*args)
            if not isinstance(value, PLAIN):
                raise TypeError(f"a rule reads {'.'.join(steps)} of a core as a whole")
            self._log[self._root, steps, args] = value
            return value

        return noted


class NotOfPackError(Exception):
    """A rule asks for motor, controller or what hangs on them where the pack alone is known."""


class _Reader:
    """Reads the same figures of any core at once: what they were when an answer was found."""

    def __init__(self, paths: tuple[Path, ...]) -> None:
        plain: dict[str, list[str]] = {}
        called = []
        for root, steps, args in paths:
            name = ".".join(steps)
            if args is None:
                plain.setdefault(root, []).append(name)
            else:
                called.append((root, attrgetter(name), args))
        self._plain = [(root, attrgetter(*names)) for root, names in plain.items()]
        self._called = called
        self.order, self.paths = paths, frozenset(paths)

    def __call__(self, roots: dict[str, object]) -> tuple[Any, ...] | None:
        """The figures; None if this core does not even have one of them."""
        try:
            return (
                *[get(roots[root]) for root, get in self._plain],
                *[get(roots[root])(*args) for root, get, args in self._called],
            )
        except (AttributeError, KeyError, NotOfPackError):
            return None


_reader = lru_cache(maxsize=None)(_Reader)

# For each set of figures that some answer read, the answers by value.
Known = dict[_Reader, dict[tuple[Any, ...], Any]]


def recalled(known: Known, roots: dict[str, object], make: Callable[[dict[str, Any]], Any]) -> Any:
    """What ``make`` gives for these roots; made only where the figures that it reads are new."""
    made = _answer(known, roots)
    return _made(known, roots, make)[0] if made is None else made


def _answer(known: Known, roots: dict[str, object]) -> Any:
    """What is known for these roots; None if nothing is."""
    for reader, answers in known.items():
        values = reader(roots)
        if values is not None and values in answers:
            return answers[values]
    return None


def _made(
    known: Known, roots: dict[str, object], make: Callable[[dict[str, Any]], Any]
) -> tuple[Any, _Reader]:
    """What ``make`` gives, from now on known, and the figures that it read."""
    log: dict[Path, Any] = {}
    made = make({name: _Noted(root, name, (), log) for name, root in roots.items()})
    reader = _reader(tuple(log))
    known.setdefault(reader, {})[_figures(reader, roots)] = made
    return made, reader


def _figures(reader: _Reader, roots: dict[str, object]) -> tuple[Any, ...]:
    found = reader(roots)
    if found is None:
        raise InternalError("figures that were just read are gone")
    return found


class _Verdict:
    """The check that a row fails first, and the figures of a core that this hangs on."""

    __slots__ = ("failed", "reads")

    def __init__(self, failed: Check | None) -> None:
        self.failed = failed
        self.reads: dict[Path, None] = {}


class Suiting:
    """The rows of a family that suit, by id, and where none does the check that most fail."""

    def __init__(
        self, parts: tuple[Part, ...], reasons: Counter[str], nearests: dict[str, Check]
    ) -> None:
        self.parts = parts
        # The checks that others fail first, by how many; and of each the one that came closest.
        self.reasons, self.nearests = reasons, nearests

    @cached_property
    def most_failed(self) -> str:
        """The check that most rows fail."""
        return max(sorted(self.reasons), key=lambda name: self.reasons[name], default="none listed")

    @cached_property
    def nearest(self) -> Check | None:
        """Of the checks of that name, the one that came closest."""
        return self.nearests.get(self.most_failed)


@dataclass(frozen=True, eq=False)
class Beside:
    """Which rows of two families may stand beside each other, told by their kinds."""

    allowed: BoolArray  # (kinds of the first family, kinds of the second)
    first: IntArray  # the kind of each row of the first family
    second: IntArray

    @cached_property
    def turned(self) -> Beside:
        """The same with the second family first."""
        return Beside(self.allowed.T, self.second, self.first)

    @cached_property
    def any(self) -> bool:
        """Whether any two rows may."""
        return bool(self.allowed.any())

    @cached_property
    def all(self) -> bool:
        """Whether all rows may stand beside all."""
        return bool(self.allowed.all())


class Judge:
    """Judges rows of one project's catalogue; keeps what it found."""

    def __init__(self, context: Context) -> None:
        self._context = context
        self._known: dict[int, Known] = {}
        self._verdicts: dict[tuple[int, str], Known] = {}
        self._tables: dict[tuple[Any, ...], dict[_Reader, dict[Any, list[int]]]] = {}
        self._same_tables: dict[Tables, Tables] = {}
        self._made: dict[tuple[Any, ...], Known] = {}
        self._whole: dict[tuple[Any, ...], Beside] = {}
        self._beside: dict[tuple[Any, ...], Known] = {}
        self._same_beside: dict[tuple[Any, ...], Beside] = {}
        self._may: dict[tuple[int, type], Known] = {}
        # What each judgement reads of its rows, by what judges and whose rows they are.
        self._columns: defaultdict[tuple[int, str], Columns] = defaultdict(Columns)
        # Equal lists of rows are one object, so that what is made of them can be remembered.
        self._lists: dict[tuple[str, ...], tuple[Part, ...]] = {}
        self._candidates: dict[str, tuple[Part, ...]] = {}
        self._sold: dict[str, tuple[Part, ...]] = {}
        # By the identity of rows, which are kept here so that no others take it.
        self._parts: dict[int, tuple[Sequence[Row], tuple[Part, ...]]] = {}

    def candidates(self, rule: Rule) -> tuple[Part, ...]:
        """The rows of a family that the builder's choices leave, by id."""
        known = self._candidates.get(rule.family)
        if known is None:
            known = self._candidates[rule.family] = tuple(candidates(self._context, rule))
        return known

    def sold(self, rule: Rule) -> tuple[Part, ...]:
        """Those of them that can be had."""
        known = self._sold.get(rule.family)
        if known is None:
            sources = self._context.prices.sources
            some = [part for part in self.candidates(rule) if sources(part)]
            known = self._sold[rule.family] = self.listed(some)
        return known

    def listed(self, parts: Sequence[Part]) -> tuple[Part, ...]:
        """The same rows as one list that the judge keeps."""
        found = tuple(parts)
        return self._lists.setdefault(tuple([part.id for part in found]), found)

    def _parts_of(self, rows: Sequence[Row]) -> tuple[Part, ...]:
        known = self._parts.get(id(rows))
        if known is None:
            known = self._parts[id(rows)] = rows, self.listed([row.part for row in rows])
        return known[1]

    def suiting(self, rule: Rule, drive: Drive, currents: DesignCurrents) -> Suiting:
        """The family's rows that suit this core at these currents."""
        roots = {"drive": drive, "currents": currents}
        known = self._known.setdefault(id(rule), {})
        found = _answer(known, roots)
        if found is None:
            # What any of its rows read, the family reads.
            paths: dict[Path, Any] = {}
            found = self._judge(rule, roots, paths)
            reader = _reader(tuple(paths))
            known.setdefault(reader, {})[_figures(reader, roots)] = found
        return cast(Suiting, found)

    def may_suit(self, rule: Rule, drive: Drive, currents: DesignCurrents) -> Suiting:
        """The rows that suit as far as is told by a core that keeps some of its figures back.

        It answers what it keeps back with :class:`NotOfPackError`. Rows that a check throws out
        before anything of that is asked suit no core of which this one is a part.
        """

        def make(noted: dict[str, Any]) -> Suiting:
            def judge(part: Part) -> Check | None:
                try:
                    return self._first_failed(rule, part, {**noted, "currents": currents})
                except NotOfPackError:
                    return None

            parts = self.candidates(rule)
            columns = self._columns[id(rule), "may suit"]
            return self._suiting(parts, *by_kind(columns, parts, judge))

        # A core that keeps more back must not answer for one that keeps less.
        known = self._may.setdefault((id(rule), type(drive)), {})
        return cast(Suiting, recalled(known, {"drive": drive}, make))

    def none_left(
        self, rule: Rule, drive: Drive, currents: DesignCurrents, suiting: Suiting
    ) -> Suiting:
        """Why no row of a family suits where those that might by :meth:`may_suit` do not."""
        roots = {"drive": drive, "currents": currents}
        kinds, told = by_kind(
            self._columns[id(rule), rule.family],
            suiting.parts,
            lambda part: self._first_failed(rule, part, roots),
        )
        return self._suiting(suiting.parts, kinds, told, suiting)

    def tables(
        self,
        rule: Rule,
        drive: Drive,
        part: Part,
        capacity: tuple[int, ...],
        most: bool = False,
    ) -> Tables:
        """Pieces of a row per bay and series places in it; none for a family of no bay.

        Of a rule that is dear to ask these are bounds: the fewest, or the ``most``.
        """
        if type(rule).in_bay is Rule.in_bay:
            return ()
        found = tuple(
            [
                tuple(self._table(rule, drive, part, bay, places, most)[: places + 1])
                for bay, places in enumerate(capacity)
            ]
        )
        # Equal tables are one object, so that what is made of them can be remembered.
        return self._same_tables.setdefault(found, found)

    def tables_of(
        self, rule: Rule, drive: Drive, parts: Sequence[Part], capacity: tuple[int, ...]
    ) -> list[Tables]:
        """The tables of a list of rows that the judge keeps."""
        columns = self._columns[id(rule), "tables"]
        while True:
            kinds = columns.kinds(parts)
            told = [self.tables(rule, drive, parts[first], capacity) for first in kinds.firsts]
            if columns.settled:
                return [told[kind] for kind in kinds.of.tolist()]

    def by_kind(
        self,
        rule: Rule,
        parts: Sequence[Part],
        tell: Callable[[Part], Made],
        what: str = "figures",
    ) -> tuple[Kinds, list[Made]]:
        """What ``tell`` tells of each kind of a list of rows that the judge keeps."""
        return by_kind(self._columns[id(rule), what], parts, tell)

    def remembered(self, key: tuple[Any, ...], drive: Drive, make: Callable[[Drive], Made]) -> Made:
        """What ``make`` gives for this core, made once for all cores with the figures it reads."""
        known = self._made.setdefault(key, {})
        return cast(Made, recalled(known, {"drive": drive}, lambda noted: make(noted["drive"])))

    def beside(
        self,
        joint: Joint,
        drive: Drive,
        currents: DesignCurrents,
        firsts: Sequence[Row],
        seconds: Sequence[Row],
    ) -> Beside:
        """Which rows may stand beside each other in this core."""
        some, others = self._parts_of(firsts), self._parts_of(seconds)
        key: tuple[Any, ...] = (id(joint), id(some), id(others))
        if joint.first_tells:
            # It reads figures that hardly two cores share: remembered by the core as a whole.
            key = (*key, drive.core, currents)
            if key not in self._whole:
                self._whole[key] = self._stand(joint, drive, currents, some, others)
            return self._whole[key]
        return cast(
            Beside,
            recalled(
                self._beside.setdefault(key, {}),
                {"drive": drive, "currents": currents},
                lambda noted: self._stand(joint, noted["drive"], noted["currents"], some, others),
            ),
        )

    def neighbours(
        self, drive: Drive, currents: DesignCurrents, rows: Mapping[str, Sequence[Row]]
    ) -> dict[tuple[str, str], Beside]:
        """Which rows may stand side by side, for every two families that are joined."""
        return {
            (joint.first, joint.second): self.beside(
                joint, drive, currents, rows[joint.first], rows[joint.second]
            )
            for joint in JOINTS
            if joint.first in rows and joint.second in rows
        }

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
            if pair in without or joint.optional or not (rows.keys() >= set(pair)):
                continue
            firsts, seconds = rows[joint.first], rows[joint.second]
            beside = self.beside(joint, drive, currents, firsts, seconds)
            if beside.any:
                continue
            failed = [
                next(check for check in checks if not check.passed)
                for first in _firsts(beside.first)
                for second in _firsts(beside.second)
                for checks in [
                    joint.judge(
                        self._context, drive, currents, firsts[first].part, seconds[second].part
                    )
                ]
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
        firsts: Sequence[Part],
        seconds: Sequence[Part],
    ) -> Beside:
        of_first = self._columns[id(joint), joint.first]
        of_second = self._columns[id(joint), joint.second]
        while True:
            some, others = of_first.kinds(firsts), of_second.kinds(seconds)
            allowed = np.zeros((len(some.firsts), len(others.firsts)), dtype=np.bool_)
            watched = [of_second.watched(seconds[second]) for second in others.firsts]
            for number, first in enumerate(some.firsts):
                one = of_first.watched(firsts[first])
                allowed[number] = [
                    joint.allows(self._context, drive, currents, one, other) for other in watched
                ]
                if not (of_first.settled and of_second.settled):
                    break
            else:
                key = (id(some.of), id(others.of), allowed.tobytes())
                return self._same_beside.setdefault(key, Beside(allowed, some.of, others.of))

    def _table(
        self, rule: Rule, drive: Drive, part: Part, bay: int, places: int, most: bool
    ) -> list[int]:
        """A table at least so long, by the figures of the core that its entries read."""
        in_bay = rule.most_in_bay if most else rule.least_in_bay
        known = self._tables.setdefault(
            (id(rule), bay, part.id if rule.table_by_part else "", most), {}
        )
        if rule.table_by_part:
            part = self._columns[id(rule), "tables"].watched(part)
        roots: dict[str, object] = {"drive": drive}
        log: dict[Path, Any] = {}
        noted = cast(Drive, _Noted(drive, "drive", (), log))
        for reader, answers in known.items():
            table = answers.get(reader(roots))
            if table is not None:
                break
        else:
            table = [0, in_bay(self._context, noted, part, bay, 1)]
            reader = _reader(tuple(log))
            known.setdefault(reader, {})[_figures(reader, roots)] = table
        if len(table) <= places and type(rule).in_bay_from is not Rule.in_bay_from:
            some = range(len(table), places + 1)
            table += rule.in_bay_from(self._context, noted, part, bay, some)
        while len(table) <= places:
            # What is read is watched at both ends of the table: everywhere it would cost much.
            watched = noted if len(table) in (2, places) else drive
            table.append(in_bay(self._context, watched, part, bay, len(table)))
        if not log.keys() <= reader.paths:
            raise InternalError(f"{rule.family} reads other figures for other numbers in a bay")
        return table

    def _first_failed(self, rule: Rule, part: Part, roots: Mapping[str, Any]) -> Check | None:
        """The check that a row fails first, if any."""
        checks = row_checks(self._context, roots["drive"], roots["currents"], rule, part)
        return next((check for check in checks if not check.passed), None)

    def _verdict(
        self, rule: Rule, part: Part, roots: dict[str, object], paths: dict[Path, Any]
    ) -> Check | None:
        """The same, remembered for the row by itself; ``paths`` gain the figures it hangs on."""
        known = self._verdicts.setdefault((id(rule), str(part.id)), {})
        found = _answer(known, roots)
        if found is None:
            found, reader = _made(
                known, roots, lambda noted: _Verdict(self._first_failed(rule, part, noted))
            )
            found.reads = dict.fromkeys(reader.order)
        paths.update(found.reads)
        return cast(_Verdict, found).failed

    def _judge(self, rule: Rule, roots: dict[str, object], paths: dict[Path, Any]) -> Suiting:
        parts = self.candidates(rule)
        if rule.side == "pack":
            # A row that falls to a voltage never comes to what is another figure in every pack.
            def judge(part: Part) -> Check | None:
                return self._verdict(rule, part, roots, paths)
        else:
            noted = {name: _Noted(root, name, (), paths) for name, root in roots.items()}

            def judge(part: Part) -> Check | None:
                return self._first_failed(rule, part, noted)

        return self._suiting(parts, *by_kind(self._columns[id(rule), rule.family], parts, judge))

    def _suiting(
        self,
        parts: tuple[Part, ...],
        kinds: Kinds,
        told: Sequence[Check | None],
        before: Suiting | None = None,
    ) -> Suiting:
        """Of a family's rows those of kinds that fail no check; others fell ``before``."""
        reasons = Counter[str]() if before is None else before.reasons.copy()
        nearest = {} if before is None else before.nearests.copy()
        for failed, count in zip(told, kinds.counts, strict=True):
            if failed is not None:
                reasons[failed.id] += count
                known = nearest.get(failed.id)
                if known is None or failed.margin > known.margin:
                    nearest[failed.id] = failed
        suits = np.array([failed is None for failed in told], dtype=np.bool_)[kinds.of]
        found = list(compress(parts, suits.tolist()))
        sold = [part for part in found if self._context.prices.sources(part)]
        if len(sold) < len(found):
            reasons["supplier"] += len(found) - len(sold)
        return Suiting(self.listed(sold), reasons, nearest)


def _firsts(of: IntArray) -> list[int]:
    """The first row of each kind, in the order of the rows."""
    return sorted(np.unique(of, return_index=True)[1].tolist())


def candidates(context: Context, rule: Rule) -> list[Part]:
    """The rows of a family that the builder's choices leave, by id."""
    choices = context.project.choices
    rows = context.catalog.family(rule.family)
    locked = choices.parts.get(rule.family)
    if locked is not None:
        return [rows[locked]] if locked in rows else []
    return [rows[part_id] for part_id in sorted(rows) if part_id not in choices.excluded]
