"""What it weighs before and after, what the axles carry, and the pictures of both."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, Literal

from bomplan.design.records import AxleLoad, Mass, Plan
from bomplan.design.weight_records import LoadState, Weights
from bomplan.report.page.blocks import Block, Head, Listing, Part, Picture, Row, Section, Table
from bomplan.report.page.canvas import Canvas, lines_of, style
from bomplan.report.page.inline import inline_svg
from bomplan.report.page.palette import BAD, INK, SERIES
from bomplan.report.text import clean
from bomplan.report.units import Show
from bomplan.report.weight_words import empty_mass_sentence, weight_sentences

CAR: Final = "drawings/car.svg"


def masses(plan: Plan, show: Show, drawings: Mapping[str, str]) -> Section | None:
    """Axle loads against their limits, the car before and after, where every mass sits."""
    mass = plan.mass
    if mass is None:
        return None
    blocks: list[Block | Part] = [_axle_chart(mass, show)]
    weights = mass.weights
    if weights is None:
        blocks.append(_load_cases(mass, show))
    else:
        blocks.append(_states(weights, show))
        sentences = [text for text, _ in weight_sentences(weights, show)]
        empty = empty_mass_sentence(plan, show)
        told = [*([empty] if empty else []), *sentences]
        blocks.append(Listing(tuple(f"{text[:1].upper()}{text[1:]}." for text in told)))
        if CAR in drawings:
            picture = Picture(
                inline_svg(drawings[CAR], "draw-car", say=show.drawn),
                "The car from above and from the side",
                "To scale, front to the left: bays, modules, parts, centres of gravity, axle"
                " loads. The file drawings/car.svg beside this page prints at full size.",
                wide=True,
            )
            blocks.append(Part("Where the mass sits", (picture,)))
        blocks += [_motion(weights, show), _items(weights, show)]
    return Section("mass", "What it weighs", "Mass", tuple(blocks))


def _axle_chart(mass: Mass, show: Show) -> Picture:
    factor, unit = show.scale("kg")
    axles = mass.axles
    named = lines_of([f"{axle.name}, {clean(axle.load_case, 40)}" for axle in axles], 20)
    with style():
        canvas = Canvas(show, 84 + 28 * len(axles))
        axes = canvas.axes(left=112, top=40, right=20, bottom=40)
        for place, axle in enumerate(axles):
            over = axle.load_kg > axle.allowed_kg
            one = SERIES[0]
            (bar,) = axes.barh(
                place,
                axle.load_kg * factor,
                height=0.55,
                color=BAD if over else one.colour,
                edgecolor=INK,
                hatch="xx" if over else "",
                label="load" if place == 0 else None,
            )
            canvas.tip(bar, _axle_words(axle, show))
        span = [(place - 0.4, place + 0.4) for place in range(len(axles))]
        marks: tuple[tuple[str, Literal["-", "--"], str, str], ...] = (
            ("as far as the margin lets it", "--", SERIES[1].colour, "allowed_kg"),
            ("limit of the axle", "-", INK, "limit_kg"),
        )
        for words, dash, colour, value in marks:
            axes.vlines(
                [getattr(axle, value) * factor for axle in axles],
                [low for low, _ in span],
                [high for _, high in span],
                colors=colour,
                linestyles=dash,
                linewidth=2,
                label=words,
            )
        axes.set_yticks(range(len(axles)), named)
        axes.set_xlim(0, 1.08 * factor * max(max(a.limit_kg, a.load_kg) for a in axles))
        axes.invert_yaxis()
        axes.grid(visible=False, axis="y")
        canvas.marked(axes.xaxis)
        axes.set_xlabel(f"axle load, {unit}")
        axes.legend(loc="lower left", bbox_to_anchor=(-0.38, 1.0), ncols=3, borderaxespad=0.2,
                    columnspacing=1.0, handlelength=1.4)  # fmt: skip
        table = Table(
            "Axle loads",
            (
                Head("Axle"),
                Head("Load case"),
                Head("Load", number=True),
                Head("With margin", number=True),
                Head("Limit", number=True),
                Head("Left to the limit", number=True),
            ),
            tuple(
                Row(
                    (
                        axle.name,
                        clean(axle.load_case, 40),
                        show.mass(axle.load_kg),
                        show.mass(axle.allowed_kg),
                        show.mass(axle.limit_kg),
                        show.room(axle.limit_kg - axle.load_kg),
                    ),
                    "bad" if axle.load_kg > axle.allowed_kg else "plain",
                )
                for axle in axles
            ),
            folded=True,
        )
        return canvas.picture(
            "chart-axles",
            "Axle loads against their limits",
            "; ".join(_axle_words(axle, show) for axle in axles),
            "What each axle carries in each load case.",
            table,
        )


def _axle_words(axle: AxleLoad, show: Show) -> str:
    return (
        f"{axle.name} axle, {clean(axle.load_case, 40)}: {show.mass(axle.load_kg)},"
        f" at most {show.mass(axle.allowed_kg)} with the margin, limit {show.mass(axle.limit_kg)}"
    )


def _load_cases(mass: Mass, show: Show) -> Table:
    return Table(
        "Load cases",
        (
            Head("Load case"),
            Head("Mass", number=True),
            Head("Front", number=True),
            Head("Rear", number=True),
        ),
        tuple(
            Row(
                (
                    clean(one.name, 40),
                    show.mass(one.laden_kg),
                    show.mass(one.front_kg),
                    show.mass(one.rear_kg),
                )
            )
            for one in mass.load_cases
        ),
    )


def _states(weights: Weights, show: Show) -> Table:
    """Before and after in each load case, side by side."""
    by_case: dict[str, dict[str, LoadState]] = {}
    for one in weights.states:
        by_case.setdefault(one.load_case, {})[one.stage] = one
    rows = []
    for case, stages in by_case.items():
        for stage in ("before", "after"):
            found = stages.get(stage)
            if found is None:
                continue
            rows.append(
                Row(
                    (
                        f"{clean(case, 40) or 'empty'}, {stage}",
                        show.mass(found.mass_kg),
                        show.mass(found.front_kg),
                        show.mass(found.rear_kg),
                        show.number(f"{100 * found.front_share:.1f} %"),
                        f"{found.x_mm:.0f} mm",
                        "" if found.z_mm is None else f"{found.z_mm:.0f} mm",
                    ),
                    "good" if stage == "after" else "plain",
                )
            )
    heads = (
        Head("Load case"),
        Head("Mass", number=True),
        Head("Front axle", number=True),
        Head("Rear axle", number=True),
        Head("On the front", number=True),
        Head("Centre behind front axle", number=True),
        Head("Its height", number=True),
    )
    return Table("Before and after the conversion", heads, tuple(rows))


def _motion(weights: Weights, show: Show) -> Table:
    return Table(
        "Axle loads on slopes and under braking",
        (Head("When"), Head("Load case"), Head("Front", number=True), Head("Rear", number=True)),
        tuple(
            Row(
                (
                    show.words(clean(one.words)),
                    clean(one.load_case, 40),
                    show.mass(one.front_kg),
                    show.mass(one.rear_kg),
                )
            )
            for one in weights.motion
        ),
        folded=True,
    )


def _items(weights: Weights, show: Show) -> Table:
    heads = (
        Head("What"),
        Head("Kind"),
        Head("Pieces", number=True),
        Head("Mass", number=True),
        Head("Behind front axle", number=True),
        Head("To the right", number=True),
        Head("Above ground", number=True),
    )

    def place(value: float | None) -> str:
        return "not measured" if value is None else f"{value:.0f} mm"

    return Table(
        f"Every mass and where it sits, {len(weights.items)} of them",
        heads,
        tuple(
            Row(
                (
                    " ".join(
                        filter(None, (clean(one.what), one.bay and f"in {clean(one.bay, 40)}"))
                    ),
                    one.kind,
                    f"{one.pieces}",
                    show.figure(one.mass_kg, "kg"),
                    place(one.x_mm),
                    place(one.y_mm),
                    place(one.z_mm),
                )
            )
            for one in weights.items
        ),
        folded=True,
    )
