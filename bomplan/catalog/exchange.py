"""Catalogues to and from other people's files: whole, or table by table.

Nothing here writes; every function hands back the contents of the files that would change.
"""

from __future__ import annotations

import difflib
import tempfile
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from bomplan.catalog.columns import schema
from bomplan.catalog.csv_text import new_csv, with_rows
from bomplan.catalog.edited import EditedPart, update_edited
from bomplan.catalog.load import stacked_rows
from bomplan.catalog.mapping import (
    MAPPING_FILE,
    ColumnMap,
    Target,
    guess,
    read_mapping_file,
    read_mappings,
    read_target,
    write_mappings,
)
from bomplan.catalog.merge import (
    Incoming,
    Merged,
    merge_rows,
    missing_columns,
    open_source,
    take_in,
)
from bomplan.catalog.rows import Row
from bomplan.catalog.sheets import is_workbook, read_sheets
from bomplan.catalog.sources import shipped_catalogs
from bomplan.catalog.tables import Table
from bomplan.catalog.update import update_rows
from bomplan.catalog.workbook import workbook_of
from bomplan.errors import Fault, InputError


@dataclass(frozen=True)
class Wishes:
    """How a table is to be read, as far as the person says it."""

    family: str = ""
    sheet: str = ""
    name: str = ""
    columns: Mapping[str, str] = field(default_factory=dict)
    values: Mapping[str, str] = field(default_factory=dict)
    ignored: tuple[str, ...] = ()


@dataclass(frozen=True)
class Imported:
    """What an import would write, by which mapping, and the columns that it leaves out."""

    merged: Merged
    mapping: ColumnMap | None
    name: str
    left_out: tuple[str, ...] = ()


def export_files(names: Sequence[str | Path], target: Path) -> dict[Path, bytes]:
    """The catalogues, stacked, as one workbook (``target`` ends in .xlsx) or a folder of CSV.

    Loaded again they have the same digest. Raises InputError for what cannot be read, and
    for a folder that holds tables already.
    """
    tables = stacked_rows(names)
    if target.suffix.lower() == ".xlsx":
        return {target: workbook_of(tables)}
    if target.suffix:
        raise InputError(
            [
                Fault(
                    "export.target",
                    "a catalogue is written as one workbook or as a folder",
                    value=str(target),
                    allowed="a name ending in .xlsx, or the name of a folder",
                )
            ]
        )
    if target.is_dir() and any(target.glob("*.[cC][sS][vV]")):
        raise InputError(
            [
                Fault(
                    "export.exists",
                    "the folder holds tables already, and they are left as they are",
                    str(target),
                    hint="name a new folder",
                )
            ]
        )
    return {target / f"{name}.csv": _csv(name, rows) for name, rows in tables.items() if rows}


def _csv(name: str, rows: Sequence[Row]) -> bytes:
    used = [column for column in schema()[name].columns if any(column in row.cells for row in rows)]
    unknown = dict.fromkeys(title for row in rows for title in row.unknown)
    texts = [{c: cell.text for c, cell in row.cells.items()} | dict(row.unknown) for row in rows]
    return with_rows(new_csv(name, [*used, *unknown]), name, texts).bytes()


def import_files(source: Path, folder: Path, wishes: Wishes) -> Imported:
    """The table in ``source`` put into the catalogue in ``folder``, with its mapping remembered.

    A workbook whose sheets are named after our tables is taken as it is. Raises InputError
    with every fault.
    """
    _not_shipped(folder)
    if is_workbook(source) and not wishes.family and not wishes.sheet:
        own = _own_sheets(source)
        if own:
            return Imported(_import_sheets(own, folder), None, "")
    table = open_source(source, wishes.sheet)
    file = folder / MAPPING_FILE
    text = read_mapping_file(file)
    known = read_mappings(text, MAPPING_FILE, schema()) if text is not None else {}
    name, mapping = _find_mapping(table, known, wishes, source)
    mapping = _with_wishes(table, mapping, wishes)
    lacking = missing_columns(mapping)
    if lacking:
        raise InputError(
            [
                Fault(
                    "import.missing-column",
                    f"nothing in the table gives {column.name}, which every row needs",
                    table.file,
                    "header",
                    allowed=f"{column.description}: {column.allowed()}",
                    hint=f'--map "THEIRS={column.name}" or --set {column.name}=VALUE',
                )
                for column in lacking
            ]
        )
    merged = merge_rows(folder, mapping.family, take_in(table, mapping))
    # The day on which prices were seen is another one each time, so it is asked for anew.
    lasting = {key: value for key, value in mapping.values.items() if key != "price_date"}
    remembered = write_mappings(text, name, replace(mapping, values=lasting))
    if remembered != text:
        merged.files[file] = remembered.encode("utf-8")
    left_out = tuple(
        title
        for title in table.header
        if title and title not in mapping.columns and title not in mapping.ignored
    )
    return Imported(merged, mapping, name, left_out)


def update_files(folder: Path, source: Path, sheet: str = "", price_date: str = "") -> Merged:
    """Edited prices and figures in ``source`` put over the parts of the catalogue in ``folder``.

    ``folder`` may be a workbook, which is then written anew. Raises InputError with every fault.
    """
    table = open_source(source, sheet)
    columns = _update_columns(table)
    return _updated(folder, lambda place: update_rows(place, table, columns, price_date))


def update_from_bill(folder: Path, edits: Sequence[EditedPart], price_date: str = "") -> Merged:
    """Prices and masses edited on a bill put over the parts of the catalogue in ``folder``.

    ``folder`` may be a workbook, which is then written anew. Raises InputError with every fault.
    """
    return _updated(folder, lambda place: update_edited(place, edits, price_date))


def _updated(folder: Path, update: Callable[[Path], Merged]) -> Merged:
    """What ``update`` makes of a catalogue folder, or of a workbook by way of a folder."""
    _not_shipped(folder)
    if folder.is_file() and is_workbook(folder):
        tables = stacked_rows([folder])
        with tempfile.TemporaryDirectory(prefix="bomplan-") as place:
            inside = Path(place) / folder.stem
            inside.mkdir()
            for name, rows in tables.items():
                if rows:
                    (inside / f"{name}.csv").write_bytes(_csv(name, rows))
            merged = update(inside)
            for path, content in merged.files.items():
                path.write_bytes(content)
            after = workbook_of(stacked_rows([inside])) if merged.files else b""
        merged.files = {folder: after} if after else {}
        return merged
    if not folder.is_dir():
        raise InputError(
            [
                Fault(
                    "update.not-a-folder",
                    "a catalogue is updated in its folder of CSV files, or as a workbook",
                    str(folder),
                    hint="bomplan catalog export NAME FOLDER makes one",
                )
            ]
        )
    return update(folder)


def _update_columns(table: Table) -> dict[str, str]:
    every = {name for family in schema().values() for name in family.columns}
    columns = {title: title.lower() for title in table.header if title.lower() in every}
    if "id" not in columns.values() or len(columns) < 2:
        unknown = [title for title in table.header if title not in columns]
        near = difflib.get_close_matches("id", [t.lower() for t in unknown], n=1)
        raise InputError(
            [
                Fault(
                    "update.columns",
                    "the table needs a column id and at least one that a catalogue has",
                    table.file,
                    "header",
                    ", ".join(table.header),
                    "id and, for example, price, price_date, mass_kg",
                    f"rename {near[0]} to id?" if near else "bomplan catalog import maps names",
                )
            ]
        )
    return columns


def _own_sheets(source: Path) -> dict[str, Table]:
    """The sheets that are named after our tables; none for a workbook of another kind."""
    sheets = read_sheets(source, source.name)
    if isinstance(sheets, Fault):
        raise InputError([sheets])
    mine = {title.strip().lower(): t for title, t in sheets.items()}
    found = {name: table for name, table in mine.items() if name in schema()}
    faults = [table for table in found.values() if isinstance(table, Fault)]
    if faults:
        raise InputError(faults)
    return {name: table for name, table in found.items() if isinstance(table, Table)}


def _import_sheets(sheets: Mapping[str, Table], folder: Path) -> Merged:
    merged = Merged()
    faults: list[Fault] = []
    for name, table in sheets.items():
        rows = [
            Incoming(
                {
                    title: text.strip()
                    for title, text in zip(table.header, texts, strict=False)
                    if title
                },
                table.file,
                line,
            )
            for line, texts in table.rows
        ]
        try:
            one = merge_rows(folder, name, rows)
        except InputError as error:
            faults.extend(error.faults)
            continue
        merged.files |= one.files
        merged.changes += one.changes
        merged.notes += one.notes
    if faults:
        raise InputError(faults)
    return merged


def _find_mapping(
    table: Table, known: Mapping[str, ColumnMap], wishes: Wishes, source: Path
) -> tuple[str, ColumnMap]:
    """A remembered mapping by name or by the columns of the table, or a new one."""
    name = wishes.name or source.stem.lower().replace(" ", "-")
    suits = {
        key: one
        for key, one in known.items()
        if one.fits(table.header) and wishes.family in ("", one.family)
    }
    if name in suits:
        return name, suits[name]
    if wishes.name and name in known:
        lacking = [title for title in known[name].columns if title not in table.header]
        if wishes.family in ("", known[name].family):
            raise InputError(
                [
                    Fault(
                        "import.columns-gone",
                        f"the mapping {name} names columns that this table does not have",
                        table.file,
                        "header",
                        ", ".join(lacking),
                        ", ".join(table.header),
                        f"mend [{name}] in {MAPPING_FILE}, or give --as another name",
                    )
                ]
            )
    if not wishes.name and suits:
        # The one that reads most of the table; the first by name among equals.
        key = min(suits, key=lambda one: (-len(suits[one].columns), one))
        return key, suits[key]
    if not wishes.family:
        raise InputError(
            [
                Fault(
                    "import.which-family",
                    "no remembered mapping fits this table, so say what it holds",
                    table.file,
                    allowed=", ".join(schema()),
                    hint="--family module",
                )
            ]
        )
    family = _family(wishes.family)
    return name, ColumnMap(family, guess(table.header, schema()[family]), sheet=wishes.sheet)


def _family(name: str) -> str:
    if name in schema():
        return name
    near = difflib.get_close_matches(name, schema(), n=1)
    raise InputError(
        [
            Fault(
                "import.family",
                "is no table of a catalogue",
                where="--family",
                value=name,
                allowed=", ".join(schema()),
                hint=f"did you mean {near[0]}?" if near else None,
            )
        ]
    )


def _with_wishes(table: Table, mapping: ColumnMap, wishes: Wishes) -> ColumnMap:
    family = schema()[mapping.family]
    columns: dict[str, Target] = dict(mapping.columns)
    values = dict(mapping.values) | dict(wishes.values)
    faults: list[Fault] = []
    for title in (*wishes.columns, *wishes.ignored):
        if title not in table.header:
            faults.append(_no_title(title, table))
    for title, text in wishes.columns.items():
        target = read_target(text, title, family, table.file)
        if isinstance(target, Fault):
            faults.append(target)
            continue
        columns = {one: t for one, t in columns.items() if t.column != target.column}
        columns[title] = target
    for title in wishes.ignored:
        columns.pop(title, None)
    for key in values:
        if key not in family.columns:
            near = family.nearest_column(key)
            faults.append(
                Fault(
                    "import.unknown-target",
                    f"is no column of {family.name}",
                    where="--set",
                    value=key,
                    allowed=", ".join(family.columns),
                    hint=f"did you mean {near}?" if near else None,
                )
            )
    if faults:
        raise InputError(faults)
    ignored = tuple(dict.fromkeys([*mapping.ignored, *wishes.ignored]))
    ignored = tuple(title for title in ignored if title not in columns)
    return replace(mapping, columns=columns, values=values, ignored=ignored)


def _no_title(title: str, table: Table) -> Fault:
    near = difflib.get_close_matches(title, table.header, n=1)
    return Fault(
        "import.no-such-column",
        "the table has no such column",
        table.file,
        "header",
        title,
        ", ".join(table.header),
        f"did you mean {near[0]}?" if near else None,
    )


def _not_shipped(folder: Path) -> None:
    homes: Iterable[Path] = shipped_catalogs().values()
    bare = len(folder.parts) == 1 and folder.name in shipped_catalogs() and not folder.exists()
    if bare or any(folder.resolve() == home.resolve() for home in homes):
        raise InputError(
            [
                Fault(
                    "catalog.shipped",
                    "a catalogue that comes with bomplan is not changed",
                    value=str(folder),
                    hint=f"bomplan catalog export {folder.name} my-parts makes a copy to change; "
                    "a folder of your own may also be stacked on it and override by id",
                )
            ]
        )
