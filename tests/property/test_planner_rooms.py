"""Floors, stowed bays and places with sizes: planner and brute force agree."""

from __future__ import annotations

import pytest
from oracle.brute_force import brute_force
from oracle.compare import differences
from oracle.small_cases import make_case

from bomplan.audit import audit_plan
from bomplan.outlook.levers import levers
from bomplan.planner import find_plan
from bomplan.project.chassis import BayPiece, Floor, PartPlace
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


@pytest.mark.parametrize("seed", [0, pytest.param(5, marks=pytest.mark.slow)])
def test_a_bay_that_is_no_box(seed: int) -> None:
    """What is blocked where modules stood sends them elsewhere, in the planner as by force."""
    case = make_case(seed)
    free = find_plan(case.project, case.catalog)
    use = free.placement[0]
    stand = use.stands[0]
    # a post through the middle of a module that stood there
    post = BayPiece.model_construct(
        x_mm=stand.x_mm + stand.length_mm // 2, y_mm=stand.y_mm + stand.width_mm // 2, z_mm=0,
        length_mm=20, width_mm=20, height_mm=None,
    )  # fmt: skip
    bays = tuple(
        bay.model_copy(update={"blocked": (post,)}) if bay.name == use.bay else bay
        for bay in case.project.bays
    )
    project = Project.model_validate(case.project.model_copy(update={"bays": bays}).model_dump())
    plan = find_plan(project, case.catalog)
    assert differences(plan, brute_force(project, case.catalog)) == []
    if plan.core is None:
        return
    assert all(check.passed for check in audit_plan(plan))
    spoilt = plan.model_copy(update={"placement": free.placement, "core": free.core})
    if plan.core == free.core:
        failed = {check.id for check in audit_plan(spoilt) if not check.passed}
        assert f"audit.stands.{use.bay}" in failed


SIDES = ("length_mm", "width_mm", "height_mm")


def with_room(
    project: Project, family: str, sides: tuple[int, int, int], **more: object
) -> Project:
    place = PartPlace.model_construct(
        family=family, zone=None, x_mm=project.places.other_x_mm, y_mm=None, z_mm=None,
        length_mm=sides[0], width_mm=sides[1], height_mm=sides[2],
        **{"keep_clear_mm": 0, "any_way_up": False, "half_shaft_mm": None} | more,
    )  # fmt: skip
    places = project.places.model_copy(update={"parts": (*project.places.parts, place)})
    return Project.model_validate(project.model_copy(update={"places": places}).model_dump())


@pytest.mark.parametrize(
    ("seed", "family"),
    [
        (0, "controller"),
        pytest.param(0, "motor", marks=pytest.mark.slow),
        pytest.param(16, "charger", marks=pytest.mark.slow),
        pytest.param(5, "adapter_plate", marks=pytest.mark.slow),
        pytest.param(5, "contactor", marks=pytest.mark.slow),
    ],
)
def test_a_place_that_is_a_millimetre_too_small(seed: int, family: str) -> None:
    """The part of the free plan fits its own sizes, and not one millimetre less."""
    case = make_case(seed)
    free = find_plan(case.project, case.catalog)
    line = next(line for line in free.lines if line.family == family)
    part = case.catalog.family(family)[line.part]
    # the sizes of a small case do not matter: the row that was taken gets the largest
    sized = {
        one.id: one.model_copy(
            update=dict(zip(SIDES, (200, 150, 80) if one.id == part.id else (150, 100, 50),
                            strict=True))
        )
        for one in case.catalog.family(family).values()
    }  # fmt: skip
    families = {**case.catalog.families, family: sized}
    catalog = case.catalog.model_copy(update={"families": families})
    loose = with_room(case.project, family, (1000, 1000, 1000), keep_clear_mm=20)
    plan = find_plan(loose, catalog)
    assert plan.core == free.core
    own = [check for check in audit_plan(plan) if check.id.startswith(f"place.{family}")]
    assert own
    assert all(check.passed for check in own)
    tight = with_room(case.project, family, (199, 199, 400))
    plan = find_plan(tight, catalog)
    assert differences(plan, brute_force(tight, catalog)) == []
    assert all(line.part != part.id for line in plan.lines)


@pytest.mark.parametrize(
    ("seed", "family"), [(0, "controller"), pytest.param(5, "charger", marks=pytest.mark.slow)]
)
def test_a_place_that_is_too_hot_or_too_wet(seed: int, family: str) -> None:
    """The part of the free plan stands 60 °C and splash: at 61 °C, and in a jet, another comes."""
    case = make_case(seed)
    free = find_plan(case.project, case.catalog)
    taken = next(line for line in free.lines if line.family == family).part
    rows = {}
    for one in case.catalog.family(family).values():
        told = {"ambient_max_c": 60.0, "protection": "IP54"}
        if one.id != taken:
            told = {"ambient_max_c": 90.0, "protection": "IP65/IP67"}
        rows[one.id] = one.model_copy(update={"figures": {**one.figures, **told}})
    families = {**case.catalog.families, family: rows}
    catalog = case.catalog.model_copy(update={"families": families})
    for ambient_c, water, kept in (
        (60.0, "splash", True), (61.0, None, False), (None, "jets", False), (60.0, "dry", True),
    ):  # fmt: skip
        place = PartPlace.model_construct(
            family=family, zone=None, x_mm=case.project.places.other_x_mm, y_mm=None, z_mm=None,
            ambient_c=ambient_c, water=water,
        )  # fmt: skip
        places = case.project.places.model_copy(update={"parts": (place,)})
        project = Project.model_validate(
            case.project.model_copy(update={"places": places}).model_dump()
        )
        plan = find_plan(project, catalog)
        assert differences(plan, brute_force(project, catalog)) == []
        if kept:
            assert plan.core == free.core
            own = [check for check in audit_plan(plan) if check.id.startswith(f"place.{family}.")]
            assert own
            assert all(check.passed for check in own)
        else:
            assert all(line.part != taken for line in plan.lines)


@pytest.mark.parametrize(
    ("seed", "families"),
    [
        (0, ("charger", "dcdc")),
        pytest.param(5, ("controller", "charger"), marks=pytest.mark.slow),
        pytest.param(16, ("contactor", "dcdc", "charger"), marks=pytest.mark.slow),
    ],
)
def test_families_that_share_a_place(seed: int, families: tuple[str, ...]) -> None:
    """What the free plan took goes in together to the millimetre; one less, and another comes."""
    case = make_case(seed)
    free = find_plan(case.project, case.catalog)
    taken = {line.part for line in free.lines}
    sized = {
        family: {
            one.id: one.model_copy(
                update=dict(zip(SIDES, (200, 150, 80) if one.id in taken else (140, 100, 50),
                                strict=True))
            )
            for one in case.catalog.family(family).values()
        }
        for family in families
    }  # fmt: skip
    catalog = case.catalog.model_copy(update={"families": {**case.catalog.families, **sized}})
    pieces = sum(line.quantity for line in free.lines if line.family in families)
    length = 200 * pieces + 10 * (pieces + 1)
    shared = {"also": families[1:], "keep_clear_mm": 10}
    loose = with_room(case.project, families[0], (length, 170, 100), **shared)
    plan = find_plan(loose, catalog)
    assert plan.core == free.core
    (own,) = (one for one in audit_plan(plan) if one.id == f"place.shared.{families[0]}")
    assert own.passed
    tight = with_room(case.project, families[0], (length - 1, 170, 100), **shared)
    # lengthwise only: 200 mm do not go across 170
    plan = find_plan(tight, catalog)
    assert differences(plan, brute_force(tight, catalog)) == []
    assert (
        not all(line.part in taken for line in plan.lines if line.family in families and plan.core)
        or plan.core is None
    )
