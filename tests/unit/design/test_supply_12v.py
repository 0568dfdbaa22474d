"""The 12 V side that a car owes its converter, its battery and its brakes."""

from __future__ import annotations

from typing import Any

import pytest
from dangerous_cases import LAMPS, sound

from bomplan.catalog.records import Part
from bomplan.design.bill.brakes import presses, unheld, vacuum_checks
from bomplan.design.bill.supply_12v import (
    battery_checks,
    coldest_c,
    converter_checks,
    safety_load_a,
    unblown,
)
from bomplan.design.context import Context
from bomplan.project.records import Project


def project(loads: bool = True, rules: dict[str, Any] | None = None, **donor: Any) -> Project:
    fields = sound().fields
    fields["donor"] = {**fields["donor"], **donor}
    if loads:
        fields["donor"] = {**fields["donor"], "loads_12v": [dict(LAMPS)]}
    return Project.model_validate(fields | {"house_rules": rules or {}})


def context(*args: Any, **more: Any) -> Context:
    return Context(project(*args, **more), sound().catalog())


def part(family: str, row: str, **figures: Any) -> Part:
    car = sound()
    car.parts[family] = (row, 1)
    found = car.catalog().family(family)[row]
    changed = {key: one for key, one in {**found.figures, **figures}.items() if one is not None}
    return found.model_copy(update={"figures": changed})


def test_what_the_battery_feeds_alone() -> None:
    # 150 W of lamps at 12 V, 3.5 A of controls, 2.4 A more for a vacuum pump
    assert safety_load_a(project()) == pytest.approx(12.5 + 3.5)
    assert safety_load_a(project(brake_booster=True)) == pytest.approx(12.5 + 3.5 + 2.4)
    assert coldest_c(project()) == -5.0


@pytest.mark.parametrize(("minutes", "wanted_ah"), [(30, 22.857), (60, 45.714), (0, 0.0)])
def test_the_battery_lasts_as_long_as_is_asked(minutes: float, wanted_ah: float) -> None:
    """16 A, half of the capacity, seven tenths of it at -5 °C."""
    here = context(rules={"reserve_12v_minutes": minutes})
    (check,) = battery_checks(here, part("battery_12v", "battery-12v-20ah"))
    assert check.limit == pytest.approx(wanted_ah, abs=1e-3)
    assert check.passed == (wanted_ah <= 20)
    assert "at -5 °C" in check.words
    assert "goes dark" in check.caution


def test_one_figure_is_judged_as_it_was() -> None:
    """180 W for half an hour from half of the capacity: 15 Ah, whatever the cold."""
    (check,) = battery_checks(context(loads=False), part("battery_12v", "battery-12v-20ah"))
    assert check.limit == pytest.approx(15.0)
    assert list(converter_checks(context(loads=False), 0)) == []


def test_the_converter_carries_the_worst_night() -> None:
    (check,) = converter_checks(context(load_12v_w=60.0), 149)
    assert (check.value, check.limit, check.passed) == (149, 150, False)
    (held,) = converter_checks(context(load_12v_w=60.0), 150)
    assert held.passed
    (measured,) = converter_checks(context(load_12v_w=170.4), 169)
    assert (measured.limit, measured.passed) == (170, False)


@pytest.mark.parametrize(
    ("litres", "diameter_mm", "left"),
    [(1.0, 230, 3), (3.0, 230, 4), (0.0, 230, 2), (1.0, 180, 3), (2.0, 180, 5), (0.1, 230, 2)],
)
def test_presses_without_the_pump(litres: float, diameter_mm: int, left: int) -> None:
    """230 mm: 1.309 l of 4.113 l; with 3 l ln(20/55) / ln(1 - 1.309 / 7.113) = 4.97 presses."""
    here = context(brake_booster=True, booster_diameter_mm=diameter_mm)
    assert presses(here.project.donor, litres) == left
    row = part("vacuum_set", "vacuum-set-diaphragm", reservoir_l=litres)
    (check,) = vacuum_checks(here, row)
    assert (check.value, check.limit, check.passed) == (left, 3, left >= 3)
    assert "hard as stone" in check.caution


def test_a_builder_may_ask_for_more_presses() -> None:
    here = context(brake_booster=True, rules={"brake_presses": 5})
    row = part("vacuum_set", "vacuum-set-diaphragm")
    assert [check.passed for check in vacuum_checks(here, row)] == [False]


def test_a_reservoir_that_nobody_measured_is_told_and_turned_away_by_nobody() -> None:
    here = context(brake_booster=True)
    row = part("vacuum_set", "vacuum-set-diaphragm", reservoir_l=None)
    assert list(vacuum_checks(here, row)) == []
    (said,) = unheld(here.project.donor, row)
    assert "Measure it before the first drive" in said
    assert unheld(here.project.donor, part("vacuum_set", "vacuum-set-diaphragm")) == ()
    assert unheld(project(brake_booster=False).donor, row) == ()


def test_a_heater_without_a_blower_is_told() -> None:
    heated = project()
    cold = heated.conditions[1].model_copy(update={"heater_w": 1_500.0})
    heated = heated.model_copy(update={"conditions": (heated.conditions[0], cold)})
    (said,) = unblown(heated)
    assert said.startswith("The conditions ask for 1500 W of cabin heat")
    assert unblown(project()) == ()
    blower = heated.donor.loads_12v[0].model_copy(update={"name": "heater-blower"})
    donor = heated.donor.model_copy(update={"loads_12v": (blower,)})
    assert unblown(heated.model_copy(update={"donor": donor})) == ()
