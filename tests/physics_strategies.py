"""Random but possible vehicles and closed profiles for the property tests."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from hypothesis import strategies as st
from physics_cases import FLOODED_LEAD, FOUR_GEARS, IRON_PHOSPHATE, NINE_INCH

from bomplan.physics import (
    Controller,
    Driveline,
    EnvelopeMotor,
    Pack,
    Profile,
    RoadLoad,
    System,
    load_profile,
    route_profile,
)

SCHEDULES = (
    "udds", "hwfet", "wltc-2", "wltc-3b", "wltc-3b-low", "nedc", "ece-15", "j227a-c", "j227a-d",
    "constant 60 km/h",
)  # fmt: skip


@st.composite
def packs(draw: st.DrawFn, lead: bool, series: int) -> Pack:
    """A pack of lead or lithium cells, new or old, warm or cold."""
    curve = FLOODED_LEAD if lead else IRON_PHOSPHATE
    ah = draw(st.floats(120, 260)) if lead else draw(st.floats(60, 320))
    cold = draw(st.floats(1.0, 2.5))
    per_cell = (0.17 / ah if lead else 0.11 / ah) * cold
    return Pack(
        curve, series, ah * draw(st.floats(0.6, 1.0)), series * per_cell,
        20.0 if lead else 3.0, draw(st.floats(1.05, 1.3)) if lead else 1.0,
        draw(st.sampled_from([0.0, 0.05, 0.2])), 1.0,
        series * (1.5 if lead else 2.5), series * (2.6 if lead else 3.65),
        1.0 * ah, 2.5 * ah,
        0.0 if lead else draw(st.sampled_from([0.0, 0.3 * ah, 1.0 * ah, 1.0 * ah])),
    )  # fmt: skip


@st.composite
def drivelines(draw: st.DrawFn) -> Driveline:
    """Front or rear drive, one to five gears."""
    gears = draw(st.integers(1, 5))
    ratios = tuple(float(r) for r in np.geomspace(draw(st.floats(8.0, 14.0)), 3.8, gears))
    speeds = tuple(float(v) for v in np.linspace(6.0, 24.0, gears + 1)[1:-1])
    return replace(
        FOUR_GEARS,
        ratios=ratios if gears > 1 else (draw(st.floats(5.0, 9.0)),),
        shift_speeds_m_s=speeds,
        efficiency=draw(st.floats(0.85, 0.98)),
        drag_torque_nm=draw(st.floats(0.0, 3.0)),
        rotor_inertia_kgm2=draw(st.floats(0.0, 0.1)),
        driven=draw(st.sampled_from(["front", "rear"])),
        grip=draw(st.floats(0.4, 0.9)),
        driven_share=draw(st.floats(0.35, 0.65)),
    )


@st.composite
def systems(draw: st.DrawFn) -> System:
    """A car with a series, induction or permanent-magnet motor, sized to move it."""
    lead = draw(st.sampled_from([True, False, False]))
    cells = draw(st.integers(48, 78)) if lead else draw(st.integers(30, 50))
    pack = draw(packs(lead, cells))
    volts = cells * (2.0 if lead else 3.25)
    road = RoadLoad(
        draw(st.floats(0.008, 0.016)),
        draw(st.sampled_from([0.0, 7e-6])),
        draw(st.floats(0.5, 1.2)),
        draw(st.floats(1.0, 1.4)),
        draw(st.sampled_from([0.0, 0.0, 4.0])),
    )
    scale = draw(st.floats(0.7, 1.8))
    if draw(st.sampled_from(["series", "envelope", "envelope"])) == "series":
        motor = replace(NINE_INCH, torque_nm=np.asarray(NINE_INCH.torque_nm) * scale)
        controller = Controller(
            "chopper", 40.0, 260.0, 500.0, 800.0, 30.0, 300.0, 250.0, 40.0, 0.9, 0.0008, False
        )
        return System(road, draw(drivelines()), motor, controller, pack, False)
    envelope = EnvelopeMotor(
        draw(st.sampled_from(["induction", "permanent_magnet"])),
        150.0 * scale, 60e3 * scale, 400.0, volts, 950.0,
        draw(st.floats(0.05, 0.3)), draw(st.floats(0.0, 1.5)), draw(st.floats(0.0, 0.003)),
        draw(st.floats(0.0, 150.0)),
        ((30.0, 60e3 * scale), (3600.0, 26e3 * scale), (math.inf, 22e3 * scale)),
        draw(st.floats(20.0, 90.0)),
    )  # fmt: skip
    controller = Controller(
        "inverter", 40.0, 260.0, 450.0, 500.0, 30.0, 250.0, 200.0, draw(st.floats(0.0, 120.0)),
        draw(st.floats(0.0, 2.5)), draw(st.floats(0.0, 0.004)), True,
    )  # fmt: skip
    wanted = draw(st.sampled_from([True, True, False]))
    return System(road, draw(drivelines()), envelope, controller, pack, wanted)


@st.composite
def hilly_rounds(draw: st.DrawFn) -> Profile:
    """A round that climbs first and ends where and as high as it began."""
    legs = draw(st.lists(st.floats(300.0, 2500.0), min_size=2, max_size=6))
    heights = draw(st.lists(st.floats(0.0, 0.06), min_size=len(legs) - 1, max_size=len(legs) - 1))
    distance = np.concatenate([[0.0], np.cumsum(legs)])
    up = [share * length for share, length in zip(heights, legs, strict=False)]
    elevation = np.concatenate([[0.0], np.array(up), [0.0]])
    steepest = np.abs(np.diff(elevation)) / np.diff(distance)
    elevation *= min(1.0, 0.08 / max(1e-9, float(steepest.max())))
    limits = np.array([draw(st.floats(6.0, 24.0)) for _ in distance])
    stops = np.array([0.0, *(draw(st.sampled_from([0.0, 20.0])) for _ in legs[1:]), 5.0])
    return route_profile(distance, limits, elevation, stops)


def profiles() -> st.SearchStrategy[Profile]:
    """Published schedules and hilly rounds."""
    return st.one_of(st.sampled_from(SCHEDULES).map(load_profile), hilly_rounds())
