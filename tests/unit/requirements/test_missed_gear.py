"""A gear that is taken by mistake: what the wheels then do to the motor."""

from __future__ import annotations

from math import pi
from typing import Any

import pytest
from dangerous_cases import CORE, sound

from bomplan.catalog.records import Part
from bomplan.design.context import Context
from bomplan.project.records import Project
from bomplan.requirements.overspeed import gear_ceilings, wrong_gear, wrong_gear_checks

RADIUS_M, FINAL = 0.265, 4.3
GEARS = (3.4, 2.0, 1.3)


def context(**rules: Any) -> Context:
    fields = sound().fields | {"house_rules": rules}
    fields["targets"] = {
        **fields["targets"],
        "top_speed": [
            {
                "name": "road", "speed_m_s": 25.0, "hold_s": 60.0, "condition": "mild",
                "load_case": "two",
            }
        ],
    }  # fmt: skip
    return Context(Project.model_validate(fields), sound().catalog())


def motor(**figures: Any) -> Part:
    part = sound().catalog().family("motor")[CORE.motor]
    changed = {k: v for k, v in {**part.figures, **figures}.items() if v is not None}
    return part.model_copy(update={"figures": changed})


def test_each_gear_has_a_speed_above_which_it_bursts_the_motor() -> None:
    found = gear_ceilings(context(), motor(burst_speed_rpm=9_600.0), FINAL)
    for ratio, speed in zip(GEARS, found, strict=True):
        assert speed * ratio * FINAL / RADIUS_M * 30 / pi == pytest.approx(9_600)
    unknown = gear_ceilings(context(), motor(burst_speed_rpm=None, max_speed_rpm=5_000.0), FINAL)
    assert unknown[0] / found[0] == pytest.approx(1.2 * 5_000 / 9_600)


def test_it_is_told_with_the_speeds_to_keep_below() -> None:
    (said,) = wrong_gear(context(), motor(burst_speed_rpm=9_600.0), FINAL)
    # 9,600 rpm: 1005.3 rad/s x 0.265 m / (3.4 x 4.3) = 18.2 m/s, / (2.0 x 4.3) = 31.0 m/s
    assert "may burst the motor (9600 rpm)" in said
    assert said.endswith("never gear 1 above 65 km/h.")
    (slow,) = wrong_gear(context(), motor(burst_speed_rpm=7_000.0), FINAL)
    assert slow.endswith("never gear 1 above 47 km/h, gear 2 above 81 km/h.")
    assert wrong_gear(context(), motor(burst_speed_rpm=14_000.0), FINAL) == ()
    unknown = motor(burst_speed_rpm=None, max_speed_rpm=5_000.0)
    assert "faster than it is known to stand (6000 rpm)" in wrong_gear(context(), unknown, FINAL)[0]


def test_nothing_is_told_where_there_is_no_gear_to_miss() -> None:
    assert wrong_gear(context(), motor(mount="axle", unit_ratio=9.0), FINAL) == ()


def test_a_project_may_forbid_it() -> None:
    assert list(wrong_gear_checks(context(), motor(burst_speed_rpm=7_000.0), FINAL)) == []
    strict = context(missed_downshift="forbid")
    (check,) = wrong_gear_checks(strict, motor(burst_speed_rpm=7_000.0), FINAL)
    assert check.id == "motor.missed-downshift"
    assert (check.value, check.passed) == (90.0, False)
    assert check.limit == pytest.approx(3.6 * 7_000 * pi / 30 * RADIUS_M / (2.0 * FINAL))
    (held,) = wrong_gear_checks(strict, motor(burst_speed_rpm=9_600.0), FINAL)
    assert held.passed
