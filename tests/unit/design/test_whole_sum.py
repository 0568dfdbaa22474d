"""The whole sum around a plan, reckoned by hand to the cent, and what makes each item needed."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import pytest

from bomplan.audit.money import money_checks
from bomplan.catalog import load_catalog
from bomplan.catalog.extras import Extra
from bomplan.design.money import with_money
from bomplan.design.money_records import WholeSum
from bomplan.design.planfile import project_of, read_plan
from bomplan.design.records import Plan
from bomplan.design.weight_records import AxleChange, Weights
from bomplan.project.records import Project

TYRES = {"front": "155/80 R13 79T", "rear": "155/80 R13 79T"}
RELEASED = Path(__file__).parents[2] / "golden" / "released" / "1" / "plan.json"


def row(name: str, price: int, **more: Any) -> Extra:
    told: dict[str, Any] = {
        "id": name,
        "description": f"a {name}",
        "kind": "tool",
        "needed": "always",
        "price": price,
        "price_low": price // 2,
        "price_high": price * 3,
        "currency": "EUR",
        "price_date": "2026-09-01",
        "source": "estimate",
    }
    return Extra(**(told | more))


@cache
def bare() -> Plan:
    """The pickup of the first release: 9,890.65 EUR, 155.16 hours, two boxes, 134.4 V."""
    return read_plan(RELEASED)


def weights(front: float, rear: float) -> Weights:
    changes = tuple(
        AxleChange(
            axle=axle,
            before_kg=500.0,
            after_kg=500 * (1 + share),
            change_share=share,
            springs=share > 0.10,
            dampers=share > 0.15,
        )
        for axle, share in (("front", front), ("rear", rear))
    )
    return Weights(
        items=(), states=(), motion=(), changes=changes, advice=(), running_order_kg=0, spread_kg=0
    )


def plan_with(
    *rows: Extra,
    gains: tuple[float, float] | None = None,
    rate: int | None = None,
    tyres: dict[str, str] = TYRES,
    **budget: Any,
) -> tuple[Plan, Project]:
    plan = bare()
    used = plan.project_used
    project_used = {
        **used,
        "budget": budget,
        "donor": {**used["donor"], "tyres": tyres},
        "house_rules": {**used["house_rules"], "workshop_rate": rate},
    }
    mass = plan.mass
    if gains is not None and mass is not None:
        mass = mass.model_copy(update={"weights": weights(*gains)})
    extras = [one.model_dump(mode="json") for one in rows]
    plan = plan.model_copy(
        update={
            "mass": mass,
            "project_used": project_used,
            "parts_used": {**plan.parts_used, "extras": extras},
        }
    )
    project = project_of(plan)
    return with_money(plan, project), project


def summed(*rows: Extra, **more: Any) -> WholeSum:
    plan, _ = plan_with(*rows, **more)
    assert plan.whole_sum is not None
    return plan.whole_sum


def names(*rows: Extra, **more: Any) -> set[str]:
    return {item.id for item in summed(*rows, **more).items} - {"bill", "contingency"}


def test_by_hand_to_the_cent() -> None:
    # Bill 9,890.65 with 10 % down and 20 % up: 8,901.585 up to .59, and 11,868.78.
    # Tool in dollars at 0.92: 101.01 -> 92.9292 up to 92.93; low 50.50 -> 46.46; high 303.03
    # -> 278.7876 up to 278.79. Brackets for two boxes: 2 x 20.00, low 2 x 10, high 2 x 60.
    # Fee of the project 150.00 (100 to 400). Ten per cent for the unforeseen: typical of
    # 9890.65 + 92.93 + 40 + 150 = 10,173.58 -> 1,017.358 up to 1,017.36; high of 11868.78
    # + 278.79 + 120 + 400 = 12,667.57 -> 1,266.757 up to 1,266.76. The engine brings 200.
    told = summed(
        row("tool", 10101, currency="USD"),
        row("brackets", 2000, kind="work", per="box", hours=7.0),
        items=[{"name": "inspection day", "kind": "fee", "amount": 15000, "low": 10000,
                "high": 40000, "hours": 3.0}],
        sold=[{"name": "engine", "amount": 20000}],
    )  # fmt: skip
    got = {item.id: (item.low, item.typical, item.high) for item in told.items}
    assert got == {
        "bill": (890159, 989065, 1186878),
        "tool": (4646, 9293, 27879),
        "brackets": (2000, 4000, 12000),
        "inspection day": (10000, 15000, 40000),
        "contingency": (0, 101736, 126676),
        "sold engine": (-20000, -20000, 0),
    }
    assert told.low == 890159 + 4646 + 2000 + 10000 - 20000
    assert told.typical == 989065 + 9293 + 4000 + 15000 + 101736 - 20000
    assert told.high == 1186878 + 27879 + 12000 + 40000 + 126676
    # 155.16 h at the parts, 2 x 7 and 3 around them; a fifth less, or twice as much.
    assert (told.hours.parts, told.hours.around) == (155.2, 17.0)
    assert (told.hours.low, told.hours.typical, told.hours.high) == (137.8, 172.2, 344.4)


def test_paid_work_is_hours_times_rate() -> None:
    told = summed(row("brackets", 0, kind="work", hours=4.84), rate=6050, workshop_share=0.25)
    # 155.16 + 4.84 = 160.0 h; a quarter at 60.50; 128.0 and 320.0 at the ends.
    work = next(item for item in told.items if item.kind == "workshop")
    assert (work.low, work.typical, work.high) == (193600, 242000, 484000)
    assert not any(item.kind == "workshop" for item in summed(workshop_share=0.25).items)


@pytest.mark.parametrize(
    ("gains", "needed"),
    [
        ((0.02, 0.10), set()),
        ((0.02, 0.11), {"springs", "brakes"}),
        ((0.02, 0.16), {"springs", "brakes", "dampers"}),
        ((0.12, 0.16), {"springs", "brakes", "dampers"}),
    ],
)
def test_chassis_work_follows_what_an_axle_gains(
    gains: tuple[float, float], needed: set[str]
) -> None:
    rows = [row(one, 100, kind="chassis", needed=one, per="axle")
            for one in ("springs", "dampers", "brakes", "tyres")]  # fmt: skip
    assert names(*rows, gains=gains) == needed
    items = {item.id: item for item in summed(*rows, gains=gains).items}
    if gains[0] > 0.10:
        assert items["springs"].count == 2
        assert items["springs"].typical == 200
        assert items["dampers"].count == 1


def test_tyres_only_where_their_load_index_is_not_known() -> None:
    rows = (row("tyres", 100, kind="chassis", needed="tyres", per="axle"),)
    assert names(*rows, gains=(0.2, 0.2)) == set()
    told = summed(*rows, gains=(0.2, 0.2), tyres={"front": TYRES["front"]})
    tyres = next(item for item in told.items if item.id == "tyres")
    assert tyres.count == 1
    assert "rear" in tyres.why
    assert "front" not in tyres.why


@pytest.mark.parametrize(
    ("change", "needed"),
    [
        ({"needed": "over_60v"}, True),  # 134.4 V
        ({"needed": "lithium"}, True),
        ({"needed": "lead"}, False),
        ({"needed": "lugs"}, True),
        ({"needed": "heavy_lift"}, True),
        ({"covered_by": ("safety-kit-basic",)}, False),
        ({"covered_by": ("safety-kit-full",)}, True),
        ({"vehicle": "motorcycle"}, False),
        ({"vehicle": "car"}, True),
    ],
)
def test_when_a_row_is_needed(change: dict[str, Any], needed: bool) -> None:
    assert names(row("thing", 100, **change)) == ({"thing"} if needed else set())


def test_at_hand_costs_nothing_and_still_takes_its_hours() -> None:
    told = summed(row("tool", 100, hours=2.0), at_hand=["tool"])
    item = next(one for one in told.items if one.id == "tool")
    assert (item.low, item.typical, item.high, item.hours) == (0, 0, 0, 2.0)


def test_an_item_of_the_project_takes_the_place_of_a_row() -> None:
    told = summed(row("inspection", 35000, kind="fee"), items=[{"name": "inspection", "amount": 1}])
    item = next(one for one in told.items if one.id == "inspection")
    assert (item.kind, item.typical, item.source) == ("fee", 1, "project")
    assert names(row("tool", 100), extras=False) == set()


def test_a_currency_without_a_rate_is_said_and_not_counted() -> None:
    told = summed(row("tool", 100, currency="GBP"))
    assert {item.id for item in told.items} == {"bill", "contingency"}
    assert "no rate for GBP" in told.notes[0]


def test_without_the_table_that_is_said() -> None:
    assert "no table extras" in summed().notes[0]
    assert summed(row("tool", 1)).notes == ()


def test_the_shipped_rows_are_in_order_and_priced() -> None:
    rows = load_catalog(["generic"]).extras
    assert len(rows) > 20
    for one in rows.values():
        assert one.price_low <= one.price <= one.price_high, one.id
        assert one.price or one.hours, one.id
    told = summed(*rows.values(), gains=(0.0, 0.2))
    kinds = {item.kind for item in told.items}
    assert kinds >= {"bill", "tool", "work", "chassis", "fee", "contingency"}
    assert not {item.id for item in told.items if "motorcycle" in item.id}
    # A first conversion takes 200 to 500 hours (common practice).
    assert 200 < told.hours.typical < 500


def slips(plan: Plan, project: Project) -> set[str]:
    return {check.id for check in money_checks(plan, project) if not check.passed}


def test_the_audit_counts_it_again() -> None:
    rows = load_catalog(["generic"]).extras.values()
    plan, project = plan_with(
        *rows,
        gains=(0.12, 0.2),
        rate=5500,
        sold=[{"name": "engine", "amount": 20000, "low": 5000}],
        items=[{"name": "paint", "amount": 9999, "hours": 2.5}],
        at_hand=["crimp-tool"],
    )
    assert slips(plan, project) == set()
    told = plan.whole_sum
    assert told is not None
    for index, item in enumerate(told.items):
        for change in (
            {"typical": item.typical + 1},
            {"high": item.high + 1},
            {"low": item.low - 1},
        ):
            items = list(told.items)
            items[index] = item.model_copy(update=change)
            forged = told.model_copy(update={"items": tuple(items)})
            wrong = plan.model_copy(update={"whole_sum": forged})
            assert slips(wrong, project) == {"audit.whole-sum"}, (item.id, change)
        left = told.items[:index] + told.items[index + 1 :]
        wrong = plan.model_copy(update={"whole_sum": told.model_copy(update={"items": left})})
        assert slips(wrong, project) == {"audit.whole-sum"}, item.id
    longer = told.hours.model_copy(update={"typical": told.hours.typical + 1})
    wrong = plan.model_copy(update={"whole_sum": told.model_copy(update={"hours": longer})})
    assert slips(wrong, project) == {"audit.whole-sum"}


def test_a_plan_that_chose_nothing_has_no_sum() -> None:
    plan = bare().model_copy(update={"core": None, "lines": ()})
    told = with_money(plan, project_of(plan))
    assert told.whole_sum is None
    assert told.buying_order is None
