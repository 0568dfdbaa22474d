"""Does a catalogue hang together? One rule per function, each with a code.

Loading refuses what cannot be read; these rules doubt what can be read but cannot be true,
or is no longer. They decide nothing: a plan may be made with a catalogue that has findings.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Final

from bomplan.catalog.records import Catalog
from bomplan.catalog.rules import energy, links, offers, orders, power
from bomplan.catalog.rules.finding import Finding, Rule

__all__ = ["RULES", "Finding", "lint"]

RULES: Final[Mapping[str, Rule]] = {
    "continuous-above-peak": orders.continuous_above_peak,
    "window-order": orders.window_order,
    "pair-window": orders.pair_window,
    "resistance-order": orders.resistance_order,
    "fuse-curve": orders.fuse_curve,
    "one-hour-capacity": orders.one_hour_capacity,
    "torque-times-speed": power.torque_times_speed,
    "power-against-battery": power.power_against_battery,
    "torque-against-amperes": power.torque_against_amperes,
    "open-circuit-at-speed": power.open_circuit_at_speed,
    "series-torque": power.series_torque,
    "series-speed": power.series_speed,
    "motor-efficiency": power.motor_efficiency,
    "controller-efficiency": power.controller_efficiency,
    "charger-power": power.charger_power,
    "energy-density": energy.energy_density,
    "price-per-kwh": energy.price_per_kwh,
    "bulk-density": energy.bulk_density,
    "cell-voltage": energy.cell_voltage,
    "curve-shape": energy.curve_shape,
    "curve-against-module": energy.curve_against_module,
    "temperature-shape": energy.temperature_shape,
    "cable-resistance": energy.cable_resistance,
    "old-price": offers.old_price,
    "price-from-the-future": offers.price_from_the_future,
    "missing-source": offers.missing_source,
    "no-price": offers.no_price,
    "offer-steps": offers.offer_steps,
    "lapsed-offer": offers.lapsed_offer,
    "offer-stock": offers.offer_stock,
    "offer-against-price": offers.offer_against_price,
    "dangling-curve": links.dangling_curve,
    "dangling-pair": links.dangling_pair,
    "dangling-offer": links.dangling_offer,
    "dangling-supplier": links.dangling_supplier,
    "unpaired": links.unpaired,
    "unmounted": links.unmounted,
    "holder-missing": links.holder_missing,
    "lug-missing": links.lug_missing,
}


def lint(catalog: Catalog, as_of: dt.date) -> list[Finding]:
    """Every finding of every rule, sorted; ``as_of`` is the day prices are held against."""
    return sorted(finding for rule in RULES.values() for finding in rule(catalog, as_of))
