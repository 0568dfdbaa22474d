"""How it drives: pure functions on arrays, SI, each with its source."""

from bomplan.physics.acceleration import Acceleration, acceleration
from bomplan.physics.battery import (
    CellCurve,
    Pack,
    current_for_power,
    greatest_power_w,
    peukert_exponent,
    peukert_hours,
)
from bomplan.physics.bounds import least_battery_energy, most_usable_energy, optimistic_range
from bomplan.physics.controller import Controller
from bomplan.physics.descent import Descent, asks_much_downhill, worst_descent
from bomplan.physics.drive import Balance, RangeAnswer, range_answer
from bomplan.physics.driveline import Driveline
from bomplan.physics.energy import combined_mpge, mpge, wall_wh_per_km
from bomplan.physics.envelope_motor import EnvelopeMotor
from bomplan.physics.gears import choose_gears, fixed_gear, least_loss_gears
from bomplan.physics.pack_condition import PackData, TemperatureTable, condition_pack
from bomplan.physics.pack_pull import Pull, hardest_pull
from bomplan.physics.performance import (
    Climb,
    SteadyPoint,
    TopSpeed,
    climb,
    climb_speed_ok,
    gradeability,
    grip_turns,
    steady_table,
    top_speed,
)
from bomplan.physics.profile import Profile
from bomplan.physics.road import (
    CoastDown,
    RoadLoad,
    air_density,
    rolling_from_pressure,
    rolling_terms,
)
from bomplan.physics.route import cap, route_profile
from bomplan.physics.schedules import load_profile, schedule_names
from bomplan.physics.series_motor import SeriesMotor, from_nameplate, stall_seconds
from bomplan.physics.strings import sharing_derate, string_currents
from bomplan.physics.system import System
from bomplan.physics.thermal import pack_temperature, rolling_rms

__all__ = [
    "Acceleration",
    "Balance",
    "CellCurve",
    "Climb",
    "CoastDown",
    "Controller",
    "Descent",
    "Driveline",
    "EnvelopeMotor",
    "Pack",
    "PackData",
    "Profile",
    "Pull",
    "RangeAnswer",
    "RoadLoad",
    "SeriesMotor",
    "SteadyPoint",
    "System",
    "TemperatureTable",
    "TopSpeed",
    "acceleration",
    "air_density",
    "asks_much_downhill",
    "cap",
    "choose_gears",
    "climb",
    "climb_speed_ok",
    "combined_mpge",
    "condition_pack",
    "current_for_power",
    "fixed_gear",
    "from_nameplate",
    "gradeability",
    "greatest_power_w",
    "grip_turns",
    "hardest_pull",
    "least_battery_energy",
    "least_loss_gears",
    "load_profile",
    "most_usable_energy",
    "mpge",
    "optimistic_range",
    "pack_temperature",
    "peukert_exponent",
    "peukert_hours",
    "range_answer",
    "rolling_from_pressure",
    "rolling_rms",
    "rolling_terms",
    "route_profile",
    "schedule_names",
    "sharing_derate",
    "stall_seconds",
    "steady_table",
    "string_currents",
    "top_speed",
    "wall_wh_per_km",
    "worst_descent",
]
