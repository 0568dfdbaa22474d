"""Readings against a plan: what agrees, where a difference sits, which limits then hold."""

from __future__ import annotations

import json
import tomllib
from fractions import Fraction
from pathlib import Path
from random import Random
from typing import Any

import pytest
from golden_files import compare
from hypothesis import given, settings
from hypothesis import strategies as st
from oracle.small_cases import make_case

from bomplan import api
from bomplan.cli import main
from bomplan.design import plan_bytes
from bomplan.design.records import Plan
from bomplan.errors import InputError
from bomplan.measure import Reading, read_readings, readings_template, weigh_in
from bomplan.planner import find_plan
from bomplan.project.records import Project
from bomplan.weighing import PlacedMass

RELEASED = Path(__file__).parents[2] / "golden" / "released" / "1" / "plan.json"


@pytest.fixture(scope="module")
def plan() -> Plan:
    """A small case with corners, an own part and something kept."""
    case = make_case(0)
    fields = case.project.model_dump(mode="json")
    front, rear = (fields["donor"]["weighing"][f"{axle}_g"] for axle in ("front", "rear"))
    fields["donor"]["weighing"] |= {
        "front_left_g": front // 2 + 4_000,
        "front_right_g": front - front // 2 - 4_000,
        "rear_left_g": rear // 2,
        "rear_right_g": rear - rear // 2,
        "spread_g": 2_000,
    }
    fields["donor"] |= {
        "track_front_mm": 1_300,
        "track_rear_mm": 1_260,
        "gross_limit_g": 1_500_000,
        "front_axle_limit_g": 900_000,
        "rear_axle_limit_g": 900_000,
        "kept": [{"name": "spare wheel", "mass_g": 14_000, "x_mm": 2_700, "y_mm": 100}],
        "added": [{"name": "rack", "mass_g": 21_000, "x_mm": 1_000, "y_mm": -200}],
    }
    fields["targets"]["budget"] = None
    for bay in fields["bays"]:
        bay |= {"mass_limit_g": None, "y_mm": -300}
    found = find_plan(Project.model_validate(fields), case.catalog)
    assert found.core is not None
    return found


def states(plan: Plan, load_case: str) -> Any:
    assert plan.mass is not None
    assert plan.mass.weights is not None
    return next(
        one
        for one in plan.mass.weights.states
        if one.stage == "after" and one.load_case == load_case
    )


def grams(kg: float) -> int:
    return round(kg * 1000)


def reading(plan: Plan, **changes: Any) -> Reading:
    """The finished car with the first load case, read as the plan says, and ``changes``."""
    case = plan.project_used["load_cases"][0]["name"]
    wheels = states(plan, case).wheels
    corners = (
        grams(wheels.front_left_kg), grams(wheels.front_right_kg),
        grams(wheels.rear_left_kg), grams(wheels.rear_right_kg),
    )  # fmt: skip
    values: dict[str, Any] = {
        "name": "done", "removed": "all", "fitted": "all", "added": "all", "without": (),
        "load_case": case, "aboard": (), "fuel_g": 0, "fuel_x_mm": None,
        "front_g": corners[0] + corners[1], "rear_g": corners[2] + corners[3],
        "corners_g": corners, "spread_g": 3_000,
    } | changes  # fmt: skip
    if "corners_g" in changes and changes["corners_g"] is not None:
        fl, fr, rl, rr = changes["corners_g"]
        values |= {"front_g": fl + fr, "rear_g": rl + rr}
    return Reading(**values)


def test_a_car_as_planned_agrees(plan: Plan) -> None:
    (one,) = weigh_in(plan, [reading(plan)], "r.toml")
    assert one.agrees
    assert abs(one.extra_g) <= 4
    assert one.suspects == ()
    assert all(check.passed for check in one.checks)
    assert {check.id.split(".")[1] for check in one.checks} >= {"mass", "axle"}


@settings(max_examples=20, deadline=None)
@given(st.integers(-60_000, 60_000), st.integers(-500, 3_000), st.integers(-600, 600))
def test_the_difference_is_found_where_it_is(mass_g: int, x_mm: int, y_mm: int) -> None:
    """Any mass more or less, anywhere: its grams and its place come back."""
    plan = PLANS[0]
    length = plan.project_used["donor"]["wheelbase_mm"]
    true = reading(plan)
    assert true.corners_g is not None
    added = []
    for share, track in ((1 - Fraction(x_mm, length), 1_300), (Fraction(x_mm, length), 1_260)):
        for sign in (-1, 1):
            added.append(mass_g * share * (Fraction(1, 2) + sign * Fraction(y_mm, track)))
    corners = tuple(old + round(more) for old, more in zip(true.corners_g, added, strict=True))
    (one,) = weigh_in(plan, [reading(plan, corners_g=corners)], "r.toml")
    assert abs(one.extra_g - mass_g) <= 6
    if abs(mass_g) > 5_000:
        assert one.extra_x_mm is not None
        assert one.extra_y_mm is not None
        assert abs(one.extra_x_mm - x_mm) <= 5
        assert abs(one.extra_y_mm - y_mm) <= 5


PLANS: list[Plan] = []


@pytest.fixture(autouse=True, scope="module")
def _kept(plan: Plan) -> None:
    PLANS[:] = [plan]


@pytest.mark.parametrize(
    "changes",
    [
        {"removed": "none"},
        {"without": ("spare wheel",)},
        {"added": "none"},
        {"fitted": ("motor", "controller")},
        {"load_case": None},
        {"fitted": "none", "removed": "none", "added": "none", "load_case": None},
    ],
)
def test_every_state_of_the_build_has_its_own_loads(plan: Plan, changes: dict[str, Any]) -> None:
    """Expected loads by plain levers over the plan's own weighing."""
    assert plan.mass is not None
    assert plan.mass.weights is not None
    said = reading(plan, **changes)
    (one,) = weigh_in(plan, [said], "r.toml")
    length = plan.project_used["donor"]["wheelbase_mm"]
    mass = rear = 0.0
    for item in plan.mass.weights.items:
        if item.kind == "taken out" and said.removed == "none":
            continue
        if item.kind == "own part" and said.added == "none":
            continue
        if item.kind == "bought" and said.fitted != "all" and item.what not in said.fitted:
            continue
        mass += item.mass_kg
        rear += item.mass_kg * item.x_mm / length
    if said.without:
        mass -= 14.0
        rear -= 14.0 * 2_700 / length
    for case in plan.project_used["load_cases"]:
        for item in case["items"] if case["name"] == said.load_case else ():
            mass += item["mass_g"] / 1000
            rear += item["mass_g"] / 1000 * item["x_mm"] / length
    assert one.expected_rear_g / 1000 == pytest.approx(rear, abs=0.1)
    assert (one.expected_front_g + one.expected_rear_g) / 1000 == pytest.approx(mass, abs=0.01)


def test_one_bay_may_be_empty_still(plan: Plan) -> None:
    assert plan.mass is not None
    assert plan.mass.weights is not None
    places = [i for i in plan.mass.weights.items if i.what == "module" and i.bay]
    families = [line.family for line in plan.lines if line.family not in ("shipping", "module")]
    names = [*families, f"module in {places[0].bay}"]
    (one,) = weigh_in(plan, [reading(plan, fitted=tuple(names))], "r.toml")
    (full,) = weigh_in(plan, [reading(plan)], "r.toml")
    missing = sum(i.mass_kg for i in places[1:])
    got = full.expected_front_g + full.expected_rear_g
    got -= one.expected_front_g + one.expected_rear_g
    assert got / 1000 == pytest.approx(missing, abs=0.01)


def test_what_was_forgotten_is_suspected(plan: Plan) -> None:
    """The rack was not on it, and nobody said so."""
    true = reading(plan, corners_g=None)
    length = plan.project_used["donor"]["wheelbase_mm"]
    rear = round(21_000 * 1_000 / length)
    said = reading(
        plan, corners_g=None, front_g=true.front_g - 21_000 + rear, rear_g=true.rear_g - rear
    )
    (one,) = weigh_in(plan, [said], "r.toml")
    assert not one.agrees
    assert one.suspects[0].words == "rack is not in it yet"
    assert one.suspects[0].mass_g == 21_000
    assert one.extra_y_mm is None


def test_limits_are_made_anew_with_the_spread(plan: Plan) -> None:
    """Load as found plus the spread against the plate: to the gram on both sides of it."""
    case = plan.project_used["load_cases"][0]["name"]
    limit = plan.project_used["donor"]["rear_axle_limit_g"]
    true = reading(plan, corners_g=None)
    for over, wanted in ((0, True), (1_000, False)):
        said = reading(plan, corners_g=None, rear_g=limit - 3_000 + over - 500)
        (one,) = weigh_in(plan, [said], "r.toml")
        check = next(c for c in one.checks if c.id == f"weighed.axle.rear.{case}")
        assert check.passed == wanted
        assert check.limit == limit / 1000
        assert check.value == pytest.approx((limit + over - 500) / 1000, abs=0.01)
    assert true.rear_g < limit


def test_people_and_fuel_are_known_by_place(plan: Plan) -> None:
    said = reading(
        plan, load_case=None, aboard=(PlacedMass("me", 80_000, 1_000, -350),),
        fuel_g=10_000, fuel_x_mm=2_000,
    )  # fmt: skip
    empty = reading(plan, load_case=None)
    (one,), (other,) = weigh_in(plan, [said], "r"), weigh_in(plan, [empty], "r")
    length = plan.project_used["donor"]["wheelbase_mm"]
    rear = (80_000 * 1_000 + 10_000 * 2_000) / length
    assert one.expected_rear_g - other.expected_rear_g == pytest.approx(rear, abs=1)
    assert one.expected_front_g - other.expected_front_g == pytest.approx(90_000 - rear, abs=1)


# -- the command and its file ----------------------------------------------------------------


@pytest.fixture
def _folder(plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    Path("plan.json").write_bytes(plan_bytes(plan))
    return tmp_path


@pytest.mark.usefixtures("_folder")
def test_a_template_is_a_readings_file(plan: Plan, capsys: Any) -> None:
    assert main(["weigh", ".", "--template", "r.toml"]) == 0
    text = Path("r.toml").read_text("utf-8")
    assert text == readings_template(plan)
    assert tomllib.loads(text)["format"] == 1
    for line in plan.lines:
        assert line.family == "shipping" or f'"{line.family}"' in text
    assert main(["weigh", ".", "--template", "r.toml"]) == 2
    assert "readings.exists" in capsys.readouterr().err
    assert Path("r.toml").read_text("utf-8") == text
    # With both axles filled in it is read.
    filled = text.replace('# front = "412 kg"', 'front = "412 kg"')
    Path("s.toml").write_text(filled.replace('# rear = "388 kg"', 'rear = "388 kg"'), "utf-8")
    (read,) = read_readings(Path("s.toml"))
    assert (read.front_g, read.rear_g, read.fitted) == (412_000, 388_000, "all")


def with_donor(plan: Plan, **changes: Any) -> Plan:
    donor = plan.project_used["donor"] | changes
    return plan.model_copy(update={"project_used": plan.project_used | {"donor": donor}})


def test_a_template_takes_places_from_the_project(plan: Plan) -> None:
    weighing = plan.project_used["donor"]["weighing"]
    text = readings_template(with_donor(plan, weighing=weighing | {"fuel_x_mm": 1_300}))
    assert 'fuel_x = "1300 mm"' in text
    bare = readings_template(with_donor(plan, weighing=weighing | {"fuel_x_mm": None}))
    assert "fuel_x, the tank's distance behind the front axle" in bare
    (line,) = [one for one in text.splitlines() if one.startswith("# aboard = ")]
    first = plan.project_used["load_cases"][0]["items"][0]
    (said,) = tomllib.loads(line[2:])["aboard"]
    assert said["name"] == first["name"]
    assert said["mass"] == f"{first['mass_g'] / 1000:g} kg"
    assert said["x"] == f"{first['x_mm']} mm"
    assert said.get("y") == (None if first["y_mm"] is None else f"{first['y_mm']} mm")


def test_one_wheel_in_front_has_no_corners(plan: Plan) -> None:
    """Neither offered nor taken."""
    weighing = dict(plan.project_used["donor"]["weighing"])
    for corner in ("front_left_g", "front_right_g", "rear_left_g", "rear_right_g"):
        weighing[corner] = None
    tyres = plan.project_used["donor"]["tyres"] | {"front_count": 1}
    three = with_donor(plan, weighing=weighing, tyres=tyres, track_front_mm=None)
    text = readings_template(three)
    assert "front_left" not in text
    assert "corners" not in text
    assert "front_left" in readings_template(plan)
    with pytest.raises(InputError, match="this plan's front axle has one wheel"):
        weigh_in(three, [reading(plan)], "r.toml")
    (one,) = weigh_in(three, [reading(plan, corners_g=None)], "r.toml")
    assert one.expected_corners is None


@pytest.mark.usefixtures("_folder")
def test_the_command_says_what_it_found(plan: Plan, capsys: Any) -> None:
    true = reading(plan)
    assert true.corners_g is not None
    names = ("front_left", "front_right", "rear_left", "rear_right")
    lines = [f'{n} = "{g} g"' for n, g in zip(names, true.corners_g, strict=True)]
    head = f'format = 1\n[[weighing]]\nname = "done"\nload_case = "{true.load_case}"\n'
    Path("r.toml").write_text(head + "\n".join(lines), "utf-8")
    assert main(["weigh", "plan.json", "r.toml"]) == 0
    out = capsys.readouterr().out
    assert "Scales and plan agree" in out
    assert "every limit holds" in out
    heavy = head + 'front = "1000 kg"\nrear = "899 kg"\n'
    Path("r.toml").write_text(heavy, "utf-8")
    assert main(["weigh", "plan.json", "r.toml"]) == 1
    out = capsys.readouterr().out
    assert "more than planned" in out
    assert "FAIL with the spread" in out
    assert main(["weigh", "plan.json", "r.toml", "--json"]) == 1
    answer = json.loads(capsys.readouterr().out)
    assert answer["passed"] is False
    assert answer["weighings"][0]["read_front_kg"] == 1000.0
    # A later weighing decides.
    Path("r.toml").write_text(heavy + head[len("format = 1\n") :] + "\n".join(lines), "utf-8")
    assert main(["weigh", "plan.json", "r.toml"]) == 0
    assert main(["weigh", "plan.json"]) == 2


def test_a_plan_older_than_the_weighing_can_be_weighed(tmp_path: Path) -> None:
    old = api.read_plan(RELEASED)
    assert old.mass is not None
    assert old.mass.weights is None
    case = old.mass.load_cases[0]
    file = tmp_path / "r.toml"
    file.write_text(
        f'format = 1\n[[weighing]]\nload_case = "{case.name}"\n'
        f'front = "{case.front_kg} kg"\nrear = "{case.rear_kg} kg"\n', "utf-8",
    )  # fmt: skip
    (one,) = api.weigh(old, file)
    assert abs(one.extra_g) <= 2
    assert 'fitted = "all"' in api.weigh_template(old)


def test_the_readings_of_the_how_to_page_are_read(tmp_path: Path) -> None:
    page = Path(__file__).parents[3] / "docs" / "how-to" / "weigh-in.md"
    block = page.read_text("utf-8").split("```toml\n")[1].split("```")[0]
    (tmp_path / "readings.toml").write_text(block, "utf-8")
    found = api.weigh(api.read_plan(RELEASED), tmp_path / "readings.toml")
    assert [one.name for one in found] == ["engine out", "motor in, boxes empty"]


BAD = {
    "syntax": 'format = 1\n[[weighing]]\nfront = 412 kg\n',
    "format": '[[weighing]]\nfront = "412 kg"\nrear = "388 kg"\n',
    "empty": "format = 1\n",
    "unknown-key": 'format = 1\n[[weighing]]\nfrnt = "412 kg"\nfront = "1 kg"\nrear = "388 kg"\n',
    "no-axle": 'format = 1\n[[weighing]]\nfront = "412 kg"\n',
    "negative": 'format = 1\n[[weighing]]\nfront = "-412 kg"\nrear = "388 kg"\n',
    "corners": 'format = 1\n[[weighing]]\nfront = "412 kg"\nfront_left = "200 kg"\n'
    'front_right = "200 kg"\nrear_left = "190 kg"\nrear_right = "190 kg"\n',
    "one-corner": 'format = 1\n[[weighing]]\nfront = "412 kg"\nrear = "388 kg"\n'
    'front_left = "200 kg"\n',
    "values": 'format = 1\n[[weighing]]\nname = ""\nfront = "heavy"\nrear = "388 kg"\n'
    'removed = "some"\nwithout = "all"\nfuel = "5 kg"\naboard = ["me", { name = "me" }]\n',
    "names": 'format = 1\n[[weighing]]\nfront = "412 kg"\nrear = "388 kg"\nfitted = ["moter"]\n',
    "absurd": 'format = 1\n[[weighing]]\nname = "nothing"\nfront = "0 kg"\nrear = "388 kg"\n'
    '[[weighing]]\nname = "a lorry"\nfront = "412 t"\nrear = "388 kg"\n'
    '[[weighing]]\nname = "a bicycle"\nfront = "8 kg"\nrear = "9 kg"\nspread = "900 kg"\n',
    "all-at-once": 'format = 1\n[[weighing]]\nname = "one"\nfront = "heavy"\nrear = "388 kg"\n'
    'fitted = ["moter"]\nremoved = ["engin"]\nwithout = ["sparewheel"]\nload_case = "ladn"\n'
    '[[weighing]]\nname = "two"\nfront = "412 kg"\nrear = "388 kg"\nadded = ["rak"]\n',
    "names-of-all-kinds": 'format = 1\n[[weighing]]\nname = "one"\nfront = "412 kg"\n'
    'rear = "388 kg"\nfitted = ["moter"]\nremoved = ["engin"]\nload_case = "ladn"\n'
    '[[weighing]]\nname = "nothing"\nfront = "0 kg"\nrear = "388 kg"\n',
    "load-case": 'format = 1\n[[weighing]]\nfront = "412 kg"\nrear = "388 kg"\n'
    'load_case = "ladn"\n',
}  # fmt: skip


@pytest.mark.parametrize("name", BAD)
def test_messages(name: str, tmp_path: Path, monkeypatch: Any, capsys: Any) -> None:
    monkeypatch.chdir(tmp_path)
    Path("readings.toml").write_text(BAD[name], "utf-8")
    assert main(["weigh", str(RELEASED), "readings.toml"]) == 2
    compare("readings", name, capsys.readouterr().err)


def test_messages_about_plan_and_files(tmp_path: Path, monkeypatch: Any, capsys: Any) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["weigh", str(RELEASED), "readings.toml"]) == 2
    Path("readings.toml").write_text("x", "utf-8")
    assert main(["weigh", str(RELEASED), "--template", "readings.toml"]) == 2
    compare("readings", "files", capsys.readouterr().err)
    none = api.read_plan(RELEASED).model_copy(update={"core": None, "status": "none"})
    with pytest.raises(InputError) as caught:
        weigh_in(none, [], "readings.toml")
    compare("readings", "no-choice", str(caught.value) + "\n")


def test_a_random_file_is_never_a_traceback(tmp_path: Path) -> None:
    random = Random(5)
    values = ['"1 kg"', '"x"', "1", "true", "[]", '["a"]', "{}", '[{name="a"}]', '"all"', "nan"]
    keys = ["name", "front", "rear", "removed", "fitted", "aboard", "fuel", "spread",
            "front_left", "load_case", "without", "fuel_x"]  # fmt: skip
    file = tmp_path / "r.toml"
    refused = 0
    for _ in range(200):
        body = "\n".join(f"{k} = {random.choice(values)}" for k in random.sample(keys, 5))
        file.write_text(f"format = 1\n[[weighing]]\n{body}\n", "utf-8")
        try:
            read_readings(file)
        except InputError:
            refused += 1
    assert refused > 150
