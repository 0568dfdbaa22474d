"""Why each line of the bill is there, how close it is to its limit, and what else would do."""

from __future__ import annotations

from typing import Final

from bomplan.design.records import Line, Plan
from bomplan.report.reading import CHARGE_FAMILIES
from bomplan.report.standing_words import instead_words, slack_words
from bomplan.report.text import title
from bomplan.report.units import Show
from bomplan.report.workbook.sheet import Sheet

NAME: Final = "Why"
_HEAD: Final = 2
_SYSTEM, _PART, _WORDS, _REASON, _CLOSE, _ELSE = range(6)
_HEADS: Final = (
    ("System", 13, False),
    ("Part", 25, False),
    ("Description", 32, False),
    ("Why it is there", 36, False),
    ("How close", 42, False),
    ("What else", 32, False),
)
_HELP: Final = {
    _REASON: "The rule that made it needed, and why in this size.",
    _CLOSE: "The limit that this part meets most narrowly, and how much of it is left.",
    _ELSE: "The next best row that would do in its place while everything else stays, with what the"
    " whole bill would then cost more: orders with freight, duty, tax and rounding counted anew."
    " Another motor stands beside the same module row, another controller beside the same motor and"
    " module row, another module beside the same motor and controller, all else chosen anew.",
}


def write_why(sheet: Sheet, plan: Plan) -> None:
    """A row for every line of goods, in the order of the plan."""
    sheet.page.set_row(0, 24)
    sheet.text(0, 0, "Why each line is there", sheet.styles.title())
    sheet.headers(_HEAD, _HEADS)
    sheet.helps(_HEAD, _HELP)
    row = _HEAD
    for line in plan.lines:
        if line.family in CHARGE_FAMILIES or not line.why:
            continue
        row += 1
        texts = _texts(line, plan.currency)
        for col, text in enumerate(texts):
            sheet.text(row, col, text)
        sheet.fit(row, enumerate(texts))
    if row > _HEAD:
        sheet.page.autofilter(_HEAD, 0, row, _ELSE)
    sheet.page.freeze_panes(_HEAD + 1, _WORDS)
    sheet.print_setup(plan.project, repeat_row=_HEAD)


def _texts(line: Line, currency: str) -> tuple[str, ...]:
    why = f"{line.owned} at hand already. {line.why}" if line.owned else line.why
    close = other = ""
    if line.standing is not None:
        close = slack_words(line.standing, Show())
        other = instead_words(line.standing, currency, Show())
    return title(line.system), line.part, line.description, why, close, other
