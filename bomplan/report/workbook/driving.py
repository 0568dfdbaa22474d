"""How the finished car drives beyond its targets: one small table for each question."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from bomplan.design.driving import Driving
from bomplan.design.records import Plan
from bomplan.report.workbook.sheet import Sheet

NAME: Final = "Driving"
_WIDTHS: Final = (30, 16, 14, 14, 14, 14, 14, 14, 30)
# So many rows are still read well on one page, and no chart is cut in two.
_ONE_PAGE: Final = 75
Cell = str | float | None
# Head, number format; a text column has none.
Heads = tuple[tuple[str, str], ...]

_RANGES: Heads = (
    ("Range target", ""), ("Pack", ""), ("°C", "0"), ("Heater W", "0"), ("Range km", "0.000"),
    ("Wheel Wh/km", "0"), ("Pack Wh/km", "0"), ("Wall Wh/km", "0"), ("Ends with", ""),
)  # fmt: skip
_SPEEDS: Heads = (("Holds for", '0 "min"'), ("km/h", "0.0"), ("Gear", "0"), ("More stopped by", ""))
_CLIMBS: Heads = (("Climbs at km/h", "0"), ("a minute", "0.0 %"), ("half an hour", "0.0 %"))
_STARTS: Heads = (("Starts on", ""), ("Grade", "0.0 %"), ("Stopped by", ""))
_SPRINTS: Heads = (("From rest to km/h", "0"), ("Seconds", "0.0"), ("Metres", "0"), ("Grip", ""))
_VOLTAGES: Heads = (
    ("Pack", ""), ("Charge", "0 %"), ("At rest V", "0.0"), ("Hardest pull V", "0.0"),
    ("at A", "0"),
)  # fmt: skip
_STEADY: Heads = (
    ("Steady km/h", "0"), ("Gear", "0"), ("Grade", "0 %"), ("Motor rpm", "0"), ("Motor A", "0"),
    ("Battery A", "0"), ("Pack full V", "0.0"), ("Nearly empty V", "0.0"), ("Can be held", ""),
)  # fmt: skip
_DESCENT: Heads = (
    ("Hardest descent", ""), ("Height m", "0"), ("Seconds", "0"), ("Brakes MJ", "0.0"),
    ("Brakes kW", "0.0"), ("Mind", ""),
)  # fmt: skip

# What a head means, by its words.
_HELP: Final = {
    "Heater W": "Taken all the way.",
    "Wheel Wh/km": "What the road takes.",
    "Pack Wh/km": "What the pack gives: the road, losses, the 12 V side and the heater.",
    "Wall Wh/km": "What the meter at home counts.",
    "Holds for": "The speed on the flat that it can keep up for so long.",
    "a minute": "The slope that it climbs at this speed for so long.",
    "Starts on": "From rest, laden. Stopped by: grip, or what the drive can give.",
    "Hardest pull V": "The hardest pull that every limit allows for ten seconds.",
    "Steady km/h": "At a constant speed in each gear.",
    "Can be held": "For half an hour on the flat, for five minutes on a hill.",
}


def write_driving(sheet: Sheet, plan: Plan, driving: Driving) -> None:
    """Write the answers; an empty cell is a figure that does not exist."""
    styles = sheet.styles
    for col, width in enumerate(_WIDTHS):
        sheet.width(col, width)
    sheet.page.set_row(0, 24)
    sheet.text(0, 0, "How it drives", styles.title())
    about = f"{driving.condition}, {driving.load_case}, unless a row says otherwise."
    sheet.text(1, 0, about, styles.text(wrap=False))
    row = 3
    for heads, rows in _tables(driving):
        if rows:
            row = _write_table(sheet, row, heads, rows) + 2
    flat = [one for one in driving.steady if one.grade == 0 and one.possible and one.battery_a]
    if len({one.speed_kmh for one in flat}) > 1:
        _current_chart(sheet, driving, row)
    sheet.print_setup(plan.project)
    if row <= _ONE_PAGE:
        sheet.page.fit_to_pages(1, 1)


def _tables(driving: Driving) -> tuple[tuple[Heads, list[Sequence[Cell]]], ...]:
    down = driving.descent
    return (
        (
            _RANGES,
            [
                (one.target, one.state + (", worn" if one.aged and one.state == "coldest" else ""),
                 one.temperature_c, one.heater_w, one.range_km, one.wheel_wh_per_km,
                 one.battery_wh_per_km, one.wall_wh_per_km, one.end_cause)
                for one in driving.ranges
            ],
        ),
        (_SPEEDS, [(o.hold_s / 60, o.speed_kmh, o.gear, o.cause) for o in driving.speeds]),
        (_CLIMBS, [(one.speed_kmh, one.peak, one.sustained) for one in driving.climbs]),
        (
            _STARTS,
            [("a wet road" if o.wet else "a dry road", o.grade, o.cause) for o in driving.starts],
        ),
        (
            _SPRINTS,
            [
                (one.to_kmh, one.seconds, one.metres, "grip limits" if one.grip_limited else "")
                for one in driving.sprints
            ],
        ),
        (
            _VOLTAGES,
            [
                (one.state, one.state_of_charge, one.rest_v, one.pull_v, one.pull_a)
                for one in driving.voltages
            ],
        ),
        (
            _DESCENT,
            []
            if down is None
            else [
                (down.profile, down.height_m, down.seconds, down.brake_mj, down.brake_kw,
                 "brakes may fade" if down.warn else "")
            ],
        ),
        (
            _STEADY,
            [
                (one.speed_kmh, one.gear, one.grade, one.motor_rpm, one.motor_a, one.battery_a,
                 one.pack_full_v, one.pack_nearly_empty_v, "yes" if one.possible else "NO")
                for one in driving.steady
            ],
        ),
    )  # fmt: skip


def _write_table(sheet: Sheet, row: int, heads: Heads, rows: list[Sequence[Cell]]) -> int:
    styles = sheet.styles
    for col, (name, shape) in enumerate(heads):
        sheet.text(row, col, name, styles.header(right=bool(shape) and col > 0))
    sheet.helps(row, {n: _HELP[name] for n, (name, _) in enumerate(heads) if name in _HELP})
    for cells in rows:
        row += 1
        for col, (value, (_, shape)) in enumerate(zip(cells, heads, strict=True)):
            if value is None:
                continue
            if isinstance(value, str):
                sheet.text(row, col, value)
            elif col == 0:
                sheet.number(row, col, value, styles.get(num_format=shape, align="left"))
            else:
                sheet.number(row, col, value, styles.number(shape))
        sheet.fit(row, [(n, one) for n, one in enumerate(cells) if isinstance(one, str)])
    return row


def _current_chart(sheet: Sheet, driving: Driving, row: int) -> None:
    """Battery current over speed on the flat, in the gear that takes least."""
    least: dict[float, float] = {}
    for one in driving.steady:
        if one.grade == 0 and one.possible and one.battery_a:
            known = least.get(one.speed_kmh, one.battery_a)
            least[one.speed_kmh] = min(known, one.battery_a)
    styles = sheet.styles
    sheet.text(row, 0, "On the flat, km/h", styles.header())
    sheet.text(row, 1, "Battery A", styles.header(right=True))
    first = row + 1
    for speed, current in sorted(least.items()):
        row += 1
        sheet.number(row, 0, speed, styles.get(num_format="0", align="left"))
        sheet.number(row, 1, current, styles.number("0"))
    chart = styles.chart("column")
    chart.add_series(
        {
            "name": "Battery current on the flat, A",
            "categories": [sheet.name, first, 0, row, 0],
            "values": [sheet.name, first, 1, row, 1],
            "fill": {"color": "#2F6F8F"},
            "gap": 60,
            "data_labels": {"value": True, "num_format": "0"},
        }
    )
    chart.set_title({"name": "Battery current on the flat, A at km/h",
                     "name_font": {"size": 10, "bold": False}})  # fmt: skip
    chart.set_legend({"none": True})
    chart.set_y_axis({"visible": False, "min": 0, "major_gridlines": {"visible": False}})
    chart.set_size({"width": 620, "height": 240})
    sheet.page.insert_chart(first - 1, 3, chart, {"description": "Battery current over speed"})
