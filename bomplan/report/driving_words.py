"""The driving record in a few lines of words, each with its label."""

from __future__ import annotations

from collections.abc import Iterator

from bomplan.design.driving import Driving, HillStart, RangeState, SteadySpeed
from bomplan.design.held_gears import best_gears
from bomplan.report.text import clean
from bomplan.report.units import Show

# Speeds of the steady table that the summary tells, km/h.
TOLD_KMH = (50.0, 80.0)


def driving_lines(driving: Driving, show: Show) -> Iterator[tuple[str, str]]:
    """(label, words): what the whole record comes to for somebody at the wheel."""
    yield from _speeds(driving, show)
    starts = "; ".join(
        f"{'wet' if start.wet else 'dry'} {_start(start, show)}" for start in driving.starts
    )
    yield "starts on", starts
    yield from _sprints(driving, show)
    yield from _ranges(driving, show)
    geared = len({row.gear for row in driving.steady}) > 1
    for index, row in enumerate(_told(driving)):
        yield "" if index else "steady", _steady(row, show, geared)
    yield (
        "voltage",
        "; ".join(
            f"{one.state} {one.rest_v:.0f} V at rest, {one.pull_v:.0f} V under {one.pull_a:.0f} A"
            for one in driving.voltages
        ),
    )
    if driving.descent is not None:
        down = driving.descent
        yield (
            "downhill",
            show.number(
                f"{clean(down.profile, 60)}: {down.height_m:.0f} m in {down.seconds:.0f} s put"
                f" {down.brake_mj:.1f} MJ into the friction brakes when the pack is full"
            ),
        )


def _speeds(driving: Driving, show: Show) -> Iterator[tuple[str, str]]:
    held = [f"{show.speed(one.speed_kmh)} for {_time(one.hold_s)}" for one in driving.speeds]
    last = driving.speeds[-1]
    why = "" if last.cause == "none" else f" (more is stopped by {clean(last.cause, 40)})"
    yield "holds", ", ".join(held) + why
    if driving.climbs:
        words = [
            f"{_grade(one.peak, show)} at {show.speed(one.speed_kmh)}"
            f" ({_grade(one.sustained, show)})"
            for one in driving.climbs
        ]
        yield "climbs", ", ".join(words) + ", for a minute (for half an hour)"


def _sprints(driving: Driving, show: Show) -> Iterator[tuple[str, str]]:
    words = [
        f"0 to {show.speed(one.to_kmh)} in {show.number(f'{one.seconds:.1f} s')}"
        for one in driving.sprints
        if one.seconds is not None
    ]
    if words:
        yield "sprints", ", ".join(words)


def _ranges(driving: Driving, show: Show) -> Iterator[tuple[str, str]]:
    by_target: dict[str, list[RangeState]] = {}
    for one in driving.ranges:
        by_target.setdefault(one.target, []).append(one)
    for index, (target, states) in enumerate(by_target.items()):
        words = [f"{_far(one, show)} {_state(one)}" for one in states]
        missed = max(one.not_followed_s for one in states)
        metres = max(one.not_followed_m for one in states)
        late = f"; {missed:.0f} s, {metres:.0f} m of a lap slower than asked" if missed else ""
        yield "" if index else "goes", f"{clean(target, 60)}: {', '.join(words)}{late}"


def _far(one: RangeState, show: Show) -> str:
    return "without end" if one.end_cause == "endless" else show.distance(one.range_km)


def _state(one: RangeState) -> str:
    if one.state != "coldest":
        return "with a new pack" if one.state == "new" else "with a worn one"
    heater = f", heater {one.heater_w:.0f} W" if one.heater_w else ""
    return f"on the coldest day ({one.temperature_c:.0f} °C{', worn' if one.aged else ''}{heater})"


def _told(driving: Driving) -> Iterator[SteadySpeed]:
    """For each told speed on the flat the possible gear that takes least from the pack."""
    for row in best_gears(driving, 0.0):
        if row.speed_kmh in TOLD_KMH and row.possible and row.battery_a:
            yield row


def _steady(row: SteadySpeed, show: Show, geared: bool) -> str:
    gear = f" in gear {row.gear}" if geared else ""
    return (
        f"{show.speed(row.speed_kmh)}{gear}: {row.motor_rpm} rpm, motor"
        f" {row.motor_a:.0f} A, battery {row.battery_a:.0f} A"
    )


def _start(start: HillStart, show: Show) -> str:
    return f"{_grade(start.grade, show)} (stopped by {clean(start.cause, 40)})"


def _grade(grade: float | None, show: Show) -> str:
    return "nothing" if grade is None else show.number(f"{grade * 100:.1f} %")


def _time(seconds: float) -> str:
    return "a minute" if seconds == 60 else f"{seconds / 60:g} min"
