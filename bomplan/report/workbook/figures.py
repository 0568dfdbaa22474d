"""The sheets of figures: range and energy, and every check with its margin."""

from __future__ import annotations

import math
from typing import Final

from bomplan.design.records import Check, Plan, RangeResult
from bomplan.report.reading import ranges_worst_first
from bomplan.report.workbook.sheet import Sheet

RANGE_NAME: Final = "Range and energy"
CHECKS_NAME: Final = "Checks"

_RANGE_HEADS: Final = (
    ("Target", 24, False),
    ("Driven as", 20, False),
    ("Condition", 20, False),
    ("Load", 12, False),
    ("Range km", 10, True),
    ("Asked km", 10, True),
    ("To spare km", 10, True),
    ("To spare %", 10, True),
    ("At the wheel Wh/km", 12, True),
    ("From the pack Wh/km", 12, True),
    ("From the wall Wh/km", 12, True),
    ("Usable kWh", 10, True),
    ("Least pack V", 10, True),
    ("Peak pack A", 10, True),
    ("What ends the drive", 26, False),
)

_CHECK_HEADS: Final = (
    ("Passed", 8, False),
    ("Check", 46, False),
    ("Value", 15, True),
    ("", 9, False),
    ("Limit", 15, True),
    ("Unit", 9, False),
    ("Margin", 15, True),
    ("Margin %", 10, True),
    ("Source", 42, False),
    ("How known", 16, False),
    ("Mind", 34, False),
    ("Id", 26, False),
)

_RANGE_HELP: Final = {
    2: "The season, whether the pack is new or worn, and the heater.",
    4: "To the metre, as the simulation gave it.",
    5: "The distance that the target names; the margin kept on it is among the checks.",
    8: "What the road takes.",
    9: "What the pack gives: the road, losses of the drive, the 12 V side and the heater.",
    10: "What the meter at home counts, charger and pack losses in it.",
    12: "The lowest voltage under load on the way.",
    13: "The highest current on the way.",
    14: "empty: the usable charge is spent. voltage: the pack sags to its limit under load."
    " reserve: what has to be kept back is reached. endless: it gains as much as it spends."
    " time: it goes on for days, and counts as far as it came.",
}
_CHECK_HELP: Final = {
    2: "What the plan has.",
    4: "What it may have, margins of the project in it.",
    6: "Distance to the limit; negative where it is broken.",
    7: "The same as a share of the limit.",
    8: "The standard, the data sheet or the rule of the trade that it follows.",
    9: "Whether that source was seen, is from memory or is but habit; with several, the weakest."
    " Computed: counted or simulated. Given: by project, catalogue or scales.",
    10: "What happens where it is not kept.",
    11: "The name by which docs and plan file call it. Not printed.",
}


def write_range(sheet: Sheet, plan: Plan) -> None:
    """Each range target, the shortest first, then what else the drive can do; a bar chart."""
    styles = sheet.styles
    head = 2
    sheet.page.set_row(0, 24)
    sheet.text(0, 0, "How far it goes, worst first", styles.title())
    sheet.headers(head, _RANGE_HEADS)
    sheet.helps(head, _RANGE_HELP)
    results = ranges_worst_first(plan)
    row = head
    for one in results:
        row += 1
        for col, text in enumerate((one.target, one.profile, one.condition, one.load_case)):
            sheet.text(row, col, text)
        sheet.number(row, 5, one.wanted_km, styles.number("0.0"))
        if one.end_cause == "endless" or not math.isfinite(one.range_km):
            sheet.text(row, 4, "without end", styles.number("0.0", bold=True))
        else:
            _write_distance(sheet, row, one)
        figures = (
            (one.wheel_wh_per_km, "0"),
            (one.energy_wh_per_km, "0"),
            (one.wall_wh_per_km, "0"),
            (one.usable_kwh, "0.0"),
            (one.min_voltage_v, "0"),
            (one.peak_battery_a, "0"),
        )
        for col, (value, shape) in enumerate(figures, start=8):
            sheet.number(row, col, value, styles.number(shape))
        sheet.text(row, 14, one.end_cause)
        texts = (one.target, one.profile, one.condition, one.load_case)
        sheet.fit(row, (*enumerate(texts), (14, one.end_cause)))
    if results:
        _range_chart(sheet, head + 1, row)
    _write_drive(sheet, plan, row + 2)
    sheet.page.freeze_panes(head + 1, 1)
    sheet.print_setup(plan.project, repeat_row=head)


def _write_distance(sheet: Sheet, row: int, one: RangeResult) -> None:
    styles = sheet.styles
    got, asked = sheet.at(row, 4), sheet.at(row, 5)
    # To the metre, as in the plan: tenths would round a range up.
    sheet.number(row, 4, one.range_km, styles.number("0.000", bold=True))
    spare = one.range_km - one.wanted_km
    sheet.formula(row, 6, f"={got}-{asked}", spare, styles.number("+0.0;-0.0;0.0"))
    share = one.range_km / one.wanted_km - 1 if one.wanted_km else 0.0
    formula = f"=IF({asked}>0,{got}/{asked}-1,0)"
    sheet.formula(row, 7, formula, share, styles.number("+0 %;-0 %;0 %"))


def _write_drive(sheet: Sheet, plan: Plan, row: int) -> None:
    performance = plan.performance
    if performance is None:
        return
    styles = sheet.styles
    sheet.text(row, 0, "The pack and the drive", styles.heading())
    sheet.page.write_blank(row, 1, None, styles.heading())
    facts: tuple[tuple[str, float, str], ...] = (
        ("Speed it can hold", performance.top_speed_kmh, '0.0 "km/h"'),
        ("Slope it can start on", performance.gradeability, "0.0 %"),
        ("Pack, nominal", performance.nominal_v, '0.0 "V"'),
        ("Pack, charged", performance.charge_v, '0.0 "V"'),
        ("Capacity", performance.capacity_ah, '0.0 "Ah"'),
        ("Energy, nominal", performance.nominal_kwh, '0.0 "kWh"'),
        ("Energy, usable in the worst target", performance.usable_kwh, '0.0 "kWh"'),
        ("Design current, rolling mean square", performance.design_rms_a, '0 "A"'),
        ("Design current, peak", performance.design_peak_a, '0 "A"'),
        ("Empty to full", performance.charge_hours, '0.0 "h"'),
    )
    for offset, (words, value, shape) in enumerate(facts, start=1):
        sheet.text(row + offset, 0, words)
        sheet.number(row + offset, 1, value, styles.get(num_format=shape, align="left"))
    if performance.top_speed_cause:
        below = row + len(facts) + 1
        sheet.text(below, 0, "More speed is stopped by")
        sheet.text(below, 1, performance.top_speed_cause)


def _range_chart(sheet: Sheet, first: int, last: int) -> None:
    chart = sheet.styles.chart("bar")
    for col, colour, name in ((5, "#B9C3C9", "Asked km"), (4, "#2F6F8F", "Range km")):
        chart.add_series(
            {
                "name": name,
                "categories": [sheet.name, first, 0, last, 0],
                "values": [sheet.name, first, col, last, col],
                "fill": {"color": colour},
                "data_labels": {"value": True, "num_format": "0"},
            }
        )
    chart.set_title({"none": True})
    chart.set_y_axis({"reverse": True})
    chart.set_x_axis({"min": 0, "num_format": "0", "major_gridlines": {"visible": False}})
    chart.set_legend({"position": "bottom"})
    chart.set_size({"width": 760, "height": 130 + 55 * (last - first + 1)})
    sheet.page.insert_chart(last + 2, 3, chart)


def write_checks(sheet: Sheet, plan: Plan) -> None:
    """Every check, the failed ones first; NO in bold, so that it reads without colour."""
    styles = sheet.styles
    head = 2
    sheet.page.set_row(0, 24)
    wrong = sum(not check.passed for check in plan.checks)
    words = "every one passes" if not wrong else f"{wrong} of {len(plan.checks)} DO NOT PASS"
    sheet.text(0, 0, f"Checks: {words}", styles.title())
    sheet.headers(head, _CHECK_HEADS)
    sheet.helps(head, _CHECK_HELP)
    row = head
    for check in sorted(plan.checks, key=lambda one: one.passed):
        row += 1
        _write_check(sheet, row, check)
    if row > head:
        sheet.page.autofilter(head, 0, row, len(_CHECK_HEADS) - 1)
    sheet.print_columns(row, len(_CHECK_HEADS) - 2)
    sheet.page.freeze_panes(head + 1, 2)
    sheet.print_setup(plan.project, repeat_row=head)


def _write_check(sheet: Sheet, row: int, check: Check) -> None:
    styles = sheet.styles
    mark = styles.text() if check.passed else styles.get(bold=True, border=2, align="center")
    sheet.text(row, 0, "yes" if check.passed else "NO", mark)
    sheet.text(row, 1, check.words, styles.text(bold=not check.passed))
    sheet.number(row, 2, check.value, styles.number("#,##0.0##"))
    sheet.text(row, 3, check.sense)
    sheet.number(row, 4, check.limit, styles.number("#,##0.0##"))
    sheet.text(row, 5, check.unit)
    value, sense, limit = (sheet.at(row, col) for col in (2, 3, 4))
    sheet.formula(
        row,
        6,
        f'=IF({sense}="at most",{limit}-{value},{value}-{limit})',
        check.margin,
        styles.number("+#,##0.0##;-#,##0.0##;0"),
    )
    share = check.margin / abs(check.limit) if check.limit else ""
    sheet.formula(
        row,
        7,
        f'=IF({limit}=0,"",{sheet.at(row, 6)}/ABS({limit}))',
        share,
        styles.number("+0.0 %;-0.0 %;0 %"),
    )
    sheet.text(row, 8, check.source)
    sheet.text(row, 9, check.source_kind)
    sheet.text(row, 10, check.caution)
    sheet.text(row, 11, check.id)
    sheet.fit(row, ((1, check.words), (8, check.source), (10, check.caution), (11, check.id)))
