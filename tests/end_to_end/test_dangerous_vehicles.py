"""Each named danger on several vehicles: its check fails, and its caution stands first."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from dangerous_cases import Car, sound
from dangerous_vehicles import NAMED, Example, Named, of_plan
from shipped_examples import plan_of

from bomplan.audit.parts_list import ListAudit, PackSaid, audit_parts_list
from bomplan.report.terminal import summary

VEHICLES = [
    pytest.param(sound, id="light car"),
    pytest.param(lambda: of_plan(plan_of("courier-motorcycle")), id="motorcycle"),
    pytest.param(lambda: of_plan(plan_of("garden-pickup")), id="pickup", marks=pytest.mark.slow),
    pytest.param(lambda: of_plan(plan_of("camper-van")), id="van", marks=pytest.mark.slow),
]
EACH_VEHICLE = pytest.mark.parametrize("vehicle", VEHICLES)
EACH_DANGER = pytest.mark.parametrize("danger", NAMED, ids=lambda danger: danger.name)


def audited(car: Car) -> ListAudit:
    said = PackSaid(placement=car.placement)
    if isinstance(car, Example):
        said = PackSaid(car.placement, car.parallel, car.topology, car.ratio, car.battery_a)  # type: ignore[arg-type]
    return audit_parts_list(car.project(), car.catalog(), car.typed(), said)


@EACH_VEHICLE
def test_the_vehicle_is_sound_before_anything_is_spoilt(vehicle: Callable[[], Car]) -> None:
    assert [check.id for check in audited(vehicle()).checks if not check.passed] == []


@EACH_VEHICLE
@EACH_DANGER
def test_the_danger_is_named_and_told_first(vehicle: Callable[[], Car], danger: Named) -> None:
    car = vehicle()
    if not danger.can_be(car):
        pytest.skip(f"this vehicle cannot have {danger.name}")
    name = danger.check(car)
    danger.spoil(car)
    found = audited(car)
    failed = {check.id: check for check in found.checks if not check.passed}
    assert name in failed, sorted(failed)
    assert danger.caution in failed[name].caution
    assert failed[name].source
    assert found.plan is not None
    assert danger.caution in found.plan.cautions[0], found.plan.cautions[:3]
    text = " ".join(summary(found.plan).split())
    assert "NOT SOUND" in text
    assert text.index(danger.caution) < text.index("What to build")


@EACH_DANGER
def test_every_danger_can_be_on_some_vehicle(danger: Named) -> None:
    assert danger.can_be(sound()) or danger.can_be(of_plan(plan_of("courier-motorcycle")))


def test_a_pack_that_does_not_last_a_second_is_told() -> None:
    """So weak that no lap can be drawn; the list is judged all the same."""
    car = sound()
    car.figures["module"] = {"resistance_dc_mohm": 600.0}
    found = audited(car)
    assert found.plan is not None
    assert found.plan.driving is not None
    assert any(not check.passed and check.id.startswith("range.") for check in found.checks)
    curves = found.plan.driving.curves
    assert curves is None or curves.traces == ()
