"""Where project and catalogue meet: every mention that leads nowhere, at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from bomplan import api
from bomplan.catalog import Catalog, load_catalog
from bomplan.design.assemble import needed_rules
from bomplan.design.context import Context
from bomplan.design.drive import resolve
from bomplan.design.planfile import catalog_of, project_of
from bomplan.errors import InputError
from bomplan.project import load_project, write_template
from bomplan.project.chassis import PartPlace
from bomplan.project.goal import Goal
from bomplan.project.records import Project, RoutePoint
from bomplan.requirements.references import IN_BAYS, check_references

RELEASED = Path(__file__).parents[2] / "golden" / "released" / "1" / "plan.json"


@pytest.fixture(scope="module")
def generic() -> Catalog:
    return load_catalog(["generic"])


@pytest.fixture(scope="module")
def pickup(tmp_path_factory: pytest.TempPathFactory) -> Project:
    return load_project(
        write_template("garden-pickup", tmp_path_factory.mktemp("pickup"))[0]
    ).project


def with_choices(project: Project, **choices: object) -> Project:
    return project.model_copy(update={"choices": project.choices.model_copy(update=choices)})


def test_the_examples_belong_to_the_shipped_catalogue(generic: Catalog, tmp_path: Path) -> None:
    for name in ("garden-pickup", "courier-motorcycle", "camper-van", "small-car", "van"):
        check_references(load_project(write_template(name, tmp_path / name)[0]).project, generic)


@pytest.mark.parametrize(
    ("choices", "code", "where", "hint"),
    [
        ({"motor": "motor-series-205"}, "part", "choices.motor", "motor-series-205mm"),
        ({"controller": "choper-120v-450a"}, "part", "choices.controller", "chopper-120v-450a"),
        ({"module": "lfp-cel-100"}, "part", "choices.module", "lfp-cell-100"),
        ({"motor": "lfp-cell-100"}, "part-family", "choices.motor", None),
        ({"parts": {"throtle": "x"}}, "family", "choices.parts.throtle", "throttle"),
        (
            {"parts": {"throttle": "throttle-pedal-duel"}},
            "part", "choices.parts.throttle", "throttle-pedal-dual",
        ),
        ({"parts": {"motor": "motor-series-205mm"}}, "lock-place", "choices.parts.motor", None),
        ({"excluded": ("lfp-cell-1000",)}, "part", "choices.excluded", "lfp-cell-100"),
        ({"owned": {"lfp-cell-1000": 4}}, "part", "choices.owned", "lfp-cell-100"),
        ({"owned": {"lfp-cell-100": -4}}, "owned", "choices.owned.lfp-cell-100", None),
        (
            {"requires": {"shunt-30a": ("labels-car",)}},
            "part", "choices.requires.shunt-30a", "shunt-300a",
        ),
        (
            {"forbids": {"shunt-300a": ("label-car",)}},
            "part", "choices.forbids.shunt-300a", "labels-car",
        ),
        (
            {"requires": {"shunt-300a": ("shunt-500a",)}},
            "rule", "choices.requires.shunt-300a", None,
        ),
        ({"suppliers": ("harbor-parts",)}, "supplier", "choices.suppliers", "harbour-parts"),
        ({"chemistries": ("lpf",)}, "chemistry", "choices.chemistries", "lfp"),
    ],
)  # fmt: skip
def test_a_mention_that_leads_nowhere(
    pickup: Project,
    generic: Catalog,
    choices: dict[str, object],
    code: str,
    where: str,
    hint: str | None,
) -> None:
    with pytest.raises(InputError) as caught:
        check_references(with_choices(pickup, **choices), generic, "project.toml")
    (fault,) = caught.value.faults
    assert (fault.code, fault.where, fault.file) == (f"references.{code}", where, "project.toml")
    if hint:
        assert fault.hint == f"did you mean {hint}?"


def test_what_is_alike_in_the_family_that_is_asked_goes_first(
    pickup: Project, generic: Catalog
) -> None:
    def hint(**choices: object) -> str | None:
        with pytest.raises(InputError) as caught:
            check_references(with_choices(pickup, **choices), generic)
        (fault,) = caught.value.faults
        return fault.hint

    assert hint(parts={"contactor": "contactor-100v-100"}) == "did you mean contactor-100v-100a?"
    assert hint(motor="lfp-cel-100") == "lfp-cell-100 is alike, a row of module"
    assert hint(motor="zzz") == "bomplan catalog list shows what there is"


@pytest.mark.parametrize("family", sorted(IN_BAYS))
def test_what_stands_in_bays_has_no_place_of_its_own(
    pickup: Project, generic: Catalog, family: str
) -> None:
    place = PartPlace.model_validate({"family": family, "x": "1 m"})
    places = pickup.places.model_copy(update={"parts": (place,)})
    with pytest.raises(InputError) as caught:
        check_references(pickup.model_copy(update={"places": places}), generic)
    (fault,) = caught.value.faults
    assert (fault.code, fault.value) == ("references.place-in-bays", family)


def test_only_families_of_the_bays_are_refused_a_place() -> None:
    """A plan has no piece of theirs outside of its bays, and of every other family some."""
    plan = api.read_plan(RELEASED)
    context = Context(project_of(plan), catalog_of(plan))
    drive = resolve(context, plan.core)
    taken = {line.family: line.part for line in plan.lines}
    rules = [rule for rule in needed_rules(context, drive) if rule.family in taken]
    later = {"vent_fan", "link_cable", "link_lug"}  # not in a plan of that age
    assert {rule.family for rule in rules} > IN_BAYS - later
    for rule in rules:
        part = context.catalog.family(rule.family)[taken[rule.family]]
        outside = rule.base(context, drive, part)
        assert (outside == 0) == (rule.family in IN_BAYS), rule.family


def test_all_of_them_at_once(pickup: Project, generic: Catalog) -> None:
    spoilt = with_choices(
        pickup, motor="m", excluded=("e", "f"), owned={"o": 1}, suppliers=("s",)
    ).model_copy(update={"rates": {}})
    with pytest.raises(InputError) as caught:
        check_references(spoilt, generic)
    assert len(caught.value.faults) == 6


def test_every_currency_without_a_rate(pickup: Project, generic: Catalog) -> None:
    poor = pickup.model_copy(update={"currency": "CHF", "rates": {}})
    with pytest.raises(InputError) as caught:
        check_references(poor, generic)
    told = [fault.message for fault in caught.value.faults]
    assert len(told) == 2
    assert "prices in EUR" in told[0]
    assert "prices in USD" in told[1]
    only = with_choices(poor, suppliers=("harbour-parts",)).model_copy(
        update={"rates": {"USD": 0.8}}
    )
    with pytest.raises(InputError, match="prices in EUR"):
        check_references(only, generic)


def test_energy_over_the_years_needs_a_price(pickup: Project, generic: Catalog) -> None:
    goal = Goal(aim="least-lifetime-cost")
    rates = {"EUR": 4.3, "USD": 4.0}
    unsaid = pickup.use.model_copy(update={"electricity_price": None})
    abroad = pickup.model_copy(
        update={"currency": "PLN", "rates": rates, "goal": goal, "use": unsaid}
    )
    with pytest.raises(InputError, match=r"references\.goal-energy"):
        check_references(abroad, generic)
    told = abroad.use.model_copy(update={"electricity_price": 1.1})
    check_references(abroad.model_copy(update={"use": told}), generic)
    check_references(pickup.model_copy(update={"goal": goal}), generic)


def test_planning_looks_first(tmp_path: Path) -> None:
    file = write_template("garden-pickup", tmp_path, {"choices.motor": "no-such"})[0]
    with pytest.raises(InputError, match=r"references\.part"):
        api.plan(file)


def on_a_hill(project: Project, length_m: float, rise_m: float) -> Project:
    name = "route hill.csv"
    first, *rest = project.targets.range
    points = tuple(
        RoutePoint(distance_m=share * length_m, speed_limit_m_s=14.0, elevation_m=share * rise_m)
        for share in (0.0, 1.0)
    )
    targets = project.targets.model_copy(
        update={"range": (first.model_copy(update={"profile": name}), *rest)}
    )
    return project.model_copy(update={"targets": targets, "routes": {name: points}})


@pytest.mark.parametrize("rise_m", [40.0, -40.0, 39.9])
def test_a_hill_too_short_to_be_driven_from_rest_is_refused_in_words(
    pickup: Project, generic: Catalog, rise_m: float
) -> None:
    with pytest.raises(InputError, match=r"cannot be driven second by second.*route\.profile"):
        check_references(on_a_hill(pickup, 100.0, rise_m), generic)


def test_the_same_grade_over_a_longer_hill_is_a_road(pickup: Project, generic: Catalog) -> None:
    check_references(on_a_hill(pickup, 1000.0, 400.0), generic)


@pytest.mark.parametrize(
    ("length_m", "rise_m", "speed_m_s", "cap_m_s", "refused"),
    [
        (5.0, 0.0, 8.0, None, True),  # two stops and nothing between them
        (0.1, 0.0, 8.0, None, True),
        (1000.0, 300.0, 8.0, 0.003, True),  # days at its cap
        (60.0, 20.0, 0.2778, None, False),
        (60.0, 20.0, 8.0, 0.2778, False),
    ],
)
def test_short_and_slow_roads_are_driven_or_refused_in_words(
    pickup: Project,
    generic: Catalog,
    length_m: float,
    rise_m: float,
    speed_m_s: float,
    cap_m_s: float | None,
    refused: bool,
) -> None:
    project = on_a_hill(pickup, length_m, rise_m)
    (name, points), *_ = project.routes.items()
    slower = tuple(one.model_copy(update={"speed_limit_m_s": speed_m_s}) for one in points)
    first, *rest = project.targets.range
    first = first.model_copy(update={"speed_cap_m_s": cap_m_s})
    targets = project.targets.model_copy(update={"range": (first, *rest)})
    project = project.model_copy(update={"routes": {name: slower}, "targets": targets})
    if refused:
        with pytest.raises(InputError, match=r"route\.profile"):
            check_references(project, generic)
    else:
        check_references(project, generic)
        driven = Context(project, generic).profile(name, cap_m_s)
        assert driven.distance_m.sum() == pytest.approx(length_m, rel=0.05)
        assert (driven.grade * driven.distance_m).sum() == pytest.approx(rise_m, rel=0.1)
