"""Battery restraint: forces at guideline accelerations, bolts, crush zones."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, pi

STANDARD_GRAVITY_M_S2 = 9.81
"""Rounded as the guidelines do."""


@dataclass(frozen=True)
class Accelerations:
    """Guideline accelerations in multiples of gravity. Country data, not law by itself."""

    forward_g: float
    side_g: float
    rearward_g: float
    up_g: float
    source: str
    seen: bool

    @property
    def greatest_g(self) -> float:
        """What bolts in shear are sized for: the greatest of all directions."""
        return max(self.forward_g, self.side_g, self.rearward_g, self.up_g)


DEFAULT = Accelerations(
    20.0,
    15.0,
    10.0,
    10.0,
    "Australian guideline NCOP14 (20 g forward seen in a summary, the others from memory)",
    False,
)

_PITCH_MM = {5: 0.8, 6: 1.0, 8: 1.25, 10: 1.5, 12: 1.75, 14: 2.0, 16: 2.0}
_CLASSES_MPA: dict[str, tuple[float, float, float]] = {
    # proof up to 16 mm, tensile as designed with, shear factor
    "8.8": (580.0, 800.0, 0.6),
    "10.9": (830.0, 1000.0, 0.5),
}
_SAFETY = 1.25
TENSION_FACTOR = 0.9
"""Of the tensile strength, for a bolt that is pulled: EN 1993-1-8 Table 3.4 (from memory)."""


def force_n(mass_kg: float, acceleration_g: float) -> float:
    """Force on a mass at an acceleration given in multiples of gravity, in N."""
    return mass_kg * acceleration_g * STANDARD_GRAVITY_M_S2


def stress_area_mm2(size_mm: int) -> float:
    """Tensile stress area of a coarse metric thread, M5 to M16.

    pi/4 (d - 0.9382 P)², ISO 898-1:2013 (seen). ValueError for other sizes.
    """
    if size_mm not in _PITCH_MM:
        raise ValueError(f"no M{size_mm} in the table; sizes: {sorted(_PITCH_MM)}")
    return pi / 4.0 * (size_mm - 0.9382 * _PITCH_MM[size_mm]) ** 2


def proof_load_n(size_mm: int, strength: str = "8.8") -> float:
    """Proof load of a bolt: ISO 898-1:2013, class 8.8 580 MPa to 16 mm, 10.9 830 MPa (seen)."""
    return _class(strength)[0] * stress_area_mm2(size_mm)


def design_shear_n(size_mm: int, strength: str = "8.8") -> float:
    """Shear that one bolt takes through its thread: factor x tensile x area / 1.25.

    EN 1993-1-8 Table 3.4, factor 0.6 for 8.8 and 0.5 for 10.9 (from memory).
    """
    _, tensile, factor = _class(strength)
    return factor * tensile * stress_area_mm2(size_mm) / _SAFETY


def design_tension_n(size_mm: int, strength: str = "8.8") -> float:
    """Tension that one bolt takes along itself, in N: 0.9 x tensile x area / 1.25.

    EN 1993-1-8 Table 3.4 (from memory).
    """
    _, tensile, _ = _class(strength)
    return TENSION_FACTOR * tensile * stress_area_mm2(size_mm) / _SAFETY


def combined_share(
    shear_n: float, tension_n: float, bolts: int, size_mm: int, strength: str = "8.8"
) -> float:
    """How much of all bolts together is used by shear and tension at once, 1 being all.

    Fv / Fv,Rd + Ft / (1.4 Ft,Rd), and Ft / Ft,Rd where that is more: EN 1993-1-8 Table 3.4
    (from memory). ValueError for sizes and classes that are not known.
    """
    by_tension = tension_n / (bolts * design_tension_n(size_mm, strength))
    by_shear = shear_n / (bolts * design_shear_n(size_mm, strength))
    return max(by_tension, by_shear + by_tension / 1.4)


def tightening_nm(size_mm: int, strength: str = "8.8", friction: float = 0.20) -> float:
    """Tightening torque for 75 % of proof load, T = K F d; K 0.20 dry (seen)."""
    return friction * 0.75 * proof_load_n(size_mm, strength) * size_mm / 1000.0


def bolts_needed(
    mass_kg: float, size_mm: int, strength: str = "8.8", accelerations: Accelerations = DEFAULT
) -> int:
    """Bolts in single shear for one box: the greatest force, rounded up, doubled, 4 at least.

    Doubling and the least number are common practice. The sheet is usually weaker than the
    bolt: use spreader plates of 3 mm or tie to rails.
    """
    force = force_n(mass_kg, accelerations.greatest_g)
    return max(4, 2 * ceil(force / design_shear_n(size_mm, strength)))


PLATE_MM = 3.0
PLATE_SIDE_MM = (75, 50)
"""Least thickness and size of a spreader plate under sheet metal; common practice."""

CRUSH_FRONT_MM = 420
CRUSH_REAR_MM = 300
"""No cells ahead of / behind these planes from the front and rear edge: UN R100.02 mounting
alternative to the crush test (seen). A warning by default; country data may forbid."""


def crush_reach_mm(
    end: str, front_mm: int, rear_mm: int, wheelbase_mm: int, overhang_mm: int, depth_mm: int
) -> int:
    """How far a box reaches into the zone of this depth at the ``front`` or the ``rear``, in mm.

    Box from ``front_mm`` to ``rear_mm``, counted backwards from the front axle; ``overhang_mm``
    from the axle to that end of the car. 0 where it stays clear; more than the depth where it
    sticks out beyond the car.
    """
    if end == "front":
        return max(0, depth_mm - overhang_mm - front_mm)
    return max(0, rear_mm - (wheelbase_mm + overhang_mm - depth_mm))


def in_crush_zone(
    box_front_mm: int, box_rear_mm: int, car_front_mm: int, car_rear_mm: int
) -> tuple[bool, bool]:
    """Whether a box reaches into the front zone and into the rear zone.

    All positions along the car in mm, counted backwards from the front axle.
    """
    return (
        box_front_mm < car_front_mm + CRUSH_FRONT_MM,
        box_rear_mm > car_rear_mm - CRUSH_REAR_MM,
    )


def _class(strength: str) -> tuple[float, float, float]:
    if strength not in _CLASSES_MPA:
        raise ValueError(f"no strength class {strength!r}; known: {sorted(_CLASSES_MPA)}")
    return _CLASSES_MPA[strength]
