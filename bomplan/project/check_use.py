"""What the years of use and the project must be to each other."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bomplan.errors import Fault
from bomplan.project.lines import KeyPath
from bomplan.project.records import Project

# Where a unit of money is a unit of the price list and not its hundredth part: beyond this a
# price of a kilowatt-hour was probably written in cents.
_CENTS: Final = 2.0
_WHOLE_UNITS: Final = frozenset({"EUR", "USD", "GBP", "CHF", "CAD", "AUD", "NZD"})


def use_cautions(project: Project) -> Iterator[tuple[KeyPath, Fault]]:
    """A price of energy that looks like cents."""
    price = project.use.electricity_price
    if price is not None and price > _CENTS and project.currency in _WHOLE_UNITS:
        yield ("use", "electricity_price"), Fault(
            "project.energy-price", "is much for a kilowatt-hour",
            value=f"{price:g} {project.currency}", allowed=f"in whole {project.currency}",
            hint=f"if it is in cents, write {price / 100:g}",
        )  # fmt: skip
