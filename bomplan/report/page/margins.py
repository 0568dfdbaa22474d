"""What binds, and every check with its margin and source."""

from __future__ import annotations

from typing import Final

from bomplan.design.records import Check, Plan
from bomplan.report.page.answer import check_words, share_words
from bomplan.report.page.blocks import Block, Head, Row, Section, Table, Words
from bomplan.report.reading import YES_NO, failed, tightest
from bomplan.report.text import clean
from bomplan.report.units import Show

TIGHTEST: Final = 12


def binds(plan: Plan, show: Show) -> Section | None:
    """The requirements with the least room, and where to ask what each costs."""
    tight = tightest(plan, TIGHTEST)
    if not tight:
        return None
    blocks: list[Block] = [
        Words(
            "What stands in the way of a cheaper or lighter plan, the least room first. Room is the"
            " distance to the limit as a share of the limit, after the project's margin."
        ),
        Table(
            "Least room first",
            (Head("Requirement"), Head("Room", number=True)),
            tuple(Row((check_words(one, show), share_words(one, show))) for one in tight),
            wordy=True,
        ),
    ]
    return Section("binds", "What binds", "Binds", tuple(blocks))


def checks(plan: Plan, show: Show) -> Section | None:
    """Every check, the failed ones first."""
    if not plan.checks:
        return None
    wrong = len(failed(plan))
    words = (
        f"All {len(plan.checks)} checks pass."
        if not wrong
        else f"{wrong} of {len(plan.checks)} checks do not pass; they stand first."
    )
    heads = (
        Head("What is looked at"),
        Head("Passes"),
        Head("Figure", number=True),
        Head("Limit", number=True),
        Head("Room", number=True),
        Head("Source"),
    )
    rows = tuple(_row(one, show) for one in sorted(plan.checks, key=lambda one: one.passed))
    return Section(
        "checks",
        "Every check, with its margin and source",
        "Checks",
        (
            Words(words, "bad" if wrong else "good"),
            Words(
                "Made by an audit that knows the plan's parts and the project, and nothing of how"
                " the plan was found."
            ),
            Table("Checks", heads, rows, wordy=True),
        ),
    )


def _row(check: Check, show: Show) -> Row:
    words = show.words(clean(check.words))
    if check.caution and not check.passed:
        words += f". Mind: {show.words(clean(check.caution))}"
    said = check.unit == YES_NO
    limit = f"{check.sense} {show.figure(check.limit, check.unit)}"
    return Row(
        (
            words,
            "yes" if check.passed else "NO",
            "" if said else show.figure(check.value, check.unit),
            "" if said else limit,
            "" if said else share_words(check, show).replace("none to tell", ""),
            clean(check.source),
        ),
        "plain" if check.passed else "bad",
    )
