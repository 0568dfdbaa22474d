"""Battery voltage over a drive against PyBaMM's Thevenin model with the same tables."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from physics_cases import IRON_PHOSPHATE, compact_lithium

from bomplan.physics import choose_gears, load_profile
from bomplan.physics.demand import drive_lap
from bomplan.physics.discharge import discharge

TOLERANCE_V = 0.010


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")
def test_cell_voltage_over_an_hour_of_udds() -> None:
    """Ours: E(SOC) - R(SOC) I, one second at a time. Theirs: the ordinary differential
    equation of an equivalent circuit without RC branches, solved by a general integrator.
    10 mV a cell."""
    pybamm = pytest.importorskip("pybamm")
    system, profile = compact_lithium(), load_profile("udds")
    lap = drive_lap(system, profile, choose_gears(system, profile, 1700.0), 1250.0)
    pack = replace(system.pack, soc_max=0.95)  # theirs refuses to start quite full
    gone = discharge(pack, lap.traction_w + 300.0, 0.0)
    current = np.concatenate([block.current_a for block in gone.blocks])[:3600]
    soc = np.concatenate([block.soc[:-1] for block in gone.blocks])[:3600]
    ours = (pack.open_circuit(soc) - pack.resistance(soc) * current) / pack.cells_series

    cell_ohm = pack.resistance_ohm / pack.cells_series
    table_soc = np.asarray(IRON_PHOSPHATE.soc)
    table_v = np.asarray(IRON_PHOSPHATE.open_circuit_v)
    table_ohm = np.asarray(IRON_PHOSPHATE.resistance_factor) * cell_ohm
    clock = np.arange(len(current), dtype=float)

    def open_circuit(state: object) -> object:
        return pybamm.Interpolant(table_soc, table_v, state, interpolator="linear")

    def resistance(_temperature: object, _amps: object, state: object) -> object:
        return pybamm.Interpolant(table_soc, table_ohm, state, interpolator="linear")

    model = pybamm.equivalent_circuit.Thevenin(options={"number of rc elements": 0})
    values = model.default_parameter_values
    values.update(
        {
            "Initial SoC": float(soc[0]),
            "Cell capacity [A.h]": pack.capacity_ah,
            "Nominal cell capacity [A.h]": pack.capacity_ah,
            "Open-circuit voltage [V]": open_circuit,
            "R0 [Ohm]": resistance,
            "Lower voltage cut-off [V]": 1.0,
            "Upper voltage cut-off [V]": 4.5,
            "Current function [A]": pybamm.Interpolant(
                clock, current, pybamm.t, interpolator="linear"
            ),
        }
    )
    solution = pybamm.Simulation(model, parameter_values=values).solve(clock)
    theirs = np.interp(clock, solution["Time [s]"].entries, solution["Voltage [V]"].entries)
    assert float(np.abs(theirs - ours).max()) < TOLERANCE_V
    assert float(ours.max() - ours.min()) > 5 * TOLERANCE_V
