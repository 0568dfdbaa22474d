"""The sheet of the 12 V side: loads with their duty, sums, converter and battery."""

from __future__ import annotations

from typing import Final

from bomplan.design.records import Plan
from bomplan.design.supply_records import Supply12V
from bomplan.report.supply_words import load_words, notes, sums
from bomplan.report.workbook.sheet import Sheet

NAME: Final = "12 V side"
_HEADS: Final = (
    ("Load", 46, False),
    ("While on W", 10, True),
    ("Greatest W", 10, True),
    ("By day", 9, True),
    ("At night", 9, True),
    ("In rain", 9, True),
    ("In winter", 9, True),
    ("Worst mean W", 12, True),
    ("Converter failed", 10, True),
    ("Drawn by", 10, False),
    ("From", 44, False),
)
_HELP: Final = {
    1: "What it takes while it is on; of a row of the bill the mean over a drive.",
    3: "Share of the time that it is on.",
    7: "At night, in rain and in winter at once: the power times the greatest share.",
    8: "Share that must go on when the DC-DC converter has failed.",
    9: "car: named in the project. bill: drawn by a row of the bill.",
    10: "Usual figures are common practice; what the project says stands in their place.",
}


def write_supply(sheet: Sheet, plan: Plan, told: Supply12V) -> None:
    """Loads, then the sums, then how long the battery lasts alone."""
    styles = sheet.styles
    sheet.page.set_row(0, 24)
    sheet.text(0, 0, "The 12 V side", styles.title())
    row = 1
    head = 2 + len(list(notes(told)))
    sheet.headers(head, _HEADS)
    sheet.helps(head, _HELP)
    for words in notes(told):
        sheet.page.write_string(row, 0, words, styles.get(text_wrap=False))
        row += 1
    row = first = head
    watts, share = styles.number("#,##0.0"), styles.number("0 %")
    for load in told.loads:
        row += 1
        words = load_words(load)
        sheet.text(row, 0, words)
        sheet.number(row, 1, load.power_w, watts)
        sheet.number(row, 2, load.peak_w, watts)
        duties = (load.day, load.night, load.rain, load.winter)
        for col, duty in enumerate(duties, 3):
            sheet.number(row, col, duty, share)
        sheet.number(row, 7, load.worst_w, watts)
        sheet.number(row, 8, load.reserve, share)
        sheet.text(row, 9, load.origin)
        sheet.text(row, 10, load.source)
        sheet.fit(row, ((0, words), (10, load.source)))
    if row > first:
        sheet.page.autofilter(first, 0, row, len(_HEADS) - 1)
    row += 1
    whole = styles.number("#,##0")
    for words, total in sums(told):
        row += 1
        sheet.text(row, 0, f"{words[:1].upper()}{words[1:]}, W")
        sheet.number(row, 1, total, whole)
    row += 1
    battery = (
        ("12 V battery, Ah", told.battery_ah),
        ("Fed alone when the converter has failed, A", told.reserve_a),
        ("Coldest condition, °C", told.coldest_c),
        ("Minutes from half its capacity there", told.reserve_minutes),
    )
    for words, figure in battery:
        row += 1
        sheet.text(row, 0, words)
        if figure is None:
            sheet.text(row, 1, "not known")
        else:
            sheet.number(row, 1, figure, styles.number("#,##0.0##"))
    sheet.print_columns(row, len(_HEADS) - 1)
    sheet.page.freeze_panes(head + 1, 1)
    sheet.print_setup(plan.project, repeat_row=head)
