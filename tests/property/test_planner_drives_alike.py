"""What drives that drive alike share is never more than what one of them comes to by itself.

Held against the plain way: packs driven with each drive, bounds found for each drive apart.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import fields
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
import pytest
from lanes import first_fast

from benchmarks.grown import grown
from bomplan import api
from bomplan.design.adapter import Simulator
from bomplan.design.assemble import joints_uohm
from bomplan.design.context import Context
from bomplan.design.currents import design_currents
from bomplan.design.records import Couplers
from bomplan.planner.core_search import falls_short
from bomplan.planner.energy import EnergyScreen
from bomplan.planner.kinds_of_drives import Kinds
from bomplan.planner.screen import DriveRow, Screened, drives, matching, packs
from bomplan.planner.spread import open_here
from bomplan.planner.walk import Walk
from bomplan.requirements.sustained import sustained_checks

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

EXAMPLES = ("courier-motorcycle", "garden-pickup")


@cache
def context_of(example: str) -> Context:
    project = api.open_project(f"example:{example}").project
    catalog = grown(api.load_catalog(project.catalogs), rows=60, seed=4)
    return Context(project, catalog)


def kin_of(context: Context) -> list[list[DriveRow]]:
    """Drives that drive alike, several of them together."""
    kinds, found = Kinds(), dict[tuple[object, ...], list[DriveRow]]()
    for row in drives(context, Screened()):
        found.setdefault(kinds.of_drive(row), []).append(row)
    return [rows for rows in found.values() if len(rows) > 1]


def figures(record: DataclassInstance) -> list[tuple[str, object]]:
    """What a record says, its arrays as bytes."""
    found = [(one.name, getattr(record, one.name)) for one in fields(record)]
    return [(name, one.tobytes() if isinstance(one, np.ndarray) else one) for name, one in found]


@pytest.mark.parametrize("example", first_fast(EXAMPLES, 1))
def test_drives_of_one_kind_are_one_to_the_physics(example: str) -> None:
    context = context_of(example)
    found, margin = packs(context, Screened()), 1 + context.project.margins.voltage
    screen = EnergyScreen(context, found)
    compared = 0
    for rows in kin_of(context):
        fits = [matching(row, found, margin) for row in rows]
        assert all(np.array_equal(fits[0], one) for one in fits[1:])
        if not len(fits[0]):
            continue
        pack = int(fits[0][len(fits[0]) // 2])
        first, *others = [screen.simulator(row, pack) for row in rows]
        for other in others:
            assert figures(other.machine) == figures(first.machine)
            assert other.controller == first.controller
            for target in context.project.targets.range:
                condition = context.condition(target.condition)
                line = other.system(condition, target.load_case).driveline
                assert line == first.system(condition, target.load_case).driveline
            compared += 1
    assert compared > 20


@pytest.mark.parametrize("example", first_fast(EXAMPLES, 1))
def test_what_falls_for_all_that_drive_alike_fails_in_the_simulation(example: str) -> None:
    context, rng = context_of(example), np.random.default_rng(8)
    rows, found = drives(context, Screened()), packs(context, Screened())
    screen = EnergyScreen(context, found, rows)
    several = [id(row) for kin in kin_of(context) for row in kin]
    outcomes = Counter[tuple[bool, bool]]()
    shared = 0
    for number in rng.permutation(len(rows))[:14]:
        row = rows[number]
        kin = screen.beside(row)
        if not len(kin.fits):
            continue
        assert np.array_equal(kin.fits, matching(row, found, 1 + context.project.margins.voltage))
        energy = kin.of(row)
        at_all = energy.may_at_all(kin.fits[kin.may[kin.fits]])
        energy.arrange(at_all)
        kept = energy.keep(0, len(at_all))
        # A pack asked before, beside another drive of the kind, is told the same.
        again = kin.of(row)
        again.arrange(at_all)
        assert np.array_equal(again.keep(0, len(at_all)), kept)
        assert again.overloads == energy.overloads
        shared += row.motor.id != kin.energy.simulator(int(kin.fits[0])).drive.motor.id
        apart = screen.of(row, kin.fits)
        alone = apart.may_at_all(kin.fits)
        # Nothing is lost beside the lightest that the drive's own floor would keep.
        assert set(at_all.tolist()) == set(alone.tolist())
        fell = np.setdiff1d(kin.fits, kept)
        for pack in [*rng.permutation(fell)[:6].tolist(), *rng.permutation(kept)[:6].tolist()]:
            simulator = Simulator(context, screen.simulator(row, pack).drive)
            least = Couplers(
                added_g=int(screen.added_g(row, np.array([pack]))[0]),
                external_uohm=joints_uohm(context, simulator.drive),
                mean_12v_w=round(context.project.donor.load_12v_w),
            )
            may = pack in kept and energy.may_reach(pack, least, ())
            if pack in energy.overloads:
                currents = design_currents(context, simulator.drive, simulator)
                checks = sustained_checks(context, simulator.drive, currents)
                assert energy.overload in {one.id for one in checks if not one.passed}
                continue
            short, _ = falls_short(simulator, least, Counter())
            outcomes[bool(may), short is None] += 1
    assert len(several) > 40
    assert shared > 3
    assert outcomes[False, True] == 0
    assert outcomes[False, False] > 20
    assert outcomes[True, True] > 3


def test_the_least_share_of_drives_alike_bounds_the_keys_of_each() -> None:
    context = context_of("courier-motorcycle")
    walk = Walk(context)
    walk.run(open_here(context, walk.judge))
    walk._queues.clear()  # so that each is asked from its start
    compared = 0
    for number, (order, _) in walk._orders.items():
        first = walk._shares.least(walk._energy.beside(walk._drives[number]))
        key = walk._queue(number, order).next_key(Screened())
        assert first is not None
        if key is not None:
            assert walk._drives[number].price + first <= key
            compared += 1
    assert compared > 10
