"""Orders, what it comes to with everything around the parts, and what to order when."""

from __future__ import annotations

from bomplan.design.records import Plan
from bomplan.report.lines import exact_money, whole_money
from bomplan.report.money_words import (
    KIND_WORDS,
    OUTSIDE,
    by_kind,
    order_sentences,
    whole_sum_sentences,
)
from bomplan.report.page.blocks import Block, Head, Listing, Part, Row, Table, Words
from bomplan.report.purchase_words import purchase_sentences
from bomplan.report.text import clean
from bomplan.report.units import Show


def whole_sum(plan: Plan, show: Show) -> Part | None:
    """The whole sum by heading and item; None for a plan that carries none."""
    summed = plan.whole_sum
    if summed is None:
        return None

    def money(amount: int) -> str:
        return whole_money(amount, plan.currency)

    rows = [
        Row(
            (
                KIND_WORDS[kind],
                money(low),
                money(typical),
                money(high),
                f"{hours:.0f} h" if hours else "",
            )
        )
        for kind, low, typical, high, hours in by_kind(summed)
    ]
    hours = summed.hours.typical
    total = (money(summed.low), money(summed.typical), money(summed.high), f"{hours:.0f} h")
    rows.append(Row(("All in all", *total), "good"))
    heads = (
        Head("Heading"),
        Head("If all goes well", number=True),
        Head("Typical", number=True),
        Head("If nothing does", number=True),
        Head("Work", number=True),
    )
    items = tuple(
        Row(
            (
                show.words(clean(one.words)),
                KIND_WORDS[one.kind],
                show.number(exact_money(one.low, plan.currency)),
                show.number(exact_money(one.typical, plan.currency)),
                show.number(exact_money(one.high, plan.currency)),
                show.words(clean(one.why)),
                clean(one.source),
            )
        )
        for one in summed.items
    )
    item_heads = (Head("Item"), Head("Heading"), *heads[1:4], Head("Why"), Head("Source"))
    blocks: list[Block] = [Words(show.words(text)) for text in whole_sum_sentences(plan)]
    blocks += [
        Words(OUTSIDE),
        Table("The whole sum", heads, tuple(rows)),
        Table(f"Its items, {len(items)} of them", item_heads, items, folded=True),
    ]
    return Part("All in all, with everything around the parts", tuple(blocks))


def purchases(plan: Plan, show: Show) -> Part | None:
    """What each supplier's order comes to, shares and spares; None where nothing is to tell."""
    told = tuple(
        show.words(f"{text[:1].upper()}{text[1:]}")
        for text in (
            one.replace("\N{NO-BREAK SPACE}", " ") for one in purchase_sentences(plan, show)
        )
    )
    return Part("Orders, and what is left over", (Listing(told),)) if told else None


def ordering(plan: Plan, show: Show) -> Part | None:
    """What to order when, the first things first; None for a plan that does not say."""
    told = tuple(show.words(f"{text[:1].upper()}{text[1:]}") for text in order_sentences(plan))
    if not told:
        return None
    return Part(
        "What to order when",
        (Words("Day 0 is the day on which you begin."), Listing(told)),
    )
