"""What cold and age do to a pack, from plain tables."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bomplan.physics.arrays import FloatArray
from bomplan.physics.battery import CellCurve, Pack


@dataclass(frozen=True, eq=False)
class TemperatureTable:
    """Factors on capacity and resistance against temperature, 25 °C = 1; rising °C."""

    temperature_c: FloatArray
    capacity_factor: FloatArray
    resistance_factor: FloatArray

    def at(self, temperature_c: float) -> tuple[float, float]:
        """(capacity factor, resistance factor), straight between points, flat outside."""
        return (
            float(np.interp(temperature_c, self.temperature_c, self.capacity_factor)),
            float(np.interp(temperature_c, self.temperature_c, self.resistance_factor)),
        )


@dataclass(frozen=True)
class PackData:
    """A pack as bought, at 25 °C: whole-pack figures, before cold, age and spread.

    States of charge and ``state_of_health`` lie in 0 to 1; ``end_of_life_capacity`` and
    ``end_of_life_resistance`` are factors on the new pack's.
    """

    curve: CellCurve
    cells_series: int
    capacity_ah: float
    resistance_ohm: float
    rated_hours: float
    peukert: float
    soc_min: float
    soc_max: float
    cell_cut_off_v: float
    cell_charge_v: float
    discharge_continuous_a: float
    discharge_10s_a: float
    charge_10s_a: float
    charge_min_c: float
    charge_max_c: float
    state_of_health: float = 1.0
    end_of_life_capacity: float = 0.8
    end_of_life_resistance: float = 1.5


def condition_pack(
    data: PackData,
    temperatures: TemperatureTable,
    temperature_c: float,
    aged: bool,
    controller_min_v: float,
    controller_max_v: float,
    capacity_spread: float = 0.0,
) -> Pack:
    """The pack at a temperature, new (at its bought state of health) or at its end of life.

    ``capacity_spread`` is how far the weakest series group lies under the mean (a share): it
    ends the drive for all. Aged capacity and resistance are shares of those as bought, so
    that a used module ages like any other. Outside ``charge_min_c`` to ``charge_max_c``
    nothing flows back.
    """
    capacity_factor, resistance_factor = temperatures.at(temperature_c)
    health = data.state_of_health
    if aged:
        health *= data.end_of_life_capacity
        resistance_factor *= data.end_of_life_resistance
    may_charge = data.charge_min_c <= temperature_c <= data.charge_max_c
    return Pack(
        curve=data.curve,
        cells_series=data.cells_series,
        capacity_ah=data.capacity_ah * capacity_factor * health * (1.0 - capacity_spread),
        resistance_ohm=data.resistance_ohm * resistance_factor,
        rated_hours=data.rated_hours,
        peukert=data.peukert,
        soc_min=data.soc_min,
        soc_max=data.soc_max,
        min_voltage_v=max(data.cell_cut_off_v * data.cells_series, controller_min_v),
        max_voltage_v=min(data.cell_charge_v * data.cells_series, controller_max_v),
        discharge_continuous_a=data.discharge_continuous_a,
        discharge_10s_a=data.discharge_10s_a,
        charge_limit_a=data.charge_10s_a if may_charge else 0.0,
    )
