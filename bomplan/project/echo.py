"""A project in words, as a builder would check it."""

from __future__ import annotations

from bomplan.money import format_money
from bomplan.project.records import Condition, Donor, Project

_KNOWN = {"guess": "is a guess", "class": "is typical of its class", "measured": "is measured"}

_AWAY = {
    "gone": "gone with the engine", "bill": "counted by the bill", "continuous": "0 W",
    "intermittent": "0 W",
}  # fmt: skip


def echo(project: Project) -> list[str]:
    """What was understood, one line per matter, in metric units."""
    donor = project.donor
    weighing = donor.weighing
    driveline = donor.driveline
    lines = [
        f"project: {project.name}, prices in {project.currency}, as of {project.as_of}",
        f"donor: {donor.description or donor.kind}, wheelbase {donor.wheelbase_mm} mm, "
        f"limits {_kg(donor.gross_limit_g)} gross, {_kg(donor.front_axle_limit_g)} front, "
        f"{_kg(donor.rear_axle_limit_g)} rear",
        f"weighed: {_kg(weighing.front_g)} front and {_kg(weighing.rear_g)} rear"
        f" (give or take {_kg(weighing.spread_g)} each), with {_kg(weighing.fuel_g)} of fuel"
        f" and {_kg(weighing.people_g)} of people in it",
        f"comes out: {_kg(sum(item.mass_g for item in donor.removed))} ("
        + (", ".join(item.name for item in donor.removed) or "nothing") + ")",
        f"driveline: {len(driveline.gear_ratios)} gear{'s' * (len(driveline.gear_ratios) > 1)}, "
        f"{driveline.driven} wheels, motor at {' or '.join(driveline.mounts)}, final drive "
        + " or ".join(f"{ratio:g}" for ratio in driveline.final_ratios)
        + ("" if driveline.clutch else ", no clutch"),
        f"road: {_road(donor)}",
    ]  # fmt: skip
    if donor.loads_12v:
        named = ", ".join(
            f"{load.name} {load.power_w:.4g} W"
            if load.power_w
            else f"{load.name} {_AWAY[load.kind]}"
            for load in donor.loads_12v
        )
        lines.append(
            f"12 V side: {donor.load_12v_w:.4g} W in every range, {donor.worst_12v_w} W on a wet"
            f" winter's night ({named})"
        )
    lines += [
        f"bay {bay.name}: {bay.length_mm} x {bay.width_mm} x {bay.height_mm} mm, from "
        f"{_behind(bay.x_mm)}"
        + (f", made of {len(bay.boxes)} boxes" if bay.boxes else "")
        + (f", less {len(bay.blocked)} blocked" if bay.blocked else "")
        + (f", up to {_kg(bay.mass_limit_g)}" if bay.mass_limit_g is not None else "")
        for bay in project.bays
    ]
    lines += [
        f"load {case.name}: {_kg(sum(item.mass_g for item in case.items))} ("
        + (", ".join(item.name for item in case.items) or "nobody") + ")"
        for case in project.load_cases
    ]  # fmt: skip
    lines += [f"condition {condition.name}: {_condition(condition)}"
              for condition in project.conditions]  # fmt: skip
    targets = project.targets
    lines += [
        f"must go {_short(t.distance_m / 1000)} km on {t.profile}, {t.condition}, {t.load_case}"
        + (f", {100 * t.reserve:g} % kept back" if t.reserve else "")
        for t in targets.range
    ]
    lines += [
        f"must hold {_kmh(t.speed_m_s)} for {t.hold_s / 60:g} min, {t.condition}, {t.load_case}"
        for t in targets.top_speed
    ]
    lines += [
        f"must climb {100 * t.grade:.3g} % "
        + (f"at {_kmh(t.speed_m_s)} for {t.hold_s:g} s" if t.speed_m_s else "from rest")
        + f", {t.condition}, {t.load_case}"
        for t in targets.climb
    ]
    lines += [
        f"must reach {_kmh(t.speed_m_s)} within {t.within_s:g} s, {t.condition}, {t.load_case}"
        for t in targets.acceleration
    ]
    if targets.budget is not None:
        lines.append(f"may cost up to {format_money(targets.budget, project.currency)}")
    charging = project.charging
    lines.append(
        f"charges at {charging.supply_v:g} V, {charging.supply_a:g} A, within {charging.hours:g} h"
    )
    lines += [
        f"{key} {_KNOWN[note.known]}" + (f", give or take {note.spread}" if note.spread else "")
        for key, note in project.provenance.items()
    ]
    return lines


def _kg(mass_g: int) -> str:
    return f"{mass_g / 1000:.7g} kg"


def _short(value: float) -> str:
    """Four digits and no more: what was written in other units has no end of them."""
    return f"{value:.4g}" if abs(value) < 1e4 else f"{value:.0f}"


def _kmh(speed_m_s: float) -> str:
    return f"{3.6 * speed_m_s:.4g} km/h"


def _behind(x_mm: int) -> str:
    side = "behind" if x_mm >= 0 else "ahead of"
    return f"{abs(x_mm)} mm {side} the front axle"


def _road(donor: Donor) -> str:
    if donor.coast_down is not None:
        rolled = donor.coast_down
        return (
            f"coast-down {rolled.a_n:.4g} N, {rolled.b_n_s_m:.4g} N s/m,"
            f" {rolled.c_n_s2_m2:.4g} N s²/m² at {_kg(rolled.test_mass_g)}"
        )
    if donor.tyre_pressure_bar is not None:
        rolling = f"rolling resistance of tyres at {_short(donor.tyre_pressure_bar)} bar"
    else:
        rolling = f"rolling resistance {donor.rolling_resistance:g}"
    return f"drag area {_short(donor.drag_area_m2 or 0.0)} m², {rolling}"


def _condition(condition: Condition) -> str:
    parts = [f"{_short(condition.temperature_c)} °C", "worn pack" if condition.aged else "new pack"]
    if condition.heater_w:
        parts.append(f"heater {_short(condition.heater_w)} W")
    if condition.headwind_m_s:
        parts.append(f"headwind {_kmh(condition.headwind_m_s)}")
    if condition.altitude_m:
        parts.append(f"{condition.altitude_m} m above the sea")
    if condition.wet:
        parts.append("wet road")
    return ", ".join(parts)
