"""A small plan made by hand, whose sums hold together; used where a real search is not needed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from bomplan.design.records import (
    AxleLoad,
    BayUse,
    Check,
    Core,
    Couplers,
    Line,
    LoadCaseMass,
    Mass,
    Objective,
    Performance,
    Plan,
    RangeResult,
    SearchCounts,
)

# Where every sample part stands, behind the front axle.
PLACE_MM = 1_700


def line(
    family: str, part: str, system: str, count: int, cents: int, grams: int, **other: Any
) -> Line:
    bought = other.pop("bought", count)
    values: dict[str, Any] = {
        "family": family,
        "part": part,
        "description": f"{family.replace('_', ' ')}, sample row",
        "quantity": count,
        "bought": bought,
        "supplier": "harbour",
        "unit_price": cents,
        "price": bought * cents,
        "unit_mass_kg": grams / 1000,
        "mass_kg": count * grams / 1000,
        "moment_gmm": count * grams * PLACE_MM,
        "system": system,
        "hours": 1.5,
        "why": "chosen: least cost that meets the targets",
    }
    return Line(**{**values, **other})


LINES = (
    line("motor", "motor-a", "drive", 1, 180_000, 61_000, hours=12.0),
    line("controller", "controller-a", "drive", 1, 145_050, 6_400),
    line("module", "lfp-100", "battery", 36, 9_995, 1_980, bought=40, supplier="north"),
    line("link", "link-90", "battery", 35, 333, 45, supplier="north"),
    line("cable", "cable-50", "wiring", 7, 1_210, 520, unit="m", owned=2, bought=5),
    line(
        "shipping", "north", "shipping", 1, 12_000, 0, supplier="north", hours=0.0, why="flat sum"
    ),
)

ADDED_G = sum(round(one.mass_kg * 1000) for one in LINES)
BASE_G = 870_000
PEOPLE_G = 150_000
WHEELBASE_MM = 2_400


def project_used() -> dict[str, Any]:
    return {
        "name": "Sample pickup",
        "currency": "EUR",
        "donor": {
            "wheelbase_mm": WHEELBASE_MM,
            "gross_limit_g": 1_700_000,
            "front_axle_limit_g": 760_000,
            "rear_axle_limit_g": 980_000,
            "weighing": {
                "front_g": 600_000,
                "rear_g": 430_000,
                "fuel_g": 20_000,
                "fuel_x_mm": 2_000,
                "people_g": 0,
                "people_x_mm": None,
            },
            "removed": [
                {"name": "engine", "mass_g": 125_000, "x_mm": 100},
                {"name": "exhaust", "mass_g": 15_000, "x_mm": 1_500},
            ],
        },
        "load_cases": [
            {"name": "driver", "items": [{"name": "driver", "mass_g": 75_000, "x_mm": 1_200}]},
            {
                "name": "laden",
                "items": [
                    {"name": "driver", "mass_g": 75_000, "x_mm": 1_200},
                    {"name": "crates", "mass_g": PEOPLE_G - 75_000, "x_mm": 2_300},
                ],
            },
        ],
        "margins": {"range": 0.15, "axle": 0.03, "continuous": 0.1, "voltage": 0.05},
        "targets": {"budget": 900_000},
    }


def mass() -> Mass:
    base_moment = 430_000 * WHEELBASE_MM - 20_000 * 2_000 - 125_000 * 100 - 15_000 * 1_500
    added_moment = ADDED_G * PLACE_MM
    cases = []
    for case in project_used()["load_cases"]:
        moment = base_moment + added_moment
        moment += sum(item["mass_g"] * item["x_mm"] for item in case["items"])
        total = BASE_G + ADDED_G + sum(item["mass_g"] for item in case["items"])
        rear = round(moment / WHEELBASE_MM)
        cases.append(
            LoadCaseMass(
                name=case["name"],
                laden_kg=total / 1000,
                front_kg=(total - rear) / 1000,
                rear_kg=rear / 1000,
            )
        )
    worst = cases[-1]
    return Mass(
        base_kg=BASE_G / 1000,
        added_kg=ADDED_G / 1000,
        kerb_kg=(BASE_G + ADDED_G) / 1000,
        laden_kg=worst.laden_kg,
        axles=(
            AxleLoad(
                name="front",
                load_case="laden",
                load_kg=worst.front_kg,
                limit_kg=760.0,
                allowed_kg=735.0,
            ),
            AxleLoad(
                name="rear",
                load_case="laden",
                load_kg=worst.rear_kg,
                limit_kg=980.0,
                allowed_kg=950.6,
            ),
        ),
        load_cases=tuple(cases),
    )


def ranges() -> tuple[RangeResult, ...]:
    common: dict[str, Any] = {"profile": "hilly round", "load_case": "laden"}
    return (
        RangeResult(
            target="summer round",
            condition="new, 20 °C",
            range_km=84.2,
            wanted_km=60.0,
            energy_wh_per_km=121.0,
            wheel_wh_per_km=95.0,
            wall_wh_per_km=140.0,
            usable_kwh=10.2,
            min_voltage_v=108.0,
            peak_battery_a=240.0,
            end_cause="usable energy spent",
            **common,
        ),
        RangeResult(
            target="winter round",
            condition="aged, -10 °C, heater on",
            range_km=52.7,
            wanted_km=45.0,
            energy_wh_per_km=163.4,
            wheel_wh_per_km=101.0,
            wall_wh_per_km=190.2,
            usable_kwh=8.6,
            min_voltage_v=97.3,
            peak_battery_a=262.0,
            end_cause="voltage cut-off under load",
            **common,
        ),
    )


def checks() -> tuple[Check, ...]:
    return (
        Check(
            id="axle.rear",
            words="rear axle, laden, with its margin",
            value=mass().axles[1].load_kg,
            limit=950.6,
            unit="kg",
            sense="at most",
            passed=True,
            source="plate of the donor; margin: common practice",
        ),
        Check(
            id="range.winter",
            words="winter round with 15 % to spare",
            value=52.7,
            limit=51.75,
            unit="km",
            sense="at least",
            passed=True,
            source="simulation",
            caution="the heater takes a fifth of the energy in winter",
        ),
        Check(
            id="voltage.charge",
            words="pack when charged against the controller's limit",
            value=131.4,
            limit=138.0,
            unit="V",
            sense="at most",
            passed=True,
            source="controller row; margin 5 %",
        ),
        Check(
            id="regeneration.series-motor",
            words="no regeneration with a series motor",
            value=0.0,
            limit=0.0,
            unit="1",
            sense="at most",
            passed=True,
            source="common practice",
        ),
    )


def sample_plan(**changes: Any) -> Plan:
    total = sum(one.price for one in LINES)
    worst = ranges()[1]
    values: dict[str, Any] = {
        "status": "optimal",
        "objective": Objective(minimise="price of the whole bill", value=total, bound=total),
        "currency": "EUR",
        "project": "Sample pickup",
        "as_of": "2025-05-01",
        "core": Core(
            motor="motor-a",
            controller="controller-a",
            final_ratio=4.1,
            module="lfp-100",
            series=36,
            parallel=1,
            topology="groups",
        ),
        "placement": (
            BayUse(bay="under the bonnet", modules=12, series=12),
            BayUse(bay="load bed, front wall", modules=24, series=24),
        ),
        "lines": LINES,
        "mass": mass(),
        "couplers": Couplers(added_g=ADDED_G, external_uohm=9_000, mean_12v_w=250),
        "performance": Performance(
            range_km=worst.range_km,
            energy_wh_per_km=worst.energy_wh_per_km,
            top_speed_kmh=96.4,
            top_speed_cause="the motor's one-hour rating",
            gradeability=0.231,
            nominal_v=115.2,
            charge_v=131.4,
            capacity_ah=100.0,
            nominal_kwh=11.52,
            usable_kwh=8.6,
            design_rms_a=96.0,
            design_peak_a=262.0,
            charge_hours=6.4,
            ranges=ranges(),
        ),
        "checks": checks(),
        "cautions": ("prices are typical ones, give or take 30 %",),
        "search": SearchCounts(
            screened=12_480, solved=31, simulated=74, cut=11_902, rejected={"axle_load": 412}
        ),
        "inputs": {"project": "0" * 64, "catalog": "1" * 64},
        "parts_used": {
            "parts": [
                {"id": "motor-a", "source": "typical", "price_date": "2025-03-01"},
                {"id": "lfp-100", "source": "data sheet", "price_date": "2025-02-01"},
            ],
            "suppliers": [{"id": "north", "lead_days": 40}, {"id": "harbour", "lead_days": 0}],
        },
        "project_used": project_used(),
    }
    return Plan(**{**values, **changes})


def without_plan(status: str = "none", **changes: Any) -> Plan:
    values: dict[str, Any] = {
        "status": status,
        "objective": Objective(minimise="price of the whole bill", value=None, bound=None),
        "core": None,
        "placement": (),
        "lines": (),
        "mass": None,
        "couplers": None,
        "performance": None,
        "checks": (),
        "reasons": (
            "160 km needs 24 kWh; the densest pack that fits the bays gives 17 kWh",
            "the rear axle has room for 310 kg of parts, and no pack that reaches is under 352 kg",
        ),
    }
    return sample_plan(**{**values, **changes})


@pytest.fixture
def make_plan() -> Callable[..., Plan]:
    """``sample_plan``: keywords replace fields of the record."""
    return sample_plan


@pytest.fixture
def make_no_plan() -> Callable[..., Plan]:
    """``without_plan``: a result without a choice, ``none`` by default."""
    return without_plan


@pytest.fixture
def make_line() -> Callable[..., Line]:
    """``line``: family, part, system, count, unit price, unit mass in grams."""
    return line
