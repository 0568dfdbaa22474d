"""The lines on buying that every template offers: they are right as soon as the marks go."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

import bomplan.project
from bomplan.catalog import load_catalog
from bomplan.project.buying import Buying

TEMPLATES = sorted((Path(bomplan.project.__file__).parent / "templates").glob("*.toml"))


def offered(text: str) -> dict[str, object]:
    block = re.search(r"^# \[buying\]\n(?:# .*\n)*", text, re.MULTILINE)
    assert block is not None
    return tomllib.loads(re.sub(r"^# ", "", block[0], flags=re.MULTILINE))


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.stem)
def test_the_lines_say_what_they_seem_to(path: Path) -> None:
    buying = Buying.model_validate(offered(path.read_text("utf-8"))["buying"])
    assert buying.deadline_days == 60
    assert buying.suppliers_max == 3
    assert not buying.split
    assert buying.spare_pieces("module", 21) == 2
    assert buying.spare_pieces("fuse", 3) == 1


def test_they_name_what_the_shipped_catalogue_has() -> None:
    catalog = load_catalog(["generic"])
    for path in TEMPLATES:
        buying = Buying.model_validate(offered(path.read_text("utf-8"))["buying"])
        assert set(buying.excluded) <= set(catalog.suppliers)
        sold = {(offer.part, offer.supplier) for offer in catalog.offers}
        assert set(buying.supplier_of.items()) <= sold
