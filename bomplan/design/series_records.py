"""The records of the series order: links between modules, and sections of the pack."""

from __future__ import annotations

from typing import Literal

from bomplan.design.record import Record

Pole = Literal["+", "-"]


class ModuleLink(Record):
    """One link between two modules of a box, named by their labels in the drawings.

    ``last``: it joins two sections, so that it is fitted when everything else is.
    """

    first: str
    first_pole: Pole
    second: str
    second_pole: Pole
    way: Literal["series", "across"]
    joins: Literal["neighbours", "layers", "apart"]
    length_mm: int
    last: bool = False


class Section(Record):
    """Series places that are joined before any link to the next section is."""

    first: int
    last: int
    full_v: float


def module_label(place: int, beside: int, parallel: int) -> str:
    """What a module is called in lists and drawings: 12 alone, 12a and 12b in parallel.

    Past z the letters go on as in a spreadsheet's columns: 12aa, 12ab.
    """
    if parallel == 1:
        return f"{place}"
    letters = ""
    while beside > 0:
        beside, letter = divmod(beside - 1, 26)
        letters = chr(ord("a") + letter) + letters
    return f"{place}{letters}"
