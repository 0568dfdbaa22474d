"""Puts the sections of the report together into one HTML file, in memory."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from bomplan.design.records import Plan
from bomplan.report.kept_studies import Studies
from bomplan.report.page.answer import answer, mind
from bomplan.report.page.blocks import Section
from bomplan.report.page.choice import choice
from bomplan.report.page.drives import drives
from bomplan.report.page.far import far
from bomplan.report.page.margins import binds, checks
from bomplan.report.page.masses import masses
from bomplan.report.page.money import money
from bomplan.report.page.origin import origin
from bomplan.report.page.others import others
from bomplan.report.page.pictures import circuit, space
from bomplan.report.page.supply import supply
from bomplan.report.page.sure import sure
from bomplan.report.page.template import page_bytes
from bomplan.report.text import clean
from bomplan.report.units import Show

_READ: Final = {
    "Who pays": ("cost", "mind", "far", "sure", "others"),
    "Who builds": ("mind", "choice", "mass", "space", "circuit", "supply", "drives"),
    "Who inspects": ("mass", "circuit", "supply", "checks", "origin"),
}


def report_bytes(
    plan: Plan,
    show: Show | None,
    drawings: Mapping[str, str],
    studies: Studies | None = None,
) -> bytes:
    """The report of a plan as a UTF-8 HTML file; the same arguments give the same bytes.

    ``drawings`` holds the plan's drawings as SVG by the name of their file; those that are
    missing are left out. ``studies`` are those kept beside the plan. ``show`` None writes
    figures as the plan's project wishes. Nothing is simulated, and no sum is made that other
    outputs do not make, too.
    """
    show = show or wished(plan)
    studies = Studies() if studies is None else studies
    sections = [
        mind(plan, show),
        choice(plan, show),
        money(plan, show),
        masses(plan, show, drawings),
        space(plan, show, drawings),
        circuit(show, drawings),
        supply(plan, show),
        far(plan, show),
        drives(plan, show),
        sure(show, studies),
        binds(plan, show, studies),
        others(plan, show, studies) if plan.core is not None else None,
        checks(plan, show),
        origin(plan, show),
    ]
    kept = [section for section in sections if section is not None and section.blocks]
    return page_bytes(
        "report.html.j2",
        title=f"{clean(plan.project, 80)}: conversion plan",
        project=clean(plan.project, 80),
        as_of=clean(plan.as_of, 12),
        answer=answer(plan, show),
        sections=kept,
        readers=_readers(kept) if plan.core is not None else (),
    )


@dataclass(frozen=True)
class Reader:
    """Somebody who is given the page, and what it holds for them."""

    who: str
    sections: tuple[Section, ...]


def _readers(sections: list[Section]) -> tuple[Reader, ...]:
    known = {section.id: section for section in sections}
    return tuple(
        Reader(who, tuple(known[name] for name in names if name in known))
        for who, names in _READ.items()
    )


def wished(plan: Plan) -> Show:
    """Units and decimal mark as the project says; metric with a point if it does not."""
    said: Any = plan.project_used.get("show")
    if not isinstance(said, Mapping):
        return Show()
    return Show("us" if said.get("units") == "us" else "metric", bool(said.get("decimal_comma")))
