"""Joining modules side by side: how far their voltages may differ at that moment."""

from __future__ import annotations


def greatest_difference_v(resistance_ohm: float, charge_a: float) -> float:
    """Voltage between two like modules at which joining drives ``charge_a`` from one to the other.

    By Ohm's law on both resistances in a row: the fuller one must not charge the other faster
    than its rating. ValueError for figures that are not above 0.
    """
    if resistance_ohm <= 0 or charge_a <= 0:
        raise ValueError("resistance and charge current must be above 0")
    return 2.0 * resistance_ohm * charge_a
