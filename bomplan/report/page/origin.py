"""What the plan rests on: targets, conditions, margins, the donor's figures, sources, inputs."""

from __future__ import annotations

from collections.abc import Iterator

from bomplan.design.planfile import project_of
from bomplan.design.records import Plan
from bomplan.errors import InputError
from bomplan.project.echo import echo
from bomplan.project.records import Project
from bomplan.report.page.blocks import Block, Facts, Head, Listing, Part, Row, Section, Table, Words
from bomplan.report.reading import source_words
from bomplan.report.text import clean
from bomplan.report.units import Show
from bomplan.report.workbook.buying import part_sources


def origin(plan: Plan, show: Show) -> Section:
    """Assumptions and where every figure comes from."""
    blocks: list[Block | Part] = [
        Words(
            "A plan is arithmetic on the figures it was given. These are the ones to doubt first;"
            " measure what is a guess before buying."
        )
    ]
    try:
        project = project_of(plan)
    except InputError:
        project = None
    if project is not None:
        blocks += list(_project(project, show))
    blocks += list(_sources(plan, show))
    facts = [(f"Digest of the {clean(name, 40)}", digest) for name, digest in plan.inputs.items()]
    blocks.append(Part("What was read", (Facts((("As of", plan.as_of), *sorted(facts))),)))
    return Section("origin", "Assumptions and where figures come from", "Sources", tuple(blocks))


def _project(project: Project, show: Show) -> Iterator[Part]:
    told = tuple(show.words(f"{line[:1].upper()}{line[1:]}") for line in map(clean, echo(project)))
    yield Part("What the project says", (Listing(told),))
    margins = project.margins
    rows = [
        ("Range", margins.range, ""),
        ("Axle loads", margins.axle, f", {show.mass(margins.axle_g / 1000)} at least"),
        ("Gross mass", margins.gross, ""),
        ("Continuous ratings", margins.continuous, ""),
        ("Voltages", margins.voltage, ""),
        ("Fault currents", margins.fault_current, ""),
        ("Spread between cells", margins.cell_spread, ""),
    ]
    facts = tuple((name, show.number(f"{100 * share:g} %") + more) for name, share, more in rows)
    yield Part("Margins kept on top of every limit", (Facts(facts),))
    if project.provenance:
        heads = (Head("Figure"), Head("Known how"), Head("Give or take"), Head("Note"))
        known = tuple(
            Row(
                (
                    clean(name, 120),
                    {"class": "typical of its class"}.get(one.known, one.known),
                    clean(one.spread or "", 40),
                    clean(one.note or ""),
                ),
                "plain" if one.known == "measured" else "caution",
            )
            for name, one in sorted(project.provenance.items())
        )
        yield Part(
            "How well the project's figures are known",
            (Table("Figures and how they are known", heads, known),),
        )


def _sources(plan: Plan, show: Show) -> Iterator[Part]:
    sources: dict[str, list[str]] = {}
    for check in plan.checks:
        if check.source:
            source = show.words(clean(source_words(check)))
            sources.setdefault(source, []).append(show.words(clean(check.words, 80)))
    blocks: list[Block] = []
    if sources:
        blocks.append(Words("The source of each check stands beside it above, too."))
        blocks.append(
            Table(
                "Sources of the checks",
                (Head("Source"), Head("What rests on it")),
                tuple(
                    Row(
                        (
                            name,
                            "; ".join(words[:3])
                            + (f"; {len(words) - 3} more" if words[3:] else ""),
                        )
                    )
                    for name, words in sources.items()
                ),
                folded=True,
            )
        )
    parts = sorted(part_sources(plan).items())
    if parts:
        blocks.append(
            Table(
                "Parts: where their figures come from",
                (Head("Part"), Head("Figures from"), Head("Price of")),
                tuple(
                    Row((clean(part, 60), clean(source, 120), clean(date, 12)))
                    for part, (date, source) in parts
                ),
                folded=True,
            )
        )
    if sources or parts:
        yield Part("Sources", tuple(blocks))
