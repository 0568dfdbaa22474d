"""How true a motor must run with what it drives: total indicator readings, in mm."""

from __future__ import annotations

SHAFT_MM = 0.05
"""Run-out of a motor's own shaft end of 30 to 50 mm: DIN 42955, IEC 60072-1, normal class
(seen); a reading is twice the offset (seen)."""
RIGID_MM = 0.05
"""Between two shafts that a rigid coupler joins (seen; one maker's couplings)."""
CLUTCH_MM = 0.13
"""Bell housing about the crankshaft's line, where a clutch stays between; common practice."""
FACE_MM_PER_100 = 0.05
"""Plate face out of parallel over 100 mm; common practice."""


def housing_mm(clutch: bool) -> float:
    """Greatest reading of the bell housing's bore about the motor's shaft."""
    return CLUTCH_MM if clutch else RIGID_MM
