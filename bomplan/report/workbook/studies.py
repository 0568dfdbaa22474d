"""Other plans beside this one, as far as a study was kept in the plan's folder."""

from __future__ import annotations

from typing import Final

from bomplan.design.comparison import Compared, Comparison
from bomplan.design.records import Plan
from bomplan.design.studies import Alternatives, Headline
from bomplan.report.comparison import most_words
from bomplan.report.kept_studies import Studies
from bomplan.report.reading import money_value
from bomplan.report.units import Show
from bomplan.report.workbook.sheet import Sheet

NAME: Final = "Alternatives"
_PLAN: Final = (
    ("Motor", 20), ("Controller", 20), ("Modules", 22), ("Chemistry", 11), ("Worst range km", 10),
    ("Rear axle left kg", 10), ("Laden kg", 9), ("Top speed km/h", 10), ("Hours to charge", 9),
)  # fmt: skip
_HELP: Final = {
    1: "The whole bill, landed.",
    7: "Of the range target with the least to spare.",
    8: "In the load case that leaves the least.",
    12: "Against the plan of this workbook, or what the project must say to get this one.",
}
# Head, number format; blank: money.
_YEARS: Final = (
    ("", ""), ("Pack kWh", "0.0"), ("Range new km", "0.0"), ("Range worn km", "0.0"),
    ("Range at -10 °C km", "0.0"), ("Each discharge", "0 %"), ("Cycles at that depth", "#,##0"),
    ("A pack lasts years", "0.0"), ("New packs", "0"), ("Energy", ""), ("New packs cost", ""),
    ("Over all years", ""), ("Per 100 km", ""),
)  # fmt: skip
_IN_MONEY: Final = ("Energy", "New packs cost", "Over all years", "Per 100 km")
_YEARS_HELP: Final = {
    1: "From full to empty, as bought.",
    6: "By constant throughput of charge, whatever the depth: a rule of thumb.",
    7: "By its cycles or its calendar, whichever ends first.",
    8: "To be bought after the first, whole ones, at today's price.",
    9: "Blank: the project does not say what a kilowatt-hour costs.",
}


def write_studies(sheet: Sheet, plan: Plan, studies: Studies) -> None:
    """The best plans that differ, then plans side by side by chemistry (or as was asked)."""
    styles = sheet.styles
    sheet.page.set_row(0, 24)
    sheet.text(0, 0, "Other plans", styles.title())
    sheet.width(0, 22)
    for col, width in ((1, 12), (2, 12)):
        sheet.width(col, width)
    for col, (_, width) in enumerate(_PLAN, start=3):
        sheet.width(col, width)
    for col in (12, 13):
        sheet.width(col, 32)
    row = 1
    for note in studies.notes:
        sheet.text(row, 0, note, styles.text(bold=True, wrap=False))
        row += 1
    if studies.alternatives is not None:
        row = _write_alternatives(sheet, row + 1, plan, studies.alternatives)
    if studies.comparison is not None:
        _write_comparison(sheet, row + 2, plan, studies.comparison)
    sheet.print_setup(plan.project)


def _write_alternatives(sheet: Sheet, row: int, plan: Plan, found: Alternatives) -> int:
    styles = sheet.styles
    sheet.text(row, 0, "The best plans that differ, each planned and proven", styles.heading())
    row = _heads(sheet, row + 1, plan, ("Plan", "More by"), ("Better", "Worse"))
    first = row + 1
    _write_plan(sheet, first, plan, "cheapest", found.chosen)
    row = first
    for number, one in enumerate(found.others, start=2):
        row += 1
        label = f"number {number}" + (" (get both quoted)" if one.overtakes else "")
        _write_plan(sheet, row, plan, label, one.plan)
        formula = f"={sheet.at(row, 1)}-{sheet.at(first, 1, absolute=True)}"
        more = money_value(one.plan.price - found.chosen.price, plan.currency)
        sheet.formula(row, 2, formula, more, styles.number(f"+{styles.money};-{styles.money};0"))
        better, worse = ", ".join(one.better), ", ".join(one.worse)
        sheet.text(row, 12, better)
        sheet.text(row, 13, worse)
        texts = ((0, label), (3, one.plan.motor), (4, one.plan.controller), (5, one.plan.module))
        sheet.fit(row, (*texts, (12, better), (13, worse)))
    return row


def _write_comparison(sheet: Sheet, row: int, plan: Plan, found: Comparison) -> int:
    styles = sheet.styles
    use = found.use
    words = f"Side by side: {found.words}; over {use.years:g} years"
    sheet.text(row, 0, words, styles.heading())
    row = _heads(sheet, row + 1, plan, ("", "Over the years"), ("Adopt with", "Why not, or mind"))
    first = row + 1
    for one in found.rows:
        row += 1
        _write_compared(sheet, row, plan, one, found)
    last = row
    planned = [one for one in found.rows if one.plan is not None]
    if any(one.life for one in planned):
        row = _write_years(sheet, row + 2, plan, planned)
    if len(planned) > 1:
        _price_chart(sheet, first, last, row + 2)
    return row


def _write_years(sheet: Sheet, row: int, plan: Plan, planned: list[Compared]) -> int:
    """How far each pack goes, how long it lasts and what it costs over the years of use."""
    styles = sheet.styles
    sheet.text(row, 0, "Packs over the years", styles.heading())
    row += 1
    for col, (name, _) in enumerate(_YEARS):
        words = f"{name} {plan.currency}" if name in _IN_MONEY else name
        sheet.text(row, col, words, styles.header(right=col > 0))
    sheet.page.set_row(row, 45)
    sheet.helps(row, _YEARS_HELP)
    for one in planned:
        row += 1
        sheet.text(row, 0, one.label, styles.text(bold=True))
        life = one.life
        figures: tuple[float | None, ...] = (
            one.pack_kwh, one.range_new_km, one.range_worn_km, one.range_cold_km,
        )  # fmt: skip
        if life is not None:
            amounts = (life.energy, life.replacements, life.total, life.per_100_km)
            figures += (
                life.depth, life.cycles, life.pack_years, life.packs,
                *(None if sum_ is None else money_value(sum_, plan.currency) for sum_ in amounts),
            )  # fmt: skip
        for (_, shape), col, value in zip(_YEARS[1:], range(1, 99), figures, strict=False):
            if value is not None:
                sheet.number(row, col, value, styles.number(shape or styles.money))
    return row


def _write_compared(sheet: Sheet, row: int, plan: Plan, one: Compared, found: Comparison) -> None:
    styles = sheet.styles
    if one.plan is None:
        told = {"none": "no plan (proven)", "unknown": "not known"}.get(one.outcome, one.outcome)
        sheet.text(row, 0, one.label, styles.text(bold=True))
        sheet.text(row, 3, told)
        most = () if one.most is None else tuple(most_words(one.most, found, Show()))
        why = "; ".join(most or one.reasons)
    else:
        _write_plan(sheet, row, plan, one.label, one.plan)
        why = "; ".join(one.cautions)
        if one.life is not None:
            total = money_value(one.life.total, plan.currency)
            sheet.number(row, 2, total, styles.number(styles.money))
    sheet.text(row, 12, one.adopt)
    sheet.text(row, 13, why)
    sheet.fit(row, ((0, one.label), (12, one.adopt), (13, why)))


def _write_plan(sheet: Sheet, row: int, plan: Plan, label: str, one: Headline) -> None:
    styles = sheet.styles
    sheet.text(row, 0, label, styles.text(bold=True))
    price = money_value(one.price, plan.currency)
    sheet.number(row, 1, price, styles.number(styles.money, bold=True))
    modules = f"{one.series} x {one.parallel} {one.module}"
    for col, text in enumerate((one.motor, one.controller, modules, one.chemistry), start=3):
        sheet.text(row, col, text)
    figures = (
        (one.range_km, "0.000"), (one.rear_left_kg, "0"), (one.laden_kg, "0"),
        (one.top_speed_kmh, "0.0"), (one.charge_hours, "0.0"),
    )  # fmt: skip
    for col, (value, shape) in enumerate(figures, start=7):
        sheet.number(row, col, value, styles.number(shape))


def _heads(
    sheet: Sheet, row: int, plan: Plan, first: tuple[str, str], last: tuple[str, str]
) -> int:
    names = (first[0], f"Bill {plan.currency}", f"{first[1]} {plan.currency}",
             *(name for name, _ in _PLAN), *last)  # fmt: skip
    for col, name in enumerate(names):
        right = col in (1, 2) or 7 <= col <= 11
        sheet.text(row, col, name, sheet.styles.header(right=right))
    sheet.page.set_row(row, 32)
    sheet.helps(row, _HELP)
    return row


def _price_chart(sheet: Sheet, first: int, last: int, row: int) -> None:
    chart = sheet.styles.bars("Bill", sheet.name, first, last)
    chart.set_x_axis({"visible": False, "min": 0, "major_gridlines": {"visible": False}})
    chart.set_size({"width": 560, "height": 90 + 34 * (last - first + 1)})
    sheet.page.insert_chart(row, 0, chart, {"description": "Bills side by side"})
