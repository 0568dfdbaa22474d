"""How it drives: speeds, climbs, starts, currents at steady speeds, voltages."""

from __future__ import annotations

from typing import TYPE_CHECKING

from bomplan.design.driving import Driving, SteadySpeed
from bomplan.design.records import Plan
from bomplan.report.driving_words import driving_lines
from bomplan.report.page.blocks import Block, Facts, Head, Part, Picture, Row, Section, Table, Words
from bomplan.report.page.canvas import Canvas, style
from bomplan.report.page.palette import SERIES
from bomplan.report.page.push import shaft, thrust
from bomplan.report.page.traces import traces
from bomplan.report.text import clean, title
from bomplan.report.units import Show

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def drives(plan: Plan, show: Show) -> Section | None:
    """Everything of the driving record but the ranges."""
    driving = plan.driving
    if driving is None:
        return _without_record(plan, show)
    told: list[tuple[str, str]] = []
    for label, words in driving_lines(driving, show):
        if not label and told:
            told[-1] = (told[-1][0], f"{told[-1][1]}; {words}")
        else:
            told.append((title(label), words))
    blocks: list[Block | Part] = [
        Words(
            f"In the condition {clean(driving.condition, 60)}, loaded as"
            f" {clean(driving.load_case, 40)}, unless said otherwise."
        ),
        Facts(tuple((term, words) for term, words in told if term != "Goes")),
    ]
    if driving.steady:
        blocks.append(_steady(driving, show))
    curves = driving.curves
    if curves is not None:
        blocks += [
            Part("Over a lap", traces(plan, curves, show)),
            Part("Push against the road", (thrust(curves, show), shaft(curves, show))),
        ]
    return Section("drives", "How it drives", "Driving", tuple(blocks))


def _without_record(plan: Plan, show: Show) -> Section | None:
    found = plan.performance
    if found is None:
        return None
    facts = [
        ("Holds", show.speed(found.top_speed_kmh)),
        ("More is stopped by", clean(found.top_speed_cause, 60) or "nothing"),
        ("Starts on", show.number(f"{found.gradeability * 100:.1f} %")),
    ]
    return Section("drives", "How it drives", "Driving", (Facts(tuple(facts)),))


def _steady(driving: Driving, show: Show) -> Picture:
    unit = show.scale("km/h")[1]
    grades = sorted({row.grade for row in driving.steady})
    gears = sorted({row.gear for row in driving.steady})
    with style():
        canvas = Canvas(show, 250, wide=True)
        gap, first = 54.0, 52.0
        room = (canvas.width - first - 12 - gap * (len(grades) - 1)) / len(grades)
        for place, grade in enumerate(grades):
            left = first + place * (room + gap)
            axes = canvas.axes(left, 44, canvas.width - left - room, 42)
            for gear in gears:
                rows = [r for r in driving.steady if (r.grade, r.gear) == (grade, gear)]
                _gear_line(axes, rows, gear, show)
            axes.set_xlim(left=0)
            axes.set_ylim(bottom=0)
            canvas.marked(axes.xaxis)
            canvas.marked(axes.yaxis)
            words = "the flat" if grade == 0 else f"a {show.number(f'{100 * grade:g} %')} hill"
            axes.set_xlabel(f"speed on {words}, {unit}")
            axes.set_ylabel("current from the pack, A")
            if place == 0:
                axes.legend(loc="lower left", bbox_to_anchor=(-0.1, 1.0), ncols=6,
                            borderaxespad=0.2, columnspacing=1.0, handlelength=2.2)  # fmt: skip
        return canvas.picture(
            "chart-steady",
            "Current from the pack at steady speeds in each gear",
            "Current against speed, one line for each gear, on the flat and on a hill. It grows"
            " with speed; hollow marks are speeds that cannot be held for long.",
            "What the ammeter should read. Hollow marks: not for long (half an hour on the flat,"
            " five minutes on the hill), or only with a full pack.",
            _steady_table(driving.steady, show),
        )


def _gear_line(axes: Axes, rows: list[SteadySpeed], gear: int, show: Show) -> None:
    one = SERIES[(gear - 1) % len(SERIES)]
    factor, _ = show.scale("km/h")
    known = [
        (row.speed_kmh * factor, row.battery_a, row.possible)
        for row in rows
        if row.battery_a is not None
    ]
    if not known:
        return
    axes.plot(
        [speed for speed, _, _ in known],
        [current for _, current, _ in known],
        linestyle=one.dash,
        color=one.colour,
        marker=one.marker,
        markersize=5,
        label=f"gear {gear}",
    )
    weak = [(speed, current) for speed, current, possible in known if not possible]
    if weak:
        axes.plot(
            [speed for speed, _ in weak],
            [current for _, current in weak],
            linestyle="",
            marker=one.marker,
            markersize=5,
            markerfacecolor="white",
            markeredgecolor=one.colour,
        )


def _steady_table(rows: tuple[SteadySpeed, ...], show: Show) -> Table:
    heads = (
        Head("Speed"),
        Head("Grade", number=True),
        Head("Gear", number=True),
        Head("Motor", number=True),
        Head("Motor current", number=True),
        Head("From the pack", number=True),
        Head("Pack, full", number=True),
        Head("Nearly empty", number=True),
        Head("Can be held"),
    )

    def known(value: float | None, unit: str) -> str:
        return "none" if value is None else show.number(f"{value:.0f} {unit}")

    return Table(
        "Steady speeds",
        heads,
        tuple(
            Row(
                (
                    show.speed(row.speed_kmh),
                    show.number(f"{100 * row.grade:g} %"),
                    f"{row.gear}",
                    f"{row.motor_rpm} rpm",
                    known(row.motor_a, "A"),
                    known(row.battery_a, "A"),
                    known(row.pack_full_v, "V"),
                    known(row.pack_nearly_empty_v, "V"),
                    "yes" if row.possible else "not for long",
                )
            )
            for row in rows
        ),
        folded=True,
    )
