"""Road load in closed form, and the exact energy of the schedules at the wheels."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bomplan.physics import CoastDown, RoadLoad, air_density, load_profile, rolling_from_pressure
from bomplan.physics.demand import force_terms

KMH = 1 / 3.6
MASS_KG = 1200.0
# Reference vehicle of the closed forms: drag coefficient 0.40, 1.90 m², air 1.2 kg/m³.
VEHICLE = RoadLoad(0.012, 0.0, 0.40 * 1.90, 1.2, 0.0, 9.81)


@pytest.mark.parametrize(
    ("celsius", "density"),
    [(-20, 1.3944), (0, 1.2923), (15, 1.2250), (20, 1.2041), (25, 1.1839)],
)
def test_air_density_at_sea_level(celsius: float, density: float) -> None:
    """p/(R T), 101.325 kPa; 1.2250 at 15 °C is the standard atmosphere's (ISO 2533:1975)."""
    assert air_density(celsius) == pytest.approx(density, rel=1e-4)


def test_air_density_at_altitude() -> None:
    """ISO 2533:1975: 1.1117 kg/m³ at 1,000 m and 8.5 °C, 1.0066 at 2,000 m and 2 °C."""
    assert air_density(8.5, 1000.0) == pytest.approx(1.1117, rel=1e-3)
    assert air_density(2.0, 2000.0) == pytest.approx(1.0066, rel=1e-3)


@pytest.mark.parametrize(
    ("kmh", "grade", "newtons", "kilowatts"),
    [
        (50, 0.0, 229.227, 3.1837),
        (80, 0.0, 366.449, 8.1433),
        (100, 0.0, 493.116, 13.6977),
        (50, 0.10, 1399.884, 19.4428),
    ],
)
def test_steady_force(kmh: float, grade: float, newtons: float, kilowatts: float) -> None:
    """F = Crr m g cos + ½ rho CdA v² + m g sin (Gillespie, *Fundamentals*, ch. 4)."""
    speed = np.array([kmh * KMH])
    force = float(VEHICLE.force(speed, MASS_KG, grade)[0])
    assert force == pytest.approx(newtons, rel=1e-5)
    assert force * speed[0] / 1000 == pytest.approx(kilowatts, rel=1e-4)


def test_headwind_of_20_kmh_adds_half_the_drag_at_80_to_100() -> None:
    """(v + w)²/v²: 1.56 at 80 km/h, 1.44 at 100."""
    windy = RoadLoad(0.012, 0.0, 0.76, 1.2, 20 * KMH, 9.81)
    for kmh, ratio in ((80.0, 1.5625), (100.0, 1.44)):
        at = np.array([kmh * KMH])
        assert windy.massless_force(at) / VEHICLE.massless_force(at) == pytest.approx(ratio)


@pytest.mark.parametrize(
    ("bar", "kmh", "coefficient"),
    [(1.6, 80, 0.01505), (2.0, 80, 0.01304), (2.5, 80, 0.01143), (3.0, 80, 0.01036),
     (2.5, 100, 0.01280)],
)  # fmt: skip
def test_rolling_from_pressure(bar: float, kmh: float, coefficient: float) -> None:
    """Engineering handbook rule 0.005 + (0.01 + 0.0095 (v/100)²)/p."""
    assert rolling_from_pressure(bar, kmh * KMH) == pytest.approx(coefficient, abs=6e-6)


def test_rolling_falls_with_pressure_and_rises_with_speed() -> None:
    assert rolling_from_pressure(2.0, 20.0) > rolling_from_pressure(2.2, 20.0)
    assert rolling_from_pressure(2.0, 25.0) > rolling_from_pressure(2.0, 20.0)


def wheel_energy(name: str) -> tuple[float, float, float, float]:
    """(positive, negative, rolling, air) Wh/km at the wheels; inertial mass 1236 kg."""
    profile = load_profile(name)
    per_kg, fixed = force_terms(VEHICLE, profile, 1236.0 / MASS_KG)
    work = (MASS_KG * per_kg + fixed) * profile.distance_m
    rolling = MASS_KG * 0.012 * 9.81 * profile.length_m
    air = float((fixed * profile.distance_m).sum())
    unit = 3.6 * profile.length_m
    positive = float(work[work > 0].sum())
    return (
        positive / unit,
        (float(work.sum()) - positive) / unit,
        rolling / unit,
        air / unit,
    )


@pytest.mark.parametrize(
    ("name", "positive", "negative", "air"),
    [
        ("udds", 107.15, -40.14, 27.77),
        ("hwfet", 112.58, -7.81, 65.53),
        ("wltc-3b", 132.41, -27.97, 65.20),
        ("wltc-2", 116.86, -18.78, 58.84),
        ("nedc", 111.35, -26.22, 45.89),
    ],
)
def test_wheel_energy_of_the_schedules(
    name: str, positive: float, negative: float, air: float
) -> None:
    """Reference vehicle R, integrated exactly per second; computed for these checks from the
    published traces. The NEDC's breakpoints give 0.06 % less distance than the trace used."""
    found = wheel_energy(name)
    tolerance = 4e-3 if name == "nedc" else 2e-3
    assert found[0] == pytest.approx(positive, rel=tolerance)
    assert found[1] == pytest.approx(negative, rel=tolerance)
    assert found[2] == pytest.approx(39.24, rel=1e-4)
    assert found[3] == pytest.approx(air, rel=tolerance)
    assert found[0] + found[1] == pytest.approx(found[2] + found[3], rel=1e-9)


def test_air_energy_follows_the_mean_cube_of_speed() -> None:
    """½ rho CdA int(v³)/d, with int(v³)/d 219.23 m²/s² on the UDDS."""
    assert wheel_energy("udds")[3] == pytest.approx(0.5 * 1.2 * 0.76 * 219.23 / 3.6, rel=1e-3)


def test_documented_coast_down_of_a_light_prototype() -> None:
    """Builders' figures of 2011: A 6.31, B 0.1862, C 0.00433 (lbf, mph), 1340 lb inertia:
    26.45 lbf at 50 mph; wheel energy UDDS +69.6/-36.3, HWFET +61.6/-8.1 Wh per mile."""
    pound_force, mph, pound = 4.4482216, 0.44704, 0.45359237
    mass = 1340 * pound
    road = CoastDown(
        6.31 * pound_force, 0.1862 * pound_force / mph, 0.00433 * pound_force / mph**2, mass
    )
    at_50 = float(road.force(np.array([50 * mph]), mass)[0]) / pound_force
    assert at_50 == pytest.approx(26.45, rel=1e-3)
    for name, gained, given in (("udds", 69.6, -36.3), ("hwfet", 61.6, -8.1)):
        profile = load_profile(name)
        per_kg, fixed = force_terms(road, profile, 1.0)
        work = (mass * per_kg + fixed) * profile.distance_m
        miles = profile.length_m / 1609.344
        assert float(work[work > 0].sum()) / 3600 / miles == pytest.approx(gained, rel=1e-2)
        assert float(work[work < 0].sum()) / 3600 / miles == pytest.approx(given, rel=2e-2)


def test_grade_held_by_20_kw() -> None:
    """20 kW at the motor and 85 % driveline hold about 8.45 % at 50 km/h (closed form)."""
    speed = np.array([50 * KMH])
    available = 20_000 * 0.85 / speed[0]
    sine = (available - float(VEHICLE.force(speed, MASS_KG)[0])) / (MASS_KG * 9.81)
    assert sine == pytest.approx(0.08450, rel=1e-3)
    tangent = sine / math.sqrt(1 - sine**2)
    assert float(VEHICLE.force(speed, MASS_KG, tangent)[0]) == pytest.approx(available, rel=3e-3)
