"""How far it goes: each target new, worn and on the coldest day."""

from __future__ import annotations

from typing import Final

from bomplan.design.driving import RangeState
from bomplan.design.records import Plan, RangeResult
from bomplan.report.page.blocks import Block, Head, Part, Picture, Row, Section, Table, Words
from bomplan.report.page.canvas import Canvas, lines_of, style
from bomplan.report.page.energy import energy
from bomplan.report.page.palette import GROUND, INK, SERIES
from bomplan.report.page.states import STATES, state_words
from bomplan.report.reading import ranges_worst_first
from bomplan.report.text import clean
from bomplan.report.units import Show


def far(plan: Plan, show: Show) -> Section | None:
    """The ranges that the plan is judged by, worst first, and those of a new and a worn pack."""
    results = ranges_worst_first(plan)
    if not results:
        return None
    blocks: list[Block | Part] = [
        Words(
            "Each range target in the condition that it names, reserve kept back. What is asked"
            " is met with the project's margin on top, or there would be no plan."
        ),
        Table("Ranges, worst first", _HEADS, tuple(_result(one, show) for one in results)),
    ]
    if plan.driving is not None and plan.driving.ranges:
        blocks.append(_chart(plan, plan.driving.ranges, show))
        curves = plan.driving.curves
        eaten = None if curves is None else energy(curves, plan.driving.ranges, show)
        if eaten is not None:
            blocks.append(Part("What eats the energy", (eaten,)))
    return Section("far", "How far it goes", "Range", tuple(blocks))


_HEADS: Final = (
    Head("Target"),
    Head("Driven as"),
    Head("Condition"),
    Head("Load"),
    Head("Range", number=True),
    Head("Asked", number=True),
    Head("To spare", number=True),
    Head("From the pack", number=True),
    Head("From the wall", number=True),
    Head("Least voltage", number=True),
    Head("Most current", number=True),
    Head("Ends with"),
)


def _result(one: RangeResult, show: Show) -> Row:
    endless = one.end_cause == "endless"
    return Row(
        (
            clean(one.target, 60),
            clean(one.profile, 60),
            clean(one.condition, 60),
            clean(one.load_case, 40),
            "without end" if endless else show.distance(one.range_km),
            show.nearest_distance(one.wanted_km),
            "" if endless else f"{100 * (one.range_km / one.wanted_km - 1):+.0f} %",
            show.consumption(one.energy_wh_per_km),
            show.consumption(one.wall_wh_per_km),
            f"{one.min_voltage_v:.0f} V",
            f"{one.peak_battery_a:.0f} A",
            clean(one.end_cause, 60),
        )
    )


def _chart(plan: Plan, states: tuple[RangeState, ...], show: Show) -> Picture:
    factor, unit = show.scale("km")
    targets = list(dict.fromkeys(one.target for one in states))
    asked = {one.target: one.wanted_km for one in ranges_worst_first(plan)}
    endless = [one for one in states if one.end_cause == "endless"]
    reached = [one.range_km for one in states if one.end_cause != "endless"]
    most = max([*reached, *asked.values(), 1.0])
    with style():
        canvas = Canvas(show, 92 + 62 * len(targets))
        axes = canvas.axes(left=116, top=44, right=40, bottom=40)
        for number, (state, words) in enumerate(STATES.items()):
            one_style, rows = SERIES[number], [one for one in states if one.state == state]
            for first, row in enumerate(rows):
                place = targets.index(row.target) + 0.26 * (number - 1)
                value = most if row in endless else row.range_km
                (bar,) = axes.barh(
                    place,
                    value * factor,
                    height=0.24,
                    color=one_style.colour,
                    hatch=one_style.hatch,
                    edgecolor="white" if one_style.hatch else INK,
                    label=words if first == 0 else None,
                )
                far_words = "without end" if row in endless else show.distance(row.range_km)
                canvas.tip(bar, f"{clean(row.target, 60)}, {state_words(row)}: {far_words}")
                axes.annotate(
                    far_words.rsplit(" ", 1)[0] if row not in endless else "no end",
                    (value * factor, place),
                    xytext=(4, 0),
                    textcoords="offset points",
                    va="center",
                    fontsize=9,
                    zorder=4,
                    # Legible where the line of what is asked runs through it.
                    bbox={"facecolor": GROUND, "edgecolor": "none", "pad": 0.6},
                )
        wanted = [(place, asked[name]) for place, name in enumerate(targets) if name in asked]
        axes.vlines(
            [km * factor for _, km in wanted],
            [place - 0.44 for place, _ in wanted],
            [place + 0.44 for place, _ in wanted],
            colors=INK,
            linewidth=2.2,
            label="asked",
        )
        axes.set_yticks(range(len(targets)), lines_of([clean(name, 60) for name in targets], 17))
        axes.set_xlim(0, 1.08 * most * factor)
        axes.invert_yaxis()
        axes.grid(visible=False, axis="y")
        canvas.marked(axes.xaxis)
        axes.set_xlabel(f"range, {unit}")
        axes.legend(loc="lower left", bbox_to_anchor=(-0.47, 1.0), ncols=4, borderaxespad=0.2,
                    columnspacing=1.0, handlelength=1.4)  # fmt: skip
        return canvas.picture(
            "chart-far",
            "Range of each target, pack new, pack worn, and on the coldest day",
            "; ".join(
                f"{clean(one.target, 60)}, {state_words(one)}:"
                f" {'without end' if one in endless else show.distance(one.range_km)}"
                for one in states
            ),
            "Each target with a new and a worn pack in its own weather, and on the coldest day"
            " that the project declares.",
            _table(states, show),
        )


def _table(states: tuple[RangeState, ...], show: Show) -> Table:
    heads = (
        Head("Target"),
        Head("State"),
        Head("Range", number=True),
        Head("At the wheels", number=True),
        Head("From the pack", number=True),
        Head("From the wall", number=True),
        Head("Slower than asked", number=True),
        Head("Ends with"),
    )
    return Table(
        "Ranges by state of the pack and weather",
        heads,
        tuple(
            Row(
                (
                    clean(one.target, 60),
                    state_words(one),
                    "without end" if one.end_cause == "endless" else show.distance(one.range_km),
                    show.consumption(one.wheel_wh_per_km),
                    show.consumption(one.battery_wh_per_km),
                    show.consumption(one.wall_wh_per_km),
                    f"{one.not_followed_s:.0f} s" if one.not_followed_s else "never",
                    clean(one.end_cause, 60),
                )
            )
            for one in states
        ),
        folded=True,
    )
