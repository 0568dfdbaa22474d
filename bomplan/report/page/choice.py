"""What was chosen, why, and how sure the choice is."""

from __future__ import annotations

from typing import Final

from bomplan.design.records import Plan
from bomplan.report.goal_words import bound_words, goal_label, reached
from bomplan.report.lines import spaced
from bomplan.report.page.blocks import Block, Facts, Head, Listing, Part, Row, Section, Table, Words
from bomplan.report.reading import (
    ASK_FOR_THE_CLASH,
    COUNTED_AT_EACH_STEP,
    core_line,
    verdict,
)
from bomplan.report.text import clean, title
from bomplan.report.units import Show, plain

_HOW: Final = {
    "groups": "modules side by side first, then in series",
    "strings": "each string in series first, then side by side",
}


def choice(plan: Plan, show: Show) -> Section:
    """Motor, controller, ratio, pack and bays, each with its reason."""
    core, performance = plan.core, plan.performance
    if core is None:
        return _nothing(plan, show)
    layout = f"{core.series} in series x {core.parallel} in parallel = {core.modules} modules"
    rows = [
        _part(plan, show, "Motor", "motor", core.motor),
        _part(plan, show, "Controller", "controller", core.controller),
        Row(
            (
                "Final drive",
                f"{show.number(plain(core.final_ratio))} : 1",
                "as the project offers it; 1 where a drive unit has its own",
            )
        ),
        _part(plan, show, "Modules", "module", core.module),
        Row(("Pack", layout, _HOW[core.topology] if core.parallel > 1 else "one string")),
    ]
    blocks: list[Block | Part] = [
        Table("The drive", (Head("What"), Head("Chosen"), Head("Why")), tuple(rows))
    ]
    if performance is not None:
        facts = [
            (
                "Voltage",
                f"{performance.nominal_v:.0f} V nominal, {performance.charge_v:.0f} V full",
            ),
            ("Capacity", f"{performance.capacity_ah:.0f} Ah"),
            (
                "Energy",
                f"{performance.nominal_kwh:.1f} kWh, of which {performance.usable_kwh:.1f} kWh"
                " can be used in the worst range target",
            ),
            ("Full again in", f"{performance.charge_hours:.1f} h"),
        ]
        if performance.day is not None:
            day = performance.day
            facts += [
                ("From the wall when empty", f"{performance.charge_wall_kwh:.1f} kWh"),
                (
                    f"After {show.distance(day.km)} ({clean(day.target, 40)})",
                    f"{day.wall_kwh:.1f} kWh from the wall in {day.hours:.1f} h",
                ),
            ]
        facts += [
            (
                f"In bay {clean(place.bay, 40)}",
                "1 module" if place.modules == 1 else f"{place.modules} modules",
            )
            for place in plan.placement
        ]
        blocks.append(Facts(tuple((term, show.words(words)) for term, words in facts)))
    blocks.append(Part("How the choice was made", _search(plan, show)))
    return Section("choice", "What was chosen and why", "Choice", tuple(blocks))


def _part(plan: Plan, show: Show, words: str, family: str, part: str) -> Row:
    line = core_line(plan, family, part)
    if line is None:
        return Row((words, clean(part, 60), ""))
    return Row(
        (
            words,
            f"{show.words(clean(line.description))} ({clean(part, 60)})",
            show.words(clean(line.why)),
        )
    )


def _nothing(plan: Plan, show: Show) -> Section:
    blocks: list[Block] = [Words(verdict(plan)[1])]
    if plan.reasons:
        blocks.append(Listing(tuple(show.words(clean(reason)) for reason in plan.reasons), "bad"))
    if plan.status == "none":
        blocks.append(
            Words(
                "Proven for this project and this catalogue: give a target, a limit or a margin"
                f" some room, or add parts, and ask again. {ASK_FOR_THE_CLASH}"
            )
        )
    blocks += _search(plan, show)
    return Section("choice", "Why there is no plan", "Why", tuple(blocks))


def _search(plan: Plan, show: Show) -> tuple[Block, ...]:
    """How the answer was found: what was looked at, the proof, what was ruled out."""
    search = plan.search
    facts = [("Goal", goal_label(plan))]
    for place, (words, figure, bound) in enumerate(reached(plan, show)):
        facts.append((title(words), figure))
        if place == 0:
            facts.append((f"Proven {bound_words(plan)}", bound or "none"))
    facts += [
        ("Combinations screened", spaced(search.screened)),
        ("Bills solved", spaced(search.solved)),
        ("Drives simulated", spaced(search.simulated)),
        ("Bills cut off by a drive", spaced(search.cut)),
        ("Certified by a second model", "yes" if search.certified else "not asked for"),
    ]
    causes = sorted(search.rejected.items(), key=lambda item: (-item[1], item[0]))
    found: list[Block] = [Facts(tuple(facts))]
    if causes:
        found.append(
            Table(
                f"What was turned away, {COUNTED_AT_EACH_STEP}",
                (Head("Reason"), Head("Times", number=True)),
                tuple(Row((clean(name, 60), spaced(count))) for name, count in causes),
                folded=True,
            )
        )
    return tuple(found)
