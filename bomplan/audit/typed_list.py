"""A parts list typed by hand, read from CSV or a workbook: what it names, and every fault in it.

Columns: ``part`` and ``quantity``; ``family``, ``supplier`` and, for modules, ``bay`` where
they are not plain from the catalogue. Other columns are left alone.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from bomplan.buying.terms import CHARGES
from bomplan.catalog.merge import open_source
from bomplan.catalog.records import Catalog
from bomplan.catalog.tables import Table
from bomplan.errors import Fault, InputError

COLUMNS: Final = ("family", "part", "quantity", "supplier", "bay")
_SPELLINGS: Final[Mapping[str, tuple[str, ...]]] = {
    "part": ("id", "part id", "part no", "part number", "item"),
    "quantity": ("qty", "count", "number", "pieces"),
    "supplier": ("vendor", "shop"),
}
# Lines that a bill has and that are no parts.
_NO_PARTS: Final = CHARGES


@dataclass
class TypedPart:
    """One family's part on the list; ``bays`` is how many stand where, if it says so."""

    family: str
    part: str
    supplier: str
    quantity: int
    bays: dict[str, int] = field(default_factory=dict)


def read_typed_list(path: Path, catalog: Catalog, sheet: str = "") -> dict[str, TypedPart]:
    """The list at ``path`` by family. Raises InputError with every fault found."""
    return typed_parts(open_source(path, sheet), catalog)


def typed_parts(table: Table, catalog: Catalog) -> dict[str, TypedPart]:
    """As :func:`read_typed_list`, from a table already read."""
    places, faults = _columns(table)
    if faults:
        raise InputError(faults)
    found: dict[str, TypedPart] = {}
    home = {part.id: part.family for part in catalog.parts()}
    for line, texts in table.rows:
        row = {
            name: texts[place].strip() if place < len(texts) else ""
            for name, place in places.items()
        }
        if row.get("family") in _NO_PARTS:
            continue
        where = f"row {line}" + (f" ({row['part']})" if row["part"] else "")
        faults += _row_faults(row, where, table.file, catalog, home)
        quantity = _whole(row["quantity"])
        if row["part"] not in home or quantity is None:
            continue
        family = home[row["part"]]
        known = found.get(family)
        supplier = row.get("supplier", "")
        if known is None:
            known = found[family] = TypedPart(family, row["part"], supplier, 0)
        elif known.part != row["part"] or known.supplier != supplier:
            faults.append(
                Fault(
                    "list.two-of-family",
                    f"is a second choice of family {family}; a list names one part from one"
                    " supplier of each",
                    table.file,
                    where,
                    row["part"],
                    f"{known.part}, or nothing",
                )
            )
            continue
        known.quantity += quantity
        bay = row.get("bay", "")
        if bay:
            known.bays[bay] = known.bays.get(bay, 0) + quantity
    if not found and not faults:
        faults.append(Fault("list.empty", "the list names no part", table.file))
    if faults:
        raise InputError(faults)
    return found


def _columns(table: Table) -> tuple[dict[str, int], list[Fault]]:
    titles = [title.strip().lower().replace("_", " ") for title in table.header]
    places = {}
    for name in COLUMNS:
        for spelled in (name, *_SPELLINGS.get(name, ())):
            if spelled in titles:
                places[name] = titles.index(spelled)
                break
    faults = []
    for name in ("part", "quantity"):
        if name not in places:
            near = difflib.get_close_matches(name, titles, n=1, cutoff=0.6)
            faults.append(
                Fault(
                    "list.missing-column",
                    f"the list has no column {name}",
                    table.file,
                    "header",
                    ", ".join(table.header),
                    f"{', '.join(COLUMNS)} (family, supplier and bay may be left out)",
                    f"rename {near[0]} to {name}?" if near else None,
                )
            )
    return places, faults


def _row_faults(
    row: Mapping[str, str], where: str, file: str, catalog: Catalog, home: Mapping[str, str]
) -> list[Fault]:
    faults = []
    part, family = row["part"], row.get("family", "")
    if part not in home:
        rows = catalog.family(family) if family in catalog.families else home
        message = "is no part of the catalogue" if part else "names no part"
        faults.append(_unknown("part", message, file, where, part, rows))
    elif family and family != home[part]:
        faults.append(
            Fault(
                "list.family",
                f"is a {home[part]}, not a {family}",
                file,
                where,
                part,
                hint=f"write {home[part]}, or leave the column family out",
            )
        )
    if _whole(row["quantity"]) is None:
        faults.append(
            Fault(
                "list.quantity",
                "is no quantity",
                file,
                where,
                row["quantity"] or None,
                "a whole number from 1",
            )
        )
    supplier = row.get("supplier", "")
    if supplier and part in home:
        sellers = sorted({o.supplier for o in catalog.offers if o.part == part})
        if supplier not in sellers:
            message = "does not sell this part" if sellers else "sells nothing; nobody offers it"
            faults.append(_unknown("supplier", message, file, where, supplier, sellers))
    return faults


def _unknown(
    code: str, message: str, file: str, where: str, name: str, known: Iterable[str]
) -> Fault:
    names = sorted(known)
    near = difflib.get_close_matches(name, names, n=1, cutoff=0.5)
    return Fault(
        f"list.{code}",
        message,
        file,
        where,
        name or None,
        ", ".join(names) if 0 < len(names) <= 12 else None,
        f"did you mean {near[0]}?" if near else None,
    )


def _whole(text: str) -> int | None:
    """A whole number from 1, also as a spreadsheet writes it (``12.0``); None if it is none."""
    plain = text.strip()
    head, point, tail = plain.partition(".")
    if point and tail.strip("0"):
        return None
    if not head.isascii() or not head.isdecimal() or len(head) > 6:
        return None
    return int(head) or None
