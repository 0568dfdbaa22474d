"""The digest of a catalogue follows what its tables say, not how they are laid out."""

from __future__ import annotations

import csv
import random
import tempfile
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st
from lanes import examples

from bomplan.catalog import load_catalog
from bomplan.catalog.sources import shipped_catalogs

GENERIC = shipped_catalogs()["generic"]
DIGEST = load_catalog(["generic"]).digest


def rewrite(target: Path, shuffle: random.Random, delimiter: str, end: str, mark: bool) -> None:
    """All tables anew: columns and rows shuffled, other delimiter, line ends and mark."""
    for path in sorted(GENERIC.glob("*.csv")):
        with path.open(newline="", encoding="utf-8") as stream:
            header, *rows = list(csv.reader(stream))
        order = list(range(len(header)))
        shuffle.shuffle(order)
        shuffle.shuffle(rows)
        encoding = "utf-8-sig" if mark else "utf-8"
        with (target / path.name).open("w", newline="", encoding=encoding) as stream:
            writer = csv.writer(stream, delimiter=delimiter, lineterminator=end)
            writer.writerow([header[place] for place in order])
            writer.writerows([row[place] for place in order] for row in rows)


@settings(max_examples=12, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    delimiter=st.sampled_from([",", ";", "\t"]),
    end=st.sampled_from(["\n", "\r\n", "\r"]),
    mark=st.booleans(),
)
def test_layout_does_not_matter(seed: int, delimiter: str, end: str, mark: bool) -> None:
    with tempfile.TemporaryDirectory() as home:
        rewrite(Path(home), random.Random(seed), delimiter, end, mark)
        assert load_catalog([home]).digest == DIGEST


@settings(max_examples=examples(10, 40), deadline=None)
@given(
    text=st.text(
        st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), min_size=1, max_size=80
    ).filter(lambda text: text.strip() == text),
    delimiter=st.sampled_from([",", ";", "\t"]),
)
def test_any_text_is_carried_unharmed(text: str, delimiter: str) -> None:
    with tempfile.TemporaryDirectory() as home:
        path = Path(home) / "labels.csv"
        with path.open("w", newline="", encoding="utf-8") as stream:
            writer = csv.writer(stream, delimiter=delimiter)
            writer.writerow(
                ["id", "description", "mass_kg", "price", "currency", "price_date", "source"]
            )
            writer.writerow(["one", text, "0.1", "20", "USD", "2026-09-15", "typical"])
        assert load_catalog([home]).part("one").description == text
