"""What it costs: system by system, and line by line."""

from __future__ import annotations

from bomplan.design.purchase_lines import line_for_each_purchase
from bomplan.design.records import Line, Plan
from bomplan.money import currency_decimals
from bomplan.report.lines import exact_money, whole_units
from bomplan.report.page.blocks import Block, Head, Part, Picture, Row, Section, Table, Words
from bomplan.report.page.canvas import Canvas, lines_of, style
from bomplan.report.page.palette import INK, SERIES
from bomplan.report.page.whole_sum import ordering, purchases, whole_sum
from bomplan.report.reading import SystemSum, by_system
from bomplan.report.standing_words import instead_words, slack_words
from bomplan.report.text import clean, title
from bomplan.report.units import Show


def money(plan: Plan, show: Show) -> Section | None:
    """The cost of each system as a chart and a table, and the whole bill."""
    if not plan.lines:
        return None
    plan = line_for_each_purchase(plan)
    total = sum(line.price for line in plan.lines)
    groups = sorted(by_system(plan), key=lambda group: -group.price)
    rows = [
        Row(
            (
                title(group.system),
                show.number(exact_money(group.price, plan.currency)),
                f"{100 * group.price / total:.0f} %" if total else "",
                show.mass(group.mass_g / 1000),
                f"{group.hours:.0f} h" if group.hours else "",
            )
        )
        for group in groups
    ]
    hours = sum(line.hours for line in plan.lines)
    rows.append(
        Row(
            (
                "Total",
                show.number(exact_money(total, plan.currency)),
                "100 %" if total else "",
                "" if plan.mass is None else show.mass(plan.mass.added_kg),
                f"{hours:.0f} h" if hours else "",
            ),
            "good",
        )
    )
    table = Table(
        "Cost, mass and own work of each system",
        (
            Head("System"),
            Head("Price", number=True),
            Head("Share", number=True),
            Head("Mass", number=True),
            Head("Own work", number=True),
        ),
        tuple(rows),
    )
    blocks: list[Block | Part] = [
        Words(
            f"Prices are in {plan.currency} as of {plan.as_of}; the workbook bom.xlsx beside this"
            " page has them to order from, supplier by supplier."
        ),
        _chart(groups, total, plan, show),
        table,
        _bill(plan, show),
        *_standings(plan, show),
    ]
    further = (purchases(plan, show), whole_sum(plan, show), ordering(plan, show))
    blocks += [part for part in further if part is not None]
    return Section("cost", "What it costs", "Cost", tuple(blocks))


def _chart(groups: list[SystemSum], total: int, plan: Plan, show: Show) -> Picture:
    unit = 10 ** currency_decimals(plan.currency)
    named = [title(group.system) for group in groups]
    with style():
        canvas = Canvas(show, 44 + 24 * len(groups))
        axes = canvas.axes(left=104, top=4, right=44, bottom=40)
        places = range(len(groups))
        bars = axes.barh(
            places,
            [group.price / unit for group in groups],
            height=0.62,
            color=SERIES[0].colour,
            edgecolor=INK,
        )
        for bar, group in zip(bars, groups, strict=True):
            words = f"{title(group.system)}: {whole_units(group.price, plan.currency)}"
            canvas.tip(bar, f"{words} {plan.currency}, {100 * group.price / (total or 1):.0f} %")
            axes.annotate(
                f"{100 * group.price / (total or 1):.0f} %",
                (bar.get_width(), bar.get_y() + bar.get_height() / 2),
                xytext=(4, 0),
                textcoords="offset points",
                va="center",
            )
        axes.set_yticks(list(places), lines_of(named, 18))
        axes.invert_yaxis()
        axes.grid(visible=False, axis="y")
        canvas.marked(axes.xaxis)
        axes.set_xlabel(f"price, {plan.currency}")
        most = groups[0]
        return canvas.picture(
            "chart-cost",
            "Cost of each system",
            f"Bars, the dearest first: {title(most.system)} takes"
            f" {100 * most.price / (total or 1):.0f} % of"
            f" {whole_units(total, plan.currency)} {plan.currency}.",
            "Where the money goes. The table below has the figures.",
        )


def _bill(plan: Plan, show: Show) -> Table:
    heads = (
        Head("Part"),
        Head("What it is"),
        Head("Fitted", number=True),
        Head("To buy", number=True),
        Head("From"),
        Head("Price", number=True),
        Head("Mass", number=True),
        Head("Why"),
    )
    return Table(
        f"The whole bill, {len(plan.lines)} lines",
        heads,
        tuple(_line(line, plan, show) for line in plan.lines),
        folded=True,
    )


def _standings(plan: Plan, show: Show) -> tuple[Block, ...]:
    """How close each line's row is to its limit, and what else would do; none in older plans."""
    rows = [
        Row(
            (
                clean(line.part, 60),
                slack_words(line.standing, show),
                instead_words(line.standing, plan.currency, show),
            )
        )
        for line in plan.lines
        if line.standing is not None
    ]
    if not rows:
        return ()
    return (
        Words(
            "How close each part is to the limit that it meets most narrowly, and the next best"
            " row that would do in its place while everything else stays. The difference is that"
            " of the whole bill: the other part in one lot from one supplier, with freight, duty,"
            " tax and rounding of every order counted anew. In the place of the motor another one"
            " stands beside the same module row, of the controller beside the same motor and module"
            " row, of the module beside the same motor and controller: with the number of modules,"
            " where they stand and every other line chosen anew."
        ),
        Table(
            f"How close, and what else, {len(rows)} lines",
            (Head("Part"), Head("Tightest limit"), Head("Next best in its place")),
            tuple(rows),
            folded=True,
        ),
    )


def _line(line: Line, plan: Plan, show: Show) -> Row:
    unit = "" if line.unit == "piece" else f" {clean(line.unit, 20)}"
    return Row(
        (
            clean(line.part, 60),
            show.words(clean(line.description)),
            f"{line.in_place}{unit}" + (f", {line.to_spare} to spare" if line.to_spare else ""),
            f"{line.bought}{unit}",
            clean(line.supplier, 40) or "list price",
            show.number(exact_money(line.price, plan.currency)),
            show.figure(line.mass_kg, "kg") if line.mass_kg else "",
            show.words(clean(line.why)),
        )
    )
