"""The donor's road load and driveline in one condition, as the physics room reads them."""

from __future__ import annotations

from bomplan.physics import CoastDown, RoadLoad, air_density, rolling_terms
from bomplan.project.records import Condition, Donor
from bomplan.project.records import Driveline as DonorLine

# Between these temperatures a gearbox's drag goes from its cold to its warm figure.
COLD_C = -20.0
WARM_C = 20.0
# Common practice: a careful change through the clutch, and one that waits for the motor's speed.
SHIFT_S = 1.0
SHIFT_WITHOUT_CLUTCH_S = 2.0


def road_load(donor: Donor, condition: Condition) -> RoadLoad | CoastDown:
    """Rolling and drag of the donor: its coast-down if it has one, else by its two figures."""
    density = air_density(condition.temperature_c, condition.altitude_m)
    rolled = donor.coast_down
    if rolled is not None:
        return CoastDown(
            a_n=rolled.a_n,
            b_n_s_m=rolled.b_n_s_m,
            c_n_s2_m2=rolled.c_n_s2_m2,
            test_mass_kg=rolled.test_mass_g / 1000,
            relative_density=density / air_density(rolled.temperature_c, rolled.altitude_m),
            headwind_m_s=condition.headwind_m_s,
        )
    if donor.tyre_pressure_bar is not None:
        rolling, growth = rolling_terms(donor.tyre_pressure_bar)
    elif donor.rolling_resistance is not None:
        rolling, growth = donor.rolling_resistance, donor.rolling_resistance_speed
    else:
        raise ValueError("the donor has neither a coast-down nor a rolling resistance")
    if donor.drag_area_m2 is None:
        raise ValueError("the donor has neither a coast-down nor a drag area")
    return RoadLoad(
        rolling=rolling,
        rolling_speed_s2_m2=growth,
        drag_area_m2=donor.drag_area_m2,
        air_density_kg_m3=density,
        headwind_m_s=condition.headwind_m_s,
    )


def drag_torque_nm(line: DonorLine, temperature_c: float) -> float:
    """Drag at the gearbox's input: warm, cold, or in a straight line between.

    Oil thickens steadily in the cold; that the line is straight, and that the box stays as
    cold as the air, is common practice on the careful side.
    """
    if line.drag_torque_cold_nm is None:
        return line.drag_torque_nm
    share = min(1.0, max(0.0, (WARM_C - temperature_c) / (WARM_C - COLD_C)))
    return line.drag_torque_nm + share * (line.drag_torque_cold_nm - line.drag_torque_nm)


def wheel_torque_limit_nm(line: DonorLine) -> float | None:
    """What differential, half-shafts and chain let through to the wheels, N m; None: no limit.

    A chain's pull acts at the radius of the sprocket at the wheel.
    """
    limits = [] if line.wheel_torque_limit_nm is None else [line.wheel_torque_limit_nm]
    if line.chain is not None:
        limits.append(line.chain.pull_limit_n * line.chain.sprocket_diameter_mm / 2000)
    return min(limits, default=None)


def shift_seconds(line: DonorLine) -> float:
    """Seconds without drive at a change of gear."""
    if line.shift_seconds is not None:
        return line.shift_seconds
    return SHIFT_S if line.clutch else SHIFT_WITHOUT_CLUTCH_S
