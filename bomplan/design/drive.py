"""A core with its parts looked up, and the pack figures that follow by plain arithmetic."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

from bomplan.catalog.records import Pair, Part
from bomplan.design.context import Context
from bomplan.design.records import Core
from bomplan.sizing.isolation import CLASS_A_DC_V

LEAD = frozenset({"flooded", "agm", "gel"})


@dataclass(frozen=True)
class PackFigures:
    """The pack as new at 25 °C, from its modules' figures. SI units.

    ``least_v`` is the cut-off under momentary load; ``resistance_ac_ohm`` the low figure
    that a short circuit meets, ``resistance_dc_ohm`` the one that sags the voltage.
    """

    cells_series: int
    nominal_v: float
    charge_v: float
    least_v: float
    capacity_ah: float
    nominal_wh: float
    resistance_dc_ohm: float
    resistance_ac_ohm: float
    discharge_continuous_a: float
    discharge_10s_a: float
    charge_continuous_a: float


@dataclass(frozen=True)
class Drive:
    """The parts of a core. ``pair`` is None only where the user forces an unknown pairing."""

    core: Core
    motor: Part
    controller: Part
    pair: Pair | None
    module: Part
    figures: PackFigures

    @property
    def lithium_or_sodium(self) -> bool:
        return self.module.text("chemistry") not in LEAD

    @property
    def touchable(self) -> bool:
        """Whether the pack never rises above class A, which needs no protection from touch."""
        return self.figures.charge_v <= CLASS_A_DC_V

    @property
    def strings(self) -> int:
        """Strings side by side, each with what a string has of its own; 1 for groups."""
        return self.core.parallel if self.core.topology == "strings" else 1

    @property
    def battery_limit_a(self) -> float:
        """The most the pack is asked for: what the controller is set to.

        Plans of older versions name no setting: there the controller's own limit, set down
        to the modules'.
        """
        if self.core.battery_a is not None:
            return float(self.core.battery_a)
        return min(self.controller.number("battery_a_max"), self.figures.discharge_10s_a)

    @property
    def motor_torque_nm(self) -> float:
        """The greatest shaft torque: the pair's, or the magnetisation at the motor current."""
        if self.pair is not None and self.pair.peak_torque_nm is not None:
            return self.pair.peak_torque_nm
        currents, torques = magnetisation(self.motor)
        limit = self.controller.number("motor_a_peak")
        if limit >= currents[-1]:
            return torques[-1]
        for low, high in zip(range(len(currents)), range(1, len(currents)), strict=False):
            if limit <= currents[high]:
                span = currents[high] - currents[low]
                share = (limit - currents[low]) / span
                return torques[low] + share * (torques[high] - torques[low])
        return torques[-1]


def magnetisation(motor: Part) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """A series motor's current and torque points from its catalogue row, rest included."""
    points = [(0.0, 0.0)]
    for amps in (100, 200, 300, 500, 1000):
        column = f"torque_nm_at_{amps}a"
        if motor.has(column):
            points.append((float(amps), motor.number(column)))
    return tuple(a for a, _ in points), tuple(t for _, t in points)


def pack_figures(module: Part, series: int, parallel: int) -> PackFigures:
    """Pack figures from one module's row and the numbers in series and parallel."""
    return packs_of(module)(series, parallel)


def packs_of(module: Part) -> Callable[[int, int], PackFigures]:
    """:func:`pack_figures` of one module, whose row is read once for all numbers."""
    cells_each = int(module.number("cells_series"))
    cell_nominal_v, cell_v_charge, cell_v_min = map(
        module.number, ("cell_v_nominal", "cell_v_charge", "cell_v_min")
    )
    each_ah = module.number("capacity_ah") * module.number_or("state_of_health", 1.0)
    each_dc_ohm = module.number("resistance_dc_mohm") * 1e-3
    each_ac_ohm = module.number("resistance_ac_mohm") * 1e-3
    continuous_a, peak_a, charge_a = map(
        module.number, ("discharge_continuous_a", "discharge_10s_a", "charge_continuous_a")
    )

    def pack(series: int, parallel: int) -> PackFigures:
        cells = cells_each * series
        nominal_v = cells * cell_nominal_v
        capacity = each_ah * parallel
        return PackFigures(
            cells_series=cells,
            nominal_v=nominal_v,
            charge_v=cells * cell_v_charge,
            least_v=cells * cell_v_min,
            capacity_ah=capacity,
            nominal_wh=nominal_v * capacity,
            resistance_dc_ohm=each_dc_ohm * series / parallel,
            resistance_ac_ohm=each_ac_ohm * series / parallel,
            discharge_continuous_a=continuous_a * parallel,
            discharge_10s_a=peak_a * parallel,
            charge_continuous_a=charge_a * parallel,
        )

    return pack


def find_pair(context: Context, motor: str, controller: str) -> Pair | None:
    """The catalogue's row that says that these two work together."""
    for pair in context.catalog.pairs:
        if pair.motor == motor and pair.controller == controller:
            return pair
    return None


def resolve(context: Context, core: Core) -> Drive:
    """The core's parts. KeyError if the catalogue has no such part."""
    module = context.catalog.family("module")[core.module]
    return Drive(
        core=core,
        motor=context.catalog.family("motor")[core.motor],
        controller=context.catalog.family("controller")[core.controller],
        pair=find_pair(context, core.motor, core.controller),
        module=module,
        figures=pack_figures(module, core.series, core.parallel),
    )


def may_regenerate(context: Context, drive: Drive) -> bool:
    """Whether motor, controller, pair and the builder all allow regeneration."""
    return (
        context.project.choices.regeneration is not False
        and drive.motor.text("kind") != "series_dc"
        and drive.controller.flag("regeneration")
    )


def charge_return(drive: Drive) -> float:
    """Energy that the pack gives at its poles per energy that the charger put in there.

    Published round figures: iron phosphate 92 % there and back, flooded lead about 70 %.
    """
    return 0.92 if drive.lithium_or_sodium else 0.70


def interpolate(x: float, points: list[tuple[float, float]]) -> float:
    """Linear between points, flat beyond the ends."""
    if x <= points[0][0]:
        return points[0][1]
    for (x0, y0), (x1, y1) in pairwise(points):
        if x <= x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    return points[-1][1]


def rest_v(context: Context, drive: Drive, soc: float) -> float:
    """The pack's open-circuit voltage at a state of charge."""
    points = context.curve(drive.module.text("curve"))
    cell = interpolate(soc, [(point.state_of_charge, point.open_circuit_v) for point in points])
    return cell * drive.figures.cells_series
