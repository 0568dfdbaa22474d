"""The tables of suppliers and offers that the guide shows: they load and cost what they say."""

from __future__ import annotations

import re
import tomllib
from fractions import Fraction
from pathlib import Path

import pytest

from bomplan.buying.prices import PriceBook
from bomplan.catalog import load_catalog
from bomplan.catalog.records import Catalog
from bomplan.project.buying import Buying

GUIDE = Path(__file__).parents[3] / "docs" / "how-to" / "buy-from-several.md"


def blocks(language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", GUIDE.read_text("utf-8"), re.DOTALL)


@pytest.fixture
def catalog(tmp_path: Path) -> Catalog:
    for name, text in zip(("suppliers.csv", "offers.csv"), blocks("csv"), strict=True):
        (tmp_path / name).write_text(text, encoding="utf-8")
    return load_catalog(["generic", tmp_path])


def test_an_order_by_hand(catalog: Catalog) -> None:
    """28 cells at 27.50 USD, 0.92 EUR to the dollar, in euro cents.

    Goods 770.00 and shipping 180 + 2.40 for every started kilogram; duty 2.7 % of both; tax
    19 % of all three; the whole times 0.92, rounded up once.
    """
    prices = PriceBook(catalog, "EUR", {"USD": 0.92})
    cell = catalog.part("lfp-cell-80")
    source = next(one for one in prices.sources(cell) if one.supplier == "cells-overseas")
    lot = source.cheapest(25)
    assert lot is not None
    assert (lot.bought, lot.price, source.stock) == (28, 77_000, 200)
    kilograms = -(-28 * cell.mass_g // 1000)
    exact = Fraction(77_000 + 18_000 + 240 * kilograms) * Fraction("1.027") * Fraction("1.19")
    assert prices.terms_of(source).total(lot.price, 28 * cell.mass_g) == -(-exact * 92 // 100)
    assert prices.terms["corner-shop"].total(14_999, 400) == 14_999 + 690
    assert prices.terms["corner-shop"].total(15_000, 400) == 15_000


def test_the_wishes_of_the_guide_are_wishes(catalog: Catalog) -> None:
    (text,) = blocks("toml")
    buying = Buying.model_validate(tomllib.loads(text)["buying"])
    assert set(buying.supplier_of.items()) <= {(one.part, one.supplier) for one in catalog.offers}
    assert set(buying.excluded) <= set(catalog.suppliers)
    assert buying.spare_pieces("module", 22) == 2
