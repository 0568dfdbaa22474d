"""Which cores there are, which cannot work by their parts alone, and the rest by price.

Packs (module, series, parallel, topology) and drives (motor, controller, final ratio) are
screened apart; only their voltage windows and energy meet here, on arrays. Every rejection
is counted under the requirement that made it.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from bomplan.catalog.records import Pair, Part
from bomplan.design.battery_setting import named_settings, pack_limit_a
from bomplan.design.bill.fits import motor_fits
from bomplan.design.context import Context
from bomplan.design.drive import Drive, PackFigures, find_pair, pack_figures, packs_of
from bomplan.design.records import Check, Core, Topology
from bomplan.planner.countable import must_be_countable
from bomplan.requirements.core import (
    controller_voltages,
    core_checks,
    module_guards,
    mounting,
    must_be_strings,
    over_speed_voltage,
    pairing,
    project_voltages,
    regeneration,
    regeneration_controller,
)
from bomplan.requirements.people import section_check


@dataclass(frozen=True)
class Packs:
    """Every pack that its bays and its modules' own limits admit, cheapest first."""

    rows: tuple[tuple[Part, int, int, Topology], ...]
    price: npt.NDArray[np.int64]
    charge_v: npt.NDArray[np.float64]
    nominal_v: npt.NDArray[np.float64]
    energy_wh: npt.NDArray[np.float64]
    limit_a: npt.NDArray[np.int64]
    mass_g: npt.NDArray[np.int64]


@dataclass(frozen=True)
class DriveRow:
    """A motor with a controller and a final ratio, and the least that both cost.

    ``named_a`` is the battery current that the project names for it, ``lower_a`` the next one
    below: a pack that allows no more than that one is no new core with this.
    """

    motor: Part
    controller: Part
    pair: Pair | None
    ratio: float
    price: int
    named_a: int | None = None
    lower_a: int | None = None

    @property
    def own_g(self) -> int:
        """What motor and controller weigh."""
        return self.motor.mass_g + self.controller.mass_g


@dataclass
class Screened:
    """What the screen saw: counts by requirement, and the closest value of each."""

    cores: int = 0
    rejected: Counter[str] = field(default_factory=Counter)
    examples: dict[str, Check] = field(default_factory=dict)

    def count(self, name: str, number: int = 1) -> None:
        if number:
            self.rejected[name] += number

    def keep(self, check: Check | None, name: str = "") -> None:
        """Remember the failed check that came closest to its limit, by its id or ``name``."""
        if check is None:
            return
        name = name or check.id
        known = self.examples.get(name)
        if known is None or check.margin > known.margin:
            self.examples[name] = check


def least_part_price(context: Context, part: Part, quantity: int) -> int | None:
    """The least price of this many after those at hand; None if nobody sells it."""
    needed = max(0, quantity - context.project.choices.owned.get(part.id, 0))
    if needed == 0 and not context.prices.sources(part):
        return None
    return context.envelope.least(part, needed)


def admitted(context: Context, family: str, locked: str | None) -> list[Part]:
    """The rows of a main family that the builder's choices leave, by id."""
    excluded = context.project.choices.excluded
    rows = context.catalog.family(family)
    return [
        rows[part_id]
        for part_id in sorted(rows)
        if (part_id == locked if locked else part_id not in excluded)
    ]


def drives(context: Context, seen: Screened) -> list[DriveRow]:
    """Every motor with every controller that it is paired with, by price then ids."""
    choices, donor = context.project.choices, context.project.donor
    controllers = {part.id: part for part in admitted(context, "controller", choices.controller)}
    found: list[DriveRow] = []
    pairs: dict[str, dict[str, Pair]] = {}
    for pair in reversed(context.catalog.pairs):
        pairs.setdefault(pair.motor, {})[pair.controller] = pair
    for motor in admitted(context, "motor", choices.motor):
        if motor.text("mount") not in donor.driveline.mounts:
            seen.count("motor.mount")
            continue
        unfit = next((one for one in motor_fits(context, motor) if not one.passed), None)
        if unfit is not None:
            seen.count(unfit.id)
            seen.keep(unfit)
            continue
        known = pairs.get(motor.id, {})
        partners = set(known)
        if choices.allow_unpaired and motor.text("kind") == "series_dc":
            partners |= set(controllers)
        named = {choices.controller} if choices.controller else set()
        for controller_id in sorted((partners | named) & set(controllers)):
            controller = controllers[controller_id]
            if controller_id not in known and motor.text("kind") != "series_dc":
                # Only a pair says what such a motor gives: nothing else can be asked of it.
                for check in pairing(context, motor, controller, None):
                    if not check.passed:
                        seen.count(check.id)
                        seen.keep(check)
                        break
                continue
            motor_price = least_part_price(context, motor, 1)
            controller_price = least_part_price(context, controller, 1)
            if motor_price is None or controller_price is None:
                seen.count("supplier")
                continue
            ratios = (1.0,) if motor.text("mount") == "axle" else donor.driveline.final_ratios
            found += [
                DriveRow(
                    motor,
                    controller,
                    known.get(controller_id),
                    ratio,
                    motor_price + controller_price,
                    named_a,
                    lower_a,
                )
                for ratio in ratios
                for lower_a, named_a in pairwise((None, *named_settings(context)))
            ]
    if found:
        must_be_countable(min(row.price for row in found), context.project)
    return sorted(
        found,
        key=lambda row: (
            row.price,
            row.motor.id,
            row.controller.id,
            row.ratio,
            row.named_a or 0,
        ),
    )


def packs(context: Context, seen: Screened) -> Packs:
    """Every pack within its modules' guards, the project's voltages and the bays' room."""
    targets = context.project.targets
    margin = 1 + context.project.margins.voltage
    highest = targets.pack_voltage_max_v
    found: list[tuple[int, Part, int, int, Topology, PackFigures]] = []
    choices = context.project.choices
    for module in admitted(context, "module", choices.module):
        if choices.chemistries and module.text("chemistry") not in choices.chemistries:
            continue
        cells = module.number("cells_series")
        room = sum(context.rows_at_most(bay, module, 1) for bay in range(len(context.bays)))
        most_series = int(highest / (cells * module.number("cell_v_charge")) + 1e-9)
        series_range = [choices.series] if choices.series else range(1, max(most_series, 0) + 1)
        parallel_range = (
            [choices.parallel] if choices.parallel else range(1, choices.parallel_max + 1)
        )
        within_guards, figures_of = _guards(module), packs_of(module)
        prices: dict[int, int | None] = {}
        for parallel in parallel_range:
            for topology in topologies(module, parallel, choices.topology):
                for series in series_range:
                    if series * parallel > room:
                        seen.count("bay.room")
                        continue
                    if not within_guards(series, parallel):
                        seen.count("module.guards")
                        continue
                    figures = figures_of(series, parallel)
                    if figures.nominal_v < targets.pack_voltage_min_v:
                        seen.count("voltage.project-least")
                        continue
                    if figures.charge_v < targets.charged_voltage_min_v:
                        seen.count("voltage.project-charged-least")
                        continue
                    pieces = series * parallel
                    if pieces not in prices:
                        prices[pieces] = least_part_price(context, module, pieces)
                    price = prices[pieces]
                    if price is None:
                        seen.count("supplier")
                        continue
                    found.append((price, module, series, parallel, topology, figures))
    found.sort(key=lambda row: (row[0], row[1].id, row[2], row[3], row[4]))
    if found:
        must_be_countable(found[0][0], context.project)
    return Packs(
        rows=tuple((module, s, p, topology) for _, module, s, p, topology, _ in found),
        price=np.array([row[0] for row in found], dtype=np.int64),
        charge_v=np.array([row[5].charge_v * margin for row in found]),
        nominal_v=np.array([row[5].nominal_v for row in found]),
        energy_wh=np.array([row[5].nominal_wh for row in found]),
        limit_a=np.array(
            [min(pack_limit_a(context, row[1], row[5]).values()) for row in found], dtype=np.int64
        ),
        mass_g=np.array([row[1].mass_g * row[2] * row[3] for row in found], dtype=np.int64),
    )


def topologies(module: Part, parallel: int, locked: Topology | None) -> tuple[Topology, ...]:
    """Single cells go in groups; whole modules may also go in strings; some only in those."""
    if locked is not None:
        return (locked,)
    if parallel == 1:
        return ("groups",)
    if must_be_strings(module):
        return ("strings",)
    return ("groups",) if module.number("cells_series") == 1 else ("groups", "strings")


def matching(row: DriveRow, found: Packs, margin: float) -> npt.NDArray[np.int64]:
    """Indices of the packs whose voltages suit this drive, cheapest first."""
    fits = found.charge_v <= row.controller.number("v_max_abs")
    fits &= found.nominal_v >= row.controller.number("v_min") * margin
    if row.pair is not None:
        fits &= (found.nominal_v >= row.pair.v_min) & (found.nominal_v <= row.pair.v_max)
    if row.lower_a is not None:
        fits &= found.limit_a > row.lower_a
        fits &= row.lower_a < row.controller.number("battery_a_max")
    return np.flatnonzero(fits)


def unbarred(
    barred: frozenset[tuple[str, str]],
    row: DriveRow,
    found: Packs,
    order: npt.NDArray[np.int64],
) -> npt.NDArray[np.int64]:
    """The packs of an order whose modules are not ``barred`` beside this drive's motor."""
    modules = {module for other, module in barred if other == row.motor.id}
    if not modules:
        return order
    keep = [found.rows[pack][0].id not in modules for pack in order.tolist()]
    kept: npt.NDArray[np.int64] = order[np.array(keep, dtype=bool)]
    return kept


def first_failed(context: Context, drive: Drive, seen: Screened) -> Check | None:
    """The first closed-form check that a core fails, remembered with its figure."""
    for check in core_checks(context, drive):
        if not check.passed:
            seen.keep(check)
            return check
    return None


def set_a(row: DriveRow, limit_a: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """What the row's controller is set to with packs of these limits, in A."""
    own = math.floor(row.controller.number("battery_a_max"))
    return np.minimum(limit_a, own if row.named_a is None else min(own, row.named_a))


def core_of(row: DriveRow, found: Packs, pack: int) -> Core:
    """The core that a drive and a pack make."""
    module, series, parallel, topology = found.rows[pack]
    return Core(
        motor=row.motor.id,
        controller=row.controller.id,
        final_ratio=row.ratio,
        module=module.id,
        series=series,
        parallel=parallel,
        topology=topology,
        battery_a=int(set_a(row, found.limit_a[pack])),
    )


def named_refusals(context: Context) -> Iterator[Check]:
    """The checks that fail for what the builder has fixed, whatever else is chosen.

    Each check reads only fixed choices: the module with its number in series, the motor with
    the controller, the controller with the pack, the motor with the wish for regeneration.
    """
    choices, catalog = context.project.choices, context.catalog
    motor = catalog.family("motor").get(choices.motor or "")
    controller = catalog.family("controller").get(choices.controller or "")
    module = catalog.family("module").get(choices.module or "")
    checks: list[Check] = []
    if motor is not None:
        checks += mounting(context, motor)
        checks += motor_fits(context, motor)
        checks += regeneration(context, motor)
    if controller is not None:
        checks += regeneration_controller(context, controller)
    if motor is not None and controller is not None:
        checks += pairing(context, motor, controller, find_pair(context, motor.id, controller.id))
        checks += over_speed_voltage(motor, controller)
    if module is not None and choices.series:
        parallel = choices.parallel or 1
        figures = pack_figures(module, choices.series, parallel)
        topology = topologies(module, parallel, choices.topology)[0]
        checks += module_guards(module, choices.series, parallel, topology, figures)
        checks += project_voltages(context, figures)
        checks.append(section_check(context, module))
        if controller is not None:
            checks += controller_voltages(context, controller, module, figures)
    yield from (check for check in checks if not check.passed)


def _guards(module: Part) -> Callable[[int, int], bool]:
    """Whether so many in series and parallel are within the module's own limits."""
    most_series = module.number_or("max_series", math.inf)
    most_parallel = module.number_or("max_parallel", math.inf)
    most_v = module.number_or("max_system_v", math.inf)
    cells, cell_v = module.number("cells_series"), module.number("cell_v_charge")

    def within(series: int, parallel: int) -> bool:
        if series > most_series or parallel > most_parallel:
            return False
        return cells * series * cell_v <= most_v

    return within
