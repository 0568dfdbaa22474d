"""Published driving schedules by name.

Figures: UDDS, 40 CFR Part 86, Appendix I(a); HWFET, 40 CFR Part 600, Appendix I (both works
of the US government, one decimal of mph); WLTC classes 1, 2, 3a and 3b, UN GTR No. 15,
Annex 1 (one decimal of km/h); NEDC, ECE-15 and EUDC, UN Regulation No. 83, Annex 4a
(breakpoints); SAE J227a C and D (from memory: the table was not seen in print). Class 1 is
its low and medium phase, once each. The motorcycle cycle of UN GTR No. 2 is left out because
its figures could not be had for certain: use a route instead.
"""

from __future__ import annotations

import csv
from functools import cache
from importlib.resources import files

import numpy as np

from bomplan.physics.arrays import FloatArray
from bomplan.physics.profile import Profile, from_speeds

MPH_IN_M_S = 0.44704
KMH_IN_M_S = 1.0 / 3.6

# First and last sample of each phase (UN GTR No. 15, Annex 1).
WLTC_PHASES = {
    "low": (0, 589),
    "medium": (589, 1022),
    "high": (1022, 1477),
    "extra-high": (1477, 1800),
}
TABLES = {
    "udds": ("udds", MPH_IN_M_S),
    "hwfet": ("hwfet", MPH_IN_M_S),
    "wltc-1": ("wltc-1", KMH_IN_M_S),
    "wltc-2": ("wltc-2", KMH_IN_M_S),
    "wltc-3a": ("wltc-3a", KMH_IN_M_S),
    "wltc-3b": ("wltc-3b", KMH_IN_M_S),
}

# (second, km/h); speed changes evenly between the points. Gear-change pauses are in.
ECE_15 = (
    (0, 0), (11, 0), (15, 15), (23, 15), (25, 10), (28, 0), (49, 0), (54, 15), (56, 15),
    (61, 32), (85, 32), (93, 10), (96, 0), (117, 0), (122, 15), (124, 15), (133, 35),
    (135, 35), (143, 50), (155, 50), (163, 35), (176, 35), (178, 32), (185, 10), (188, 0),
    (195, 0),
)  # fmt: skip
EUDC = (
    (0, 0), (20, 0), (25, 15), (27, 15), (36, 35), (38, 35), (46, 50), (48, 50), (61, 70),
    (111, 70), (119, 50), (188, 50), (201, 70), (251, 70), (286, 100), (316, 100), (336, 120),
    (346, 120), (362, 80), (370, 50), (380, 0), (400, 0),
)  # fmt: skip
# Top speed in mph; seconds of acceleration, cruise, coast, brake, idle.
J227A = {"j227a-c": (30, 18, 20, 8, 9, 25), "j227a-d": (45, 28, 50, 10, 9, 25)}
# The schedule leaves the end of the coast to the vehicle; this trace fixes it.
COAST_ENDS_AT = 0.9
STEADY_SECONDS = 600


def schedule_names() -> tuple[str, ...]:
    """Every name that :func:`load_profile` knows, in order, without constant speeds."""
    phases = [
        f"{name}-{phase}"
        for name in ("wltc-1", "wltc-2", "wltc-3a", "wltc-3b")
        for phase in WLTC_PHASES
        if name != "wltc-1" or phase in ("low", "medium")
    ]
    return tuple(sorted([*TABLES, *phases, "nedc", "ece-15", "eudc", *J227A]))


@cache
def load_profile(name: str) -> Profile:
    """A published schedule, or ``constant 80 km/h`` (also mph).

    Raises ValueError with the known names if ``name`` is none of them.
    """
    if name in TABLES:
        return from_speeds(_table(*TABLES[name]), name)
    if name in J227A:
        return from_speeds(_j227a(J227A[name]) * MPH_IN_M_S, name)
    breakpoints = {
        "ece-15": ECE_15,
        "eudc": EUDC,
        "nedc": _nedc(),
    }
    if name in breakpoints:
        return from_speeds(_between(breakpoints[name]) * KMH_IN_M_S, name)
    if name.startswith("constant "):
        return constant_speed(_steady_speed(name), name)
    head, _, phase = name.removesuffix("-extra-high").rpartition("-")
    if name.endswith("-extra-high"):
        head, phase = name.removesuffix("-extra-high"), "extra-high"
    if head in TABLES and head.startswith("wltc") and phase in WLTC_PHASES:
        first, last = WLTC_PHASES[phase]
        speeds = _table(*TABLES[head])
        if last < len(speeds):
            return from_speeds(speeds[first : last + 1], name)
    known = ", ".join(schedule_names())
    raise ValueError(f"no driving schedule {name!r}; known: {known}, 'constant 80 km/h'")


def constant_speed(speed_m_s: float, name: str) -> Profile:
    """Ten minutes at one speed, already rolling at the start."""
    if not 0 < speed_m_s < 100:
        raise ValueError("a constant speed must lie between 0 and 360 km/h")
    return from_speeds(np.full(STEADY_SECONDS + 1, speed_m_s), name)


def _table(stem: str, unit_m_s: float) -> FloatArray:
    source = files("bomplan.physics").joinpath("data", f"{stem}.csv")
    rows = list(csv.reader(source.read_text("ascii").splitlines()))[1:]
    return np.array([float(row[1]) for row in rows]) * unit_m_s


def _between(points: tuple[tuple[int, int], ...]) -> FloatArray:
    seconds, speeds = zip(*points, strict=True)
    return np.asarray(np.interp(np.arange(seconds[-1] + 1), seconds, speeds), dtype=np.float64)


def _nedc() -> tuple[tuple[int, int], ...]:
    urban = [(second + 195 * lap, speed) for lap in range(4) for second, speed in ECE_15]
    return (*urban, *((second + 780, speed) for second, speed in EUDC))


def _j227a(parts: tuple[int, ...]) -> FloatArray:
    top, *lengths = parts
    ends = np.cumsum([0, *lengths])
    speeds = [0.0, top, top, COAST_ENDS_AT * top, 0.0, 0.0]
    return np.interp(np.arange(ends[-1] + 1), ends, speeds)


def _steady_speed(name: str) -> float:
    number, _, unit = name.removeprefix("constant ").strip().partition(" ")
    units = {"km/h": KMH_IN_M_S, "mph": MPH_IN_M_S, "m/s": 1.0}
    try:
        return float(number) * units[unit.strip()]
    except (KeyError, ValueError):
        raise ValueError(
            f"cannot read {name!r}: write it as 'constant 80 km/h' or 'constant 50 mph'"
        ) from None
