"""The donor's road load, driveline and grip, from project file to physics."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from bomplan.design.road import (
    drag_torque_nm,
    road_load,
    shift_seconds,
    wheel_torque_limit_nm,
)
from bomplan.errors import InputError
from bomplan.physics import CoastDown, RoadLoad, rolling_from_pressure
from bomplan.project import write_template
from bomplan.project.load import LoadedProject, read_project
from bomplan.project.records import Condition, Project

ROLLING = 'rolling_resistance = { value = 0.012, known = "class" }\n'
COAST_DOWN = """
[donor.coast_down]
a = "6.31 lbf"
b = "0.1862 lbf/mph"
c = "0.00433 lbf/mph²"
test_mass = "1340 lb"
temperature = "20 °C"

[donor.weighing]"""
MILD = Condition(name="mild", temperature_c=20.0)


def pickup(tmp_path: Path, *edits: tuple[str, str]) -> LoadedProject:
    path = write_template("garden-pickup", tmp_path / "own.toml")[0]
    text = path.read_text(encoding="utf-8")
    for old, new in edits:
        assert old in text, old
        text = text.replace(old, new, 1)
    return read_project(text, path)


def without_drag(text: str) -> tuple[str, str]:
    line = next(line for line in text.splitlines(keepends=True) if line.startswith("drag_area"))
    return line, ""


@pytest.fixture
def template(tmp_path: Path) -> str:
    return write_template("garden-pickup", tmp_path / "template")[0].read_text(encoding="utf-8")


def test_a_coast_down_in_customary_units_takes_the_place_of_both_figures(
    tmp_path: Path, template: str
) -> None:
    """The documented prototype: 26.45 lbf at 50 mph (A 6.31, B 0.1862, C 0.00433)."""
    loaded = pickup(
        tmp_path, without_drag(template), (ROLLING, ""), ("\n[donor.weighing]", COAST_DOWN)
    )
    donor = loaded.project.donor
    road = road_load(donor, MILD)
    assert isinstance(road, CoastDown)
    force = road.force(np.array([50 * 0.44704]), 1340 * 0.45359237)[0]
    assert force / 4.4482216 == pytest.approx(26.445, rel=1e-4)
    # Half the mass halves the constant term alone; cold air thickens the square term alone.
    lighter = road.force(np.array([50 * 0.44704]), 670 * 0.45359237)[0]
    assert (force - lighter) / 4.4482216 == pytest.approx(6.31 / 2, rel=1e-6)
    cold = road_load(donor, MILD.model_copy(update={"temperature_c": -20.0}))
    thicker = cold.force(np.array([50 * 0.44704]), 1340 * 0.45359237)[0] - force
    share = (273.15 + 20) / (273.15 - 20) - 1
    assert thicker / 4.4482216 == pytest.approx(0.00433 * 2500 * share, rel=1e-6)


def test_tyre_pressure_gives_the_rolling_resistance(tmp_path: Path) -> None:
    loaded = pickup(tmp_path, (ROLLING, 'tyre_pressure = "36.26 psi"\n'))
    road = road_load(loaded.project.donor, MILD)
    assert isinstance(road, RoadLoad)
    speed = np.array([80 / 3.6])
    assert road.rolling_per_kg(speed)[0] / 9.80665 == pytest.approx(
        rolling_from_pressure(2.5, 80 / 3.6), rel=1e-4
    )
    assert rolling_from_pressure(2.5, 80 / 3.6) == pytest.approx(0.01143, abs=5e-6)


@pytest.mark.parametrize(
    ("edits", "key", "code"),
    [
        (((ROLLING, ""),), "donor", "project.missing-key"),
        (
            ((ROLLING, ROLLING + 'tyre_pressure = "2.4 bar"\n'),),
            "donor.tyre_pressure",
            "project.road-twice",
        ),
        ((("\n[donor.weighing]", COAST_DOWN),), "donor.drag_area", "project.road-twice"),
    ],
)
def test_a_road_load_said_twice_or_not_at_all_is_refused(
    tmp_path: Path, edits: tuple[tuple[str, str], ...], key: str, code: str
) -> None:
    with pytest.raises(InputError) as caught:
        pickup(tmp_path, *edits)
    (fault,) = (one for one in caught.value.faults if key in (one.where or ""))
    assert fault.code == code
    assert fault.hint or fault.allowed


def test_cold_oil_drags_more_in_a_straight_line(tmp_path: Path) -> None:
    line = pickup(
        tmp_path, ('drag_torque = "1.5 N m"', 'drag_torque = "1.5 N m"\ndrag_torque_cold = "4 N m"')
    ).project.donor.driveline
    found = [drag_torque_nm(line, celsius) for celsius in (30.0, 20.0, 0.0, -20.0, -40.0)]
    assert found == pytest.approx([1.5, 1.5, 2.75, 4.0, 4.0])
    plain = pickup(tmp_path / "b").project.donor.driveline
    assert drag_torque_nm(plain, -20.0) == plain.drag_torque_nm


def test_a_chain_limits_the_torque_at_the_wheel(tmp_path: Path) -> None:
    chain = (
        "rotating_mass_factor",
        '[donor.driveline.chain]\npull_limit = "4 kN"\nsprocket_diameter = "200 mm"\n# ',
    )
    path = write_template("courier-motorcycle", tmp_path / "own.toml")[0]
    text = path.read_text(encoding="utf-8").replace(*chain, 1)
    line = read_project(text, path).project.donor.driveline
    assert wheel_torque_limit_nm(line) == pytest.approx(4000 * 0.1)
    tighter = line.model_copy(update={"wheel_torque_limit_nm": 300.0})
    assert wheel_torque_limit_nm(tighter) == 300.0
    assert wheel_torque_limit_nm(line.model_copy(update={"chain": None})) is None


def test_without_a_clutch_a_change_takes_longer(tmp_path: Path) -> None:
    line = pickup(tmp_path).project.donor.driveline
    assert line.clutch
    bare = line.model_copy(update={"shift_seconds": None})
    assert shift_seconds(bare) == 1.0
    assert shift_seconds(bare.model_copy(update={"clutch": False})) == 2.0
    assert shift_seconds(bare.model_copy(update={"clutch": False, "shift_seconds": 1.4})) == 1.4


def test_keys_that_nothing_reads_are_passed_over_and_told(tmp_path: Path) -> None:
    rules = '[house_rules]\ncharge_efficiency = 0.9\nstorage_min = "-10 °C"\n\n[charging]'
    loaded = pickup(tmp_path, ("[charging]", rules))
    told = [fault for fault in loaded.cautions if fault.code == "project.retired-key"]
    assert [fault.where for fault in told] == [
        fault.where for fault in told if "house_rules." in (fault.where or "")
    ]
    assert len(told) == 2
    saved: dict[str, Any] = loaded.project.model_dump(mode="json")
    saved["house_rules"] |= {"charge_efficiency": 0.92, "wheel_energy_floor_j": None}
    assert Project.model_validate(saved) == loaded.project
