"""Weights and axles: the sum of moments about the front axle, by formula, down to kg left.

Axle loads follow from the balance of moments of a beam on two supports: rear load = sum of
mass times distance behind the front axle, over the wheelbase; the front carries the rest.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import floor
from typing import Any, Final

from bomplan.design.records import AxleLoad, Line, Mass, Plan
from bomplan.errors import InternalError
from bomplan.report.reading import grams
from bomplan.report.text import clean
from bomplan.report.workbook.bill import MASS, BillCells
from bomplan.report.workbook.sheet import Sheet, Styles

NAME: Final = "Axles"

WORDS, KG, MM, MOMENT, NOTE = range(5)
_MOMENTS: Final = ("What", "Mass kg", "Behind front axle mm", "Moment kg·m", "From")
_LOADS: Final = (
    ("Load case", 40, False),
    ("Axle", 13, False),
    ("Load kg", 14, True),
    ("With margin kg", 14, True),
    ("Limit kg", 14, True),
    ("Left to the limit kg", 14, True),
    ("Share of limit", 12, True),
    ("Reading", 14, False),
    ("In the chart", 26, False),
    ("Left, whole kg", 10, True),
)
AXLE, LOAD, ALLOWED, LIMIT, LEFT, SHARE, READING, BAR, WHOLE = range(1, 10)
_LOADS_ROW: Final = 4
_OVER: Final = "OVER"
_HELP: Final = {
    LOAD: "Front and rear from the moments below; gross is the whole car.",
    ALLOWED: "The limit less the margin that the project keeps.",
    LIMIT: "The limit on the plate.",
    LEFT: "What may still come onto this axle in this load case.",
    WHOLE: "Rounded down: never more than there is.",
    READING: "OVER: above the plate. margin used: below it, but closer than the project wants.",
}
# The plan shows its loads rounded up to the gram.
_TOLERANCE_G: Final = 5
CHART_WORDS: Final = "Load and what is left on each axle"


@dataclass(frozen=True)
class Weight:
    """One row of the moment sum; grams and millimetres, taken off when the mass is negative."""

    words: str
    mass_g: int
    x_mm: float
    note: str


@dataclass(frozen=True)
class AxleCells:
    """What each axle has left by (axle, load case), cell and kg; masses of car and laden car."""

    left: dict[tuple[str, str], tuple[str, float]]
    laden: str
    kerb: str
    rows: int


@dataclass(frozen=True)
class _Case:
    """Cells and values of one load case once its weights are written."""

    name: str
    total_cell: str
    moment_cell: str
    total_kg: float
    moment_kgm: float


def write_axles(sheet: Sheet, plan: Plan, mass: Mass, bill: BillCells) -> AxleCells:
    """Write car, new parts and every load case, then each axle against its limit."""
    styles = sheet.styles
    donor = plan.project_used["donor"]
    wheelbase_mm = int(donor["wheelbase_mm"])
    sheet.page.set_row(0, 24)
    sheet.text(0, 0, "Weights and axles", styles.title())
    sheet.text(
        1,
        0,
        "Rear axle = sum of moments / wheelbase; front axle = the rest. Pale cells may be edited.",
        styles.text(wrap=False),
    )
    sheet.text(2, WORDS, "Wheelbase", styles.text(bold=True))
    sheet.number(2, MM, wheelbase_mm, styles.number("0", edit=True))
    wheelbase = sheet.at(2, MM, absolute=True)

    base = base_weights(plan)
    _check_base(base, mass)
    cases = load_case_items(plan)
    lines = _line_moments(plan, base, cases, mass, wheelbase_mm)

    # The loads stand on top, three rows to a load case, and the sums that they need below.
    row = _LOADS_ROW + 1 + 3 * len(cases) + 1
    row, kerb_cells = _write_car(sheet, row, plan, base, mass, lines, bill)
    written: list[_Case] = []
    for name, items in cases:
        row, case = _write_case(sheet, row + 1, name, items, kerb_cells)
        written.append(case)
    left = _write_loads(sheet, _LOADS_ROW, written, mass, wheelbase, wheelbase_mm, donor)
    rows = 3 * len(cases)
    if rows:
        chart = loads_chart(sheet.styles, rows)
        chart.set_size({"width": 480, "height": 120 + 34 * rows})
        place = (_LOADS_ROW + rows + 2, NOTE + 2)
        sheet.page.insert_chart(*place, chart, {"description": CHART_WORDS})
    sheet.page.freeze_panes(_LOADS_ROW + 1, 1)
    sheet.print_setup(plan.project)
    heaviest = max(written, key=lambda case: case.total_kg)
    laden = f"'{sheet.name}'!{_absolute(heaviest.total_cell)}"
    return AxleCells(left, laden, f"'{sheet.name}'!{_absolute(kerb_cells.total_cell)}", rows)


def base_weights(plan: Plan) -> tuple[Weight, ...]:
    """The donor as weighed, less what was in it, less what comes out."""
    donor = plan.project_used["donor"]
    weighing = donor["weighing"]
    front, rear = int(weighing["front_g"]), int(weighing["rear_g"])
    wheelbase_mm = int(donor["wheelbase_mm"])
    # What was in the car at a place that nobody noted is taken off at its centre of mass.
    centre = round(rear * wheelbase_mm / (front + rear))
    rows = [
        Weight("Donor as weighed, front axle", front, 0, "weighing"),
        Weight("Donor as weighed, rear axle", rear, wheelbase_mm, "weighing"),
    ]
    for words, name in (("Fuel in it", "fuel"), ("People in it", "people")):
        taken = int(weighing.get(f"{name}_g") or 0)
        place = weighing.get(f"{name}_x_mm")
        if taken:
            note = "project" if place is not None else "place not noted: centre of mass"
            rows.append(Weight(words, -taken, centre if place is None else int(place), note))
    rows.extend(
        Weight(f"Comes out: {item['name']}", -int(item["mass_g"]), int(item["x_mm"]), "project")
        for item in donor.get("removed", ())
    )
    rows.extend(
        Weight(f"Own part: {item['name']}", int(item["mass_g"]), int(item["x_mm"]), "project")
        for item in donor.get("added", ())
    )
    return tuple(rows)


def load_case_items(plan: Plan) -> tuple[tuple[str, tuple[Weight, ...]], ...]:
    """People and luggage of each load case, by its name."""
    cases: Sequence[Mapping[str, Any]] = plan.project_used["load_cases"]
    return tuple(
        (
            str(case["name"]),
            tuple(
                Weight(str(item["name"]), int(item["mass_g"]), int(item["x_mm"]), "project")
                for item in case["items"]
            ),
        )
        for case in cases
    )


def _check_base(base: tuple[Weight, ...], mass: Mass) -> None:
    total = sum(weight.mass_g for weight in base)
    if total != grams(mass.base_kg):
        raise InternalError(
            f"the stripped donor weighs {grams(mass.base_kg)} g in the plan and {total} g "
            "from its project"
        )


def _line_moments(
    plan: Plan,
    base: tuple[Weight, ...],
    cases: tuple[tuple[str, tuple[Weight, ...]], ...],
    mass: Mass,
    wheelbase_mm: int,
) -> tuple[tuple[int, int, float], ...]:
    """(number of the line, grams, moment in g·mm) of every line with a mass.

    A plan of an early version carries no moments of its lines: then all of them stand at
    their common centre. InternalError if the lines' moments are not the plan's axle loads.
    """
    lines = [
        (index, grams(one.mass_kg), float(one.moment_gmm))
        for index, one in enumerate(plan.lines)
        if grams(one.mass_kg)
    ]
    if not cases:
        return tuple(lines)
    name, items = cases[0]
    case = next(one for one in mass.load_cases if one.name == name)
    others = sum(weight.mass_g * weight.x_mm for weight in (*base, *items))
    added = case.rear_kg * 1000 * wheelbase_mm - others
    if not any(moment for _, _, moment in lines) and mass.added_kg:
        centre = added / grams(mass.added_kg)
        return tuple((index, mass_g, mass_g * centre) for index, mass_g, _ in lines)
    summed = sum(moment for _, _, moment in lines)
    if abs(summed - added) > _TOLERANCE_G * wheelbase_mm:
        raise InternalError(
            f"the moments of the lines sum up to {summed:.0f} g·mm, the axle loads of the plan"
            f" want {added:.0f}"
        )
    return tuple(lines)


def _write_car(
    sheet: Sheet,
    row: int,
    plan: Plan,
    base: tuple[Weight, ...],
    mass: Mass,
    lines: tuple[tuple[int, int, float], ...],
    bill: BillCells,
) -> tuple[int, _Case]:
    """The donor, every line of the bill at its place, and what was added to the bill by hand."""
    for col, name in enumerate(_MOMENTS):
        sheet.text(row, col, name, sheet.styles.header(right=col not in (WORDS, NOTE)))
    sheet.page.set_row(row, 32)
    first = row + 1
    for weight in base:
        row += 1
        _write_weight(sheet, row, weight)
    first_line = row + 1
    for index, mass_g, moment_gmm in lines:
        row += 1
        _write_line(sheet, row, plan.lines[index], index, mass_g, moment_gmm, bill)
    row += 1
    rest = f"={bill.total(MASS)}"
    if lines:
        rest += f"-SUM({sheet.at(first_line, KG)}:{sheet.at(row - 1, KG)})"
    sheet.text(row, WORDS, "Rows added on Bill by hand")
    sheet.formula(row, KG, f"=ROUND({rest[1:]},3)", 0.0, sheet.styles.number("0.0;-0.0;0.0"))
    place = int((plan.project_used.get("places") or {}).get("other_x_mm") or 0)
    sheet.number(row, MM, place, sheet.styles.number("0", edit=True))
    _write_moment(sheet, row, 0.0)
    _write_note(sheet, row, "what Bill weighs beyond the lines above")
    total = mass.base_kg + mass.added_kg
    moment = sum(weight.mass_g * weight.x_mm for weight in base) / 1e6
    moment += sum(moment_gmm for _, _, moment_gmm in lines) / 1e6
    return _write_sum(sheet, row + 1, "Kerb, ready to drive", first, row, total, moment)


def _write_line(
    sheet: Sheet,
    row: int,
    line: Line,
    index: int,
    mass_g: int,
    moment_gmm: float,
    bill: BillCells,
) -> None:
    """One line of the bill: its mass from there, its place to be edited here."""
    styles = sheet.styles
    words = clean(line.description, 60) or line.part
    sheet.text(row, WORDS, words, styles.text(wrap=False))
    mass = f"={bill.line(index, MASS)}"
    sheet.formula(row, KG, mass, mass_g / 1000, styles.number("0.0"))
    sheet.number(row, MM, moment_gmm / mass_g, styles.number("0", edit=True))
    _write_moment(sheet, row, moment_gmm / 1e6)
    _write_note(sheet, row, f"Bill: {line.part}")


def _write_case(
    sheet: Sheet, row: int, name: str, items: tuple[Weight, ...], kerb: _Case
) -> tuple[int, _Case]:
    sheet.text(row, WORDS, f"Load case: {name}", sheet.styles.heading())
    row += 1
    first = row
    sheet.text(row, WORDS, "Car as above")
    sheet.formula(row, KG, f"={kerb.total_cell}", kerb.total_kg, sheet.styles.number("0.0"))
    sheet.formula(row, MOMENT, f"={kerb.moment_cell}", kerb.moment_kgm, sheet.styles.number("0.0"))
    for weight in items:
        row += 1
        _write_weight(sheet, row, weight)
    total = kerb.total_kg + sum(weight.mass_g for weight in items) / 1000
    moment = kerb.moment_kgm + sum(weight.mass_g * weight.x_mm for weight in items) / 1e6
    return _write_sum(sheet, row + 1, name, first, row, total, moment)


def _write_weight(sheet: Sheet, row: int, weight: Weight) -> None:
    sheet.text(row, WORDS, weight.words)
    sheet.number(row, KG, weight.mass_g / 1000, sheet.styles.number("0.0", edit=True))
    sheet.number(row, MM, weight.x_mm, sheet.styles.number("0", edit=True))
    _write_moment(sheet, row, weight.mass_g * weight.x_mm / 1e6)
    _write_note(sheet, row, weight.note)


def _write_note(sheet: Sheet, row: int, note: str) -> None:
    sheet.text(row, NOTE, note, sheet.styles.get(indent=1))


def _write_moment(sheet: Sheet, row: int, value: float) -> None:
    formula = f"={sheet.at(row, KG)}*{sheet.at(row, MM)}/1000"
    sheet.formula(row, MOMENT, formula, value, sheet.styles.number("0.0"))


def _write_sum(
    sheet: Sheet, row: int, words: str, first: int, last: int, total: float, moment: float
) -> tuple[int, _Case]:
    styles = sheet.styles
    for col in range(NOTE + 1):
        sheet.page.write_blank(row, col, None, styles.group())
    sheet.text(row, WORDS, words, styles.group())
    for col, value in ((KG, total), (MOMENT, moment)):
        span = f"{sheet.at(first, col)}:{sheet.at(last, col)}"
        sheet.formula(row, col, f"=SUM({span})", value, styles.group("0.0"))
    mass_cell, moment_cell = sheet.at(row, KG), sheet.at(row, MOMENT)
    place = moment / total * 1000 if total else 0.0
    sheet.formula(row, MM, f"={moment_cell}/{mass_cell}*1000", place, styles.group("0"))
    return row, _Case(words, mass_cell, moment_cell, total, moment)


def _write_loads(
    sheet: Sheet,
    row: int,
    cases: list[_Case],
    mass: Mass,
    wheelbase: str,
    wheelbase_mm: int,
    donor: Mapping[str, Any],
) -> dict[tuple[str, str], tuple[str, float]]:
    """Every load case on both axles and in all; returns the cells of what is left."""
    sheet.headers(row, _LOADS)
    sheet.helps(row, _HELP)
    front, rear = _limits(mass.axles, "front"), _limits(mass.axles, "rear")
    gross_kg = int(donor["gross_limit_g"]) / 1000
    left: dict[tuple[str, str], tuple[str, float]] = {}
    for case in cases:
        rear_kg = case.moment_kgm * 1000 / wheelbase_mm
        rear_row = row + 2
        rear_cell = sheet.at(rear_row, LOAD)
        values = (
            ("front", f"={case.total_cell}-{rear_cell}", case.total_kg - rear_kg, front),
            ("rear", f"={case.moment_cell}*1000/{wheelbase}", rear_kg, rear),
            ("gross", f"={case.total_cell}", case.total_kg, (gross_kg, gross_kg)),
        )
        for name, formula, value, limits in values:
            row += 1
            _write_load(sheet, row, case.name, name, formula, value, limits)
            left[name, case.name] = (sheet.ref(row, LEFT), limits[1] - value)
    # White on black, so that it is seen on grey paper, too.
    mark = sheet.styles.mark(bold=True, font_color="#FFFFFF", bg_color="#000000")
    for word in (_OVER, "margin used"):
        sheet.page.conditional_format(_LOADS_ROW + 1, READING, max(row, _LOADS_ROW + 1), READING, {
            "type": "cell", "criteria": "==", "value": f'"{word}"',
            "format": mark if word == _OVER else sheet.styles.mark(underline=1, italic=True),
        })  # fmt: skip
    return left


def loads_chart(styles: Styles, rows: int) -> Any:
    """What each axle carries and has left, drawn dark and hatched so that grey print shows it."""
    first, last = _LOADS_ROW + 1, _LOADS_ROW + rows
    chart = styles.chart("bar", "stacked")
    hatched = {"pattern": "wide_upward_diagonal", "fg_color": "#7A8790", "bg_color": "#FFFFFF"}
    for col, name, ink, look in (
        (LOAD, "Load kg", "#FFFFFF", {"fill": {"color": "#2F6F8F"}}),
        (WHOLE, "Left to the limit kg, rounded down", "#1F2A33", {"pattern": hatched}),
    ):
        chart.add_series(
            {
                "name": name,
                "categories": [NAME, first, BAR, last, BAR],
                "values": [NAME, first, col, last, col],
                "gap": 40,
                "data_labels": {
                    "value": True,
                    "num_format": "0",
                    "font": {"color": ink, "bold": True},
                },
                **look,
            }
        )
    chart.set_title({"none": True})
    chart.set_legend({"position": "bottom"})
    chart.set_y_axis({"reverse": True})
    chart.set_x_axis({"num_format": "0", "major_gridlines": {"visible": False}, "min": 0})
    return chart


def _write_load(
    sheet: Sheet,
    row: int,
    case: str,
    axle: str,
    formula: str,
    value: float,
    limits: tuple[float, float],
) -> None:
    styles = sheet.styles
    allowed_kg, limit_kg = limits
    sheet.text(row, WORDS, case)
    sheet.text(row, AXLE, axle)
    whole = axle == "gross"
    sheet.text(row, BAR, f"{clean(case, 40)}, {'all of it' if whole else axle}", styles.get())
    sheet.formula(row, LOAD, formula, value, styles.number("0.0", bold=True))
    sheet.number(row, ALLOWED, allowed_kg, styles.number("0.0", edit=True))
    sheet.number(row, LIMIT, limit_kg, styles.number("0.0", edit=True))
    load, allowed, limit = (sheet.at(row, col) for col in (LOAD, ALLOWED, LIMIT))
    left = limit_kg - value
    sheet.formula(row, LEFT, f"={limit}-{load}", left, styles.number("0.0", bold=True))
    # The chart tells it as terminal and drawing do.
    whole_left = f"=INT(ROUND({sheet.at(row, LEFT)},3))"
    sheet.formula(row, WHOLE, whole_left, floor(round(left, 3)), styles.number("0"))
    share = value / limit_kg if limit_kg else 0.0
    sheet.formula(row, SHARE, f"=IF({limit}>0,{load}/{limit},0)", share, styles.number("0 %"))
    reading = _OVER if value > limit_kg else "margin used" if value > allowed_kg else "ok"
    sheet.formula(
        row,
        READING,
        f'=IF({load}>{limit},"{_OVER}",IF({load}>{allowed},"margin used","ok"))',
        reading,
        styles.text(bold=True),
    )


def _limits(axles: tuple[AxleLoad, ...], name: str) -> tuple[float, float]:
    """(with margin, plate) of the axle of this name [kg]."""
    for axle in axles:
        if axle.name == name:
            return axle.allowed_kg, axle.limit_kg
    raise InternalError(f"the plan gives no limit for the {name} axle")


def _absolute(cell: str) -> str:
    letters = cell.rstrip("0123456789")
    return f"${letters}${cell[len(letters) :]}"
