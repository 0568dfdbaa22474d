"""What a quantity costs: steps, packs, and more than is needed where that is cheaper."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bomplan.buying.prices import PriceBook, Shipping, Source, Step
from bomplan.catalog.records import Catalog, Offer, Part, Supplier
from bomplan.errors import InputError


def source(*steps: tuple[int, int, int]) -> Source:
    return Source("cell", "north", tuple(Step(*step) for step in steps))


def test_a_step_is_reached_or_not() -> None:
    bought = source((1, 100, 1), (10, 80, 1))
    assert bought.buy(7) == (7, 100, 700)
    assert bought.buy(10) == (10, 80, 800)


def test_more_than_needed_where_that_is_cheaper() -> None:
    assert source((1, 100, 1), (10, 80, 1)).buy(9) == (10, 80, 800)


def test_equal_sums_buy_fewer() -> None:
    assert source((1, 100, 1), (10, 80, 1)).buy(8) == (8, 100, 800)


def test_whole_packs_only() -> None:
    packs = source((4, 100, 4), (16, 90, 4))
    assert packs.buy(1) == (4, 100, 400)
    assert packs.buy(5) == (8, 100, 800)
    assert packs.buy(15) == (16, 90, 1440)
    assert packs.buy(17) == (20, 90, 1800)


def test_nothing_needed_costs_nothing() -> None:
    assert source((4, 100, 4)).buy(0) == (0, 100, 0)


steps = st.lists(
    st.tuples(st.integers(1, 40), st.integers(1, 500), st.sampled_from((1, 2, 4, 10))),
    min_size=1,
    max_size=4,
)


@given(steps, st.integers(1, 80))
def test_at_least_so_many_is_never_dearer_than_more(
    offered: list[tuple[int, int, int]], needed: int
) -> None:
    whole = source(*offered)
    bought, unit_price, price = whole.buy(needed)
    assert bought >= needed
    assert price == bought * unit_price
    assert price <= whole.buy(needed + 1)[2]


@given(steps, st.integers(1, 60))
def test_no_purchase_is_cheaper(offered: list[tuple[int, int, int]], needed: int) -> None:
    """Against every number of pieces at every step up to twice the need."""
    everything = [
        number * unit
        for least, unit, pack in offered
        for number in range(needed, 2 * needed + 60)
        if number >= least and number % pack == 0
    ]
    assert source(*offered).buy(needed)[2] == min(everything)


def test_shipping_is_flat_and_free_from_a_sum_on() -> None:
    terms = Shipping("north", 900, 5_000)
    assert [terms.on(goods) for goods in (0, 1, 4_999, 5_000)] == [0, 900, 900, 0]
    assert Shipping("north", 900, None).on(10**9) == 900


def part(**changes: Any) -> Part:
    values: dict[str, Any] = {
        "id": "fan",
        "family": "vent_fan",
        "description": "a fan",
        "mass_g": 300,
        "price": 2_000,
        "currency": "USD",
        "price_date": "2026-09-01",
        "source": "typical",
    }
    return Part(**(values | changes))


def book(offers: tuple[Offer, ...], allowed: tuple[str, ...] = (), **rates: float) -> PriceBook:
    suppliers = {
        "north": Supplier(id="north", currency="USD", shipping_flat=1_000, free_above=9_000),
        "harbour": Supplier(id="harbour", currency="EUR", shipping_flat=700),
    }
    catalog = Catalog(
        name="two shops",
        families={"vent_fan": {"fan": part()}},
        pairs=(),
        curves=(),
        temperatures=(),
        suppliers=suppliers,
        offers=offers,
    )
    return PriceBook(catalog, "EUR", rates, allowed)


def test_a_part_without_offers_sells_at_its_list_price() -> None:
    (only,) = book((), USD=0.9).sources(part())
    assert (only.supplier, only.buy(3)) == ("", (3, 1_800, 5_400))


def test_offers_replace_the_list_price_and_stand_by_supplier() -> None:
    offers = (
        Offer(part="fan", supplier="north", unit_price=1_500),
        Offer(part="fan", supplier="harbour", unit_price=1_700),
    )
    prices = book(offers, USD=0.9)
    assert [
        (source.supplier, source.buy(1)[2], prices.terms_of(source).least(source.buy(1)[2]))
        for source in prices.sources(part())
    ] == [("harbour", 1_700, 1_700), ("north", 1_500, 1_350)]


def test_shipping_is_in_the_projects_money() -> None:
    shipping = book((), USD=0.9).shipping
    assert (shipping["north"].flat, shipping["north"].free_above) == (900, 8_100)


def test_only_allowed_suppliers_sell() -> None:
    offers = (Offer(part="fan", supplier="north", unit_price=1_500),)
    assert book(offers, ("harbour",), USD=0.9).sources(part()) == ()


def test_a_missing_rate_is_told() -> None:
    with pytest.raises(InputError, match=r"rates\.USD"):
        book(())
