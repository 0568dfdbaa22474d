"""What stands beside a block of the circuit: its ratings, short, from its catalogue row."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from bomplan.catalog.records import Part

_Words = Callable[[Part], tuple[str, ...]]


def rating(part: Part) -> tuple[str, ...]:
    """Up to three short lines; empty for a family that has no rating of its own."""
    words = _RATINGS.get(part.family)
    return words(part) if words is not None else ()


def _pair(volts: str, amps: str) -> _Words:
    return lambda part: (f"{part.number(volts):g} V {part.number(amps):g} A",)


def _fuse(part: Part) -> tuple[str, ...]:
    kind = {"aR": "aR", "full_range": "full range"}.get(part.text("class"), part.text("class"))
    return tuple(
        text
        for text in (
            f"{part.number('v_dc'):g} V {part.number('rated_a'):g} A",
            kind,
            f"breaks {part.number('breaking_ka'):g} kA",
        )
        if text
    )


def _breaks(volts: str, amps: str, broken: str) -> _Words:
    def words(part: Part) -> tuple[str, ...]:
        load = part.number_or(broken, 0)
        last = f"breaks {load:g} A" if load > 0 else "never under load"
        return (f"{part.number(volts):g} V {part.number(amps):g} A", last)

    return words


def _controller(part: Part) -> tuple[str, ...]:
    return (
        f"{part.number('v_min'):g}-{part.number('v_max_abs'):g} V",
        f"pack ≤ {part.number('battery_a_max'):g} A",
        f"motor ≤ {part.number('motor_a_peak'):g} A",
    )


def _motor(part: Part) -> tuple[str, ...]:
    lines = []
    if part.has("hour_a"):
        lines.append(f"{part.number('hour_a'):g} A one hour")
    elif part.has("continuous_kw"):
        lines.append(f"{part.number('continuous_kw'):g} kW for good")
    if part.has("max_motor_v"):
        low = part.number("max_motor_v")
        high = part.number_or("max_motor_v_high_current", low)
        falls = f"; {high:g} at {part.number('high_current_a'):g} A" if high < low else ""
        lines.append(f"≤ {low:g} V{falls}")
    lines.append(f"≤ {part.number('max_speed_rpm'):g} rpm")
    return tuple(lines)


def _charger(part: Part) -> tuple[str, ...]:
    return (
        f"{part.number('output_w') / 1000:g} kW",
        f"{part.number('v_out_min'):g}-{part.number('v_out_max'):g} V",
    )


def _dcdc(part: Part) -> tuple[str, ...]:
    watts = part.number("output_a") * part.number("output_v")
    return (
        f"{part.number('v_in_min'):g}-{part.number('v_in_max'):g} V",
        f"{part.number('output_v'):g} V {part.number('output_a'):g} A",
        f"{watts:.0f} W",
    )


_RATINGS: Final[dict[str, _Words]] = {
    "fuse": _fuse,
    "branch_fuse": _fuse,
    "contactor": _breaks("v_max", "carry_a", "break_a"),
    "service_disconnect": _breaks("v_dc", "continuous_a", "load_break_a"),
    "emergency_disconnect": _breaks("v_dc", "continuous_a", "load_break_a"),
    "precharge_resistor": lambda part: (
        f"{part.number('ohm'):g} ohm",
        f"{part.number('pulse_j'):g} J {part.number('power_w'):g} W",
    ),
    "discharge_resistor": lambda part: (
        f"{part.number('ohm'):g} ohm",
        f"{part.number('power_w'):g} W ≤ {part.number('v_max'):g} V",
    ),
    "precharge_relay": _pair("v_dc", "rated_a"),
    "heater_relay": _pair("v_dc", "rated_a"),
    "shunt": lambda part: (f"{part.number('rated_a'):g} A",),
    "controller": _controller,
    "motor": _motor,
    "charger": _charger,
    "charge_inlet": _pair("supply_v", "supply_a"),
    "dcdc": _dcdc,
    "heater": lambda part: (
        f"{part.number('power_w'):g} W",
        f"{part.number('v_min'):g}-{part.number('v_max'):g} V",
    ),
    "isolation_monitor": lambda part: (f"≤ {part.number('v_max'):g} V",),
    "battery_12v": lambda part: (f"12 V {part.number('capacity_ah'):g} Ah",),
    "feed_fuse": lambda part: (f"{part.number('v_dc'):g} V {part.number('rated_a'):g} A",),
    "fuse_box_12v": lambda part: (f"{part.number('circuits'):g} circuits",),
    "inertia_switch": lambda part: (f"≤ {part.number_or('v_dc', 12):g} V",),
}
