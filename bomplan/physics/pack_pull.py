"""What the pack's voltage comes to under the hardest pull that every limit allows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bomplan.physics.battery import current_for_power
from bomplan.physics.powertrain import PEAK_HOLD_S, draw, torque_table
from bomplan.physics.system import System


@dataclass(frozen=True)
class Pull:
    """Volts at rest and under the pull, and the current of the pull, at the pack's own poles."""

    rest_v: float
    pull_v: float
    pull_a: float


def hardest_pull(
    system: System,
    soc: float,
    external_resistance_ohm: float,
    auxiliary_w: float,
    hold_s: float = PEAK_HOLD_S,
) -> Pull:
    """The greatest battery current of any motor speed and gear, and the voltage it leaves.

    Motor, controller, gearbox, pack current and cut-off hold it back as in every other answer.
    """
    table = torque_table(system, soc, external_resistance_ohm, auxiliary_w, hold_s)
    line = system.driveline
    most = max(float(line.greatest_shaft_torque(ratio)) for ratio in line.ratios)
    torque = np.minimum(table.torque_nm, most)
    power = draw(system, torque, table.speed_rad_s).power_w + auxiliary_w
    where = np.array([soc])
    rest_v = float(system.pack.open_circuit(where)[0])
    inner = float(system.pack.resistance(where)[0])
    total = np.full_like(power, inner + external_resistance_ohm)
    amps = current_for_power(power, np.full_like(power, rest_v), total)
    known = amps[~np.isnan(amps)]
    most_a = float(known.max()) if len(known) else 0.0
    return Pull(rest_v, rest_v - inner * most_a, most_a)
