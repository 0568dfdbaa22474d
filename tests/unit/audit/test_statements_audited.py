"""Driving figures and curves as stated against those counted again: one per cent, no more."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest
from todays_plan import todays_plan

from bomplan.audit import audit_plan
from bomplan.audit.statements import _broken_choices, _driving_slips, _record_slips
from bomplan.design.curve_records import Curves
from bomplan.design.driving import Driving
from bomplan.design.records import Performance


def performance(**more: Any) -> Any:
    told = {
        "range_km": 100.0, "energy_wh_per_km": 200.0, "top_speed_kmh": 100.0, "gradeability": 100.0,
        "charge_v": 100.0,
        "ranges": (
            SimpleNamespace(target="work", range_km=100.0),
            SimpleNamespace(target="home", range_km=50.0),
        ),
    }  # fmt: skip
    return SimpleNamespace(**(told | more))


def slips(stated: Performance | None, counted: Any = None) -> list[str]:
    return list(_driving_slips(stated, counted or performance()))


@pytest.mark.parametrize(
    "name", ["range_km", "energy_wh_per_km", "top_speed_kmh", "gradeability", "charge_v"]
)
def test_figures_may_differ_by_one_per_cent_of_the_greater(name: str) -> None:
    own = getattr(performance(), name)
    for factor, fine in (
        (1.0, True),
        (0.99, True),
        (1.0101, True),
        (0.9899, False),
        (1.0102, False),
    ):
        assert slips(performance(**{name: own * factor})) == ([] if fine else [name])
    assert slips(performance(**{name: -own})) == [name]
    # Where nothing is counted nothing may be stated, and the other way round.
    assert slips(performance(**{name: 0.0}), performance(**{name: 0.0})) == []
    assert slips(performance(**{name: 0.001}), performance(**{name: 0.0})) == [name]
    assert slips(performance(**{name: 0.0}), performance(**{name: 0.001})) == [name]
    # Below zero it is the greater size that counts.
    assert slips(performance(**{name: -99.0}), performance(**{name: -100.0})) == []
    assert slips(performance(**{name: -98.9}), performance(**{name: -100.0})) == [name]
    assert slips(performance(**{name: -100.0}), performance(**{name: -98.9})) == [name]


def test_each_range_by_its_name() -> None:
    ranges = (
        SimpleNamespace(target="work", range_km=98.9),
        SimpleNamespace(target="home", range_km=50.0),
    )
    assert slips(performance(ranges=ranges)) == ["range of work"]
    assert slips(performance(ranges=ranges[1:])) == ["number of ranges"]
    assert slips(performance(ranges=(*ranges, ranges[0]))) == ["number of ranges"]
    assert slips(None) == ["all of them"]
    worse = performance(ranges=ranges, charge_v=90.0)
    assert slips(worse) == ["charge_v", "range of work"]


# -- the driving record ------------------------------------------------------------------------


@pytest.fixture(scope="module")
def driving() -> Driving:
    found = todays_plan().driving
    assert found is not None
    assert found.curves is not None
    return found


def changed(record: Driving, path: tuple[str | int, ...], value: Any) -> Driving:
    data = record.model_dump(mode="json")
    inner: Any = data
    for step in path[:-1]:
        inner = inner[step]
    inner[path[-1]] = value
    return Driving.model_validate(data)


def record_slips(stated: Driving, counted: Driving) -> list[str]:
    return list(_record_slips(stated, counted))


def test_the_same_record_has_no_slip(driving: Driving) -> None:
    assert record_slips(driving, driving) == []


@pytest.mark.parametrize(
    ("path", "name"),
    [
        (("ranges", 0, "range_km"), "ranges[0].range_km"),
        (("speeds", 0, "speed_kmh"), "speeds[0].speed_kmh"),
        (("voltages", 1, "rest_v"), "voltages[1].rest_v"),
    ],
)
def test_a_figure_of_the_record(driving: Driving, path: tuple[str | int, ...], name: str) -> None:
    base = changed(driving, path, 100.0)
    for value, fine in (
        (99.0, True),
        (101.0, True),
        (98.99, False),
        (101.02, False),
        (-100.0, False),
    ):
        told = [] if fine else [name]
        assert record_slips(changed(base, path, value), base) == told
        assert record_slips(base, changed(base, path, value)) == told


def test_the_last_digits_of_a_small_figure(driving: Driving) -> None:
    path = ("climbs", 0, "peak")
    base = changed(driving, path, 0.0)
    assert record_slips(changed(base, path, 0.002), base) == []
    assert record_slips(changed(base, path, -0.002), base) == []
    assert record_slips(changed(base, path, 0.0021), base) == ["climbs[0].peak"]
    assert record_slips(changed(base, path, None), base) == ["climbs[0].peak"]
    assert record_slips(base, changed(base, path, None)) == ["climbs[0].peak"]


def test_words_and_answers_yes_or_no_are_the_same(driving: Driving) -> None:
    assert record_slips(changed(driving, ("condition",), "another"), driving) == ["condition"]
    aged = driving.ranges[0].aged
    told = record_slips(changed(driving, ("ranges", 0, "aged"), not aged), driving)
    assert told == ["ranges[0].aged"]


def test_answers_left_out_or_added(driving: Driving) -> None:
    data = driving.model_dump(mode="json")
    last = len(data["speeds"]) - 1
    data["speeds"].pop()
    fewer = Driving.model_validate(data)
    names = [f"speeds[{last}].{key}" for key in ("cause", "gear", "hold_s", "speed_kmh")]
    assert record_slips(fewer, driving) == names
    assert record_slips(driving, fewer) == names


# -- curves ------------------------------------------------------------------------------------


def test_curves_of_a_plan_older_than_them(driving: Driving) -> None:
    none = driving.model_copy(update={"curves": None})
    assert record_slips(none, driving) == []
    told = record_slips(driving, none)
    assert told
    assert all(name.startswith("curves.") for name in told)
    assert "curves.shaft.minute_nm" in told
    assert "curves.wheel_radius_mm" in told


def with_shaft(driving: Driving, minute_nm: list[float]) -> Driving:
    return changed(driving, ("curves", "shaft", "minute_nm"), minute_nm)


def test_a_curve_lies_within_one_per_cent_of_its_greatest_figure(driving: Driving) -> None:
    base = with_shaft(driving, [100.0, 50.0, 1.0])
    name = ["curves.shaft.minute_nm"]
    for low, fine in ((1.0, True), (2.0, True), (0.0, True), (2.02, False), (-0.02, False)):
        told = [] if fine else name
        assert record_slips(with_shaft(driving, [100.0, 50.0, low]), base) == told
        assert record_slips(base, with_shaft(driving, [100.0, 50.0, low])) == told
    # The greatest of either, and by its size.
    assert record_slips(with_shaft(driving, [101.0, 50.0, 1.0]), base) == []
    assert record_slips(with_shaft(driving, [101.02, 50.0, 1.0]), base) == name
    deep = with_shaft(driving, [-100.0, 50.0, 1.0])
    assert record_slips(with_shaft(driving, [-100.0, 50.0, 2.0]), deep) == []
    assert record_slips(with_shaft(driving, [-100.0, 50.0, 2.02]), deep) == name
    # As many points, and in their order.
    assert record_slips(with_shaft(driving, [100.0, 50.0]), base) == name
    assert record_slips(with_shaft(driving, [100.0, 50.0, 1.0, 1.0]), base) == name
    assert record_slips(with_shaft(driving, [50.0, 100.0, 1.0]), base) == name
    assert record_slips(with_shaft(driving, []), base) == name


def test_a_curve_of_nothing_may_be_out_by_its_last_digits(driving: Driving) -> None:
    base = with_shaft(driving, [0.0, 0.0])
    assert record_slips(with_shaft(driving, [0.002, 0.0]), base) == []
    assert record_slips(with_shaft(driving, [0.0021, 0.0]), base) == ["curves.shaft.minute_nm"]


def test_curves_tell_of_the_same_things(driving: Driving) -> None:
    curves = driving.curves
    assert isinstance(curves, Curves)
    other = changed(driving, ("curves", "traces", 0, "target"), "another")
    assert record_slips(other, driving) == ["curves.traces[0].target"]
    wheel = changed(driving, ("curves", "wheel_radius_mm"), curves.wheel_radius_mm + 20)
    assert record_slips(wheel, driving) == ["curves.wheel_radius_mm"]
    gone = changed(driving, ("curves", "traces", 0, "laps"), None)
    laps = curves.traces[0].laps
    assert record_slips(gone, driving) == ([] if laps is None else ["curves.traces[0].laps"])


# -- choices -----------------------------------------------------------------------------------

NAMES = ("motor", "controller", "module", "series", "parallel", "topology")


def choices(**more: Any) -> Any:
    told: dict[str, Any] = {
        **dict.fromkeys(NAMES), "parallel_max": 4, "chemistries": (), "bays_max": None,
        "parts": {}, "excluded": (), "owned": {}, "suppliers": (),
    }  # fmt: skip
    return SimpleNamespace(**(told | more))


CORE = {"motor": "m", "controller": "c", "module": "p", "series": 8, "parallel": 2,
        "topology": "groups", "final_ratio": 3.9}  # fmt: skip


def line(family: str, part: str) -> Any:
    return SimpleNamespace(
        family=family, part=part, quantity=1, bought=1, price=1, supplier="", purchases=()
    )


def none(*_: str) -> int:
    return 0


def broken(here: Any = None, mount: str = "gearbox", **core: Any) -> list[str]:
    buying = SimpleNamespace(
        spare_pieces=none, supplier_of={}, excluded=(), split=True,
        suppliers_max=None, deadline_days=None,
    )  # fmt: skip
    donor = SimpleNamespace(driveline=SimpleNamespace(final_ratios=(3.9, 4.3)))
    project = SimpleNamespace(choices=here or choices(), buying=buying, donor=donor)
    context: Any = SimpleNamespace(project=project, catalog=SimpleNamespace(suppliers={}))
    drive: Any = SimpleNamespace(
        core=SimpleNamespace(**(CORE | core)),
        motor=SimpleNamespace(text={"mount": mount}.__getitem__),
        module=SimpleNamespace(text={"chemistry": "lfp"}.__getitem__),
    )
    lines = (line("fuse", "fuse-a"), line("motor", "m"), line("lug", "lug-a"))
    plan: Any = SimpleNamespace(lines=lines, placement=("one", "two"))
    bill: Any = SimpleNamespace(lines=())
    return list(_broken_choices(context, drive, plan, bill))


def test_a_plan_that_keeps_to_every_choice() -> None:
    assert broken() == []
    kept = {name: CORE[name] for name in NAMES}
    assert broken(choices(**kept, chemistries=("lead", "lfp"), bays_max=2)) == []
    assert broken(choices(parts={"fuse": "fuse-a"}, excluded=("lug-b",))) == []


@pytest.mark.parametrize("name", NAMES)
def test_a_core_that_is_not_the_chosen_one(name: str) -> None:
    wanted = CORE[name] + 1 if isinstance(CORE[name], int) else "other"
    assert broken(choices(**{name: wanted})) == [f"{name} = {wanted}"]


def test_the_other_choices_broken_by_one() -> None:
    assert broken(choices(parallel_max=1)) == ["at most 1 in parallel"]
    assert broken(choices(parallel_max=2)) == []
    assert broken(choices(parallel_max=1, parallel=2)) == []
    assert broken(choices(chemistries=("lead", "nmc"))) == ["chemistry lfp"]
    assert broken(choices(bays_max=1)) == ["at most 1 bays"]
    assert broken(final_ratio=4.3) == []
    assert broken(final_ratio=4.1) == ["final ratio 4.1"]
    # A motor in the axle brings its own gears.
    assert broken(mount="axle", final_ratio=1.0) == []
    assert broken(choices(parts={"fuse": "fuse-b"})) == ["fuse = fuse-b"]


def test_a_part_that_is_shut_out() -> None:
    assert broken(choices(excluded=("lug-a",))) == ["without lug-a"]
    # Who asks for a part by name gets it, whatever else is shut out.
    assert broken(choices(excluded=("fuse-a",), parts={"fuse": "fuse-a"})) == []
    assert broken(choices(excluded=("fuse-a",), parts={"lug": "lug-a"})) == ["without fuse-a"]
    assert broken(choices(excluded=("m",))) == ["without m"]
    assert broken(choices(excluded=("m",), motor="m")) == []


@pytest.mark.parametrize("less", [10_000, None])
def test_a_plan_that_is_not_called_the_best_may_lie_above_its_bound(less: int | None) -> None:
    """As one does whose search was stopped: less than it comes to is proven, or nothing."""
    plan = todays_plan()
    assert plan.objective.value is not None
    bound = None if less is None else plan.objective.value - less
    objective = plan.objective.model_copy(update={"bound": bound})
    for status, kept in (("feasible", True), ("optimal", False)):
        told = plan.model_copy(update={"status": status, "objective": objective})
        (proof,) = (check for check in audit_plan(told) if check.id == "audit.proof")
        assert proof.passed == kept
