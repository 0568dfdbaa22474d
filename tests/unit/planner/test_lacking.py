"""Packs for which a family has no row fall alone, and never one that some core could have."""

from __future__ import annotations

import numpy as np
import pytest
from lanes import FULL
from shipped_examples import generic, project_of

from bomplan.catalog.records import Catalog
from bomplan.design.bill import RULES
from bomplan.design.context import Context
from bomplan.design.currents import no_mean_current
from bomplan.design.drive import Drive, pack_figures
from bomplan.outlook.mending import with_figure
from bomplan.outlook.needed import with_parts
from bomplan.planner import find_any
from bomplan.planner.judge import Judge
from bomplan.planner.lacking import Lacking
from bomplan.planner.screen import Screened, core_of, drives, packs

PROJECT = project_of("courier-motorcycle")
# A family, the column that its rows are cut down in, and to what.
WEAK = [("contactor", "v_max", 90.0), ("cable", "v_rating", 95.0), ("fuse", "v_dc", 92.0)]


def weakened(family: str, column: str, most: float) -> Catalog:
    rows = generic().family(family).values()
    return with_parts(
        generic(), [with_figure(row, column, min(most, row.number(column))) for row in rows]
    )


@pytest.mark.parametrize(("family", "column", "most"), WEAK if FULL else WEAK[:2])
def test_a_pack_falls_alone_only_where_it_falls_with_every_drive(
    family: str, column: str, most: float
) -> None:
    context = Context(PROJECT, weakened(family, column, most))
    seen = Screened()
    rows, found = drives(context, seen)[::7], packs(context, seen)
    lacking, judge = Lacking(context, Judge(context), len(found.rows)), Judge(context)
    rule = next(rule for rule in RULES if rule.family == family)

    def core(row: int, pack: int) -> Drive:
        module, series, parallel, _ = found.rows[pack]
        figures = pack_figures(module, series, parallel)
        one = rows[row]
        return Drive(
            core_of(one, found, pack), one.motor, one.controller, one.pair, module, figures
        )

    some = range(0, len(found.rows), 1 if FULL else 5)
    assert all(lacking.of(pack, lambda pack: core(0, pack)) is None for pack in some), (
        "not suspected yet"
    )
    lacking.suspect(family)
    lacking.suspect("motor")  # not a family that could lack a row for a pack
    fell = stood = 0
    for pack in some:
        missing = lacking.of(pack, lambda pack: core(0, pack))
        suits = any(
            judge.suiting(rule, drive, no_mean_current(context, drive)).parts
            for drive in (core(row, pack) for row in range(len(rows)))
        )
        if missing is None:
            stood += suits
            continue
        fell += 1
        assert not suits
        assert missing.family == family
        assert missing.nearest is not None
        assert not missing.nearest.passed
    assert fell
    assert stood
    kept, missing = lacking.having(np.array(some), lambda pack: core(0, pack))
    assert kept.tolist() == [
        pack for pack in some if lacking.of(pack, lambda pack: core(0, pack)) is None
    ]
    assert sum(missing.values()) == fell


def test_a_search_without_contactors_tells_how_near_the_nearest_pack_comes() -> None:
    plan = find_any(PROJECT, weakened("contactor", "v_max", 30.0))
    assert plan.status == "none"
    reason = next(one for one in plan.reasons if "contactor" in one)
    # 66 V nominal is the least that the project takes: 21 cells of 3.65 V, with 5 % on top.
    assert "30 V, at least 80.5" in reason
    assert plan.search.solved == plan.search.simulated == 0
