"""Speed, current and voltage over one lap of each range target."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from bomplan.design.curve_records import Curves, LapTrace
from bomplan.design.records import Plan
from bomplan.report.page.blocks import Block, Head, Picture, Row, Table, Words
from bomplan.report.page.canvas import Canvas, style
from bomplan.report.page.palette import SERIES
from bomplan.report.reading import ranges_worst_first
from bomplan.report.text import clean
from bomplan.report.units import Show

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LEFT, RIGHT, TOP, FOOT, GAP = 56.0, 12.0, 8.0, 40.0, 30.0
PANEL: Final = 96.0
MOST: Final = 4


def traces(plan: Plan, curves: Curves, show: Show) -> tuple[Block, ...]:
    """One picture for each target; of many, for those with the least to spare."""
    spare = {
        one.target: one.range_km / one.wanted_km if one.wanted_km else 0.0
        for one in ranges_worst_first(plan)
    }
    kept = sorted(curves.traces, key=lambda lap: spare.get(lap.target, 0.0))[:MOST]
    drawn = [lap for lap in curves.traces if lap in kept]
    pictures = tuple(_lap(lap, number, show) for number, lap in enumerate(drawn, start=1))
    if len(drawn) == len(curves.traces):
        return pictures
    words = f"The {MOST} of {len(curves.traces)} targets with the least to spare."
    return (Words(words), *pictures)


def minutes(lap: LapTrace) -> list[float]:
    """The middle of what each point stands for."""
    last = len(lap.speed_kmh) - 1
    ends = [min((place + 1) * lap.point_s, lap.lap_s) for place in range(last + 1)]
    return [(place * lap.point_s + end) / 120 for place, end in enumerate(ends)]


def _lap(lap: LapTrace, number: int, show: Show) -> Picture:
    factor, unit = show.scale("km/h")
    at = minutes(lap)
    blue, red, green = SERIES[0], SERIES[1], SERIES[2]
    with style():
        canvas = Canvas(show, TOP + 3 * PANEL + 2 * GAP + FOOT, wide=True)
        speed, current, voltage = (_panel(canvas, place) for place in range(3))
        speed.plot(at, [one * factor for one in lap.speed_kmh], color=blue.colour, linewidth=1.3)
        speed.set_ylabel(f"speed, {unit}")
        current.plot(at, lap.motor_a, color=red.colour, linewidth=0.9, linestyle="--",
                     label="motor")  # fmt: skip
        current.plot(at, lap.battery_a, color=blue.colour, linewidth=1.3, label="from the pack")
        if lap.returned_a:
            current.plot(at, [-one for one in lap.returned_a], color=green.colour, linewidth=1.0,
                         linestyle="-.", label="back into the pack")  # fmt: skip
        current.set_ylabel("current, A")
        _legend(current)
        voltage.plot(at, lap.pack_v, color=blue.colour, linewidth=1.3, label="first lap")
        if lap.last_pack_v:
            voltage.plot(at, lap.last_pack_v, color=red.colour, linewidth=1.0, linestyle="--",
                         label="last whole lap")  # fmt: skip
            _legend(voltage)
        voltage.set_ylabel("voltage, V")
        voltage.set_xlabel("time, min")
        for axes in (speed, current, voltage):
            axes.set_xlim(0, max(at[-1], 0.1))
            canvas.marked(axes.xaxis)
            canvas.marked(axes.yaxis)
        name = f"{clean(lap.target, 60)} ({clean(lap.profile, 60)})"
        given = "" if lap.laps is None else f"; the pack gives {lap.laps:.1f} of them"
        most, least = max(lap.battery_a), min((*lap.pack_v, *lap.last_pack_v))
        return canvas.picture(
            f"chart-lap-{number}",
            f"Speed, current and voltage over a lap: {name}",
            f"Speed up to {show.speed(max(lap.speed_kmh))}, current from the pack up to"
            f" {most:.0f} A, voltage down to {least:.0f} V over {lap.lap_s / 60:.0f} minutes.",
            show.words(
                f"{name}: one lap of {show.distance(lap.lap_m / 1000)}{given}."
                f" Each point stands for {lap.point_s} s: mean speed,"
                " greatest current, least voltage. The speed is the one asked for."
            ),
            _table(lap, at, show),
            canvas.reach(voltage),
        )


def _panel(canvas: Canvas, place: int) -> Axes:
    top = TOP + place * (PANEL + GAP)
    return canvas.axes(LEFT, top, RIGHT, canvas.height - top - PANEL)


def _legend(axes: Axes) -> None:
    axes.legend(loc="lower right", bbox_to_anchor=(1.0, 0.97), ncols=3, borderaxespad=0.1,
                handlelength=2.2, columnspacing=1.2)  # fmt: skip


def _table(lap: LapTrace, at: list[float], show: Show) -> Table:
    heads = [
        Head("After"),
        Head("Speed", number=True),
        Head("Motor", number=True),
        Head("From the pack", number=True),
        *((Head("Back", number=True),) if lap.returned_a else ()),
        Head("Voltage", number=True),
        *((Head("Last lap", number=True),) if lap.last_pack_v else ()),
    ]
    columns: list[list[str]] = [
        [show.number(f"{one:.1f} min") for one in at],
        [show.speed(one) for one in lap.speed_kmh],
        [f"{one:.0f} A" for one in lap.motor_a],
        [f"{one:.0f} A" for one in lap.battery_a],
    ]
    if lap.returned_a:
        columns.append([f"{one:.0f} A" for one in lap.returned_a])
    columns.append([show.number(f"{one:.1f} V") for one in lap.pack_v])
    if lap.last_pack_v:
        columns.append([show.number(f"{one:.1f} V") for one in lap.last_pack_v])
    rows = zip(*columns, strict=True)
    return Table(
        f"Over a lap: {clean(lap.target, 60)}",
        tuple(heads),
        tuple(Row(tuple(row), at=round(when, 3)) for when, row in zip(at, rows, strict=True)),
        folded=True,
    )
