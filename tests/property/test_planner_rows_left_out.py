"""Rows that are left out of a core's model are in no bill that matters: against the plain model.

Random cores of the shipped examples, under limits of mass that just admit them and with cuts
near their cheapest bill.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import astuple
from functools import cache

import numpy as np
import pytest
from lanes import FULL, first_fast

from bomplan import api
from bomplan.design.bill import DesignCurrents
from bomplan.design.context import Context
from bomplan.design.currents import no_mean_current
from bomplan.design.drive import Drive
from bomplan.design.records import Couplers
from bomplan.planner.core_bounds import CoreBounds, ceiling_of
from bomplan.planner.core_search import bounds_of, checked_bill, least_couplers
from bomplan.planner.cuts import ANY, Box, Cut, boxes
from bomplan.planner.energy import EnergyScreen
from bomplan.planner.judge import Judge
from bomplan.planner.mass_bound import MassBound
from bomplan.planner.model import CoreModel, Solution
from bomplan.planner.options import NoOption, Options, find_options
from bomplan.planner.row_bounds import NEVER
from bomplan.planner.screen import Screened, drives, matching, packs
from bomplan.requirements.loads import mass_rows

EXAMPLES = ["garden-pickup", "camper-van", "courier-motorcycle"]


@cache
def context_of(example: str) -> Context:
    project = api.open_project(f"example:{example}").project
    return Context(project, api.load_catalog(project.catalogs))


def with_goal(context: Context, aim: str) -> Context:
    goal = context.project.goal.model_copy(update={"aim": aim})
    return Context(context.project.model_copy(update={"goal": goal}), context.catalog)


def random_cores(context: Context, seed: int) -> Iterator[tuple[Drive, DesignCurrents, Options]]:
    """Cores whose voltages fit and that every family has a row for, drawn over all of them."""
    rng, judge = np.random.default_rng(seed), Judge(context)
    rows, found = drives(context, Screened()), packs(context, Screened())
    screen = EnergyScreen(context, found)
    for _ in range(80):
        row = rows[int(rng.integers(len(rows)))]
        order = matching(row, found, 1 + context.project.margins.voltage)
        if not len(order):
            continue
        drive = screen.simulator(row, int(rng.choice(order))).drive
        core = drive.core
        capacity = tuple(
            min(core.series, context.layout(bay, drive.module).count // core.parallel)
            for bay in range(len(context.bays))
        )
        if sum(capacity) < core.series:
            continue
        currents = no_mean_current(context, drive)
        options = find_options(context, drive, currents, capacity, judge=judge)
        if not isinstance(options, NoOption):
            yield drive, currents, options


def tightened(context: Context, added_g: int) -> Context:
    """The same with a gross limit that leaves so much for everything that is added."""
    rows = [limit for limit in mass_rows(context) if limit.id.startswith("mass.gross")]
    donor, least = context.project.donor, max(limit.constant for limit in rows)
    # The plate is as much above the limit as the project's margin keeps.
    plate_g = (least + added_g) * donor.gross_limit_g // rows[0].limit
    lighter = donor.model_copy(update={"gross_limit_g": plate_g})
    return Context(context.project.model_copy(update={"donor": lighter}), context.catalog)


def assert_holds(
    context: Context,
    bounds: CoreBounds,
    core: tuple[Drive, DesignCurrents, Options],
    cuts: tuple[Cut, ...],
    found: Solution,
) -> int:
    """The bound is none too high, and the model of the rows that are left finds the same.

    Returns how many rows are left out.
    """
    drive, currents, options = core
    for ceiling in (found.figure, ceiling_of(found.figure, None)):
        assert bounds.ask(cuts, ceiling) <= found.figure
        kept = bounds.rows_within(found.figure)
        for family, rows in options.rows.items():
            places = [row.part.id for row in rows]
            assert kept[family][places.index(found.chosen[family].part.id)], family
    left = CoreModel(context, drive, currents, options, judge=Judge(context), kept=kept)
    left.add_cuts(cuts)
    again = left.solve(found.figure).solution
    assert again is not None
    assert (again.figure, again.price, again.added_g) == (
        found.figure,
        found.price,
        found.added_g,
    )
    # With nothing that cheap allowed, nothing may be claimed beyond what was not looked at.
    assert bounds.ask(cuts, found.figure - 1) <= found.figure
    return sum(int((~keep).sum()) for keep in kept.values())


@pytest.mark.parametrize("aim", first_fast(["least-cost", "least-mass"], 1))
@pytest.mark.parametrize("example", first_fast(EXAMPLES, 1))
def test_rows_left_out_are_in_no_bill_within_the_figure(example: str, aim: str) -> None:
    context, out, compared, lifted = with_goal(context_of(example), aim), 0, 0, 0
    for core in random_cores(context, 21):
        drive, currents, options = core
        free = CoreModel(context, drive, currents, options).solve().solution
        if free is None:
            continue
        for lighter_g in (0, 3_000, 9_000):
            tight = context if not lighter_g else tightened(context, free.added_g - lighter_g)
            found = CoreModel(tight, drive, currents, options).solve().solution
            bounds = bounds_of(tight, Judge(tight), drive, currents, options)
            if found is None:
                continue
            used = tuple(bay for bay, count in enumerate(found.rows) if count)
            assert MassBound(tight).may_stand(drive, options, used)
            plain = bounds.least
            out += assert_holds(tight, bounds, core, (), found)
            lifted += bounds.ask((), found.figure) > plain
            compared += 1
        if compared >= (12 if FULL else 3):
            break
    assert compared >= 3
    assert out > 50 * compared
    assert lifted or example == "courier-motorcycle" or aim == "least-mass"


@pytest.mark.parametrize("example", first_fast(EXAMPLES, 1))
def test_rows_left_out_after_failed_simulations_are_in_no_bill_within_the_figure(
    example: str,
) -> None:
    """Cuts about the cheapest bill: it is shut out, and what is left is bounded closely."""
    context, compared, closer, out = context_of(example), 0, 0, 0
    for core in random_cores(context, 22):
        drive, currents, options = core
        free = CoreModel(context, drive, currents, options).solve().solution
        if free is None:
            continue
        at = checked_bill(context, drive, currents, free).couplers
        least = least_couplers(context, drive, options)
        middle = (at.external_uohm + least.external_uohm) // 2
        cuts = (
            Cut(at.added_g - 2_000, middle, at.mean_12v_w),
            Cut(at.added_g - 200, at.external_uohm, least.mean_12v_w),
        )
        model = CoreModel(context, drive, currents, options)
        model.add_cuts(cuts)
        found = model.solve().solution
        if found is None:
            continue
        bounds = bounds_of(context, Judge(context), drive, currents, options)
        plain = bounds.least
        out += assert_holds(context, bounds, core, cuts, found)
        closer += bounds.ask(cuts, found.figure) > plain
        compared += 1
        if compared >= (8 if FULL else 3):
            break
    assert compared >= 3
    assert closer
    assert out > 10 * compared


def test_a_core_without_a_bill_is_told_so_or_left_open() -> None:
    """Limits that nothing keeps: never a bound on a bill that there is."""
    context, none = context_of("camper-van"), 0
    for drive, currents, options in random_cores(context, 23):
        least = least_couplers(context, drive, options)
        tight = tightened(context, least.added_g - 1_000)
        bounds = bounds_of(tight, Judge(tight), drive, currents, options)
        floor = bounds.least
        if bounds.ask((), ceiling_of(floor, None)) >= NEVER:
            none += 1
        assert CoreModel(tight, drive, currents, options).solve().solution is None
        if none >= 2:
            break
    assert none


def test_boxes_hold_what_no_cut_shuts_out_and_nothing_else() -> None:
    rng = np.random.default_rng(4)
    inside = outside = 0
    for _ in range(300 if FULL else 60):
        cuts = tuple(
            Cut(*(int(value) for value in rng.integers(0, 12, 3)))
            for _ in range(int(rng.integers(0, 5)))
        )
        least = Box(*(int(value) for value in rng.integers(0, 4, 3)))
        found = boxes(cuts, least)
        assert len(set(found)) == len(found)
        for _ in range(40):
            extra = [int(value) for value in rng.integers(0, 12, 3)]
            point = [a + b for a, b in zip(astuple(least), extra, strict=True)]
            allowed = all(
                point[0] <= cut.added_g
                or point[1] <= cut.external_uohm - 1
                or point[2] <= cut.mean_12v_w - 1
                for cut in cuts
            )
            held = any(
                all(a <= b for a, b in zip(point, astuple(box), strict=True)) for box in found
            )
            assert held == allowed
            inside, outside = inside + held, outside + (not held)
    assert inside > 100
    assert outside > 100
    assert boxes((), Box(0, 0, 0)) == (Box(ANY, ANY, ANY),)


def test_the_couplers_of_the_cheapest_choice_are_those_that_some_rows_have() -> None:
    context, compared = context_of("courier-motorcycle"), 0
    for drive, currents, options in random_cores(context, 24):
        bounds = bounds_of(context, Judge(context), drive, currents, options)
        bounds.ask((), ceiling_of(bounds.least, None))
        found, least = bounds.couplers(), least_couplers(context, drive, options)
        if found is None:
            continue
        assert isinstance(found, Couplers)
        assert found.added_g >= least.added_g
        assert found.external_uohm >= least.external_uohm
        assert found.mean_12v_w >= least.mean_12v_w
        compared += 1
        if compared >= 4:
            break
    assert compared >= 2
