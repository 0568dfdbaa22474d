"""A single core is found, and has a plan, exactly where it is and has among all others."""

from __future__ import annotations

import pytest
from lanes import FULL, first_fast
from oracle.small_cases import make_case
from shipped_examples import generic, project_of

from bomplan.design.context import Context
from bomplan.design.records import Core
from bomplan.outlook.clash import TURNING
from bomplan.outlook.levers import levers
from bomplan.planner import find_any
from bomplan.planner.screen import Packs, Screened, core_of, drives, matching, packs
from bomplan.planner.single import drives_and_packs
from bomplan.project.records import Choices, Project


def row_of(found: Packs, at: int) -> tuple[object, ...]:
    """All that is told of a pack."""
    figures = (found.price, found.charge_v, found.nominal_v, found.energy_wh)
    module, *others = found.rows[at]
    told = [one[at] for one in (*figures, found.limit_a, found.mass_g)]
    return (module.id, *others, *told)


def some_cores(context: Context, every: int) -> list[Core]:
    """Cores from all over the catalogue."""
    found, cores = packs(context, Screened()), []
    for row in drives(context, Screened()):
        fits = matching(row, found, 1 + context.project.margins.voltage)
        cores += [core_of(row, found, pack) for pack in fits.tolist()]
    return cores[::every]


@pytest.mark.parametrize("name", first_fast(["courier-motorcycle", "garden-pickup"], 1))
def test_a_core_by_itself_has_the_figures_that_it_has_among_all(name: str) -> None:
    context = Context(project_of(name), generic())
    rows, found = drives_and_packs(context, Screened())
    known = {row_of(found, at) for at in range(len(found.rows))}
    for core in some_cores(context, 97 if FULL else 997):
        own_rows, own = drives_and_packs(context, Screened(), core)
        assert len(own.rows) == 1
        assert row_of(own, 0) in known
        assert [row for row in rows if row in own_rows] == own_rows
        assert core in [core_of(row, own, 0) for row in own_rows]


def named(project: Project, core: Core) -> Project:
    """The project of a builder who has chosen this core."""
    names = ("motor", "controller", "module", "series", "parallel", "topology")
    chosen = {name: getattr(core, name) for name in names}
    chosen["battery_current_a"] = (core.battery_a,)
    choices = project.choices.model_copy(update=chosen)
    ratios = {"final_ratios": (core.final_ratio,)}
    line = project.donor.driveline.model_copy(update=ratios)
    donor = project.donor.model_copy(update={"driveline": line})
    return project.model_copy(update={"choices": choices, "donor": donor})


@pytest.mark.parametrize("seed", first_fast([5, 16, 21], 1))
def test_one_core_has_a_plan_where_its_builder_would_have_one(seed: int) -> None:
    case, told = make_case(seed), set()
    context = Context(case.project, case.catalog)
    eased = [lever for lever in levers(case.project) if not lever.id.startswith(TURNING[-1])]
    loose = case.project
    for lever in eased:
        loose = lever.lifted(loose)
    for project in (case.project, loose):
        for core in some_cores(context, 1 if FULL else 3):
            alone = find_any(project, case.catalog, only=core)
            chosen = find_any(named(project, core), case.catalog)
            assert (alone.core is None) == (chosen.core is None), core
            assert alone.status == chosen.status
            if alone.core is not None:
                assert alone.core == core
                assert alone.objective == chosen.objective
            told.add(alone.core is None)
    assert told == {True, False}


def test_what_the_builder_leaves_out_stays_out() -> None:
    context = Context(project_of("courier-motorcycle"), generic())
    core = some_cores(context, 997)[1]

    def found(**changed: object) -> bool:
        choices = context.project.choices.model_copy(update=changed)
        project = context.project.model_copy(update={"choices": choices})
        rows, own = drives_and_packs(Context(project, context.catalog), Screened(), core)
        return bool(rows) and bool(len(own.rows))

    assert found()
    assert found(motor=core.motor, module=core.module, excluded=(core.motor,))
    assert not found(excluded=(core.motor,))
    assert not found(excluded=(core.module,))
    assert not found(controller="another")
    assert not found(series=core.series + 1)
    assert not found(parallel_max=core.parallel - 1)
    assert Choices().parallel_max >= core.parallel
