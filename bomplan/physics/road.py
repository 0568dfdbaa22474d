"""Road load: what the road and the air take at the wheels.

Sources: T. D. Gillespie, *Fundamentals of Vehicle Dynamics* (SAE, 1992), ch. 4; J. Larminie
and J. Lowry, *Electric Vehicle Technology Explained* (Wiley, 2nd ed. 2012), ch. 8.
Valid for a vehicle that rolls straight on a dry hard road.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bomplan.physics.arrays import GRAVITY_M_S2, FloatArray

AIR_GAS_CONSTANT = 287.05  # J/(kg K), dry air
SEA_LEVEL_PRESSURE_PA = 101_325.0


def air_density(temperature_c: float, altitude_m: float = 0.0) -> float:
    """Density of dry air in kg/m³, p/(R T), with the pressure of the standard atmosphere.

    Source: ISO 2533:1975, troposphere (below 11 km): p = p0 (1 - 2.25577e-5 h)^5.25588.
    The place's own temperature is used for T. At 0 m this is 101325/(287.05 T).
    """
    pressure = SEA_LEVEL_PRESSURE_PA * (1.0 - 2.25577e-5 * altitude_m) ** 5.25588
    return float(pressure / (AIR_GAS_CONSTANT * (temperature_c + 273.15)))


def rolling_from_pressure(pressure_bar: float, speed_m_s: float) -> float:
    """Rolling resistance coefficient of a car tyre from its pressure and speed.

    Crr = 0.005 + (1/p)(0.01 + 0.0095 (v/100)²), p in bar, v in km/h: an engineering
    handbook's rule for passenger tyres on a hard road, 1.5 to 4 bar, up to 150 km/h.
    """
    at_rest, growth = rolling_terms(pressure_bar)
    return at_rest + growth * speed_m_s**2


def rolling_terms(pressure_bar: float) -> tuple[float, float]:
    """That rule as (coefficient at standstill, growth per (m/s)²), for :class:`RoadLoad`."""
    return 0.005 + 0.01 / pressure_bar, 0.0095 * 0.036**2 / pressure_bar


@dataclass(frozen=True)
class RoadLoad:
    """Rolling resistance and drag.

    ``rolling`` is the coefficient at standstill, ``rolling_speed_s2_m2`` its growth per
    (m/s)² (Jazar, *Vehicle Dynamics*, p. 119, writes it so). ``drag_area_m2`` is drag
    coefficient times frontal area; ``headwind_m_s`` blows against the direction of travel.

    ``gravity`` in m/s², ``headwind_m_s`` in m/s, the air's density in kg/m³.
    """

    rolling: float
    rolling_speed_s2_m2: float
    drag_area_m2: float
    air_density_kg_m3: float
    headwind_m_s: float = 0.0
    gravity: float = GRAVITY_M_S2

    def rolling_per_kg(self, speed_m_s: FloatArray) -> FloatArray:
        """Rolling force over mass on the flat, N/kg, at each speed."""
        speed = np.asarray(speed_m_s, dtype=np.float64)
        return self.gravity * (self.rolling + self.rolling_speed_s2_m2 * speed * speed)

    def massless_force(self, speed_m_s: FloatArray) -> FloatArray:
        """The part of the force that does not grow with mass (drag), N."""
        air = np.asarray(speed_m_s, dtype=np.float64) + self.headwind_m_s
        return 0.5 * self.air_density_kg_m3 * self.drag_area_m2 * np.abs(air) * air

    def force(self, speed_m_s: FloatArray, mass_kg: float, grade: float = 0.0) -> FloatArray:
        """Steady force at the wheels, N: rolling (with cos), drag and grade (with sin)."""
        return steady_force(self, speed_m_s, mass_kg, grade)


@dataclass(frozen=True)
class CoastDown:
    """Measured road load F = a + b v + c v² (N, v in m/s) of a vehicle of ``test_mass_kg``.

    The constant term is taken to be rolling resistance and scales with mass; the other two
    do not (SAE J1263 and J2263 give the form; the split by mass is common practice).
    ``relative_density`` scales the quadratic term to another air density.

    ``gravity`` in m/s².
    """

    a_n: float
    b_n_s_m: float
    c_n_s2_m2: float
    test_mass_kg: float
    relative_density: float = 1.0
    headwind_m_s: float = 0.0
    gravity: float = GRAVITY_M_S2

    def rolling_per_kg(self, speed_m_s: FloatArray) -> FloatArray:
        """The mass-proportional force over mass, N/kg."""
        return np.full_like(np.asarray(speed_m_s, dtype=np.float64), self.a_n / self.test_mass_kg)

    def massless_force(self, speed_m_s: FloatArray) -> FloatArray:
        """The rest of the force, N."""
        speed = np.asarray(speed_m_s, dtype=np.float64)
        air = speed + self.headwind_m_s
        quadratic = self.c_n_s2_m2 * self.relative_density
        return self.b_n_s_m * speed + quadratic * np.abs(air) * air

    def force(self, speed_m_s: FloatArray, mass_kg: float, grade: float = 0.0) -> FloatArray:
        """Steady force at the wheels, N."""
        return steady_force(self, speed_m_s, mass_kg, grade)


AnyRoad = RoadLoad | CoastDown


def steady_force(road: AnyRoad, speed_m_s: FloatArray, mass_kg: float, grade: float) -> FloatArray:
    """Force at steady speed on a grade (rise over run), N."""
    cosine = 1.0 / np.sqrt(1.0 + grade * grade)
    weight_along = mass_kg * road.gravity * grade * cosine
    rolling = mass_kg * road.rolling_per_kg(speed_m_s) * cosine
    total = rolling + road.massless_force(speed_m_s) + weight_along
    return np.asarray(total, dtype=np.float64)
