"""Catalogue to workbook to catalogue without loss, whatever text and figures stand in it."""

from __future__ import annotations

import tempfile
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from lanes import examples

from bomplan.catalog import load_catalog
from bomplan.catalog.csv_text import new_csv, open_csv, with_rows
from bomplan.catalog.load import stacked_rows
from bomplan.catalog.workbook import workbook_of

# Everything that UTF-8 can hold, and what spreadsheet programs are known to stumble over.
NASTY = (
    "=1+1", "+49 30", "-5", "@here", "'quoted", '"', "a,b;c\td", "a\nb", "_x000D_", "_x005F_",
    "x005F_", "_x005F_x0041_", "_x0041_x0042_x0043_", "<b>&amp;</b>", "1e5", "007",
    "TRUE", "2026-01-02", "#REF!",
    "\u202egnp.exe", "e\u0301", "\U0001f50b", "\ufffe", "\uffff", "\x85", "\u2028", "½ ″", "NaN",
    "sep=;", "http://example.org", "{=A1}", "  inner   spaces  x",
)  # fmt: skip
letters = st.characters(exclude_categories=["Cs"], exclude_characters="\r").filter(
    lambda c: c in "\t\n" or not (c < " " or c == "\x7f")
)
words = st.one_of(st.sampled_from(NASTY), st.text(letters, min_size=1, max_size=60)).map(str.strip)
ids = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9._-]{0,20}", fullmatch=True)
amounts = st.integers(0, 10**14).map(lambda cents: f"{cents // 100}.{cents % 100:02d}")
masses = st.decimals(0, 2000, places=9, allow_nan=False).map(lambda d: format(d, "f"))


@st.composite
def rows(draw: st.DrawFn) -> dict[str, str]:
    row = {
        "id": draw(ids),
        "description": draw(words) or "x",
        "mass_kg": draw(masses),
        "price": draw(amounts),
        "currency": draw(st.sampled_from(["EUR", "USD"])),
        "price_date": draw(st.dates()).isoformat(),
        "source": draw(st.sampled_from(["typical", "measured", "data sheet", "estimate"])),
        "channels": str(draw(st.integers(1, 4))),
        "vehicle": draw(st.sampled_from(["car", "motorcycle", "any"])),
        "my remark": draw(words),
        "shelf": draw(words),
    }
    return {name: text for name, text in row.items() if text}


@given(st.lists(rows(), min_size=1, max_size=4, unique_by=lambda row: row["id"]))
@settings(
    max_examples=examples(30, 120),
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
    derandomize=True,
)
def test_nothing_is_lost(found: list[dict[str, str]]) -> None:
    columns = list(dict.fromkeys(name for row in found for name in row))
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "parts"
        folder.mkdir()
        table = with_rows(new_csv("throttle", columns), "throttle", found)
        (folder / "throttle.csv").write_bytes(table.bytes())
        book = Path(place) / "parts.xlsx"
        before = load_catalog([folder])
        book.write_bytes(workbook_of(stacked_rows([folder])))
        after = load_catalog([book])
    assert after.families == before.families
    assert after.digest == before.digest
    shown = {row["id"]: row for row in found}
    for part in after.family("throttle").values():
        assert part.description == shown[part.id]["description"]
        assert part.text("my remark") == shown[part.id].get("my remark", "")


@given(st.lists(rows(), min_size=1, max_size=4, unique_by=lambda row: row["id"]))
@settings(max_examples=examples(30, 120), deadline=None, derandomize=True)
def test_a_table_written_is_the_table_read(found: list[dict[str, str]]) -> None:
    columns = list(dict.fromkeys(name for row in found for name in row))
    written = with_rows(new_csv("throttle", columns), "throttle", found)
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / "throttle.csv"
        path.write_bytes(written.bytes())
        read = open_csv(path, "throttle.csv")
        assert not hasattr(read, "code")
        assert read.bytes() == written.bytes()
        # Putting the same rows over it changes nothing.
        assert with_rows(read, "throttle", found).bytes() == written.bytes()
