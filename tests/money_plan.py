"""A whole plan with every record of money and driving, for tests of the workbook."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

from bomplan.catalog import load_catalog
from bomplan.design.driving import (
    Driving,
    HeldGrade,
    HeldSpeed,
    HillStart,
    PackVoltage,
    RangeState,
    Sprint,
    SteadySpeed,
)
from bomplan.design.money import with_money
from bomplan.design.planfile import project_of, read_plan
from bomplan.design.records import Plan
from bomplan.design.weight_records import (
    Advice,
    AxleChange,
    LoadState,
    MotionLoad,
    WeightItem,
    Weights,
    WheelLoads,
)

RELEASED = Path(__file__).parents[0] / "golden" / "released" / "1" / "plan.json"
NASTY = "=1+1"


@cache
def base() -> Plan:
    """The pickup of the first release with weights, driving and the shipped extras."""
    plan = read_plan(RELEASED)
    assert plan.mass is not None
    extras = [row.model_dump(mode="json") for row in load_catalog(["generic"]).extras.values()]
    return plan.model_copy(
        update={
            "mass": plan.mass.model_copy(update={"weights": weights()}),
            "driving": driving(),
            "parts_used": {**plan.parts_used, "extras": extras},
        }
    )


def money_plan(plan: Plan | None = None, rate: int | None = 5500, **budget: Any) -> Plan:
    """That plan (or another) with its money, by a project with these keys under budget."""
    plan = plan or base()
    used = plan.project_used
    told = {"sold": [{"name": NASTY, "amount": 30_000, "low": 10_000}], "limit": 1_500_000}
    project_used = {
        **used,
        "budget": {**told, **budget},
        "house_rules": {**used["house_rules"], "workshop_rate": rate},
    }
    plan = plan.model_copy(update={"project_used": project_used})
    return with_money(plan, project_of(plan))


def weights() -> Weights:
    loads = WheelLoads(
        front_left_kg=310.0, front_right_kg=300.0, rear_left_kg=260.0, rear_right_kg=250.0
    )
    return Weights(
        items=(WeightItem(kind="bought", what=NASTY, part=NASTY, mass_kg=12.5, x_mm=-50.0),),
        states=(
            LoadState(stage="before", mass_kg=1010, front_kg=585, rear_kg=425, front_share=0.579,
                      x_mm=1044.0),
            LoadState(stage="after", load_case=NASTY, mass_kg=1120, front_kg=610, rear_kg=510,
                      front_share=0.545, x_mm=1130.0, z_mm=540.0, wheels=loads),
        ),
        motion=(MotionLoad(words="uphill", load_case="laden", grade=0.2, acceleration_m_s2=0,
                           front_kg=500, rear_kg=620),),
        changes=(
            AxleChange(axle="front", before_kg=585, after_kg=610, change_share=0.043,
                       springs=False, dampers=False),
            AxleChange(axle="rear", before_kg=425, after_kg=510, change_share=0.2,
                       springs=True, dampers=True),
        ),
        advice=(Advice(id="share", words="front share", value=0.44, usual=0.45, sense="at least",
                       kept=False),),
        running_order_kg=1195.0,
        spread_kg=10.0,
    )  # fmt: skip


def driving() -> Driving:
    return Driving(
        condition="summer, new",
        load_case=NASTY,
        ranges=(RangeState(target=NASTY, state="worn", temperature_c=-5.0, aged=True, heater_w=600,
                           range_km=46.1, not_followed_s=0, not_followed_m=0,
                           wheel_wh_per_km=129.0, battery_wh_per_km=196.0, wall_wh_per_km=229.0,
                           end_cause="voltage"),),
        speeds=(HeldSpeed(hold_s=60, speed_kmh=97.5, gear=4, cause="voltage"),),
        climbs=(HeldGrade(speed_kmh=50, peak=0.095, sustained=None),),
        starts=(HillStart(wet=True, grade=0.319, cause="grip"),),
        sprints=(Sprint(to_kmh=80, seconds=None, metres=None, grip_limited=False),),
        steady=tuple(
            SteadySpeed(speed_kmh=kmh, gear=gear, grade=0, motor_rpm=2000, motor_a=90.0,
                        battery_a=kmh + gear, pack_full_v=133.0, pack_nearly_empty_v=115.0,
                        possible=True)
            for kmh in (50.0, 80.0) for gear in (3, 4)
        ),
        voltages=(PackVoltage(state="full", state_of_charge=0.96, rest_v=133.2, pull_v=130.0,
                              pull_a=269.0),),
    )  # fmt: skip
