"""What is measured while building: figures by hand."""

from __future__ import annotations

import math

import pytest
from sheet_plans import DRIVING, induction, lead, saved

from bomplan.design.commissioning import commissioning
from bomplan.design.held_gears import best_gears
from bomplan.design.records import Plan
from bomplan.sizing.joining import greatest_difference_v


def test_sections_stay_at_60_v() -> None:
    found = commissioning(saved())
    # 4 in series of 8 cells at 4.2 V: two of them would be 67.2 V.
    assert [one.series for one in found.sections] == [1, 1, 1, 1]
    assert all(one.full_v == pytest.approx(33.6) for one in found.sections)
    small = commissioning(saved(module={"cells_series": 3}))
    assert [one.series for one in small.sections] == [1, 3]
    assert max(one.full_v for one in small.sections) <= 60


def test_pre_charge_is_the_resistors_with_the_capacitors() -> None:
    found = commissioning(saved()).pre_charge
    assert found is not None
    assert found.seconds == pytest.approx(found.ohm * found.millifarad * 1e-3 * math.log(20))
    assert found.peak_a == pytest.approx(134.4 / found.ohm)
    assert commissioning(saved(without=("precharge_resistor",))).pre_charge is None


def test_isolation_by_the_machine() -> None:
    chopper, inverter = commissioning(saved()).isolation, commissioning(induction()).isolation
    assert (chopper.per_volt_ohm, inverter.per_volt_ohm) == (100.0, 500.0)
    assert chopper.wanted_kohm == 13.5
    assert inverter.wanted_kohm == 67.2
    assert chopper.voltage_class == "B"
    assert commissioning(saved(module={"cells_series": 3})).isolation.voltage_class == "A"


def test_air_for_cells_that_gas() -> None:
    assert commissioning(saved()).gas is None
    found = commissioning(lead())
    assert found.gas is not None
    figures = found.drive.figures
    wanted = 0.055 * figures.cells_series * 2.0 * figures.capacity_ah / 100
    assert found.gas.wanted_m3_h == pytest.approx(wanted)


@pytest.mark.parametrize("plan", [saved(), induction(), lead(), saved(module={"cells_series": 3})])
def test_empty_is_below_full_and_sections_make_the_pack(plan: Plan) -> None:
    found = commissioning(plan)
    figures = found.drive.figures
    assert found.rest_empty_v < found.rest_full_v <= figures.charge_v
    assert sum(one.full_v for one in found.sections) == pytest.approx(figures.charge_v)
    assert sum(one.empty_v for one in found.sections) == pytest.approx(found.rest_empty_v)
    for one in found.sections:
        assert one.empty_v < one.full_v
        assert one.full_v <= 60 or one.series == 1
    assert found.idle.least_a < found.idle.most_a


def test_modules_alone_where_an_older_plan_keeps_no_weights() -> None:
    plan = saved()
    found = commissioning(plan)
    for one, box in zip(found.restraints, found.found.boxes, strict=True):
        assert one.modules_only
        assert one.mass_kg == pytest.approx(box.modules * found.drive.module.mass_g / 1000)
        assert one.forward_n == pytest.approx(one.mass_kg * 20 * 9.81)


def test_idle_current_is_the_controllers_loss_and_the_loads() -> None:
    plan = saved()
    found = commissioning(plan)
    own = found.drive.controller.number("loss_fixed_w") / found.drive.figures.nominal_v
    assert found.idle.least_a == pytest.approx(own)
    assert plan.couplers is not None
    rest = plan.couplers.mean_12v_w / 0.87 / found.drive.figures.nominal_v
    assert found.idle.most_a == pytest.approx(own + rest)


def test_each_gear_ends_where_the_motor_does() -> None:
    found = commissioning(saved())
    line = found.project.donor.driveline
    rpm = found.drive.motor.number("max_speed_rpm")
    first = rpm / 60 / (line.gear_ratios[0] * found.drive.core.final_ratio)
    first *= 2 * math.pi * line.wheel_radius_mm / 1000 * 3.6
    assert found.gears[0].most_kmh == pytest.approx(first)
    assert [gear.number for gear in found.gears] == [1, 2, 3, 4]


def test_the_gear_is_the_one_that_takes_least_and_holds() -> None:
    plan = saved()
    assert [(row.speed_kmh, row.gear) for row in best_gears(plan.driving, 0.0)] == [
        (20.0, 2), (50.0, 2), (80.0, 3),
    ]  # fmt: skip
    assert not best_gears(plan.driving, 0.05)[-1].possible
    spin = commissioning(plan).first_spin
    assert spin is not None
    assert spin.battery_a == min(row.battery_a or 0 for row in DRIVING.steady)
    assert best_gears(None, 0.0) == ()


def test_joining_by_ohms_law() -> None:
    """Two modules of 7.5 mohm that may take 32 A: 0.48 V (computed)."""
    assert greatest_difference_v(0.0075, 32.0) == pytest.approx(0.48)
    with pytest.raises(ValueError, match="above 0"):
        greatest_difference_v(0.0, 32.0)
