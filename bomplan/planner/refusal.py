"""Why no core worked: what turned most of them away, and how near the nearest came."""

from __future__ import annotations

from collections.abc import Iterator

from bomplan.design.context import Context
from bomplan.design.records import Check
from bomplan.planner.screen import named_refusals
from bomplan.planner.walk import Walked


def reasons(context: Context, walked: Walked) -> Iterator[str]:
    """Sentences for the builder: refusals of what is fixed first, then the counts."""
    for check in named_refusals(context):
        yield f"{_told(check)} [{check.id}]"
    seen = walked.screened
    if not seen.cores:
        if not context.catalog.family("motor"):
            yield "the catalogue has no motor at all"
        else:
            yield "no motor, controller and module of the catalogue are left to choose from"
    for name, number in sorted(seen.rejected.items(), key=lambda item: (-item[1], item[0])):
        nearest = seen.examples.get(name)
        told = f"{number} choices failed {name}"
        if nearest is not None:
            told += f"; the nearest: {_told(nearest)}"
        yield told


def _told(check: Check) -> str:
    """A failed check in words, with its figures where it has any."""
    if check.unit == "yes/no":
        return f"{check.words}: this is not so"
    return (
        f"{check.words}: {_figure(check.value)} {check.unit}, {check.sense} {_figure(check.limit)}"
    )


def _figure(value: float) -> str:
    return f"{value:.1f}".rstrip("0").rstrip(".")
