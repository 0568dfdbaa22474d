"""What may be bought, of whom and how much: each rule broken by one, and just kept."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from bomplan.audit.purchases import broken_buying, too_few
from bomplan.project.buying import Buying

NORTH = SimpleNamespace(lead_days=10, minimum_order=600)
HARBOUR = SimpleNamespace(lead_days=20, minimum_order=0)


def purchase(supplier: str, bought: int, asked: int = 100) -> Any:
    return SimpleNamespace(supplier=supplier, bought=bought, asked=asked)


def line(part: str, *purchases: Any, **more: Any) -> Any:
    told = {
        "family": part.split("-")[0], "part": part, "quantity": 6, "bought": 6, "price": 600,
        "supplier": purchases[0].supplier if purchases else "", "purchases": purchases,
    }  # fmt: skip
    return SimpleNamespace(**(told | more))


def context(
    stock: int | None = None, suppliers: tuple[str, ...] = (), owned: Any = None, **buying: Any
) -> Any:
    sources = tuple(
        SimpleNamespace(supplier=name, stock=stock if name == "north" else None)
        for name in ("harbour", "north")
    )
    return SimpleNamespace(
        project=SimpleNamespace(
            choices=SimpleNamespace(suppliers=suppliers, owned=owned or {}),
            buying=Buying.model_validate(buying),
        ),
        prices=SimpleNamespace(sources=lambda part: sources if part == "row of lug-10" else ()),
        catalog=SimpleNamespace(
            suppliers={"north": NORTH, "harbour": HARBOUR}, part=lambda name: f"row of {name}"
        ),
    )


def told(here: Any, *lines: Any) -> list[str]:
    return list(broken_buying(here, SimpleNamespace(lines=lines)))  # type: ignore[arg-type]


LUGS = line("lug-10", purchase("north", 6))
SHARED = line("lug-10", purchase("north", 6), purchase("harbour", 1, 1))


def test_what_is_bought_as_it_should_be() -> None:
    assert told(context(), LUGS) == []
    assert told(context(), SHARED, line("box-a", purchase("", 1))) == []
    assert told(context()) == []


@pytest.mark.parametrize(("stock", "words"), [(6, []), (5, ["6 of lug-10, where north has 5"])])
def test_no_more_than_there_is(stock: int, words: list[str]) -> None:
    assert told(context(stock=stock), LUGS) == words
    # Stock is that of the supplier who has it.
    assert told(context(stock=stock), line("lug-10", purchase("harbour", 6))) == []
    # A part that no such supplier offers has no stock that could be passed.
    assert told(context(stock=stock), line("box-a", purchase("north", 6))) == []


def test_stock_is_that_of_each_purchase() -> None:
    many = line("lug-10", purchase("harbour", 9), purchase("north", 6))
    assert told(context(stock=6), many) == []
    assert told(context(stock=5), many) == ["6 of lug-10, where north has 5"]


def test_an_order_of_what_the_supplier_asks_at_least() -> None:
    words = ["an order at north below what it asks at least"]
    assert told(context(), line("lug-10", purchase("north", 6, 100))) == []
    assert told(context(), line("lug-10", purchase("north", 1, 599))) == words
    # All goods of one supplier count together, in its own money.
    goods = [line("lug-10", purchase("north", 5)), line("box-a", purchase("north", 1, 99))]
    assert told(context(), *goods) == words
    goods[1] = line("box-a", purchase("north", 2, 50))
    assert told(context(), *goods) == []
    # What an order costs beside its goods is no goods.
    assert (
        told(context(), goods[0], line("shipping-x", purchase("north", 1), family="shipping"))
        == words
    )


def test_a_part_from_its_only_supplier() -> None:
    here = context(**{"from": {"lug-10": "harbour"}})
    assert told(here, LUGS) == ["lug-10 from harbour only"]
    assert told(here, line("lug-10", purchase("harbour", 6))) == []
    assert told(here, line("box-a", purchase("north", 6))) == []
    assert told(here, line("lug-10", purchase("", 6))) == ["lug-10 from harbour only"]


def test_suppliers_of_whom_alone_and_of_whom_nothing_is_bought() -> None:
    assert told(context(suppliers=("harbour",)), LUGS) == ["not from north"]
    assert told(context(suppliers=("harbour", "north")), SHARED) == []
    assert told(context(suppliers=("harbour",)), line("box-a", purchase("", 1))) == []
    assert told(context(excluded=("north",)), LUGS) == ["nothing from north"]
    assert told(context(excluded=("harbour",)), LUGS) == []


def test_a_line_from_one_supplier_only() -> None:
    assert told(context(split=False), SHARED) == ["lug-10 from one supplier only"]
    assert told(context(split=False), LUGS) == []
    assert told(context(split=True), SHARED) == []


def test_orders_at_so_many_suppliers() -> None:
    assert told(context(suppliers_max=2), SHARED, line("box-a", purchase("", 1))) == []
    assert told(context(suppliers_max=1), SHARED) == ["orders at 1 suppliers at most"]
    assert told(context(suppliers_max=0), line("box-a", purchase("", 1))) == []


def test_suppliers_who_take_no_longer() -> None:
    assert told(context(deadline_days=10), LUGS) == []
    assert told(context(deadline_days=9), LUGS) == ["north takes 10 days of 9"]
    assert told(context(deadline_days=9), SHARED) == [
        "harbour takes 20 days of 9", "north takes 10 days of 9",
    ]  # fmt: skip
    # A supplier of whom the plan holds no terms has none to break; the next one has.
    unknown = line("lug-10", purchase("attic", 6), purchase("north", 6))
    assert told(context(deadline_days=9), unknown) == ["north takes 10 days of 9"]


def test_lines_behind_a_list_price_and_a_charge_are_looked_at() -> None:
    listed = line("lug-10", purchase("", 6), purchase("north", 1, 10))
    assert told(context(), line("x", family="shipping"), listed) == [
        "an order at north below what it asks at least"
    ]


def test_a_plan_older_than_purchases() -> None:
    old = line("lug-10", supplier="north", price=600)
    assert told(context(stock=6), old) == []
    assert told(context(stock=5), old) == ["6 of lug-10, where north has 5"]
    assert told(context(), line("lug-10", supplier="north", price=599)) == [
        "an order at north below what it asks at least"
    ]
    assert told(context(suppliers=("harbour",)), line("lug-10", supplier="north", bought=0)) == []


def short(here: Any, *lines: Any) -> list[str]:
    return list(too_few(here, SimpleNamespace(lines=lines)))  # type: ignore[arg-type]


def test_as_many_as_are_needed_and_wanted_to_spare() -> None:
    spares = [{"family": "lug", "pieces": 2}]
    words = "1 more of lug-10, as many as are needed and wanted to spare"
    assert short(context(), line("lug-10", bought=6), line("box-a", bought=9)) == []
    assert short(context(), line("lug-10", bought=5)) == [words]
    assert short(context(spares=spares), line("lug-10", bought=8)) == []
    assert short(context(spares=spares), line("lug-10", bought=7)) == [words]
    assert short(context(spares=spares), line("box-a", bought=6)) == []
    assert short(context(owned={"lug-10": 3}), line("lug-10", bought=3)) == []
    assert short(context(owned={"lug-10": 2}), line("lug-10", bought=3)) == [words]
    assert short(context(owned={"box-a": 3}), line("lug-10", bought=5)) == [words]
    assert short(context(), line("box-a", bought=4), line("lug-10", bought=5)) == [
        "2 more of box-a, as many as are needed and wanted to spare", words,
    ]  # fmt: skip
