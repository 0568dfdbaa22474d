"""Floors that bays share and bays filled from one end: planner and brute force agree."""

from __future__ import annotations

import pytest
from oracle.brute_force import brute_force
from oracle.compare import differences
from oracle.small_cases import make_case

from bomplan.audit import audit_plan
from bomplan.outlook.levers import levers
from bomplan.planner import find_plan
from bomplan.project.chassis import Floor
from bomplan.project.records import Project


def roomed(project: Project, limit_g: int, stows: tuple[str | None, ...]) -> Project:
    bays = tuple(
        bay.model_copy(update={"floor": "all of it", "stow": stow})
        for bay, stow in zip(project.bays, stows, strict=False)
    )
    floor = Floor.model_construct(name="all of it", mass_limit_g=limit_g)
    data = project.model_copy(update={"bays": bays, "floors": (floor,)}).model_dump()
    return Project.model_validate(data)


@pytest.mark.parametrize(
    "seed", [0, pytest.param(5, marks=pytest.mark.slow), pytest.param(16, marks=pytest.mark.slow)]
)
def test_a_shared_floor_and_a_stowed_bay(seed: int) -> None:
    case = make_case(seed)
    free = find_plan(case.project, case.catalog)
    held = sum(item.mass_kg for item in free.mass.weights.items if item.bay)
    moved = 0
    for limit_g in (round(1000 * held), round(1000 * held) - 1, round(900 * held)):
        stows = (("rear", "front"), ("middle", "rear"))[limit_g % 2]
        project = roomed(case.project, limit_g, stows)
        plan = find_plan(project, case.catalog)
        assert differences(plan, brute_force(project, case.catalog)) == []
        if plan.core is None:
            moved += 1
            continue
        checks = {check.id: check for check in audit_plan(plan)}
        assert all(check.passed for check in checks.values())
        floor = checks["floor.mass.all of it"]
        assert floor.value <= limit_g / 1000
        moved += plan.lines != free.lines
        named = [lever for lever in levers(project) if lever.id == "floor.mass.all of it"]
        (lever,) = named
        assert lever.at(project, 7).floors[0].mass_limit_g == 7_000
    assert moved >= 2  # the limit that is one gram too low changes what is bought
