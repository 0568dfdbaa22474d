"""What is left on an axle is the same in a plan and beside others; notes say what differs."""

from __future__ import annotations

import math

import pytest
from shipped_examples import plan_of

from bomplan import api
from bomplan.outlook.comparison import _notes
from bomplan.outlook.headline import headline
from bomplan.outlook.narrowed import Candidate, Candidates
from bomplan.project.echo import echo
from bomplan.project.records import Project
from bomplan.report.reading import worst_axles
from bomplan.report.terminal import summary

MOTORCYCLE = api.load_project("example:courier-motorcycle")
CATALOG = api.load_catalog(MOTORCYCLE.catalogs)


def test_left_is_what_the_plan_itself_says_is_left() -> None:
    plan = plan_of("courier-motorcycle")
    assert plan.mass is not None
    line = headline(plan)
    left = {axle.name: axle.limit_kg - axle.load_kg for axle in worst_axles(plan.mass)}
    assert line.front_left_kg == pytest.approx(left["front"], abs=0.001)
    assert line.rear_left_kg == pytest.approx(left["rear"], abs=0.001)
    # The plan keeps a margin there, so that the two meanings are not the same figure.
    assert all(axle.allowed_kg < axle.limit_kg for axle in plan.mass.axles)
    told = summary(plan)
    for kg in (line.front_left_kg, line.rear_left_kg):
        assert f"{math.floor(kg)} kg left" in told


def compared(by: str, *projects: Project) -> Candidates:
    rows = tuple(Candidate(str(n), one, CATALOG) for n, one in enumerate(projects))
    return Candidates(by, "", rows)


def changed(section: str, **update: object) -> Project:
    record = getattr(MOTORCYCLE, section).model_copy(update=update)
    return MOTORCYCLE.model_copy(update={section: record})


def test_a_note_names_what_the_rows_reckon_with_otherwise() -> None:
    assert _notes(compared("scenario", MOTORCYCLE, MOTORCYCLE)) == ()
    (told,) = _notes(compared("scenario", MOTORCYCLE, changed("use", years=3.0)))
    assert told.startswith("from scenario to scenario other things are reckoned with:")
    assert "the number of years;" in told
    first, *others = MOTORCYCLE.targets.range
    farther = first.model_copy(update={"distance_m": first.distance_m * 2})
    far = changed("targets", range=(farther, *others))
    (told,) = _notes(compared("project", MOTORCYCLE, far))
    assert "from project to project" in told
    assert "the everyday drive" in told
    assert "years" not in told


def test_a_voltage_asked_for_is_no_year_of_use() -> None:
    asked = changed("targets", pack_voltage_min_v=48.0)
    assert _notes(compared("project", MOTORCYCLE, asked)) == ()


def test_what_the_project_says_is_told_in_four_digits() -> None:
    first, *others = MOTORCYCLE.conditions
    cold = first.model_copy(update={"temperature_c": -3.888888888888886, "heater_w": 293.0711})
    distance, *rest = MOTORCYCLE.targets.range
    miles = distance.model_copy(update={"distance_m": 72_420.48})
    project = MOTORCYCLE.model_copy(
        update={
            "conditions": (cold, *others),
            "targets": MOTORCYCLE.targets.model_copy(update={"range": (miles, *rest)}),
        }
    )
    told = "\n".join(echo(project))
    assert "-3.889 °C" in told
    assert "heater 293.1 W" in told
    assert "must go 72.42 km" in told
    assert "3.8888" not in told
