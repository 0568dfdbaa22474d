"""The curves of a plan: they sum up, agree with the answers beside them, and are audited."""

from __future__ import annotations

import numpy as np
import pytest
from shipped_examples import quick_plan

from bomplan import api
from bomplan.design.curve_figures import LAP_POINTS, POINTS, _points
from bomplan.design.curve_records import Curves, EnergyUse
from bomplan.design.driving import Driving
from bomplan.design.records import Plan

PARTS = ("air", "rolling", "brakes", "slopes", "driveline", "motor", "controller", "beside",
         "circuit", "pack")  # fmt: skip


def driving() -> tuple[Driving, Curves]:
    found = quick_plan().driving
    assert found is not None
    assert found.curves is not None
    return found, found.curves


def figure(use: EnergyUse, name: str) -> float:
    return float(getattr(use, f"{name}_wh_per_km"))


def test_what_eats_the_energy_sums_up() -> None:
    _, curves = driving()
    assert len(curves.energy) == 6
    for use in curves.energy:
        assert sum(figure(use, name) for name in PARTS) == pytest.approx(
            use.cells_wh_per_km, abs=0.05 * len(PARTS) + 1e-6
        )


def test_shares_agree_with_the_ranges_beside_them() -> None:
    """Cells less their own resistance is what the pack's terminals give, per distance."""
    told, curves = driving()
    ranges = {(one.target, one.state): one for one in told.ranges}
    for use in curves.energy:
        beside = ranges[use.target, use.state]
        assert use.cells_wh_per_km - use.pack_wh_per_km == pytest.approx(
            beside.battery_wh_per_km, abs=0.3
        )
        wheel = sum(figure(use, name) for name in ("air", "rolling", "brakes", "slopes"))
        assert wheel == pytest.approx(beside.wheel_wh_per_km, abs=0.4)


def test_rolling_is_that_of_the_project() -> None:
    """c m g per metre: 0.012 x laden mass x 9.81 N, in Wh/km (by hand; slopes are gentle)."""
    plan, (_, curves) = quick_plan(), driving()
    assert plan.mass is not None
    by_hand = 0.012 * plan.mass.laden_kg * 9.80665 / 3.6
    for use in curves.energy:
        assert use.rolling_wh_per_km == pytest.approx(by_hand, rel=0.005)


def test_traces_hold_the_extremes_of_the_ranges() -> None:
    plan, (_, curves) = quick_plan(), driving()
    assert plan.performance is not None
    for lap, result in zip(curves.traces, plan.performance.ranges, strict=True):
        assert lap.target == result.target
        assert lap.laps is not None
        assert lap.laps * lap.lap_m / 1000 == pytest.approx(result.range_km, rel=0.01)
        assert max(lap.battery_a) <= result.peak_battery_a + 0.05
        assert max(lap.battery_a) > 0.8 * result.peak_battery_a
        assert min(*lap.pack_v, *lap.last_pack_v) >= result.min_voltage_v - 0.05
        assert len(lap.speed_kmh) == len(lap.motor_a) == len(lap.battery_a) == len(lap.pack_v)
        assert len(lap.speed_kmh) <= LAP_POINTS
        assert (
            (len(lap.speed_kmh) - 1) * lap.point_s < lap.lap_s <= len(lap.speed_kmh) * lap.point_s
        )
        assert not lap.last_pack_v or len(lap.last_pack_v) == len(lap.pack_v)
        # A pack that is nearly empty sags more.
        assert not lap.last_pack_v or min(lap.last_pack_v) < min(lap.pack_v)


def test_thrust_meets_the_road_at_the_top_speed() -> None:
    told, curves = driving()
    flat = next(one for one in curves.road if one.grade == 0)
    for held, curve in zip(told.speeds, ("minute_n", "half_hour_n"), strict=True):
        gear = next(one for one in curves.thrust if one.gear == held.gear)
        pushed = np.interp(held.speed_kmh, gear.speed_kmh, getattr(gear, curve))
        needed = np.interp(held.speed_kmh, flat.speed_kmh, flat.force_n)
        assert pushed == pytest.approx(needed, rel=0.04)


def test_grades_asked_for_are_drawn() -> None:
    _, curves = driving()
    assert [one.grade for one in curves.road] == [0.0, 0.05, 0.12, 0.2]
    assert all(len(one.speed_kmh) == len(one.force_n) == POINTS for one in curves.road)
    for gentle, steep in zip(curves.road, curves.road[1:], strict=False):
        assert all(a < b for a, b in zip(gentle.force_n, steep.force_n, strict=True))


def test_points_keep_extremes() -> None:
    values = np.array([1.0, 9.0, 2.0, 3.0, 4.0])
    assert _points(values, 2, "max") == (9.0, 3.0, 4.0)
    assert _points(values, 2, "min") == (1.0, 2.0, 4.0)
    assert _points(values, 2, "mean") == (5.0, 2.5, 4.0)


def changed(**curves: object) -> Plan:
    plan, (told, found) = quick_plan(), driving()
    other = told.model_copy(update={"curves": found.model_copy(update=curves)})
    return plan.model_copy(update={"driving": other})


def words_of(plan: Plan) -> tuple[bool, str]:
    (check,) = (one for one in api.audit(plan) if one.id == "audit.driving")
    return check.passed, check.words


def test_the_audit_draws_the_curves_again() -> None:
    _, curves = driving()
    assert words_of(quick_plan())[0]
    lap = curves.traces[0]
    flattered = lap.model_copy(update={"pack_v": tuple(one + 3 for one in lap.pack_v)})
    passed, words = words_of(changed(traces=(flattered, *curves.traces[1:])))
    assert not passed
    assert "curves.traces[0].pack_v" in words
    assert not words_of(changed(road=curves.road[1:]))[0]


def test_a_plan_without_curves_is_not_wrong() -> None:
    told, _ = driving()
    older = told.model_copy(update={"curves": None})
    assert words_of(quick_plan().model_copy(update={"driving": older}))[0]
