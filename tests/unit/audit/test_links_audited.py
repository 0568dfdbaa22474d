"""Bars, cable and lugs of a bill against links laid out by hand: one piece too few fails alone."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from bomplan.audit.links import link_checks
from bomplan.design.records import BayUse, Check, Stand
from bomplan.design.series_records import ModuleLink

REACH_MM = 100
SLACK = 0.25
ROWS: dict[str, Any] = {"link_cable": {"cable": None}, "link_lug": {"lug": None}}


def stands(*places: int) -> tuple[Stand, ...]:
    return tuple(
        Stand(x_mm=100 * place, y_mm=0, z_mm=0, length_mm=100, width_mm=200, height_mm=150, layer=0,
              place=place, beside=1)
        for place in places
    )  # fmt: skip


def links(*made_of: tuple[str, int]) -> tuple[ModuleLink, ...]:
    """One link after another, each of what it joins and how long it is."""
    return tuple(
        ModuleLink(first=f"{number}", first_pole="-", second=f"{number + 1}", second_pole="+",
                   way="series", joins=joins, length_mm=length)  # type: ignore[arg-type]
        for number, (joins, length) in enumerate(made_of, start=1)
    )  # fmt: skip


def box(*made_of: tuple[str, int], bay: str = "boot") -> BayUse:
    count = len(made_of) + 1
    return BayUse(
        bay=bay, modules=count, series=count, stands=stands(*range(1, count + 1)),
        links=links(*made_of),
    )  # fmt: skip


def checks(*uses: BayUse, rows: Any = None, **pieces: int) -> list[Check]:
    """All checks of a bill that holds ``pieces`` of the three families, and other lines."""
    lines = [SimpleNamespace(family=family, quantity=count) for family, count in pieces.items()]
    lines.append(SimpleNamespace(family="cable", quantity=1000))
    plan: Any = SimpleNamespace(placement=uses, lines=lines)
    rules = SimpleNamespace(link_reach_mm=REACH_MM, cable_slack=SLACK)
    held = ROWS if rows is None else rows
    context: Any = SimpleNamespace(
        catalog=SimpleNamespace(family=lambda name: held.get(name, {})),
        project=SimpleNamespace(house_rules=rules),
    )
    return list(link_checks(context, plan))


def needed(*uses: BayUse) -> tuple[float, float, float]:
    """Bars, metres of cable and lugs."""
    bars, metres, lugs = (check.limit for check in checks(*uses))
    return bars, metres, lugs


def test_the_checks_in_full() -> None:
    # 320 mm and 400 mm of way are 400 + 100 and 500 + 100 mm of cable: 1.1 m, so 2 m are bought.
    found = checks(
        box(("neighbours", 80), ("layers", 320), ("apart", 400), ("neighbours", 100)),
        link=2, link_cable=2, link_lug=4,
    )  # fmt: skip
    assert [
        (one.id, one.words, one.value, one.limit, one.unit, one.sense, one.passed, one.source)
        for one in found
    ] == [
        (f"audit.links.{family}", f"{words} in the bill, against the series order",
         number, number, unit, "at least", True, "lengths of the recorded links")
        for family, words, number, unit in (
            ("link", "bars between modules", 2, "bars"),
            ("link_cable", "cable for the links that no bar reaches", 2, "m"),
            ("link_lug", "lugs of the cables between modules", 4, "lugs"),
        )
    ]  # fmt: skip


@pytest.mark.parametrize("family", ["link", "link_cable", "link_lug"])
@pytest.mark.parametrize(("more", "passed"), [(-1, False), (0, True), (1, True)])
def test_one_piece_too_few_fails_alone(family: str, more: int, passed: bool) -> None:
    pieces = {"link": 1, "link_cable": 1, "link_lug": 4}
    pieces[family] += more
    found = checks(box(("neighbours", 90), ("layers", 300), ("layers", 280)), **pieces)
    # 300 and 280 mm are 375 + 100 and 350 + 100 mm of cable: 0.925 m
    assert {one.id for one in found if not one.passed} == (
        set() if passed else {f"audit.links.{family}"}
    )


def test_a_bill_without_such_lines_holds_none() -> None:
    found = checks(box(("neighbours", 90), ("apart", 300)))
    assert [(one.value, one.limit, one.passed) for one in found] == [
        (0, 1, False), (0, 1, False), (0, 2, False),
    ]  # fmt: skip
    assert all(one.passed for one in checks(box()))


def test_a_bar_reaches_as_far_as_the_rule_says_and_between_neighbours_alone() -> None:
    assert needed(box(("neighbours", REACH_MM))) == (1, 0, 0)
    assert needed(box(("neighbours", REACH_MM + 1))) == (0, 1, 2)
    assert needed(box(("layers", 1))) == (0, 1, 2)
    assert needed(box(("apart", 1))) == (0, 1, 2)


def test_metres_to_the_millimetre() -> None:
    """720 mm and a quarter of it and two ends of 50 mm are one metre; 721 mm are not."""
    assert needed(box(("apart", 720))) == (0, 1, 2)
    assert needed(box(("apart", 721))) == (0, 2, 2)
    # Each piece is cut to the millimetre above: 301 mm with slack are 377, not 376.25.
    assert needed(box(("apart", 301), ("apart", 339))) == (0, 2, 4)
    assert needed(box(("apart", 300), ("apart", 340))) == (0, 1, 4)


def test_every_box_gets_its_own_metres() -> None:
    """Of 600 mm in each of two boxes, one metre is bought for each; in one box two are 1.2 m."""
    half = ("apart", 400)
    assert needed(box(half), box(half, bay="tray")) == (0, 2, 4)
    assert needed(box(half, half)) == (0, 2, 4)
    short = ("apart", 300)
    assert needed(box(short), box(short, bay="tray")) == (0, 2, 4)
    assert needed(box(short, short)) == (0, 1, 4)
    assert needed(box(("neighbours", 90)), box(("neighbours", 90), bay="tray")) == (2, 0, 0)


def test_an_empty_bay_has_no_links() -> None:
    """Links of a bay in which nothing stands are none of the order's."""
    empty = box(("apart", 300), bay="tray").model_copy(update={"stands": ()})
    assert needed(box(("neighbours", 90)), empty) == (1, 0, 0)


def test_plans_from_before_there_was_an_order_or_a_cable_are_not_asked() -> None:
    one = box(("apart", 300))
    unnumbered = one.model_copy(
        update={"stands": tuple(s.model_copy(update={"place": 0}) for s in one.stands)}
    )
    assert checks(unnumbered) == []
    assert checks() == []
    # One module with a number, and there is an order.
    half = (unnumbered.stands[0], one.stands[1])
    assert len(checks(one.model_copy(update={"stands": half}))) == 3
    for family in ROWS:
        assert checks(one, rows={family: ROWS[family]}) == []
    assert checks(one, rows={}) == []


def test_several_lines_of_a_family_count_together() -> None:
    plan: Any = SimpleNamespace(
        placement=(box(("neighbours", 90), ("neighbours", 90)),),
        lines=[SimpleNamespace(family="link", quantity=1)] * 2,
    )
    context: Any = SimpleNamespace(
        catalog=SimpleNamespace(family=lambda name: ROWS.get(name, {})),
        project=SimpleNamespace(
            house_rules=SimpleNamespace(link_reach_mm=REACH_MM, cable_slack=SLACK)
        ),
    )
    assert [one.passed for one in link_checks(context, plan)] == [True, True, True]
