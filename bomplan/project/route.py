"""A route of one's own: a CSV with distance, speed limit, height and stops."""

from __future__ import annotations

import csv
import difflib
import math
from pathlib import Path
from typing import Final

from bomplan.errors import Fault, InputError
from bomplan.project.records import LONGEST_LAP_S, RoutePoint, lap_s
from bomplan.project.text import read_text

COLUMNS: Final = ("distance_m", "speed_limit_kmh", "elevation_m", "stop_s")
_STEEPEST: Final = 0.4
# A lap is driven second by second: at no speed it would never end.
_SLOWEST_KMH: Final = 1.0
_FASTEST_KMH: Final = 200.0
_LONGEST_STOP_S: Final = 86_400
_MOST: Final = {"distance_m": 10_000_000.0, "elevation_m": 10_000.0}


def read_route(path: Path) -> tuple[RoutePoint, ...]:
    """The route in ``path``; commas, semicolons or tabs part the columns.

    With semicolons or tabs a decimal comma is read, for there it can mean nothing else.
    Raises InputError with every fault found.
    """
    text = read_text(path, kind="route")
    lines = text.splitlines()
    rows = [(i + 1, line) for i, line in enumerate(lines) if line.strip() and line[0] != "#"]
    if not rows:
        raise InputError([Fault("route.empty", "is empty", file=path.name, hint=_header_hint())])
    delimiter = max(",;\t", key=rows[0][1].count)
    try:
        table = [(number, next(csv.reader([line], delimiter=delimiter))) for number, line in rows]
    except csv.Error:
        # A cell of more than 128 KiB.
        raise InputError(
            [Fault("route.row", "has a cell that is far too long", path.name)]
        ) from None
    return _Reader(path.name, delimiter).route(table)


class _Reader:
    def __init__(self, file: str, delimiter: str) -> None:
        self.file = file
        self.comma_is_decimal = delimiter != ","
        self.faults: list[Fault] = []

    def route(self, table: list[tuple[int, list[str]]]) -> tuple[RoutePoint, ...]:
        header_line, header = table[0]
        columns = [name.strip().lower() for name in header]
        self._check_header(header_line, columns)
        if self.faults:
            raise InputError(self.faults)
        points = [self._point(line, dict(zip(columns, cells, strict=False)), len(cells))
                  for line, cells in table[1:]]  # fmt: skip
        whole = [point for point in points if point is not None]
        if not self.faults:
            self._check_points(table, whole)
        if self.faults:
            raise InputError(self.faults)
        return tuple(whole)

    def _check_header(self, line: int, columns: list[str]) -> None:
        for name in COLUMNS[:3]:
            if name not in columns:
                near = difflib.get_close_matches(name, columns, n=1, cutoff=0.6)
                hint = f'rename the column "{near[0]}"' if near else _header_hint()
                self._fail("missing-column", f"lacks the column {name}", line, hint=hint)
        for name in columns:
            if name not in COLUMNS:
                self._fail("unknown-column", "has a column that is not known", line, name,
                           ", ".join(COLUMNS))  # fmt: skip

    def _point(self, line: int, cells: dict[str, str], width: int) -> RoutePoint | None:
        if width != len(cells):
            self._fail("row", f"has {width} cells where the header has {len(cells)}", line)
            return None
        found = {name: self._number(line, name, cells.get(name, "")) for name in COLUMNS}
        distance, limit, height, stop = (found[name] for name in COLUMNS)
        if distance is None or limit is None or height is None or stop is None:
            return None
        if not _SLOWEST_KMH <= limit <= _FASTEST_KMH:
            self._fail("speed-limit", "has a speed limit that cannot be driven", line,
                       f"{limit:g}", f"{_SLOWEST_KMH:g} to {_FASTEST_KMH:g} km/h")  # fmt: skip
        if not 0 <= stop <= _LONGEST_STOP_S:
            self._fail("stop", "has a stop that is negative or longer than a day", line,
                       f"{stop:g}", f"0 to {_LONGEST_STOP_S} s")  # fmt: skip
        if self.faults:
            return None
        return RoutePoint(
            distance_m=distance, speed_limit_m_s=limit / 3.6, elevation_m=height, stop_s=stop
        )

    def _number(self, line: int, name: str, cell: str) -> float | None:
        text = cell.strip()
        if name == "stop_s" and not text:
            return 0.0
        try:
            value = float(text.replace(",", ".") if self.comma_is_decimal else text)
        except ValueError:
            value = math.nan
        most = _MOST.get(name, math.inf)
        if math.isfinite(value) and "_" not in text:
            if abs(value) <= most:
                return value
            self._fail("not-a-number", f"has a number in {name} that no road has", line, text,
                       f"-{most:.0f} to {most:.0f}")  # fmt: skip
            return None
        self._fail("not-a-number", f"has no number in {name}", line, text)
        return None

    def _check_points(self, table: list[tuple[int, list[str]]], points: list[RoutePoint]) -> None:
        if len(points) < 2:
            self._fail("too-short", "has fewer than two points", table[0][0])
            return
        if points[0].distance_m != 0:
            self._fail("start", "does not start at distance 0", table[1][0])
        for (line, _), before, here in zip(table[2:], points, points[1:], strict=False):
            run = here.distance_m - before.distance_m
            if run <= 0:
                self._fail("order", "does not lie beyond the point before it", line,
                           f"{here.distance_m:g} m after {before.distance_m:g} m")  # fmt: skip
            elif abs(here.elevation_m - before.elevation_m) > _STEEPEST * run:
                rise = 100 * (here.elevation_m - before.elevation_m) / run
                self._fail("steep", "is reached by a slope that is no road", line,
                           f"{rise:.0f} %", f"up to {100 * _STEEPEST:.0f} %")  # fmt: skip
        if not self.faults and lap_s(points) > LONGEST_LAP_S:
            self._fail(
                "too-long", "takes too long for a drive, standing at its stops included",
                table[-1][0], f"{lap_s(points) / 3600:.1f} h at its speed limits",
                f"up to {LONGEST_LAP_S // 3600} h",
                "a lap is driven second by second: split it, or shorten the stops",
            )  # fmt: skip

    def _fail(
        self,
        code: str,
        message: str,
        line: int,
        value: str | None = None,
        allowed: str | None = None,
        hint: str | None = None,
    ) -> None:
        self.faults.append(
            Fault(f"route.{code}", message, self.file, f"line {line}", value, allowed, hint)
        )


def _header_hint() -> str:
    return "the first line is " + ",".join(COLUMNS)
