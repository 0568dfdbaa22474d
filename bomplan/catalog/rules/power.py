"""Rules that hold torque, speed, power, volts and amperes against one another."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator
from itertools import pairwise
from typing import Final

from bomplan.catalog.records import Catalog
from bomplan.catalog.rules.finding import Finding, about

# 60 000 / (2 pi): kW times this over rpm is N m
_RPM_PER_KW_NM: Final = 30_000.0 / math.pi
_SERIES_POINTS: Final = (100, 200, 300, 500, 1000)


def torque_times_speed(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """Peak torque times base speed is peak power, within 5 %."""
    for pair in catalog.pairs:
        if pair.peak_torque_nm is None or pair.base_speed_rpm is None or pair.peak_kw is None:
            continue
        power_kw = pair.peak_torque_nm * pair.base_speed_rpm / _RPM_PER_KW_NM
        if abs(power_kw - pair.peak_kw) > 0.05 * pair.peak_kw:
            message = f"torque times base speed gives {power_kw:.1f} kW, not {pair.peak_kw:g}"
            yield Finding(
                "torque-times-speed", "pairs", f"{pair.motor}/{pair.controller}", "peak_kw", message
            )


def power_against_battery(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """Shaft power is below volts times the controller's battery amperes."""
    controllers = catalog.family("controller")
    for pair in catalog.pairs:
        controller = controllers.get(pair.controller)
        if controller is None or pair.peak_kw is None or pair.reference_v is None:
            continue
        ceiling_kw = pair.reference_v * controller.number("battery_a_max") / 1000
        if pair.peak_kw > 0.95 * ceiling_kw:
            message = f"{pair.peak_kw:g} kW of at most {ceiling_kw:.1f} kW from the battery"
            yield Finding(
                "power-against-battery",
                "pairs",
                f"{pair.motor}/{pair.controller}",
                "peak_kw",
                message,
            )


def torque_against_amperes(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """A permanent magnet pair's torque against its phase current.

    Magnet torque of a sine machine is 3/2 of peak phase flux voltage times peak current:
    sqrt(3/2) N m per A (root mean square) and V s/rad (peak line). Reluctance may add as
    much again, never more.
    """
    motors, controllers = catalog.family("motor"), catalog.family("controller")
    for pair in catalog.pairs:
        motor, controller = motors.get(pair.motor), controllers.get(pair.controller)
        if motor is None or controller is None or pair.peak_torque_nm is None:
            continue
        if not motor.has("emf_v_per_krpm"):
            continue
        flux = motor.number("emf_v_per_krpm") / (1000 * math.pi / 30)
        ceiling_nm = 2 * math.sqrt(1.5) * flux * controller.number("motor_a_peak")
        if pair.peak_torque_nm > ceiling_nm:
            message = (
                f"{pair.peak_torque_nm:g} N m from {controller.number('motor_a_peak'):g} A, "
                f"{ceiling_nm:.0f} at most"
            )
            yield Finding(
                "torque-against-amperes",
                "pairs",
                f"{pair.motor}/{pair.controller}",
                "peak_torque_nm",
                message,
            )


def open_circuit_at_speed(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """A permanent magnet machine at top speed stays below what its controller bears, for it
    feeds back unasked when the pack is cut off (common practice)."""
    motors, controllers = catalog.family("motor"), catalog.family("controller")
    for pair in catalog.pairs:
        motor, controller = motors.get(pair.motor), controllers.get(pair.controller)
        if motor is None or controller is None or not motor.has("emf_v_per_krpm"):
            continue
        volts = motor.number("emf_v_per_krpm") * motor.number("max_speed_rpm") / 1000
        if volts > controller.number("v_max_abs"):
            message = f"{volts:.0f} V at top speed, the controller bears less"
            yield Finding(
                "open-circuit-at-speed",
                "pairs",
                f"{pair.motor}/{pair.controller}",
                "controller",
                message,
            )


def series_torque(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """Torque of a series machine grows between in step with current and with its square.

    Unsaturated flux follows the current (T as I squared), saturated it stands (T as I);
    common practice puts the working range at I to the 1.3 to 1.6.
    """
    code = "series-torque"
    for part in catalog.family("motor").values():
        points = [
            (amps, part.number(f"torque_nm_at_{amps}a"))
            for amps in _SERIES_POINTS
            if part.has(f"torque_nm_at_{amps}a")
        ]
        for (i1, t1), (i2, t2) in pairwise(points):
            slope = math.log(t2 / t1) / math.log(i2 / i1)
            if not 1.0 <= slope <= 2.0:
                message = f"grows as current to the {slope:.2f}, 1 to 2 is possible"
                yield about(part, code, f"torque_nm_at_{i2}a", message)


def series_speed(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """At its hour current and half its highest voltage a series machine turns at 500 rpm at
    least and not above its top speed; back-EMF times current is torque times speed."""
    for part in catalog.family("motor").values():
        if part.text("kind") != "series_dc" or not part.has("torque_nm_at_200a"):
            continue
        amps = part.number("hour_a")
        t100, t200 = part.number("torque_nm_at_100a"), part.number("torque_nm_at_200a")
        slope = math.log(t200 / t100) / math.log(2)
        torque = t100 * (amps / 100) ** slope
        emf = (
            part.number("max_motor_v") / 2
            - part.number("brush_v")
            - amps * part.number("resistance_hot_mohm") / 1000
        )
        rpm = emf * amps / torque * 30 / math.pi
        if not 500 <= rpm <= part.number("max_speed_rpm"):
            message = f"{rpm:.0f} rpm at {amps:g} A and half the highest voltage"
            yield about(part, "series-speed", "max_speed_rpm", message)


def motor_efficiency(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """Loss terms give 0.80 to 0.97 at continuous power and half the top speed.

    Window: typical machines, from memory (induction 0.86 to 0.92, permanent magnet 0.92 to
    0.96 with their controllers at best).
    """
    for part in catalog.family("motor").values():
        if not part.has("copper_w_per_nm2"):
            continue
        power_w = part.number("continuous_kw") * 1000
        rpm = part.number("max_speed_rpm") / 2
        torque = power_w / (rpm * math.pi / 30)
        loss = (
            part.number("copper_w_per_nm2") * torque**2
            + part.number("iron_w_per_rpm") * rpm
            + part.number("iron_w_per_rpm2") * rpm**2
            + part.number("fixed_w")
        )
        efficiency = power_w / (power_w + loss)
        if not 0.80 <= efficiency <= 0.97:
            message = f"the loss terms give {efficiency:.3f} at continuous power"
            yield about(part, "motor-efficiency", "copper_w_per_nm2", message)


def controller_efficiency(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """Loss at the hour current is 0.5 to 10 % of the power it passes at its upper voltage.

    Window: choppers 95 to 98 %, inverters 95 to 98.5 % (typical, from memory), widened.
    """
    for part in catalog.family("controller").values():
        amps = part.number("motor_a_hour")
        volts = 0.85 * part.number("v_max_abs")
        # an inverter's phases carry sqrt(3) times line volts times amperes
        per_ampere = volts if part.text("kind") == "chopper" else math.sqrt(1.5) * volts * 0.8
        loss = (
            part.number("loss_fixed_w")
            + part.number("loss_v") * amps
            + part.number("loss_mohm") * amps**2 / 1000
        )
        share = loss / (per_ampere * amps)
        if not 0.005 <= share <= 0.10:
            message = f"{share:.3f} of the power is lost at the hour current"
            yield about(part, "controller-efficiency", "loss_v", message)


def charger_power(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """A charger gives no more than it takes, nor more than its volts times amperes."""
    for part in catalog.family("charger").values():
        supply_w = part.number("supply_v_max") * part.number("supply_a")
        watts = part.number("output_w")
        if watts > supply_w * part.number("efficiency") * 1.001:
            message = f"{watts:g} W out of {supply_w:g} W from the supply"
            yield about(part, "charger-power", "output_w", message)
        if watts > part.number("v_out_max") * part.number("output_a") * 1.001:
            message = f"{watts:g} W are more than v_out_max times output_a"
            yield about(part, "charger-power", "output_a", message)
