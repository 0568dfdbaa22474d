"""Short-circuit currents of a pack: the greatest decides what a fuse must break, the least
what it must still see.
"""

from __future__ import annotations

from typing import cast

from bomplan.catalog.records import Part
from bomplan.design.context import Context
from bomplan.design.drive import Drive, PackFigures, interpolate


def greatest_fault_a(context: Context, drive: Drive) -> float:
    """Short-circuit current of the pack when new, full and warm, at the end of its last bar.

    Open-circuit voltage at full charge over the 1 kHz resistance at 40 °C and half the joint
    resistance that the range figures assume (bars and joints as good as they get). No cable
    is counted, so that the figure holds for a fault inside the box. Common practice.
    """
    full, warm = _full_and_warm(context, drive.module.text("curve"), drive.module.text("chemistry"))
    core = drive.core
    joints = context.project.house_rules.joint_uohm * 1e-6 / 2 * core.series / core.parallel
    return full * drive.figures.cells_series / (drive.figures.resistance_ac_ohm * warm + joints)


def _full_and_warm(context: Context, curve: str, chemistry: str) -> tuple[float, float]:
    """(V of a full cell, factor of its resistance at 40 °C), looked up once."""
    key = ("full and warm", (curve, chemistry))
    known = context.remembered.get(key)
    if known is None:
        full = max(point.open_circuit_v for point in context.curve(curve))
        points = context.temperature_factors(chemistry)
        warm = interpolate(40.0, [(one.temperature_c, one.resistance_factor) for one in points])
        known = context.remembered[key] = full, warm
    return cast(tuple[float, float], known)


def least_fault_a(
    context: Context, module: Part, figures: PackFigures, branch_ohm: float = 0.0
) -> float:
    """Short-circuit current of the pack when empty, aged and as cold as declared.

    ``branch_ohm``: what a side branch adds on the way to a fault at its far end.

    Through the reference circuit; the direct-current resistance and its factors at the low
    end of the usable window. Common practice: the fault that a fuse is slowest to see.
    """
    volts, factor, cold = _empty_and_cold(
        context, module.text("curve"), module.text("chemistry"), module.number("soc_min")
    )
    resistance = figures.resistance_dc_ohm * factor * cold * module.number("end_of_life_resistance")
    circuit = context.project.house_rules.reference_circuit_ohm
    return volts * figures.cells_series / (resistance + circuit + branch_ohm)


def _empty_and_cold(
    context: Context, curve: str, chemistry: str, low: float
) -> tuple[float, float, float]:
    """(V of a cell at ``low``, factors of its resistance there and at the coldest), kept."""
    key = ("empty and cold", (curve, chemistry, low))
    known = context.remembered.get(key)
    if known is None:
        points = context.curve(curve)
        volts = interpolate(low, [(p.state_of_charge, p.open_circuit_v) for p in points])
        factor = interpolate(low, [(p.state_of_charge, p.resistance_factor) for p in points])
        coldest = min(context.project.conditions, key=lambda condition: condition.temperature_c)
        table = context.temperature_factors(chemistry)
        cold = interpolate(
            coldest.temperature_c, [(p.temperature_c, p.resistance_factor) for p in table]
        )
        known = context.remembered[key] = volts, factor, cold
    return cast(tuple[float, float, float], known)
