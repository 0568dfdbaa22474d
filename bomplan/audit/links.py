"""Bars, cable and lugs between modules, counted again from the links that the plan records.

Lengths and neighbours of those links are held against geometry in :mod:`bomplan.audit.series`;
here they are sorted into bars and cables once more and held against the lines of the bill. A
plan that knows no cable for links (made before there was one, or from a catalogue without)
counts all of them as bars and tells by a caution which no bar reaches.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil

from bomplan.design.bill.rule import at_least
from bomplan.design.context import Context
from bomplan.design.records import BayUse, Check, Plan
from bomplan.source import computed

SOURCE = computed("lengths of the recorded links")
TAIL_MM = 100  # bends and lugs of one cable: docs/explanation/space.md


def link_checks(context: Context, plan: Plan) -> Iterator[Check]:
    """Whether the bill holds what each link of the order is made of."""
    uses = [use for use in plan.placement if use.stands]
    if all(stand.place == 0 for use in uses for stand in use.stands):
        return
    if not (context.catalog.family("link_cable") and context.catalog.family("link_lug")):
        return
    rules = context.project.house_rules
    bars = cables = metres = 0
    for use in uses:
        lengths = [*_cable_lengths(use, rules.link_reach_mm)]
        bars += len(use.links) - len(lengths)
        cables += len(lengths)
        slack = 1 + rules.cable_slack
        metres += ceil(sum(ceil(one * slack) + TAIL_MM for one in lengths) / 1000)
    for family, words, needed, unit in (
        ("link", "bars between modules", bars, "bars"),
        ("link_cable", "cable for the links that no bar reaches", metres, "m"),
        ("link_lug", "lugs of the cables between modules", 2 * cables, "lugs"),
    ):
        yield at_least(
            f"audit.links.{family}",
            f"{words} in the bill, against the series order",
            sum(line.quantity for line in plan.lines if line.family == family),
            needed,
            unit,
            SOURCE,
        )


def _cable_lengths(use: BayUse, reach_mm: int) -> Iterator[int]:
    for link in use.links:
        if link.joins != "neighbours" or link.length_mm > reach_mm:
            yield link.length_mm
