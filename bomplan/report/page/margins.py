"""What binds, and every check with its margin and source."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bomplan.design.records import Check, Plan
from bomplan.design.studies import Binding, Bindings, Step
from bomplan.report.kept_studies import Studies
from bomplan.report.lines import exact_money
from bomplan.report.page.answer import check_words, share_words
from bomplan.report.page.blocks import Block, Head, Part, Row, Section, Table, Words
from bomplan.report.reading import YES_NO, failed, tightest
from bomplan.report.studies import matters
from bomplan.report.text import clean
from bomplan.report.units import Show
from bomplan.source import KINDS

TIGHTEST: Final = 12


def binds(plan: Plan, show: Show, studies: Studies) -> Section | None:
    """The requirements with the least room, and what one step of each costs, where that is kept."""
    tight = tightest(plan, TIGHTEST)
    if not tight:
        return None
    blocks: list[Block | Part] = [
        Words(
            "What stands in the way of a cheaper or lighter plan, the least room first. Room is the"
            " distance to the limit as a share of the limit, after the project's margin."
        ),
        Table(
            "Least room first",
            (Head("Requirement"), Head("Room", number=True)),
            tuple(Row((check_words(one, show), share_words(one, show))) for one in tight),
        ),
    ]
    if studies.bindings is not None:
        blocks.append(_relaxed(studies.bindings, show))
    return Section("binds", "What binds", "Binds", tuple(blocks))


def _relaxed(found: Bindings, show: Show) -> Part:
    """What one step easier or harder of each target and limit does to the bill."""
    moving = [one for one in found.bindings if matters(one)]
    still = [one for one in found.bindings if not matters(one)]
    heads = (
        Head("Target or limit"),
        Head("As asked", number=True),
        Head("One step easier", number=True),
        Head("Bill by", number=True),
        Head("One step harder", number=True),
        Head("Bill by", number=True),
    )
    blocks: list[Block] = [
        Words(
            "Each was planned and proven anew with that one figure changed, all else as asked. What"
            " saves most by giving way stands first."
        )
    ]
    if moving:
        rows = tuple(_lever(one, found.currency, show) for one in moving)
        blocks.append(Table("What relaxing costs and saves", heads, rows, wordy=True))
    if still:
        names = "; ".join(
            f"{show.words(clean(one.words, 160))} ({show.figure(one.amount, one.unit)})"
            for one in still
        )
        blocks.append(Words(f"One step either way changes nothing: {names}."))
    return Part("What relaxing costs", tuple(blocks))


def _lever(one: Binding, currency: str, show: Show) -> Row:
    return Row(
        (
            show.words(clean(one.words, 160)),
            show.figure(one.amount, one.unit),
            *_stepped(one.easier, one, currency, show),
            *_stepped(one.harder, one, currency, show),
        )
    )


def _stepped(step: Step, one: Binding, currency: str, show: Show) -> tuple[str, str]:
    if step.outcome == "not asked":
        return "", ""
    amount = show.figure(step.amount, one.unit)
    if step.outcome != "plan":
        return amount, "no plan (proven)" if step.outcome == "none" else "not known"
    change = step.price_change or 0
    if not change:
        return amount, "the same"
    sign = "+" if change > 0 else "\N{MINUS SIGN}"
    return amount, sign + show.number(exact_money(abs(change), currency))


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
        Head("How known"),
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
            *_known(plan),
            Table("Checks", heads, rows, wordy=True),
        ),
    )


def _known(plan: Plan) -> Iterator[Words]:
    """How many checks rest on what; nothing for plans made before that was kept."""
    counts = [(kind, sum(one.source_kind == kind for one in plan.checks)) for kind in KINDS]
    if any(count for _, count in counts):
        told = "; ".join(f"{count} {kind} ({KINDS[kind]})" for kind, count in counts if count)
        yield Words(f"How the sources are known, the weakest of each check: {told}.")


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
            "" if said else show.judged(check.value, check.unit, check.sense),
            "" if said else limit,
            "" if said else share_words(check, show).replace("none to tell", ""),
            show.words(clean(check.source)),
            check.source_kind,
        ),
        "plain" if check.passed else "bad",
    )
