"""What an order comes to, landed: reckoned by hand, to the smallest unit of any currency."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bomplan.buying.envelope import Envelope
from bomplan.buying.prices import PriceBook, Source, Step, Wishes
from bomplan.buying.terms import FINEST, Terms
from bomplan.catalog.records import Catalog, Offer, Part, Supplier


def terms(**changes: Any) -> Terms:
    return Terms("north", "USD", **changes)


def test_an_order_from_abroad_by_hand() -> None:
    """24 cells at 30.50 USD, 1.96 kg each, 0.92 EUR to the dollar, in euro cents.

    goods                            732.00 USD
    shipping 145.00 + 48 kg x 2.40   260.20   (47.04 kg are 48 started ones)
    duty 2.7 % of 992.20              26.7894
    tax 19 % of 1018.9894            193.607986
    together                        1212.597386 USD = 1115.58959512 EUR, rounded up 1115.59
    """
    order = terms(
        rate=Fraction("0.92"),
        flat=14_500,
        per_kg=240,
        duty=Fraction("0.027"),
        tax=Fraction("0.19"),
    )
    assert order.total(73_200, 24 * 1_960) == 111_559
    shown = 24 * order.unit_price(3_050)
    found = order.invoice(73_200, 24 * 1_960, shown)
    # 673.44 goods, 239.384 shipping, 24.646248 duty, 178.11934712 tax, each rounded down.
    assert (found.goods, found.shipping, found.duty, found.tax) == (67_344, 23_938, 2_464, 17_811)
    assert (found.rounding, found.total) == (2, 111_559)


@pytest.mark.parametrize(
    ("duty_on", "tax_on", "total"),
    [
        # 1000 goods, 100 shipping, duty 10 %, tax 20 %.
        ("goods+shipping", "goods+shipping+duty", 1_452),
        ("goods", "goods+shipping+duty", 1_440),
        ("goods+shipping", "goods+shipping", 1_430),
        ("goods", "goods", 1_400),
    ],
)
def test_what_duty_and_tax_are_taken_on_is_data(duty_on: Any, tax_on: Any, total: int) -> None:
    order = terms(
        flat=100, duty=Fraction(1, 10), tax=Fraction(1, 5), duty_on=duty_on, tax_on=tax_on
    )
    assert order.total(1_000, 500) == total


def test_free_shipping_is_free_by_the_kilogram_too() -> None:
    order = terms(flat=100, per_kg=10, free_above=5_000)
    assert [order.shipping(goods, 1_001) for goods in (0, 4_999, 5_000)] == [0, 120, 0]


@pytest.mark.parametrize(
    ("project", "seller", "rate", "asked", "total"),
    [
        # 3 pieces at 1.99 EUR each; a yen has no decimals, a Kuwaiti dinar three.
        ("JPY", "EUR", 171.35, 199, 1_023),  # 5.97 EUR = 1022.9595 JPY
        ("KWD", "EUR", 0.3581, 199, 2_138),  # 5.97 EUR = 2.137857 KWD
        ("EUR", "KWD", 2.792, 1_999, 1_675),  # 5.997 KWD = 16.743624 EUR
        ("EUR", "JPY", 0.00584, 331, 580),  # 993 JPY = 5.79912 EUR
    ],
)
def test_currencies_of_any_decimals(
    project: str, seller: str, rate: float, asked: int, total: int
) -> None:
    prices = book([offer(unit_price=asked)], currency=seller, project=project, rates={seller: rate})
    assert prices.terms["north"].total(3 * asked, 0) == total


factors = st.fractions(min_value=0, max_value=1, max_denominator=1_000)


@given(
    rate=st.fractions(min_value=Fraction(1, 200), max_value=200, max_denominator=10_000),
    duty=factors,
    tax=factors,
    duty_on=st.sampled_from(("goods", "goods+shipping")),
    tax_on=st.sampled_from(("goods", "goods+shipping", "goods+shipping+duty")),
    lots=st.lists(st.tuples(st.integers(1, 300), st.integers(1, 90_000)), min_size=1, max_size=5),
    flat=st.integers(0, 50_000),
)
def test_the_lines_and_charges_always_come_to_the_invoice(
    rate: Fraction, duty: Fraction, tax: Fraction, duty_on: Any, tax_on: Any, lots: Any, flat: int
) -> None:
    order = terms(rate=rate, duty=duty, tax=tax, duty_on=duty_on, tax_on=tax_on, flat=flat)
    goods = sum(bought * asked for bought, asked in lots)
    shown = sum(bought * order.unit_price(asked) for bought, asked in lots)
    found = order.invoice(goods, 1, shown)
    assert found.goods + found.shipping + found.duty + found.tax + found.rounding == found.total
    assert found.rounding >= 0
    assert order.least(goods) <= found.total
    assert order.fine <= FINEST
    # The fine units that the model counts in give the same whole invoice.
    exact = int(order.on_goods * order.fine) * goods
    exact += int(order.on_shipping * order.fine) * order.shipping(goods, 1)
    assert -(-exact // order.fine) == found.total


def test_a_step_ends_where_the_next_takes_its_place() -> None:
    source = Source("cell", "north", (Step(1, 100, 1), Step(10, 80, 1)))
    assert source.lot(9) is not None
    found = source.lot(10)
    assert found is not None
    assert found.unit_price == 80
    assert [(lot.bought, lot.price) for lot in source.lots(9)] == [(10, 800), (9, 900)]
    assert [(lot.bought, lot.price) for lot in source.lots(12)] == [(12, 960)]


def test_stock_ends_what_can_be_had() -> None:
    source = Source("cell", "north", (Step(1, 100, 1), Step(10, 80, 1)), stock=9)
    assert [lot.bought for lot in source.lots(9)] == [9]
    assert source.lots(10) == ()


def test_lapsed_offers_do_not_count() -> None:
    offers = [offer(unit_price=50, valid_until="2026-10-31"), offer("harbour", unit_price=70)]
    fan = part()
    late = book(offers, wishes=Wishes(as_of=dt.date(2026, 11, 1)))
    assert [one.supplier for one in late.sources(fan)] == ["harbour"]
    assert [one.unit_price for one in late.lapsed] == [50]
    early = book(offers, wishes=Wishes(as_of=dt.date(2026, 10, 31)))
    assert [one.supplier for one in early.sources(fan)] == ["harbour", "north"]


def test_without_a_valid_offer_the_list_price_counts() -> None:
    prices = book(
        [offer(unit_price=50, valid_until="2026-10-31")],
        wishes=Wishes(as_of=dt.date(2026, 11, 1)),
    )
    assert [one.supplier for one in prices.sources(part())] == [""]


def test_a_deadline_an_exclusion_and_a_lock_take_suppliers_out() -> None:
    offers = [offer(unit_price=50), offer("harbour", unit_price=70)]

    def sellers(**wishes: Any) -> list[str]:
        prices = book(offers, wishes=Wishes(**wishes))
        return [one.supplier for one in prices.sources(part())]

    assert sellers(deadline_days=13) == ["north"]
    assert sellers(deadline_days=14) == ["harbour", "north"]
    assert sellers(excluded=("north",)) == ["harbour"]
    assert sellers(from_supplier={"fan": "north"}) == ["north"]
    assert sellers(from_supplier={"other": "north"}) == ["harbour", "north"]
    # What is at hand can be had without a seller, but no more of it can be bought.
    assert sellers(at_hand=frozenset({"fan"})) == ["harbour", "north"]
    assert sellers(deadline_days=6) == []
    wishes = Wishes(deadline_days=6, at_hand=frozenset({"fan"}))
    prices = book(offers, wishes=wishes)
    (source,) = prices.sources(part())
    assert (source.supplier, source.steps, source.lots(1)) == ("", (), ())
    assert source.buy(0) == source.buy(3) == (0, 0, 0)
    assert prices.list_price(part()) is None
    envelope = Envelope(prices, split=True)
    assert (envelope.least(part(), 0), envelope.least(part(), 1)) == (0, None)


def part() -> Part:
    return Part(
        id="fan",
        family="vent_fan",
        description="a fan",
        mass_g=300,
        price=90,
        currency="EUR",
        price_date="2026-09-01",
        source="typical",
    )


def offer(supplier: str = "north", **values: Any) -> Offer:
    return Offer(part="fan", supplier=supplier, **values)


def book(
    offers: list[Offer],
    currency: str = "EUR",
    project: str = "EUR",
    rates: dict[str, float] | None = None,
    wishes: Wishes | None = None,
) -> PriceBook:
    catalog = Catalog(
        name="two shops",
        families={"vent_fan": {"fan": part()}},
        pairs=(),
        curves=(),
        temperatures=(),
        suppliers={
            "harbour": Supplier(id="harbour", currency=currency, lead_days=14),
            "north": Supplier(id="north", currency=currency, lead_days=7),
        },
        offers=tuple(offers),
    )
    return PriceBook(catalog, project, rates or {}, (), wishes)
