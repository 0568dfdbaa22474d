"""A typed list against a catalogue of five parts: what is read of it, and every slip in full."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from bomplan.audit.typed_list import TypedPart, typed_parts
from bomplan.catalog.tables import Table
from bomplan.errors import Fault, InputError

PARTS = {
    "fuse": ("fuse-100", "fuse-200"),
    "motor": ("motor-big", "motor-small"),
    "module": ("module-a",),
}


def catalog() -> Any:
    families = {
        family: {name: SimpleNamespace(id=name, family=family) for name in names}
        for family, names in PARTS.items()
    }
    return SimpleNamespace(
        families=families,
        family=lambda name: families.get(name, {}),
        parts=lambda: (part for rows in families.values() for part in rows.values()),
        offers=tuple(
            SimpleNamespace(part=part, supplier=supplier)
            for part, supplier in (
                ("fuse-100", "north"), ("fuse-100", "north"), ("fuse-100", "harbour"),
                ("motor-big", "yard"),
            )
        ),
    )  # fmt: skip


def table(header: str, *rows: str) -> Table:
    return Table(
        "list.csv",
        tuple(header.split(",")),
        tuple((2 + index, tuple(row.split(","))) for index, row in enumerate(rows)),
        decimal_comma=False,
    )


def read(header: str, *rows: str) -> dict[str, TypedPart]:
    return typed_parts(table(header, *rows), catalog())


def faults(header: str, *rows: str) -> list[Fault]:
    with pytest.raises(InputError) as caught:
        read(header, *rows)
    return list(caught.value.faults)


def test_a_list_as_it_should_be() -> None:
    found = read(
        "family,part,quantity,supplier,bay",
        "fuse,fuse-100,2,north,",
        "module,module-a,4,,boot",
        ",module-a,3,,tray",
        " module , module-a ,2,,boot",
        ",motor-big,1.0,yard,",
        "shipping,north,1,north,",
        ",fuse-100,1,north",
    )
    assert found == {
        "fuse": TypedPart("fuse", "fuse-100", "north", 3),
        "module": TypedPart("module", "module-a", "", 9, {"boot": 6, "tray": 3}),
        "motor": TypedPart("motor", "motor-big", "yard", 1),
    }


@pytest.mark.parametrize("part", ["part", "id", "part id", "part no", "part number", "item"])
@pytest.mark.parametrize("quantity", ["quantity", "qty", "count", "number", "pieces"])
def test_columns_have_many_names(part: str, quantity: str) -> None:
    assert read(f"{part},{quantity}", "fuse-100,2")["fuse"].quantity == 2
    upper = f" {part.upper().replace(' ', '_')} ,{quantity.title()}"
    assert read(upper, "fuse-100,2")["fuse"].quantity == 2


@pytest.mark.parametrize("supplier", ["supplier", "vendor", "shop"])
def test_suppliers_have_many_names(supplier: str) -> None:
    assert read(f"part,quantity,{supplier}", "fuse-100,2,north")["fuse"].supplier == "north"


def test_a_column_by_its_own_name_goes_before_another_spelling() -> None:
    assert read("number,quantity,id,part", "9,2,motor-big,fuse-100") == {
        "fuse": TypedPart("fuse", "fuse-100", "", 2)
    }
    # Columns that mean nothing here are left alone.
    assert read("price,part,quantity", "12,fuse-100,2") == {
        "fuse": TypedPart("fuse", "fuse-100", "", 2)
    }


def test_a_column_that_is_missing() -> None:
    allowed = "family, part, quantity, supplier, bay (family, supplier and bay may be left out)"
    assert faults("family,part,quantities", "fuse,fuse-100,2") == [
        Fault(
            "list.missing-column", "the list has no column quantity", "list.csv", "header",
            "family, part, quantities", allowed, "rename quantities to quantity?",
        )
    ]  # fmt: skip
    assert faults("Family,what") == [
        Fault("list.missing-column", f"the list has no column {name}", "list.csv", "header",
              "Family, what", allowed, None)
        for name in ("part", "quantity")
    ]  # fmt: skip
    assert [one.hint for one in faults("parts,how many")] == ["rename parts to part?", None]


def test_a_part_that_there_is_not() -> None:
    assert faults("family,part,quantity", "fuse,fuse-10,1") == [
        Fault("list.part", "is no part of the catalogue", "list.csv", "row 2 (fuse-10)", "fuse-10",
              "fuse-100, fuse-200", "did you mean fuse-100?")
    ]  # fmt: skip
    everything = "fuse-100, fuse-200, module-a, motor-big, motor-small"
    # Of no family, or of one that there is not: all parts are allowed.
    for family in ("", "engine"):
        assert faults("family,part,quantity", f"{family},motor-smal,1") == [
            Fault("list.part", "is no part of the catalogue", "list.csv", "row 2 (motor-smal)",
                  "motor-smal", everything, "did you mean motor-small?")
        ]  # fmt: skip
    assert faults("part,quantity", "?,1") == [
        Fault("list.part", "is no part of the catalogue", "list.csv", "row 2 (?)", "?", everything)
    ]
    assert faults("part,quantity", ",1") == [
        Fault("list.part", "names no part", "list.csv", "row 2", None, everything, None)
    ]


def test_a_hint_is_given_for_what_is_half_alike() -> None:
    """difflib's ratio of two words of four letters that share two is a half."""
    here = catalog()
    here.families["fuse"] = {"abcd": SimpleNamespace(id="abcd", family="fuse")}
    for word, hint in (("abxy", "did you mean abcd?"), ("axyz", None)):
        with pytest.raises(InputError) as caught:
            typed_parts(table("family,part,quantity", f"fuse,{word},1"), here)
        assert caught.value.faults[0].hint == hint
    assert faults("part,quantit", "fuse-100,1")[0].hint == "rename quantit to quantity?"
    # quxxxtity shares six of nine or eight letters, quxxxxxy only three.
    assert faults("part,quxxtity", "fuse-100,1")[0].hint == "rename quxxtity to quantity?"
    assert faults("part,quxxxxxy", "fuse-100,1")[0].hint is None


@pytest.mark.parametrize(("number", "told"), [(12, True), (13, False)])
def test_a_dozen_of_choices_is_told_and_no_more(number: int, told: bool) -> None:
    here = catalog()
    names = [f"fuse-{index:02}" for index in range(number)]
    here.families["fuse"] = {name: SimpleNamespace(id=name, family="fuse") for name in names}
    with pytest.raises(InputError) as caught:
        typed_parts(table("family,part,quantity", "fuse,gauge,1"), here)
    assert caught.value.faults[0].allowed == (", ".join(names) if told else None)


def test_no_choice_at_all_allows_nothing() -> None:
    here = catalog()
    here.families["fuse"] = {}
    with pytest.raises(InputError) as caught:
        typed_parts(table("family,part,quantity", "fuse,gauge,1"), here)
    assert caught.value.faults[0].allowed is None


def test_a_part_of_another_family() -> None:
    assert faults("family,part,quantity", "motor,fuse-100,1") == [
        Fault("list.family", "is a fuse, not a motor", "list.csv", "row 2 (fuse-100)", "fuse-100",
              hint="write fuse, or leave the column family out")
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "number"),
    [("1", 1), ("12.0", 12), ("12.", 12), ("999999", 999_999), ("007", 7), (" 3 ", 3), ("1.00", 1)],
)
def test_whole_numbers_from_one(text: str, number: int) -> None:
    assert read("part,quantity", f"fuse-100,{text}")["fuse"].quantity == number


@pytest.mark.parametrize(
    "text", ["0", "-1", "1.5", "1000000", "", "one", "+1", "1e3", "٣", "1.0.0", ".", "1.x", "²"]
)
def test_what_is_no_quantity(text: str) -> None:
    assert faults("part,quantity", f"fuse-100,{text}") == [
        Fault("list.quantity", "is no quantity", "list.csv", "row 2 (fuse-100)", text or None,
              "a whole number from 1")
    ]  # fmt: skip


def test_a_supplier_that_does_not_sell_it() -> None:
    assert faults("part,quantity,supplier", "fuse-100,1,nort") == [
        Fault("list.supplier", "does not sell this part", "list.csv", "row 2 (fuse-100)", "nort",
              "harbour, north", "did you mean north?")
    ]  # fmt: skip
    assert faults("part,quantity,supplier", "fuse-200,1,north") == [
        Fault("list.supplier", "sells nothing; nobody offers it", "list.csv", "row 2 (fuse-200)",
              "north", None, None)
    ]  # fmt: skip
    # Of a part that there is not, nobody is asked who sells it.
    assert [one.code for one in faults("part,quantity,supplier", "fuse-3,1,north")] == ["list.part"]


def test_a_second_choice_of_a_family() -> None:
    second = Fault(
        "list.two-of-family",
        "is a second choice of family fuse; a list names one part from one supplier of each",
        "list.csv", "row 3 (fuse-200)", "fuse-200", "fuse-100, or nothing",
    )  # fmt: skip
    assert faults("part,quantity", "fuse-100,1", "fuse-200,1") == [second]
    other = faults("part,quantity,supplier", "fuse-100,1,north", "fuse-100,1,harbour")
    assert [(one.code, one.value) for one in other] == [("list.two-of-family", "fuse-100")]
    # What stands behind it is read all the same.
    more = faults("part,quantity", "fuse-100,1", "fuse-200,1", "motor-big,x")
    assert [one.code for one in more] == ["list.two-of-family", "list.quantity"]


def test_every_row_is_looked_at() -> None:
    found = faults("part,quantity", "fuse-1,0", "fuse-100,x", "motor-big,0")
    assert [(one.code, one.where) for one in found] == [
        ("list.part", "row 2 (fuse-1)"), ("list.quantity", "row 2 (fuse-1)"),
        ("list.quantity", "row 3 (fuse-100)"), ("list.quantity", "row 4 (motor-big)"),
    ]  # fmt: skip
    # Charges stand in a bill and are no parts, wherever they stand.
    assert [one.code for one in faults("family,part,quantity", "tax,x,1", ",fuse-100,0")] == [
        "list.quantity"
    ]


def test_a_list_of_nothing() -> None:
    empty = [Fault("list.empty", "the list names no part", "list.csv")]
    assert faults("part,quantity") == empty
    assert faults("family,part,quantity", "shipping,north,1") == empty
    assert [one.code for one in faults("part,quantity", "fuse-100,0")] == ["list.quantity"]
