"""Orders in sentences: what stands in none of them is said, too."""

from __future__ import annotations

from money_plan import base

from bomplan.design.purchase_records import Invoice, Purchase
from bomplan.design.records import Line, Plan
from bomplan.report.purchase_words import purchase_sentences
from bomplan.report.units import Show


def bought(line: Line, supplier: str, price: int) -> Line:
    one = Purchase(
        supplier=supplier,
        bought=1,
        pack_size=1,
        unit_price=price,
        price=price,
        currency="EUR",
        asked=price,
    )
    return line.model_copy(update={"supplier": supplier, "price": price, "purchases": (one,)})


def plan(*suppliers: str) -> Plan:
    """Lines from these sellers in turn, each for 10 EUR more than the one before."""
    found = base()
    lines = [
        bought(line, supplier, 1_000 * number)
        for number, (line, supplier) in enumerate(zip(found.lines, suppliers, strict=False), 1)
    ]
    invoice = Invoice.model_validate(
        dict.fromkeys(Invoice.model_fields, 0) | {"supplier": "harbour", "currency": "EUR"}
    )
    told = {"lines": tuple(lines), "currency": "EUR", "invoices": (invoice,)}
    return found.model_copy(update=told)


def unnamed(found: Plan) -> list[str]:
    said = (one.replace("\u00a0", " ") for one in purchase_sentences(found, Show()))
    return [one for one in said if "none of these orders" in one]


def test_parts_without_a_supplier_are_counted_beside_the_orders() -> None:
    assert unnamed(plan("", "harbour", "")) == [
        "in none of these orders: 2 parts without a supplier, at list price: 40.00 EUR"
    ]
    assert unnamed(plan("harbour", "", "harbour")) == [
        "in none of these orders: 1 part without a supplier, at list price: 20.00 EUR"
    ]


def test_nothing_is_said_where_all_is_ordered_or_nothing_is() -> None:
    assert unnamed(plan("harbour", "harbour")) == []
    alone = plan("", "").model_copy(update={"invoices": ()})
    assert unnamed(alone) == []
