"""How the modules of one box are joined, in sentences beside its drawing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator

from bomplan.design.records import BayUse
from bomplan.design.series_records import ModuleLink
from bomplan.report.units import METRIC, Show


def joining_words(
    use: BayUse,
    last: tuple[ModuleLink, ...],
    bar_mm: int | None,
    cut_mm: Callable[[ModuleLink], int | None],
    show: Show = METRIC,
) -> Iterator[str]:
    """Links by length, cables, what is joined first, what last.

    ``bar_mm``: the bill's bar; ``cut_mm``: of what length the bill's cable for a link is cut,
    None where the link is a bar.
    """
    lengths = Counter(
        link.length_mm for link in use.links if link.joins == "neighbours" and not link.last
    )
    yield (
        f"{len(use.links)} links. Between neighbours, not fitted last: "
        + (
            ", ".join(f"{count} of {_mm(show, one)}" for one, count in sorted(lengths.items()))
            or "none"
        )
        + " from terminal to terminal."
    )
    for link in use.links:
        if link.joins != "neighbours" and not link.last:
            yield f"Cable {_named(link)}: {_mm(show, link.length_mm)}, {_joins(link)}."
    cables = Counter(length for link in use.links if (length := cut_mm(link)) is not None)
    if cables:
        each = ", ".join(
            f"{number} of {_mm(show, length)}" for length, number in sorted(cables.items())
        )
        yield (
            f"{cables.total()} of the links are cable with a lug at each end, from the bill, cut"
            f" to: {each}, bends and lugs included."
        )
    elif bar_mm is not None:
        long = [link.length_mm for link in use.links if link.length_mm > bar_mm]
        if long:
            yield (
                f"{len(long)} of the links are longer than the link of the bill ({bar_mm} mm):"
                f" make them of longer bar or of traction cable with lugs, {sum(long)} mm in all,"
                " which the bill does not hold."
            )
    parts = "; ".join(
        f"{part.first} to {part.last} ({part.full_v:g} V)"
        if part.first != part.last
        else f"{part.first} ({part.full_v:g} V)"
        for part in use.sections
    )
    yield f"1. Sections, each joined by itself first: {parts}, when charged."
    if last:
        named = "; ".join(
            f"L{number} {_named(link)}, {_mm(show, link.length_mm)}, {_joins(link)}"
            for number, link in enumerate(last, start=1)
        )
        yield (
            "2. Last, one at a time, in insulating gloves, with the box closed as far as it"
            f" can be: {named}. From the first of them on more than one section is live."
        )
    for cut in use.disconnects:
        yield (
            f"The service disconnect leads from - of series place {cut} to + of {cut + 1};"
            " it stays out until everything else is done."
        )
    if use.places_apart > 1:
        yield (
            f"Neighbours are at most {use.places_apart} series places apart: a tool that slips"
            " between them meets their voltage. Cover what is not being worked on."
        )
    if any(part.full_v > 60 for part in use.sections):
        yield "A module above 60 V is live as it comes: gloves from the first terminal on."


def _mm(show: Show, mm: int) -> str:
    return f"{mm} mm{show.inches(mm)}"


def _named(link: ModuleLink) -> str:
    return f"{link.first}{link.first_pole} to {link.second}{link.second_pole}"


def _joins(link: ModuleLink) -> str:
    return {
        "neighbours": "to its neighbour",
        "layers": "to another layer",
        "apart": "past other modules",
    }[link.joins]
