"""Rows of the bill for shares and spares: sums stay, spares stand apart at their own price."""

from __future__ import annotations

from money_plan import base

from bomplan.design.orders import apart, spares_of
from bomplan.design.purchase_lines import SPARES, bought_only, is_spare, line_for_each_purchase
from bomplan.design.purchase_records import Purchase
from bomplan.design.records import Line, Plan
from bomplan.report.workbook.budget import line_id


def purchase(supplier: str, bought: int, unit_price: int) -> Purchase:
    return Purchase(
        supplier=supplier,
        bought=bought,
        unit_price=unit_price,
        price=bought * unit_price,
        currency="EUR",
        asked=unit_price,
    )


def with_module(fitted: int, asked: int, *bought: Purchase) -> Plan:
    """The plan with this many modules, bought so; its other lines as they are."""
    plan = base()
    lines = []
    for line in plan.lines:
        if line.family == "module":
            mine = line.model_copy(
                update={
                    "quantity": fitted,
                    "owned": 0,
                    "bought": sum(one.bought for one in bought),
                    "price": sum(one.price for one in bought),
                    "purchases": bought,
                    "supplier": bought[0].supplier,
                }
            )
            spares = spares_of([mine], {"module": asked})
            lines.append(mine)
        else:
            lines.append(line)
    return plan.model_copy(update={"lines": tuple(lines), "spares": spares})


def rows(plan: Plan) -> list[Line]:
    return [line for line in line_for_each_purchase(plan).lines if line.family == "module"]


def told(plan: Plan) -> list[tuple[int, int, str, int, bool]]:
    return [
        (one.quantity, one.bought, one.supplier, one.price, is_spare(one)) for one in rows(plan)
    ]


def test_a_spare_stands_on_a_line_of_its_own() -> None:
    plan = with_module(20, 1, purchase("north", 21, 900))
    assert told(plan) == [(20, 20, "north", 18_000, False), (0, 1, "north", 900, True)]
    assert plan.spares[0].price == 900
    spare = rows(plan)[1]
    assert (spare.mass_kg, spare.hours, spare.moment_gmm) == (0.0, 0.0, 0)
    assert spare.description.startswith("spare: ")


def test_what_packs_leave_is_no_spare_that_was_asked_for() -> None:
    plan = with_module(22, 1, purchase("north", 24, 900))
    assert told(plan) == [(22, 23, "north", 20_700, False), (0, 1, "north", 900, True)]
    assert (plan.spares[0].pieces, plan.spares[0].asked) == (2, 1)


def test_spares_are_the_last_pieces_bought() -> None:
    plan = with_module(17, 5, purchase("north", 18, 900), purchase("yard", 4, 700))
    assert told(plan) == [
        (17, 17, "north", 15_300, False),
        (0, 1, "north", 900, True),
        (0, 4, "yard", 2_800, True),
    ]
    assert plan.spares[0].price == 900 + 2_800


def test_all_that_is_bought_may_be_spare() -> None:
    plan = with_module(20, 2, purchase("north", 2, 900))
    at_hand = [
        line.model_copy(update={"owned": 20}) if line.family == "module" else line
        for line in plan.lines
    ]
    mine = [line for line in at_hand if line.family == "module"]
    plan = plan.model_copy(
        update={"lines": tuple(at_hand), "spares": spares_of(mine, {"module": 2})}
    )
    assert told(plan) == [(20, 0, "north", 0, False), (0, 2, "north", 1_800, True)]


def test_sums_stay_and_names_differ() -> None:
    plan = with_module(17, 5, purchase("north", 18, 900), purchase("yard", 4, 700))
    apart_ = line_for_each_purchase(plan)
    for name in ("price", "bought", "quantity", "mass_kg", "hours", "moment_gmm"):
        before = sum(getattr(line, name) for line in plan.lines)
        assert sum(getattr(line, name) for line in apart_.lines) == before, name
    ids = [line_id(line) for line in apart_.lines]
    assert len(set(ids)) == len(ids)
    # What an order costs beside its goods stays below all goods.
    systems = [line.system for line in apart_.lines]
    if "shipping" in systems:
        assert systems.index(SPARES) < systems.index("shipping")
    assert sum(bought_only(line) for line in apart_.lines) == 2


def test_taking_apart_keeps_all_pieces() -> None:
    bought = (purchase("a", 3, 10), purchase("b", 2, 7))
    for pieces in range(7):
        kept, last = apart(bought, pieces)
        assert sum(one.bought for one in last) == min(pieces, 5)
        assert sum(one.bought for one in (*kept, *last)) == 5
        assert sum(one.price for one in (*kept, *last)) == 44
