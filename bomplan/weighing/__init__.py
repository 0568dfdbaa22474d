"""Weighing: masses and moments, axle and wheel loads, limits, tyres, centre of gravity."""

from bomplan.weighing.corners import CornerLoads, PlacedMass, corner_loads
from bomplan.weighing.dynamics import height_by_axle_lift_m, loads_in_motion_n
from bomplan.weighing.limits import (
    ChassisHint,
    allowed_axle_g,
    allowed_gross_g,
    axle_limits_cover_gross,
    chassis_hint,
    rollover_ratio,
)
from bomplan.weighing.masses import (
    AxleLoads,
    Mass,
    Moments,
    axle_loads_exact,
    axle_loads_of,
    axle_moments,
    base_from_weighing,
    centre_of_gravity_mm,
    missing_mass,
    moments,
    shown_least_load_g,
    shown_load_g,
)
from bomplan.weighing.tyres import Tyre, axle_tyre_load_g, load_of_index_kg, parse_tyre

__all__ = [
    "AxleLoads",
    "ChassisHint",
    "CornerLoads",
    "Mass",
    "Moments",
    "PlacedMass",
    "Tyre",
    "allowed_axle_g",
    "allowed_gross_g",
    "axle_limits_cover_gross",
    "axle_loads_exact",
    "axle_loads_of",
    "axle_moments",
    "axle_tyre_load_g",
    "base_from_weighing",
    "centre_of_gravity_mm",
    "chassis_hint",
    "corner_loads",
    "height_by_axle_lift_m",
    "load_of_index_kg",
    "loads_in_motion_n",
    "missing_mass",
    "moments",
    "parse_tyre",
    "rollover_ratio",
    "shown_least_load_g",
    "shown_load_g",
]
