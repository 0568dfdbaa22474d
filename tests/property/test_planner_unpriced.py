"""The rows that matter where no price does give a core the same lightest bill as all its rows.

Held against the plain way: the model of all rows, whatever they cost, with what failed simulations
may have taught.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from lanes import examples, first_fast

from benchmarks.grown import grown
from bomplan import api
from bomplan.design.context import Context
from bomplan.design.currents import no_mean_current
from bomplan.design.drive import Drive
from bomplan.planner.bounds import Leasts
from bomplan.planner.core_search import least_couplers
from bomplan.planner.cuts import Cut, Cuts
from bomplan.planner.energy import EnergyScreen
from bomplan.planner.judge import Judge
from bomplan.planner.model import CoreModel
from bomplan.planner.options import NoOption, Options, counted, find_options
from bomplan.planner.room import Wanting, room_for
from bomplan.planner.screen import Screened, drives, matching, packs
from bomplan.planner.unpriced import prices_matter, unpriced
from bomplan.project.goal import Goal


def drawn_cuts(rng: np.random.Generator, grams: int, least_uohm: int, watts: int) -> Cuts:
    """Less mass or less resistance, so near to the lightest bill that both are wanted."""
    return tuple(
        Cut(
            round(grams * (1 + float(rng.uniform(-0.01, 0.03)))),
            round(least_uohm * float(rng.uniform(0.9, 2.0))) + 1,
            watts,
        )
        for _ in range(2)
    )


def cores(
    context: Context, rng: np.random.Generator, number: int
) -> Iterator[tuple[Drive, tuple[int, ...]]]:
    """Cores whose voltages and rooms fit, drawn over all drives and packs, with their room."""
    rows, found = drives(context, Screened()), packs(context, Screened())
    screen = EnergyScreen(context, found)
    while number:
        row = rows[int(rng.integers(len(rows)))]
        order = matching(row, found, 1 + context.project.margins.voltage)
        if not len(order):
            continue
        drive = screen.simulator(row, int(rng.choice(order))).drive
        capacity = room_for(context, drive, Screened())
        if not isinstance(capacity, Wanting):
            number -= 1
            yield drive, capacity


@pytest.mark.parametrize(
    "example", first_fast(["courier-motorcycle", "garden-pickup", "camper-van"], 1)
)
def test_few_rows_have_the_lightest_bill_of_all(example: str) -> None:
    project = api.open_project(f"example:{example}").project
    project = project.model_copy(update={"goal": Goal(aim="least-mass")})
    catalog = grown(api.load_catalog(project.catalogs), 12, 5, 12)
    context = Context(project, catalog).without_budget()
    assert not prices_matter(context)
    judge, rng = Judge(context), np.random.default_rng(7)
    fewer = without = bills = 0
    for drive, capacity in cores(context, rng, examples(8, 40)):
        currents = no_mean_current(context, drive)
        options = find_options(context, drive, currents, capacity, judge=judge)
        if isinstance(options, NoOption):
            continue
        few = unpriced(context, judge, drive, currents, options)
        assert Leasts().of(few) == Leasts().of(counted(context, drive, options))
        fewer += sum(map(len, options.rows.values())) - sum(map(len, few.rows.values()))

        def lightest(some: Options, cuts: Cuts) -> int | None:
            model = CoreModel(context, drive, currents, some, False, judge)  # noqa: B023
            model.add_cuts(cuts)
            answer = model.solve()
            assert answer.solved
            return None if answer.solution is None else answer.solution.added_g

        plain = lightest(options, ())
        assert lightest(few, ()) == plain
        if plain is None:
            continue
        least = least_couplers(context, drive, options)
        for _ in range(2):
            cuts = drawn_cuts(rng, plain, least.external_uohm, least.mean_12v_w)
            found = lightest(options, cuts)
            assert lightest(few, cuts) == found, (drive.core, cuts)
            without += found is None
            bills += found is not None and found > plain
    assert fewer
    assert bills, "no cut made a bill heavier"
    assert without, "no cut left a core without a bill"
