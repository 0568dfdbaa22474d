"""Which gear to hold a speed in, read from the driving record for summary, card and sheets."""

from __future__ import annotations

from bomplan.design.driving import Driving, SteadySpeed


def best_gears(driving: Driving | None, grade: float) -> tuple[SteadySpeed, ...]:
    """For every speed of the steady table the gear to be in, slowest first.

    Of the gears that hold the speed for the record's time the one that takes least from the
    pack; where none holds it, the one that takes least, with ``possible`` false.
    """
    found: dict[float, SteadySpeed] = {}
    for row in () if driving is None else driving.steady:
        if row.grade != grade or row.battery_a is None:
            continue
        known = found.get(row.speed_kmh)
        if known is None or _worth(row) < _worth(known):
            found[row.speed_kmh] = row
    return tuple(found[speed] for speed in sorted(found))


def _worth(row: SteadySpeed) -> tuple[bool, float, int]:
    return (not row.possible, row.battery_a or 0.0, row.gear)
