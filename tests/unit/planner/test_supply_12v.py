"""The converter and the battery are chosen for the worst night, the range for its own mean."""

from __future__ import annotations

from typing import Any

import pytest
from dangerous_cases import LAMPS, Car, sound

from bomplan.catalog.records import Catalog
from bomplan.design.records import Plan
from bomplan.planner import find_plan


def with_cheap_rows(car: Car, amps: float, ah: float) -> Catalog:
    """The car's own rows, and beside them a cheaper converter and a cheaper battery."""
    catalog = car.catalog()
    families = dict(catalog.families)
    for family, figures in (("dcdc", {"output_a": amps}), ("battery_12v", {"capacity_ah": ah})):
        ((name, part),) = families[family].items()
        cheap = part.model_copy(
            update={
                "id": f"cheap-{family}",
                "price": part.price // 4,
                "figures": {**part.figures, **figures},
            }
        )
        families[family] = {name: part, cheap.id: cheap}
    return catalog.model_copy(update={"families": families})


def planned(amps: float, ah: float, *, night_w: float | None) -> Plan:
    car = sound()
    donor: dict[str, Any] = {**car.fields["donor"], "load_12v_w": 60.0}
    if night_w is not None:
        donor["loads_12v"] = [{**LAMPS, "power_w": night_w, "peak_w": night_w}]
    car.fields["donor"] = donor
    plan = find_plan(car.project(series=28), with_cheap_rows(car, amps, ah))
    assert plan.status == "optimal", plan.reasons
    return plan


def chosen(plan: Plan, family: str) -> str:
    return next(line.part for line in plan.lines if line.family == family)


@pytest.mark.slow
@pytest.mark.parametrize("night_w", [None, 70.0, 100.0])
def test_the_cheap_converter_is_taken_while_it_carries_car_and_bill(night_w: float | None) -> None:
    """Four fifths of 12 A at 13.8 V are 132 W; the bill's own rows draw some 40 W of them."""
    plan = planned(12.0, 20.0, night_w=night_w)
    own = plan.couplers.mean_12v_w - 60 if plan.couplers else 0
    assert 20 < own < 60
    carries = max(60.0, night_w or 0.0) + own <= 132
    assert (chosen(plan, "dcdc") == "cheap-dcdc") == carries
    assert plan.couplers is not None
    assert plan.couplers.mean_12v_w == 60 + own, "ranges read the mean, whatever the night takes"


def test_a_converter_that_carries_the_car_and_not_the_bill_is_passed_over() -> None:
    plan = planned(12.0, 9.0, night_w=120.0)
    assert chosen(plan, "dcdc") != "cheap-dcdc"
    assert chosen(plan, "battery_12v") != "cheap-battery_12v"
    told = plan.supply_12v
    assert told is not None
    assert told.named
    assert told.worst_w == 120 + told.counted_w - 60
    assert told.supply_w >= told.worst_w > 132
    # 120 W / 12 V and 3.5 A of controls, from half of 20 Ah at -5 °C (seven tenths): 31 minutes
    assert told.reserve_a == 13.5
    assert told.reserve_minutes == 31
    checks = {check.id: check for check in plan.checks}
    assert checks["battery12.reserve"].limit == pytest.approx(13.5 * 0.5 / 0.5 / 0.7)
