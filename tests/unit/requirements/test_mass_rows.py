"""Mass limits as integer rows say the same as plain levers, to the gram and the millimetre."""

from __future__ import annotations

from fractions import Fraction
from random import Random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from oracle.small_cases import generic, project_fields

from bomplan.design.context import Context
from bomplan.project.records import Project, RangeTarget
from bomplan.requirements.evaluate import gas_gathers
from bomplan.requirements.loads import mass_rows
from bomplan.requirements.shown import ceiled, floored
from bomplan.requirements.simulated import wanted_m


def context(**house_rules: Any) -> Context:
    fields = project_fields(Random(3)) | {"house_rules": house_rules}
    fields["donor"] |= {
        "gross_limit_g": 1_000_000,
        "front_axle_limit_g": 560_000,
        "rear_axle_limit_g": 540_000,
    }
    return Context(Project.model_validate(fields), generic())


CONTEXT = context(minimum_front_share=0.45)


@given(st.integers(0, 500_000), st.integers(-600, 2_600))
def test_rows_agree_with_levers(added_g: int, x_mm: int) -> None:
    """One added mass at one place: front and rear load from the wheelbase by fractions."""
    moment, limits = added_g * x_mm, CONTEXT.limits
    for row in mass_rows(CONTEXT):
        load = CONTEXT.load(row.load_case)
        total = CONTEXT.base.mass_g + load.mass_g + added_g
        lever = CONTEXT.base.moment_gmm + load.moment_gmm + moment
        rear = Fraction(lever, CONTEXT.wheelbase_mm)
        front = total - rear
        wanted = {
            "mass": total <= limits.gross_g,
            "axle": front <= limits.front_g if ".front." in row.id else rear <= limits.rear_g,
            "share": front >= Fraction(45, 100) * total,
        }[row.id.split(".")[0]]
        assert (row.value(added_g, moment) <= row.limit) == wanted, row.id


def test_there_is_a_row_for_every_limit_and_load_case() -> None:
    ids = {row.id for row in mass_rows(CONTEXT)}
    kinds = ("mass.gross", "axle.front", "axle.rear", "share.front")
    assert ids == {f"{kind}.{load.name}" for kind in kinds for load in CONTEXT.loads}
    assert not any(row.id.startswith("share") for row in mass_rows(context()))


@pytest.mark.parametrize(
    ("value", "per_unit", "down", "up"),
    [
        (12.0, 1, 12, 12),
        (12.0 - 1e-9, 1, 12, 12),
        (12.0 + 1e-9, 1, 12, 12),
        (12.34, 10, 123, 124),
        (-3.0, 1, 0, 0),
        (float("inf"), 1, 10**9, 10**9),
        (float("nan"), 1, 0, 10**9),
    ],
)
def test_rounding_is_to_the_figures_own_disadvantage(
    value: float, per_unit: float, down: int, up: int
) -> None:
    assert floored(value, per_unit) == down
    assert ceiled(value, per_unit) == up


def test_the_range_wanted_is_rounded_up_to_the_metre() -> None:
    target = RangeTarget(
        name="round", distance_m=10_001, profile="ece-15", condition="mild", load_case="two"
    )

    def wanted(margin: float, target: RangeTarget = target) -> int:
        fields = project_fields(Random(3)) | {"margins": {"range": margin}}
        return wanted_m(Context(Project.model_validate(fields), generic()), target)

    assert wanted(0.0) == 10_001
    assert wanted(0.15) == 11_502
    assert wanted(0.15, target.model_copy(update={"distance_m": 20_000})) == 23_000


@pytest.mark.parametrize("module", ["lead-agm-12v-100", "lfp-module-8s-50"])
@pytest.mark.parametrize("inside", [True, False])
@pytest.mark.parametrize("vented", [True, False])
def test_gas_gathers_only_in_an_unvented_cabin(module: str, inside: bool, vented: bool) -> None:
    bay = CONTEXT.bays[0].model_copy(update={"inside_cabin": inside, "vented": vented})
    wanted = module.startswith("lead") and inside and not vented
    assert gas_gathers(bay, generic().part(module)) == wanted
