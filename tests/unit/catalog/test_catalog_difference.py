"""What a comparison of two catalogues says."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import pytest

from bomplan.catalog import Catalog, load_catalog
from bomplan.catalog.difference import Change, compare

Edit = Callable[[str, str, str, str], Path]


def drop(folder: Path, table: str, row_id: str) -> None:
    path = folder / f"{table}.csv"
    with path.open(encoding="utf-8", newline="") as stream:
        rows = [row for row in csv.reader(stream) if row[0] != row_id]
    with path.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerows(rows)


def test_a_catalogue_does_not_differ_from_itself(generic: Catalog, folder: Path) -> None:
    assert compare(generic, load_catalog([folder])) == ()


@pytest.mark.parametrize(
    ("table", "row", "column", "text", "kind", "said"),
    [
        ("module", "lfp-cell-100", "price", "50.40", "dearer", "42.00 USD -> 50.40 USD (+20.0 %)"),
        ("module", "lfp-cell-100", "price", "21", "cheaper", "42.00 USD -> 21.00 USD (-50.0 %)"),
        ("module", "lfp-cell-100", "mass_kg", "2.15", "changed", "mass_kg: 2.1 -> 2.15"),
        ("module", "lfp-cell-100", "note", "odd", "changed", "note: (blank) -> odd"),
        ("module", "lfp-cell-100", "height_mm", "119", "changed", "height_mm: 118 -> 119"),
        ("module", "lfp-cell-100", "built_in_protection", "yes", "changed", "no -> yes"),
        ("module", "lfp-cell-100", "currency", "EUR", "changed", "currency: USD -> EUR"),
        (
            "module", "lfp-cell-100", "replaced_by", "lfp-cell-150", "retired",
            "replaced by lfp-cell-150",
        ),
        ("offers", "lfp-cell-100", "unit_price", "41.00", "dearer", "USD -> 41.00 USD"),
        ("suppliers", "harbour-parts", "lead_days", "99", "changed", "lead_days"),
        ("pairs", "motor-mid-72v-14kw", "v_min", "60.5", "changed", "v_min"),
        ("curves", "lfp", "resistance_factor", "9.5", "changed", "resistance_factor"),
    ],
)  # fmt: skip
def test_one_cell(
    generic: Catalog,
    edit: Edit,
    table: str,
    row: str,
    column: str,
    text: str,
    kind: str,
    said: str,
) -> None:
    changes = compare(generic, load_catalog([edit(table, row, column, text)]))
    mine = [one for one in changes if one.kind == kind]
    assert len(mine) == 1
    assert said in mine[0].text()
    assert mine[0].table == table


def test_new_and_gone_are_each_others_mirror(generic: Catalog, folder: Path) -> None:
    drop(folder, "throttle", "throttle-pedal-dual")
    fewer = load_catalog([folder])
    gone = [one for one in compare(generic, fewer) if one.table == "throttle"]
    come = [one for one in compare(fewer, generic) if one.table == "throttle"]
    assert [(one.kind, one.id) for one in gone] == [("retired", "throttle-pedal-dual")]
    assert [(one.kind, one.id) for one in come] == [("new", "throttle-pedal-dual")]
    assert "USD" in come[0].text()


def test_dearer_there_is_cheaper_back(generic: Catalog, edit: Edit) -> None:
    other = load_catalog([edit("module", "lfp-cell-100", "price", "50")])
    (there,) = compare(generic, other)
    (back,) = compare(other, generic)
    assert (there.kind, back.kind) == ("dearer", "cheaper")
    assert (there.before, there.after) == (back.after, back.before)
    assert there.share is not None
    assert there.share > 0


def test_prices_come_first() -> None:
    order = [
        Change("changed", "module", "a", "mass_kg", "1", "2"),
        Change("dearer", "module", "z", "price", "1", "2", 1.0),
    ]
    assert order[1].text() == "module, z, price: 1 -> 2 (+100.0 %)"
