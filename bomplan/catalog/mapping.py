"""Which column of somebody else's table is which of ours, remembered from one time to the next.

A mapping stands in ``import.toml`` in the folder of the catalogue that it feeds, is written
by ``bomplan catalog import`` and may be edited by hand.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from bomplan.catalog.columns import Family
from bomplan.catalog.units import unit_allowed, units_for
from bomplan.errors import Fault, InputError

MAPPING_FILE: Final = "import.toml"
FORMAT: Final = 1
_TARGET = re.compile(r"(?P<column>[\w.-]+)\s*(?:\[(?P<unit>[^\]]*)\])?", re.ASCII)
_HEADER_UNIT = re.compile(r"(?P<words>.*?)\s*[\[(](?P<unit>[^\])]+)[\])]\s*")
_SLUG: Final = "slug"
# What such columns are called elsewhere; matched without case, spaces and punctuation.
_SPELLINGS: Final[dict[str, tuple[str, ...]]] = {
    "id": ("partno", "partnumber", "partid", "sku", "itemno", "itemnumber", "article",
           "articleno", "articlenumber", "code", "item", "part", "artikelnummer", "artikel"),
    "description": ("name", "title", "product", "text", "bezeichnung", "beschreibung"),
    "mass_kg": ("mass", "weight", "masse", "gewicht", "wt"),
    "length_mm": ("length", "depth", "länge", "laenge"),
    "width_mm": ("width", "breite"),
    "height_mm": ("height", "höhe", "hoehe"),
    "price": ("cost", "unitprice", "netprice", "listprice", "preis", "eachprice"),
    "currency": ("cur", "währung", "waehrung"),
    "price_date": ("date", "pricedate", "asof", "datum", "stand"),
    "source": ("basis",),
    "supplier": ("vendor", "shop", "lieferant"),
    "quantity": ("qty", "count", "pieces", "number", "menge", "anzahl"),
}  # fmt: skip


@dataclass(frozen=True)
class Target:
    """Our column, and the unit in which the source gives it (empty: as in our header)."""

    column: str
    unit: str = ""

    def text(self) -> str:
        return f"{self.column} [{self.unit}]" if self.unit else self.column

    @property
    def makes_ids(self) -> bool:
        """Whether ids are made from words (``id [slug]``)."""
        return self.column == "id" and self.unit == _SLUG


@dataclass(frozen=True)
class ColumnMap:
    """How one kind of table is read: source header = target; constants; headers left out."""

    family: str
    columns: Mapping[str, Target]
    values: Mapping[str, str] = field(default_factory=dict)
    ignored: tuple[str, ...] = ()
    sheet: str = ""

    def fits(self, header: Iterable[str]) -> bool:
        """Whether the table has every column that the mapping names."""
        return set(self.columns) <= set(header)


def read_target(text: str, source: str, family: Family, place: str | None) -> Target | Fault:
    """``mass_kg`` or ``mass_kg [lb]`` as a target among the family's columns."""

    def fault(code: str, message: str, allowed: str, hint: str | None = None) -> Fault:
        return Fault(f"import.{code}", message, place, source, text, allowed, hint)

    match = _TARGET.fullmatch(text.strip())
    name = match["column"] if match else text
    column = family.columns.get(name)
    if match is None or column is None:
        near = family.nearest_column(name)
        return fault(
            "unknown-target",
            f"is no column of {family.name}",
            ", ".join(family.columns),
            f"did you mean {near}?" if near else None,
        )
    unit = (match["unit"] or "").strip()
    if unit and not (column.name == "id" and unit == _SLUG) and not unit_allowed(column, unit):
        return fault("unit", f"is no unit of {name}", units_for(column))
    return Target(name, unit)


def guess(header: Iterable[str], family: Family) -> dict[str, Target]:
    """The columns that can be told by their names, each of ours at most once."""
    found: dict[str, Target] = {}
    taken: set[str] = set()
    for exact in (True, False):
        for title in header:
            target = None if title in found else _guess_one(title, family, exact=exact)
            if target is not None and target.column not in taken:
                found[title] = target
                taken.add(target.column)
    return found


def _guess_one(title: str, family: Family, *, exact: bool) -> Target | None:
    if title.strip().lower() in family.columns:
        return Target(title.strip().lower())
    if exact:
        return None
    match = _HEADER_UNIT.fullmatch(title)
    words, unit = (match["words"], match["unit"].strip()) if match else (title, "")
    plain = _plain(words)
    for column in family.columns.values():
        bare = _plain(column.name)
        ending = _plain(column.unit)
        spelled = {bare, bare.removesuffix(ending), *_SPELLINGS.get(column.name, ())}
        if plain in spelled and (not unit or unit_allowed(column, unit)):
            return Target(column.name, "" if unit == column.unit else unit)
    return None


def read_mapping_file(file: Path) -> str | None:
    """The text of an ``import.toml``, None where there is none. Raises InputError."""
    try:
        return file.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        return None
    except (OSError, UnicodeDecodeError):
        fault = Fault("import.syntax", "cannot be read as text in UTF-8", file.name)
        raise InputError([fault]) from None


def read_mappings(text: str, file: str, families: Mapping[str, Family]) -> dict[str, ColumnMap]:
    """The mappings of an ``import.toml`` by name. Raises InputError with every fault."""
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        said = str(error)
        fault = Fault("import.syntax", f"is no valid TOML: {said[:1].lower()}{said[1:]}", file)
        raise InputError([fault]) from None
    except (RecursionError, ValueError):
        # A number of thousands of digits, or lists nested without end.
        fault = Fault("import.syntax", "holds something that no mapping needs", file)
        raise InputError([fault]) from None
    number = raw.pop("format", None)
    if not isinstance(number, int) or isinstance(number, bool) or not 1 <= number <= FORMAT:
        raise InputError(
            [
                Fault(
                    "import.format",
                    "was written for another bomplan",
                    file,
                    "format",
                    str(number),
                    f"{FORMAT}",
                    "install the newest bomplan, or move the file away to begin anew",
                )
            ]
        )
    faults: list[Fault] = []
    found = {}
    for name, table in raw.items():
        mapping = _mapping(name, table, file, families, faults)
        if mapping is not None:
            found[name] = mapping
    if faults:
        raise InputError(faults)
    return found


def _mapping(
    name: str, table: object, file: str, families: Mapping[str, Family], faults: list[Fault]
) -> ColumnMap | None:
    keys = ("family", "sheet", "columns", "values", "ignored")
    if not isinstance(table, dict):
        faults.append(Fault("import.shape", "is no table", file, name))
        return None
    for key in table.keys() - set(keys):
        near = difflib.get_close_matches(key, keys, n=1)
        faults.append(
            Fault(
                "import.unknown-key",
                "is no key of a mapping",
                file,
                name,
                key,
                ", ".join(keys),
                f"did you mean {near[0]}?" if near else None,
            )
        )
    family = families.get(str(table.get("family")))
    if family is None:
        near = difflib.get_close_matches(str(table.get("family")), families, n=1)
        faults.append(
            Fault(
                "import.family",
                "names no table of a catalogue",
                file,
                f"{name}.family",
                str(table.get("family")),
                hint=f"did you mean {near[0]}?" if near else None,
            )
        )
        return None
    columns: dict[str, Target] = {}
    for source, text in _texts(table.get("columns", {}), file, f"{name}.columns", faults).items():
        target = read_target(text, f"{name}.columns, {source}", family, file)
        if isinstance(target, Fault):
            faults.append(target)
        else:
            columns[source] = target
    ignored = table.get("ignored", [])
    return ColumnMap(
        family=family.name,
        columns=columns,
        values=_texts(table.get("values", {}), file, f"{name}.values", faults),
        ignored=tuple(str(title) for title in ignored) if isinstance(ignored, list) else (),
        sheet=str(table.get("sheet", "")),
    )


def _texts(raw: object, file: str, where: str, faults: list[Fault]) -> dict[str, str]:
    if isinstance(raw, dict) and all(isinstance(value, str) for value in raw.values()):
        return dict(raw)
    faults.append(Fault("import.shape", "is no table of texts in quotes", file, where))
    return {}


def write_mappings(text: str | None, name: str, mapping: ColumnMap) -> str:
    """``text`` of an ``import.toml`` (None: a new one) with this mapping in it.

    Comments and other mappings stay as they are.
    """
    import tomlkit

    if text is None:
        document = tomlkit.document()
        document.add(tomlkit.comment("How tables of other people are read into this catalogue:"))
        document.add(tomlkit.comment('"their column" = "our column [their unit]".'))
        document.add("format", tomlkit.item(FORMAT))
    else:
        document = tomlkit.parse(text)
    table: Any = document.get(name)
    if table is None:
        table = tomlkit.table()
        document.add(name, table)
    table["family"] = mapping.family
    if mapping.sheet or "sheet" in table:
        table["sheet"] = mapping.sheet
    _fill(table, "columns", {title: target.text() for title, target in mapping.columns.items()})
    _fill(table, "values", dict(mapping.values))
    if mapping.ignored or "ignored" in table:
        table["ignored"] = list(mapping.ignored)
    return tomlkit.dumps(document)


def _fill(table: Any, key: str, wanted: dict[str, str]) -> None:
    import tomlkit

    if key not in table:
        if not wanted:
            return
        table[key] = tomlkit.table()
    inner = table[key]
    for gone in [name for name in inner if name not in wanted]:
        del inner[gone]
    for name, text in wanted.items():
        if inner.get(name) != text:
            inner[name] = text


def _plain(words: str) -> str:
    return re.sub(r"[\W_]+", "", words.lower())


def slug(text: str) -> str:
    """Words as an id: lower case, letters and digits joined by hyphens."""
    plain = re.sub(r"[^a-z0-9]+", "-", text.lower().replace("ß", "ss"))
    return plain.strip("-")[:80]
