"""The first screen: does it work, how far in the worst case, what it costs and weighs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from bomplan.design.records import Check, Plan
from bomplan.report.goal_words import plain_words
from bomplan.report.lines import spaced, whole_money
from bomplan.report.page.blocks import Block, Card, Listing, Section, Tone, Words
from bomplan.report.reading import (
    YES_NO,
    cautions,
    counted_on,
    failed,
    ranges_worst_first,
    relative_margin,
    tightest,
    verdict,
    zero_margins,
)
from bomplan.report.text import clean
from bomplan.report.units import Show
from bomplan.report.weight_words import weight_sentences
from bomplan.requirements.cliffs import hangs_at_a_hill

PLAIN_WORDS = {
    "none": "No. Nothing in this catalogue meets every target within every limit.",
    "unknown": "Not known: the search ended before a plan was found or ruled out.",
    "failed": "No. It fails checks; do not buy from this list.",
}


@dataclass(frozen=True)
class Answer:
    """``plain`` for whoever reads one line, ``status`` and ``sentence`` exactly."""

    plain: str
    status: str
    sentence: str
    tone: Tone
    cards: tuple[Card, ...]


def answer(plan: Plan, show: Show) -> Answer:
    """The verdict and the figures of the first screen."""
    status, sentence = verdict(plan)
    wrong = bool(failed(plan))
    sure = plan.core is not None
    return Answer(
        plain=_plain(plan, wrong=wrong),
        status=status,
        sentence=show.words(sentence),
        tone="bad" if wrong or not sure else "good" if plan.status == "optimal" else "caution",
        cards=tuple(_cards(plan, show)),
    )


def _plain(plan: Plan, *, wrong: bool) -> str:
    if plan.core is None:
        return PLAIN_WORDS[plan.status]
    return PLAIN_WORDS["failed"] if wrong else plain_words(plan)


def _cards(plan: Plan, show: Show) -> Iterator[Card]:
    results = ranges_worst_first(plan)
    worst = counted_on(plan)
    if worst is not None:
        others = [
            f"also {_far(one, show)}: {clean(one.target, 40)}, {clean(one.condition, 40)}"
            for one in results[1:3]
            if not hangs_at_a_hill(plan.cautions, one.target)
        ]
        asked = f"asked: {show.nearest_distance(worst.wanted_km)}"
        words = f"{clean(worst.target, 60)}, {clean(worst.condition, 60)}; {asked}"
        yield Card("Count on", _far(worst, show), (words, *others), "far")
    if plan.lines:
        total = sum(line.price for line in plan.lines)
        hours = sum(line.hours for line in plan.lines)
        bound = plan.objective.bound
        told = [f"the parts, with shipping; about {hours:.0f} h of work to fit them"]
        if not hours:
            told = ["the parts, with shipping"]
        if plan.whole_sum is not None:
            summed = plan.whole_sum
            told.append(
                f"all in all about {whole_money(summed.typical, plan.currency)}, up to"
                f" {whole_money(summed.high, plan.currency)} if nothing goes well"
            )
        if bound is not None and bound < total:
            told.append(f"at least {whole_money(bound, plan.currency)} whatever is chosen")
        yield Card("It costs", whole_money(total, plan.currency), tuple(told), "cost")
    if plan.mass is not None:
        heaviest = max(plan.mass.load_cases, key=lambda one: one.laden_kg, default=None)
        named = f" ({clean(heaviest.name, 30)})" if heaviest else ""
        yield Card(
            "It weighs, laden",
            show.mass(plan.mass.laden_kg),
            (
                f"heaviest load case{named}; empty {show.mass(plan.mass.kerb_kg)},"
                f" of which new parts {show.mass(plan.mass.added_kg)}",
            ),
            "mass",
        )
    yield from _margin(plan, show)
    dangers, minded = len(cautions(plan)), len(warnings(plan, show))
    if plan.core is not None:
        yield Card(
            "Mind",
            f"{minded} {_many(minded, 'warning')}",
            (f"to look at before buying, and {dangers} {_many(dangers, 'caution')} for the work",),
            "mind",
            "caution" if minded else "plain",
        )


def _margin(plan: Plan, show: Show) -> Iterator[Card]:
    wrong = failed(plan)
    if wrong:
        words = tuple(check_words(one, show) for one in wrong[:2])
        count = f"{len(wrong)} of {len(plan.checks)}"
        yield Card("Checks that fail", count, words, "checks", "bad")
        return
    for check in tightest(plan, 1):
        yield Card(
            "Least room",
            share_words(check, show),
            (
                f"{check_words(check, show)};"
                f" all {spaced(len(plan.checks))} checks pass with their margins",
            ),
            "binds",
        )


def share_words(check: Check, show: Show) -> str:
    """The margin as a share of the limit."""
    room = relative_margin(check)
    if room is None:
        return "none to tell"
    return show.number(f"{room * 100:+.1f} %") if abs(room) < 10 else "far off"


def check_words(check: Check, show: Show) -> str:
    """What is looked at, its figure and its limit."""
    words = show.words(clean(check.words))
    if check.unit == YES_NO:
        return words
    value = show.judged(check.value, check.unit, check.sense)
    limit = show.figure(check.limit, check.unit)
    return f"{words}: {value}, {check.sense} {limit}"


def warnings(plan: Plan, show: Show) -> tuple[str, ...]:
    """What to look at before buying: thin margins, springs, trim, long descents, missed speed."""
    found: list[str] = []
    none = zero_margins(plan)
    if none:
        found.append(
            f"Made with zero margin on request ({', '.join(none)}): nothing is to spare there."
        )
    if plan.mass is not None and plan.mass.weights is not None:
        found += [
            f"{text[:1].upper()}{text[1:]}."
            for text, minded in weight_sentences(plan.mass.weights, show)
            if minded
        ]
    driving = plan.driving
    if driving is not None:
        late = {
            one.target: one for one in driving.ranges if one.not_followed_s and one.state != "new"
        }
        found += [
            f"{clean(name, 60)}: {one.not_followed_s:.0f} s of a lap"
            f" ({one.not_followed_m:.0f} m) are slower than the schedule asks."
            for name, one in late.items()
        ]
        if driving.descent is not None and driving.descent.warn:
            found.append(
                show.number(
                    f"{clean(driving.descent.profile, 60)} puts {driving.descent.brake_mj:.1f} MJ"
                    f" into the friction brakes on the way down with a full pack."
                )
            )
    return tuple(found)


def mind(plan: Plan, show: Show) -> Section:
    """What to look at, and the cautions for whoever builds."""
    blocks: list[Block] = []
    for check in failed(plan):
        text = f"Fails: {check_words(check, show)}."
        if check.caution:
            text += f" Mind: {show.words(clean(check.caution))}."
        blocks.append(Words(text, "bad"))
    minded = warnings(plan, show)
    if minded:
        blocks += [Words("Look at these before buying:"), Listing(minded, "caution")]
    told = cautions(plan)
    if told:
        blocks += [
            Words("For the work itself:"),
            Listing(tuple(show.words(clean(text)) for text in told), "caution"),
        ]
    return Section("mind", "What to mind", "Mind", tuple(blocks))


def _far(one: object, show: Show) -> str:
    km, cause = getattr(one, "range_km", 0.0), getattr(one, "end_cause", "")
    return "without end" if cause == "endless" else show.distance(km)


def _many(count: int, word: str) -> str:
    return word if count == 1 else f"{word}s"
