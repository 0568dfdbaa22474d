"""What the years of use and the project must be to each other."""

from __future__ import annotations

import difflib
from collections.abc import Iterator
from typing import Any, Final

from bomplan.errors import Fault
from bomplan.project.lines import KeyPath
from bomplan.project.records import Project

# Where a unit of money is a unit of the price list and not its hundredth part: beyond this a
# price of a kilowatt-hour was probably written in cents.
_CENTS: Final = 2.0
_WHOLE_UNITS: Final = frozenset({"EUR", "USD", "GBP", "CHF", "CAD", "AUD", "NZD"})


def use_names(raw: dict[str, Any]) -> Iterator[tuple[KeyPath, Fault]]:
    """A range target named under ``[use]`` that the project does not have."""
    use, targets = raw.get("use"), raw.get("targets")
    if not isinstance(use, dict) or not isinstance(targets, dict):
        return
    name, listed = use.get("target"), targets.get("range")
    if not isinstance(name, str) or not isinstance(listed, list):
        return
    known = [str(item.get("name")) for item in listed if isinstance(item, dict)]
    if name in known:
        return
    near = difflib.get_close_matches(name, known, n=1, cutoff=0.5)
    yield ("use", "target"), Fault(
        "project.no-such-name", "names a range target that the project does not have",
        value=name, allowed=", ".join(f'"{one}"' for one in known) or "none is defined",
        hint=f'did you mean "{near[0]}"?' if near else "add it as [[targets.range]]",
    )  # fmt: skip


def use_cautions(project: Project) -> Iterator[tuple[KeyPath, Fault]]:
    """A price of energy that looks like cents."""
    price = project.use.electricity_price
    if price is not None and price > _CENTS and project.currency in _WHOLE_UNITS:
        yield ("use", "electricity_price"), Fault(
            "project.energy-price", "is much for a kilowatt-hour",
            value=f"{price:g} {project.currency}", allowed=f"in whole {project.currency}",
            hint=f"if it is in cents, write {price / 100:g}",
        )  # fmt: skip
