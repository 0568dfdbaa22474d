"""Each axle and wheel before and after, what that asks of springs, and where each mass sits."""

from __future__ import annotations

from typing import Final

from bomplan.design.records import Plan
from bomplan.design.weight_records import LoadState, Weights
from bomplan.report.workbook.sheet import Sheet

NAME: Final = "Wheels"
_WIDTHS: Final = (34, 24, 12, 12, 12, 12, 12, 12, 12, 12, 12, 12)
_STATES: Final = (
    "Load case", "When", "Mass kg", "Front kg", "Rear kg", "Front share", "Behind front axle mm",
    "Above ground mm", "Front left kg", "Front right kg", "Rear left kg", "Rear right kg",
)  # fmt: skip
_CHANGES: Final = ("Axle, nobody in it", "Usual", "Before kg", "After kg", "Change")
_ADVICE: Final = ("Common practice", "Kept", "Here", "Usual")
_MOTION: Final = ("On the move", "Load case", "Front kg", "Rear kg")
_ITEMS: Final = ("Where each mass sits", "Bay", "Pieces", "Mass kg", "x mm", "y mm", "z mm")

_STATES_HELP: Final = {
    1: "As weighed: the donor before anything came out. Finished: with every part of the bill.",
    5: "Share of the mass that the front axle carries.",
    6: "Centre of mass.",
    7: "Centre of mass; blank where heights are not in the project.",
    8: "Wheels need corner readings and tracks in the project.",
}
_CHANGES_HELP: Final = {
    1: "Common practice: stronger springs from 10 % more on an axle on, dampers from 15 %.",
}
_ADVICE_HELP: Final = {1: "Advice of the trade. It limits nothing; the checks do."}
_MOTION_HELP: Final = {2: "What each axle carries while this lasts."}
_ITEMS_HELP: Final = {
    4: "Behind the front axle.",
    5: "To the right of the middle.",
    6: "Above the ground.",
}


def write_wheels(sheet: Sheet, plan: Plan, weights: Weights) -> None:
    """States first, then springs, habits, slopes, and every mass with its place."""
    styles = sheet.styles
    for col, width in enumerate(_WIDTHS):
        sheet.width(col, width)
    sheet.page.set_row(0, 24)
    sheet.text(0, 0, "Axles and wheels, before and after", styles.title())
    sheet.text(1, 0, _about(weights), styles.text(wrap=False))
    row = _heads(sheet, 3, _STATES, _STATES_HELP)
    for state in weights.states:
        row += 1
        _write_state(sheet, row, state)
    row = _heads(sheet, row + 2, _CHANGES, _CHANGES_HELP)
    for change in weights.changes:
        row += 1
        wanted = " and ".join(
            name for name, asked in (("springs", change.springs), ("dampers", change.dampers))
            if asked
        )  # fmt: skip
        sheet.text(row, 0, change.axle)
        sheet.text(row, 1, f"stronger {wanted}" if wanted else "as they are")
        _numbers(sheet, row, 2, (change.before_kg, change.after_kg), "0.0")
        sheet.number(row, 4, change.change_share, styles.number("+0 %;-0 %;0 %"))
    row = _heads(sheet, row + 2, _ADVICE, _ADVICE_HELP)
    for habit in weights.advice:
        row += 1
        sheet.text(row, 0, habit.words)
        sheet.text(row, 1, "yes" if habit.kept else "NO (it limits nothing)")
        _numbers(sheet, row, 2, (habit.value, habit.usual), "0.00")
        sheet.fit(row, ((0, habit.words),))
    row = _heads(sheet, row + 2, _MOTION, _MOTION_HELP)
    for motion in weights.motion:
        row += 1
        sheet.text(row, 0, motion.words)
        sheet.text(row, 1, motion.load_case)
        _numbers(sheet, row, 2, (motion.front_kg, motion.rear_kg), "0.0")
        sheet.fit(row, ((0, motion.words), (1, motion.load_case)))
    row = _heads(sheet, row + 2, _ITEMS, _ITEMS_HELP)
    for item in weights.items:
        row += 1
        sheet.text(row, 0, item.what.replace("_", " ") + (f", {item.part}" if item.part else ""))
        sheet.text(row, 1, item.bay)
        sheet.number(row, 2, item.pieces, styles.number("0;-0;"))
        sheet.number(row, 3, item.mass_kg, styles.number("0.0"))
        _numbers(sheet, row, 4, (item.x_mm, item.y_mm, item.z_mm), "0")
        sheet.fit(row, ((0, item.what + item.part), (1, item.bay)))
    sheet.print_setup(plan.project)


def _about(weights: Weights) -> str:
    wheels = any(state.wheels is not None for state in weights.states)
    spread = f"An axle reading of the donor may be off by {weights.spread_kg:g} kg."
    if wheels:
        return spread
    return f"{spread} Single wheels need corner readings and tracks in the project."


def _write_state(sheet: Sheet, row: int, state: LoadState) -> None:
    styles = sheet.styles
    sheet.text(row, 0, state.load_case or "nobody in it")
    sheet.text(row, 1, "as weighed" if state.stage == "before" else "finished")
    _numbers(sheet, row, 2, (state.mass_kg, state.front_kg, state.rear_kg), "0.0")
    sheet.number(row, 5, state.front_share, styles.number("0.0 %"))
    _numbers(sheet, row, 6, (state.x_mm, state.z_mm), "0")
    if state.wheels is not None:
        one = state.wheels
        loads = (one.front_left_kg, one.front_right_kg, one.rear_left_kg, one.rear_right_kg)
        _numbers(sheet, row, 8, loads, "0.0")
    sheet.fit(row, ((0, state.load_case),))


def _heads(sheet: Sheet, row: int, names: tuple[str, ...], words: dict[int, str]) -> int:
    for col, name in enumerate(names):
        sheet.text(row, col, name, sheet.styles.header(right=col > 1))
    sheet.page.set_row(row, 32)
    sheet.helps(row, words)
    return row


def _numbers(
    sheet: Sheet, row: int, first: int, values: tuple[float | None, ...], shape: str
) -> None:
    for col, value in enumerate(values, start=first):
        if value is not None:
            sheet.number(row, col, value, sheet.styles.number(shape))
