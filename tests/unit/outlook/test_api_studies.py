"""The studies from Python are those of the commands."""

from __future__ import annotations

import pytest
from shipped_examples import plan_of, with_core

from bomplan import api

PROJECT = with_core("courier-motorcycle")


def test_binds_asks_about_the_levers_that_are_named() -> None:
    found = api.binds(PROJECT, ["budget"])
    assert found.chosen.price == plan_of("courier-motorcycle").objective.value
    (one,) = found.bindings
    assert one.lever == "budget"
    assert one.harder.outcome == "plan"
    assert one.harder.price_change == 0
    with pytest.raises(ValueError, match="is no target or limit; there are: range"):
        api.binds(PROJECT, ["budgte"])


def test_alternatives_within_nothing_is_the_plan_alone() -> None:
    found = api.alternatives(PROJECT, within=0.0)
    assert found.others == ()
    assert found.chosen.price == plan_of("courier-motorcycle").objective.value


def test_a_front_begins_with_the_cheapest_plan() -> None:
    found = api.front(PROJECT, "mass", most=2, apart=40.0)
    assert found.points[0].plan.price == plan_of("courier-motorcycle").objective.value
    with pytest.raises(ValueError, match="is no range target"):
        api.front(PROJECT, target="nowhere")


def test_a_project_with_a_plan_does_not_clash() -> None:
    assert api.clash(PROJECT).possible
