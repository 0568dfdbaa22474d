"""Cores that fall to axles and plates by pack and drive alone fall with every family fitted."""

from __future__ import annotations

import pytest
from lanes import FULL
from shipped_examples import generic, project_of

from bomplan.design.context import Context
from bomplan.outlook.levers import levers
from bomplan.planner.energy import EnergyScreen
from bomplan.planner.goals import arranged
from bomplan.planner.heavy import Heavy
from bomplan.planner.mass_bound import MassBound
from bomplan.planner.screen import Screened, drives, matching, packs
from bomplan.planner.walk import Walk
from bomplan.project.records import Project

CASES = [("courier-motorcycle", 20), ("garden-pickup", 400), ("camper-van", 2000)]


def tight(name: str, steps: int) -> Project:
    """The example with each axle and the plate lower by so many tenths of what is asked."""
    project = project_of(name)
    for lever in levers(project):
        if lever.id in ("mass.gross", "axle.front", "axle.rear"):
            project = lever.at(project, lever.amount * (10 - steps) // 10)
    return project


@pytest.mark.parametrize(("name", "every"), CASES if FULL else CASES[:1])
def test_what_is_too_heavy_by_itself_is_too_heavy_with_the_rest(name: str, every: int) -> None:
    fell = stood = 0
    for steps in (0, 1, 2):
        context = Context(tight(name, steps), generic())
        walk = Walk(context)
        walk._drives = drives(context, Screened())
        found = packs(context, Screened())
        walk._packs, walk._pack_keys = arranged(found, walk.goal.of_packs(found))
        walk._drive_keys = [walk.goal.of_drive(row) for row in walk._drives]
        walk._energy = EnergyScreen(context, walk._packs)
        walk._rest = {side: walk.goal.rest(side) for side in ("pack", "drive", "currents")}
        heavy, bound = Heavy(context), MassBound(context)
        for number, row in list(enumerate(walk._drives))[::11]:
            order = matching(row, walk._packs, 1 + context.project.margins.voltage)
            if not len(order) or not walk._judge_drive(number, int(order[0])):
                continue
            for pack in order[:: max(1, every // 4)].tolist():
                sides = walk._sides_of(number, pack)
                drive = walk._drive(number, pack)
                capacity = walk._capacity(drive, 0)
                if sides is None or isinstance(capacity, str):
                    continue
                held = walk._held(drive, pack, capacity, sides[0])
                if not hasattr(held, "group"):
                    continue
                whole = walk._sides.whole(drive, capacity, sides, held)  # type: ignore[arg-type]
                if not isinstance(whole, tuple):
                    continue
                options = whole[0]
                sets = walk._bill.bay_sets(drive, capacity)
                may = any(not bays or bound.may_stand(drive, options, bays) for bays in sets)
                if heavy.may_stand(pack, drive, capacity, sides[0].group):
                    stood += may
                else:
                    fell += 1
                    assert not may, (name, steps, drive.core)
    assert fell
    assert stood
