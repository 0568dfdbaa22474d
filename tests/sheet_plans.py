"""Plans for tests of the sheets: the saved one as another car, without a search."""

from __future__ import annotations

from copy import deepcopy
from pathlib import Path
from typing import Any

from bomplan.design.context import Context
from bomplan.design.drive import resolve
from bomplan.design.driving import Driving, HeldSpeed, PackVoltage, SteadySpeed
from bomplan.design.planfile import catalog_of, project_of, read_plan
from bomplan.design.records import Plan
from bomplan.requirements.cautions import cautions

SAVED = Path(__file__).parent / "golden" / "released" / "1" / "plan.json"

LEAD = {
    "chemistry": "flooded", "gassing_a_per_100ah": 2.0, "cells_series": 12,
    "cell_v_charge": 2.45, "cell_v_nominal": 2.0, "cell_v_min": 1.6,
}  # fmt: skip


def steady(kmh: float, gear: int, grade: float, amps: float, *, possible: bool = True) -> Any:
    return SteadySpeed(
        speed_kmh=kmh, gear=gear, grade=grade, motor_rpm=round(80 * kmh / gear),
        motor_a=3 * amps, battery_a=amps, pack_full_v=131.0, pack_nearly_empty_v=112.0,
        possible=possible,
    )  # fmt: skip


DRIVING = Driving(
    condition="summer, new",
    load_case="laden",
    ranges=(),
    speeds=(HeldSpeed(hold_s=60.0, speed_kmh=81.0, gear=3, cause="voltage"),),
    climbs=(),
    starts=(),
    sprints=(),
    steady=(
        steady(20, 1, 0.0, 17.3), steady(20, 2, 0.0, 16.1), steady(50, 2, 0.0, 44.7),
        steady(50, 3, 0.0, 43.2, possible=False), steady(80, 3, 0.0, 97.9),
        steady(20, 1, 0.05, 52.4), steady(50, 2, 0.05, 133.6),
        steady(80, 3, 0.05, 245.8, possible=False),
    ),
    voltages=(
        PackVoltage(state="full", state_of_charge=0.98, rest_v=133.2, pull_v=129.7, pull_a=271.0),
        PackVoltage(state="half", state_of_charge=0.53, rest_v=119.6, pull_v=116.1, pull_a=303.0),
        PackVoltage(state="nearly empty", state_of_charge=0.26, rest_v=115.4, pull_v=111.5,
                    pull_a=315.0),
    ),
)  # fmt: skip


def saved(
    *,
    kind: str = "car",
    module: dict[str, Any] | None = None,
    motor: dict[str, Any] | None = None,
    controller: dict[str, Any] | None = None,
    without: tuple[str, ...] = (),
    driving: Driving | None = DRIVING,
    **fields: Any,
) -> Plan:
    """The saved plan (a series motor, 134 V of lithium) with figures of its parts changed."""
    plan = read_plan(SAVED)
    project, used = deepcopy(plan.project_used), deepcopy(plan.parts_used)
    project["donor"]["kind"] = kind
    changes = {"module": module, "motor": motor, "controller": controller}
    for part in used["parts"]:
        part["figures"] |= changes.get(part["family"]) or {}
    lines = tuple(line for line in plan.lines if line.family not in without)
    values: dict[str, Any] = {
        "project_used": project, "parts_used": used, "lines": lines, "driving": driving,
    }  # fmt: skip
    changed = plan.model_copy(update=values | fields)
    assert changed.core is not None
    drive = resolve(Context(project_of(changed), catalog_of(changed)), changed.core)
    return changed.model_copy(update={"cautions": cautions(drive, changed.checks, driving)})


def fast() -> Plan:
    """The same, geared so that the motor turns twice as fast."""
    rows = tuple(row.model_copy(update={"motor_rpm": 2 * row.motor_rpm}) for row in DRIVING.steady)
    return saved(driving=DRIVING.model_copy(update={"steady": rows}))


def induction() -> Plan:
    """The same with an alternating-current machine that brakes into the pack."""
    return saved(
        motor={"kind": "induction", "continuous_kw": 15.0, "hour_kw": 20.0},
        controller={"kind": "inverter", "regeneration": True},
    )


def lead() -> Plan:
    """The same with wet lead-acid blocks, which no monitor watches."""
    plan = saved(module=LEAD, without=("monitor",))
    # Half the volts of the lithium cells at every state of charge.
    curves = [
        row | {"open_circuit_v": row["open_circuit_v"] / 2} for row in plan.parts_used["curves"]
    ]
    return plan.model_copy(update={"parts_used": plan.parts_used | {"curves": curves}})
