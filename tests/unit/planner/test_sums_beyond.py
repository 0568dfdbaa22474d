"""Money that the solver's integers do not hold is told in words."""

from __future__ import annotations

import pytest
from oracle.small_cases import make_case

from bomplan.errors import InputError
from bomplan.planner import find_plan


@pytest.mark.parametrize("times", [10**6, 10**7, 10**8, 10**9, 10**12])
def test_prices_of_a_mistyped_rate_are_refused_in_words(times: int) -> None:
    case = make_case(8)
    foreign = "TRY"
    rates = {code: rate * times for code, rate in case.project.rates.items()}
    rates[case.project.currency] = float(times)
    project = case.project.model_copy(update={"currency": foreign, "rates": rates})
    with pytest.raises(InputError, match=r"money\.too-large"):
        find_plan(project, case.catalog)


def test_prices_that_the_solver_counts_give_the_plan() -> None:
    case = make_case(8)
    rates = {case.project.currency: 1000.0}
    project = case.project.model_copy(update={"currency": "TRY", "rates": rates})
    plain = find_plan(case.project, case.catalog, standings=False)
    found = find_plan(project, case.catalog, standings=False)
    assert plain.objective.value is not None
    assert found.objective.value == 1000 * plain.objective.value
    assert found.core == plain.core


@pytest.mark.parametrize("aim", ["least-cost", "least-mass"])
def test_no_price_however_large_is_taken_for_a_part_that_nobody_delivers(aim: str) -> None:
    case = make_case(0)
    goal = case.project.goal.model_copy(update={"aim": aim})
    project, least = case.project.model_copy(update={"goal": goal}), None
    told: list[tuple[int, str]] = []
    for power in range(13):
        families = {
            family: {
                name: part.model_copy(update={"price": part.price * 10**power})
                for name, part in parts.items()
            }
            for family, parts in case.catalog.families.items()
        }
        catalog = case.catalog.model_copy(update={"families": families})
        try:
            plan = find_plan(project, catalog, standings=False)
        except InputError as error:
            told.append((power, error.faults[0].code))
            continue
        assert plan.status == "optimal"
        least = least or plan.lines
        assert [line.part for line in plan.lines] == [line.part for line in least]
    assert {code for _, code in told} == {"money.too-large"}
    assert min(power for power, _ in told) > 5
