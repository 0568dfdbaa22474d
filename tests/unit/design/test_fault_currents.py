"""Greatest and least short-circuit current and the figures of a pack, worked by hand."""

from __future__ import annotations

from random import Random
from typing import Any

import pytest
from oracle.small_cases import project_fields

from bomplan.catalog.records import Catalog, CurvePoint, Part, TemperaturePoint
from bomplan.design.context import Context
from bomplan.design.drive import Drive, pack_figures, rest_v
from bomplan.design.faults import greatest_fault_a, least_fault_a
from bomplan.design.records import Core, Topology
from bomplan.project.records import Project

FIGURES: dict[str, Any] = {
    "chemistry": "lfp",
    "cells_series": 4,
    "cell_v_nominal": 3.2,
    "cell_v_charge": 3.65,
    "cell_v_min": 2.5,
    "capacity_ah": 100,
    "state_of_health": 0.9,
    "resistance_dc_mohm": 4.0,
    "resistance_ac_mohm": 2.0,
    "discharge_continuous_a": 100,
    "discharge_10s_a": 200,
    "charge_continuous_a": 50,
    "soc_min": 0.1,
    "end_of_life_resistance": 1.5,
    "curve": "flat",
}
MODULE = Part(
    id="block",
    family="module",
    description="a block",
    mass_g=9_000,
    price=1,
    currency="EUR",
    price_date="2026-09-01",
    source="typical",
    figures=FIGURES,
)
CATALOG = Catalog(
    name="one block",
    families={"module": {"block": MODULE}},
    pairs=(),
    curves=tuple(
        CurvePoint(curve="flat", state_of_charge=soc, open_circuit_v=volts, resistance_factor=r)
        for soc, volts, r in ((0.0, 3.0, 2.0), (0.2, 3.2, 1.2), (1.0, 3.4, 1.0))
    ),
    temperatures=tuple(
        TemperaturePoint(chemistry="lfp", temperature_c=t, capacity_factor=1.0, resistance_factor=r)
        for t, r in ((-20.0, 3.0), (0.0, 2.0), (25.0, 1.0), (45.0, 0.8))
    ),
    suppliers={},
    offers=(),
)


def drive(series: int, parallel: int, topology: Topology = "groups") -> Drive:
    core = Core(
        motor="m",
        controller="c",
        final_ratio=4.0,
        module="block",
        series=series,
        parallel=parallel,
        topology=topology,
    )
    motor: Any = None
    figures = pack_figures(MODULE, series, parallel)
    return Drive(core, motor, motor, None, MODULE, figures)


def context() -> Context:
    fields = project_fields(Random(2))
    fields["conditions"][1]["temperature_c"] = -10.0
    fields["house_rules"] = {"joint_uohm": 100, "reference_circuit_ohm": 0.010}
    return Context(Project.model_validate(fields), CATALOG)


def test_pack_figures_of_six_blocks_two_wide() -> None:
    pack = pack_figures(MODULE, 6, 2)
    assert pack.cells_series == 24
    assert pack.nominal_v == pytest.approx(76.8)
    assert pack.charge_v == pytest.approx(87.6)
    assert pack.least_v == pytest.approx(60.0)
    assert pack.capacity_ah == pytest.approx(180)
    assert pack.nominal_wh == pytest.approx(76.8 * 180)
    assert pack.resistance_dc_ohm == pytest.approx(0.012)
    assert pack.resistance_ac_ohm == pytest.approx(0.006)
    assert (pack.discharge_continuous_a, pack.discharge_10s_a) == (200, 400)


def test_rest_voltage_lies_on_the_curve() -> None:
    assert rest_v(context(), drive(6, 1), 0.1) == pytest.approx(24 * 3.1)
    assert rest_v(context(), drive(6, 1), 0.6) == pytest.approx(24 * 3.3)


def test_greatest_fault_full_and_warm() -> None:
    """24 x 3.4 V over 6 x 2 mohm at 40 °C (x 0.85) and six half joints of 50 uohm."""
    by_hand = 81.6 / (0.012 * 0.85 + 6 * 50e-6)
    assert greatest_fault_a(context(), drive(6, 1)) == pytest.approx(by_hand)
    assert by_hand == pytest.approx(7771, abs=1)


def test_twice_as_wide_twice_the_fault() -> None:
    one, two = (greatest_fault_a(context(), drive(6, wide)) for wide in (1, 2))
    assert two == pytest.approx(2 * one)


def test_least_fault_empty_cold_and_worn() -> None:
    """24 x 3.1 V over 24 mohm x 1.6 (low) x 2.5 (at -10 °C) x 1.5 (worn) and 10 mohm outside."""
    by_hand = 74.4 / (0.024 * 1.6 * 2.5 * 1.5 + 0.010)
    assert least_fault_a(context(), drive(6, 1).module, drive(6, 1).figures) == pytest.approx(
        by_hand
    )
    assert by_hand == pytest.approx(483, abs=1)


def test_least_fault_is_the_lesser() -> None:
    for series, parallel in ((1, 1), (6, 1), (6, 3)):
        one = drive(series, parallel)
        assert least_fault_a(context(), one.module, one.figures) < greatest_fault_a(context(), one)
