"""The driving record of a finished plan: what must hold among its figures."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
from shipped_examples import generic, project_of

from bomplan.design.adapter import Simulator
from bomplan.design.context import Context
from bomplan.design.drive import resolve
from bomplan.design.driving import Driving
from bomplan.design.driving_figures import driving_record, kilometres
from bomplan.design.records import Core, Couplers
from bomplan.physics import current_for_power
from bomplan.report.driving_words import driving_lines
from bomplan.report.units import Show
from bomplan.requirements.cautions import cautions

PICKUP = Core(
    motor="motor-series-232mm-used", controller="chopper-120v-450a", final_ratio=3.9,
    module="lfp-cell-100", series=38, parallel=2, topology="groups",
)  # fmt: skip
COURIER = Core(
    motor="motor-mid-72v-20kw", controller="inverter-72v-400a", final_ratio=4.6,
    module="lfp-cell-80", series=22, parallel=1, topology="groups",
)  # fmt: skip
CHARGER = cast(Any, {"charger": SimpleNamespace(part=SimpleNamespace(number=lambda _: 0.93))})


def record(name: str, core: Core, couplers: Couplers) -> tuple[Driving, Simulator]:
    context = Context(project_of(name), generic())
    simulator = Simulator(context, resolve(context, core))
    return driving_record(context, couplers, CHARGER, simulator), simulator


@pytest.fixture(scope="module")
def pickup() -> tuple[Driving, Simulator]:
    return record("garden-pickup", PICKUP, Couplers(added_g=330_000, external_uohm=8_000,
                                                     mean_12v_w=260))  # fmt: skip


@pytest.fixture(scope="module")
def courier() -> tuple[Driving, Simulator]:
    return record("courier-motorcycle", COURIER, Couplers(added_g=95_000, external_uohm=4_000,
                                                           mean_12v_w=60))  # fmt: skip


both = pytest.mark.parametrize("which", ["pickup", "courier"])


@both
def test_energy_at_wheel_battery_and_wall_rise(which: str, request: pytest.FixtureRequest) -> None:
    driving: Driving = request.getfixturevalue(which)[0]
    for one in driving.ranges:
        assert 0 < one.wheel_wh_per_km < one.battery_wh_per_km < one.wall_wh_per_km
        # Published: wall over battery 1.10 to 1.20 with lithium.
        assert 1.10 <= one.wall_wh_per_km / one.battery_wh_per_km <= 1.20


@both
def test_age_and_cold_never_lengthen_the_range(which: str, request: pytest.FixtureRequest) -> None:
    driving: Driving = request.getfixturevalue(which)[0]
    for target in {one.target for one in driving.ranges}:
        new, worn, coldest = [one for one in driving.ranges if one.target == target]
        assert (new.state, worn.state, coldest.state) == ("new", "worn", "coldest")
        assert worn.range_km < 0.9 * new.range_km
        assert coldest.range_km <= worn.range_km + 1e-9


@both
def test_what_is_held_longer_or_on_a_wet_road_is_less(
    which: str, request: pytest.FixtureRequest
) -> None:
    driving: Driving = request.getfixturevalue(which)[0]
    assert driving.speeds[1].speed_kmh <= driving.speeds[0].speed_kmh
    assert all((one.sustained or 0) <= (one.peak or 0) for one in driving.climbs)
    dry, wet = driving.starts
    assert (dry.wet, wet.wet) == (False, True)
    assert (wet.grade or 0) <= (dry.grade or 0)
    seconds = [one.seconds for one in driving.sprints if one.seconds is not None]
    assert seconds == sorted(seconds)
    assert seconds


@both
def test_the_pack_sags_deeper_when_nearly_empty(which: str, request: pytest.FixtureRequest) -> None:
    driving: Driving = request.getfixturevalue(which)[0]
    full, half, low = driving.voltages
    assert full.rest_v > half.rest_v > low.rest_v
    assert full.pull_v > half.pull_v > low.pull_v
    # Ohms, so that a pull that differs does not count; a full cell has more of them than half.
    assert (low.rest_v - low.pull_v) / low.pull_a > (half.rest_v - half.pull_v) / half.pull_a


def test_the_steady_table_keeps_its_own_books(pickup: tuple[Driving, Simulator]) -> None:
    driving, simulator = pickup
    assert {row.gear for row in driving.steady} == {1, 2, 3, 4}
    assert {row.grade for row in driving.steady} == {0.0, 0.05}
    pack = simulator.system(simulator.context.project.conditions[0], "laden").pack
    ohm = pack.resistance(np.array([pack.soc_max]))[0] + 0.008
    rest = pack.open_circuit(np.array([pack.soc_max]))[0]
    for row in driving.steady:
        assert row.battery_a is not None
        assert row.pack_full_v is not None
        assert row.pack_full_v > (row.pack_nearly_empty_v or 0)
        # At the controller: the pack's voltage less the circuit's drop, at that current.
        power = row.battery_a * (row.pack_full_v - 0.008 * row.battery_a)
        again = current_for_power(np.array([power]), np.array([rest]), np.array([ohm]))[0]
        assert again == pytest.approx(row.battery_a, rel=5e-3, abs=0.1)
    uphill = {(r.speed_kmh, r.gear): r.motor_a for r in driving.steady if r.grade}
    assert all(uphill[r.speed_kmh, r.gear] > r.motor_a for r in driving.steady if not r.grade)
    # A series motor through a chopper: the higher the gear, the more amps at one speed.
    at_30 = [row.motor_a for row in driving.steady if row.speed_kmh == 30 and row.grade == 0]
    assert at_30 == sorted(at_30)


def test_a_hard_descent_is_a_caution(pickup: tuple[Driving, Simulator]) -> None:
    driving, simulator = pickup
    assert driving.descent is not None
    assert not driving.descent.warn
    hot = driving.model_copy(update={"descent": driving.descent.model_copy(update={"warn": True})})
    mild = cautions(simulator.drive, (), driving)
    (extra,) = set(cautions(simulator.drive, (), hot)) - set(mild)
    assert "friction brakes" in extra
    assert driving.descent.profile in extra


def test_a_profile_without_hills_has_no_descent(courier: tuple[Driving, Simulator]) -> None:
    assert courier[0].descent is None


@pytest.mark.parametrize("units", ["metric", "us"])
def test_the_words_tell_every_part(pickup: tuple[Driving, Simulator], units: str) -> None:
    lines = list(driving_lines(pickup[0], Show(cast(Any, units))))
    assert [label for label, _ in lines if label] == [
        "holds", "climbs", "starts on", "sprints", "goes", "steady", "voltage", "downhill",
    ]  # fmt: skip
    text = " ".join(words for _, words in lines)
    assert ("km/h" in text, "mph" in text) == (units == "metric", units == "us")
    assert "on the coldest day (-5 °C, worn, heater 600 W)" in text
    with_comma = " ".join(words for _, words in driving_lines(pickup[0], Show("metric", True)))
    assert "." not in with_comma.replace(".csv", "")


def test_a_drive_without_end_is_a_number() -> None:
    assert kilometres(float("inf")) == 1_000_000.0
    assert kilometres(12_345.9) == 12.345
