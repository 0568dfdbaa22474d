"""Weights and axles: the sum of moments about the front axle, by formula, down to kg left.

Axle loads follow from the balance of moments of a beam on two supports: rear load = sum of
mass times distance behind the front axle, over the wheelbase; the front carries the rest.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from bomplan.design.records import AxleLoad, Mass, Plan
from bomplan.errors import InternalError
from bomplan.report.reading import grams
from bomplan.report.workbook.bill import MASS, BillCells
from bomplan.report.workbook.sheet import Sheet

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
)
AXLE, LOAD, ALLOWED, LIMIT, LEFT, SHARE, READING = range(1, 8)
_LOADS_ROW: Final = 4


@dataclass(frozen=True)
class Weight:
    """One row of the moment sum; grams and millimetres, taken off when the mass is negative."""

    words: str
    mass_g: int
    x_mm: float
    note: str


@dataclass(frozen=True)
class AxleCells:
    """What each axle has left by (axle, load case); the masses of car and heaviest case."""

    left: dict[tuple[str, str], str]
    laden: str
    kerb: str


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
    added_x_mm = _added_position(base, cases, mass, wheelbase_mm)

    # The loads stand on top, three rows to a load case, and the sums that they need below.
    row = _LOADS_ROW + 1 + 3 * len(cases) + 1
    row, kerb_cells = _write_car(sheet, row, base, mass, added_x_mm, bill)
    written: list[_Case] = []
    for name, items in cases:
        row, case = _write_case(sheet, row + 1, name, items, kerb_cells)
        written.append(case)
    left = _write_loads(sheet, _LOADS_ROW, written, mass, wheelbase, wheelbase_mm, donor)
    sheet.page.freeze_panes(_LOADS_ROW + 1, 1)
    sheet.print_setup(plan.project)
    heaviest = max(written, key=lambda case: case.total_kg)
    laden = f"'{sheet.name}'!{_absolute(heaviest.total_cell)}"
    return AxleCells(left, laden, f"'{sheet.name}'!{_absolute(kerb_cells.total_cell)}")


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


def _added_position(
    base: tuple[Weight, ...],
    cases: tuple[tuple[str, tuple[Weight, ...]], ...],
    mass: Mass,
    wheelbase_mm: int,
) -> float:
    """Where the new parts' common centre stands, from the plan's own rear axle load [mm]."""
    if not mass.added_kg or not cases:
        return 0.0
    by_name = {case.name: case for case in mass.load_cases}
    name, items = cases[0]
    moment_gmm = by_name[name].rear_kg * 1000 * wheelbase_mm
    moment_gmm -= sum(weight.mass_g * weight.x_mm for weight in (*base, *items))
    return moment_gmm / grams(mass.added_kg)


def _write_car(
    sheet: Sheet,
    row: int,
    base: tuple[Weight, ...],
    mass: Mass,
    added_x_mm: float,
    bill: BillCells,
) -> tuple[int, _Case]:
    for col, name in enumerate(_MOMENTS):
        sheet.text(row, col, name, sheet.styles.header(right=col not in (WORDS, NOTE)))
    sheet.page.set_row(row, 32)
    first = row + 1
    for weight in base:
        row += 1
        _write_weight(sheet, row, weight)
    row += 1
    sheet.text(row, WORDS, "New parts, all together")
    sheet.formula(
        row, KG, f"={bill.total(MASS)}", grams(mass.added_kg) / 1000, sheet.styles.number("0.0")
    )
    sheet.number(row, MM, added_x_mm, sheet.styles.number("0"))
    _write_moment(sheet, row, mass.added_kg * added_x_mm / 1000)
    _write_note(sheet, row, "mass: Bill; place: common centre of the planned parts")
    total = mass.base_kg + mass.added_kg
    moment = sum(weight.mass_g * weight.x_mm for weight in base) / 1e6
    moment += mass.added_kg * added_x_mm / 1000
    return _write_sum(sheet, row + 1, "Kerb, ready to drive", first, row, total, moment)


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
) -> dict[tuple[str, str], str]:
    """Every load case on both axles and in all; returns the cells of what is left."""
    sheet.headers(row, _LOADS)
    front, rear = _limits(mass.axles, "front"), _limits(mass.axles, "rear")
    gross_kg = int(donor["gross_limit_g"]) / 1000
    left: dict[tuple[str, str], str] = {}
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
            left[name, case.name] = sheet.ref(row, LEFT)
    return left


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
    sheet.formula(row, LOAD, formula, value, styles.number("0.0", bold=True))
    sheet.number(row, ALLOWED, allowed_kg, styles.number("0.0", edit=True))
    sheet.number(row, LIMIT, limit_kg, styles.number("0.0", edit=True))
    load, allowed, limit = (sheet.at(row, col) for col in (LOAD, ALLOWED, LIMIT))
    left = limit_kg - value
    sheet.formula(row, LEFT, f"={limit}-{load}", left, styles.number("0.0", bold=True))
    share = value / limit_kg if limit_kg else 0.0
    sheet.formula(row, SHARE, f"=IF({limit}>0,{load}/{limit},0)", share, styles.number("0 %"))
    reading = "OVER" if value > limit_kg else "margin used" if value > allowed_kg else "ok"
    sheet.formula(
        row,
        READING,
        f'=IF({load}>{limit},"OVER",IF({load}>{allowed},"margin used","ok"))',
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
