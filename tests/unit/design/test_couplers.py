"""The simulation reads the core and three couplers of a plan, and nothing else."""

from __future__ import annotations

import inspect
from functools import cache

import pytest
from lanes import first_fast
from oracle.brute_force import Found, brute_force
from oracle.small_cases import Case, make_case

from bomplan.design.adapter import Simulator
from bomplan.design.context import Context
from bomplan.design.currents import design_currents
from bomplan.design.drive import resolve
from bomplan.design.records import Couplers
from bomplan.requirements.simulated import simulated, simulated_checks

SEED = 16


class Guarded:
    """Couplers that note which figure was read and allow no other."""

    def __init__(self, couplers: Couplers) -> None:
        self._couplers = couplers
        self.read: set[str] = set()

    def __getattr__(self, name: str) -> int:
        if name not in Couplers.model_fields:
            raise AssertionError(f"the simulation asks the plan for {name}")
        self.read.add(name)
        value: int = getattr(self._couplers, name)
        return value


@cache
def solved(seed: int = SEED) -> tuple[Case, Found]:
    case = make_case(seed)
    return case, brute_force(case.project, case.catalog)


def test_couplers_are_three_numbers() -> None:
    assert set(Couplers.model_fields) == {"added_g", "external_uohm", "mean_12v_w"}
    assert all(field.annotation is int for field in Couplers.model_fields.values())


def test_a_simulator_is_made_of_context_and_core() -> None:
    assert list(inspect.signature(Simulator.__init__).parameters) == ["self", "context", "drive"]


def test_every_simulated_check_reads_couplers_alone() -> None:
    case, found = solved()
    assert found.best is not None
    context = Context(case.project, case.catalog)
    guarded = Guarded(found.best.couplers)
    simulator = Simulator(context, resolve(context, found.best.core))
    checks = list(simulated_checks(simulator, guarded))  # type: ignore[arg-type]
    assert checks
    assert guarded.read == set(Couplers.model_fields)


def test_plans_of_equal_couplers_drive_alike_whatever_else_differs() -> None:
    """The simulator of the core alone, in a catalogue that has lost every other row."""
    case, found = solved()
    assert found.best is not None
    core = found.best.core
    kept = {core.motor, core.controller, core.module}
    bare = case.catalog.model_copy(
        update={
            "families": {
                family: {name: part for name, part in rows.items() if name in kept}
                for family, rows in case.catalog.families.items()
            },
            "offers": (),
        }
    )
    answers = []
    for catalog in (case.catalog, bare):
        context = Context(case.project, catalog)
        simulator = Simulator(context, resolve(context, core))
        answers.append(list(simulated_checks(simulator, found.best.couplers)))
    assert answers[0] == answers[1]


def test_design_currents_do_not_depend_on_the_plan() -> None:
    case, found = solved()
    assert found.best is not None
    context = Context(case.project, case.catalog)
    drive = resolve(context, found.best.core)
    fresh = design_currents(context, drive, Simulator(context, drive))
    used = Simulator(context, drive)
    list(simulated_checks(used, found.best.couplers))
    assert design_currents(context, drive, used) == fresh
    assert fresh.at_mass_g == context.reference_mass_g


@pytest.mark.parametrize(
    "worse", [{"added_g": 5_000}, {"external_uohm": 3_000}, {"mean_12v_w": 60}]
)
@pytest.mark.parametrize("seed", first_fast((SEED, 0, 1, 5, 15), 1))
def test_a_worse_coupler_never_helps_where_that_is_declared(
    seed: int, worse: dict[str, int]
) -> None:
    case, found = solved(seed)
    assert found.best is not None
    context = Context(case.project, case.catalog)
    simulator = Simulator(context, resolve(context, found.best.core))
    for requirement in simulated(simulator):
        if requirement.direction(simulator) != "worsens":
            continue
        couplers = found.best.couplers
        margin = requirement.check(simulator, couplers).margin
        for _ in range(4):
            couplers = couplers.model_copy(
                update={name: getattr(couplers, name) + step for name, step in worse.items()}
            )
            following = requirement.check(simulator, couplers).margin
            assert following <= margin
            margin = following
