"""Where the figures come from: cautions, the sources used, and the inputs by their digest."""

from __future__ import annotations

from typing import Final

from bomplan.design.records import Plan
from bomplan.report.goal_words import goal_label
from bomplan.report.reading import cautions, source_words
from bomplan.report.text import title
from bomplan.report.workbook.buying import part_sources
from bomplan.report.workbook.sheet import Sheet

NAME: Final = "Sources"


def write_sources(sheet: Sheet, plan: Plan) -> None:
    """Cautions first, then what the plan rests on; only sources that it used."""
    styles = sheet.styles
    sheet.width(0, 44)
    sheet.width(1, 100)
    sheet.page.set_row(0, 24)
    sheet.text(0, 0, "Cautions and sources", styles.title())
    row = _block(sheet, 1, "Cautions", [("", text) for text in cautions(plan)])
    why = {check.caution: check.words for check in plan.checks if check.caution}
    row = _block(
        sheet, row, "What the checks guard against", [(words, text) for text, words in why.items()]
    )
    sources: dict[str, list[str]] = {}
    for check in plan.checks:
        if check.source:
            sources.setdefault(source_words(check), []).append(check.words)
    row = _block(
        sheet, row, "Sources of the checks", [(s, "; ".join(words)) for s, words in sources.items()]
    )
    parts = [
        (part, f"{source}; price of {date}" if date else source)
        for part, (date, source) in sorted(part_sources(plan).items())
    ]
    row = _block(sheet, row, "Parts: where their figures come from", parts)
    row = _block(sheet, row, "Assumptions: not measured, as the project says", assumptions(plan))
    row = _block(sheet, row, "Distances kept from limits", margins(plan))
    search = plan.search
    counts = [
        ("Goal", goal_label(plan)),
        ("Drives screened", str(search.screened)),
        ("Cut off by their bound", str(search.cut)),
        ("Bills solved", str(search.solved)),
        ("Simulated", str(search.simulated)),
        ("Certified by a second model", "yes" if search.certified else "no"),
        *(
            (f"Turned away at some step: {title(cause).lower()}", str(count))
            for cause, count in sorted(search.rejected.items())
        ),
    ]
    row = _block(sheet, row, "How the plan was found", counts)
    inputs = [(name, digest) for name, digest in sorted(plan.inputs.items())]
    inputs.append(("as of", plan.as_of))
    _block(sheet, row, "Inputs (SHA-256 of the parsed form)", inputs)
    sheet.print_setup(plan.project)


def assumptions(plan: Plan) -> list[tuple[str, str]]:
    """(key, how it is known) of every figure that the project marks as a guess or of a class."""
    told = []
    for key, known in sorted((plan.project_used.get("provenance") or {}).items()):
        if known.get("known") == "measured":
            continue
        words = {"class": "typical of its class"}.get(str(known["known"]), str(known["known"]))
        if known.get("spread"):
            words += f", {known['spread']} either way"
        if known.get("note"):
            words += f": {known['note']}"
        told.append((str(key), words))
    return told


def margins(plan: Plan) -> list[tuple[str, str]]:
    """(limit, distance kept from it) as the project sets them."""
    told = []
    for key, value in (plan.project_used.get("margins") or {}).items():
        name = str(key).replace("_g", ", at least").replace("_", " ")
        shown = f"{value / 1000:g} kg" if str(key).endswith("_g") else f"{value * 100:g} %"
        told.append((name, shown))
    return told


def _block(sheet: Sheet, row: int, heading: str, lines: list[tuple[str, str]]) -> int:
    if not lines:
        return row
    styles = sheet.styles
    row += 1
    sheet.text(row, 0, heading, styles.heading())
    sheet.page.write_blank(row, 1, None, styles.heading())
    for left, right in lines:
        row += 1
        sheet.text(row, 0, left)
        sheet.text(row, 1, right)
        sheet.fit(row, ((0, left), (1, right)))
    return row + 1
