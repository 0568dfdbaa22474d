"""Kilograms of modules held down, counted by the audit from placement and module mass alone."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from bomplan.audit.holds import hold_checks
from bomplan.design.records import BayUse, Check


def checks(kilograms: int | None, each_kg: float, *modules: int, parallel: int = 1) -> list[Check]:
    lines = [SimpleNamespace(family="module", unit_mass_kg=each_kg, quantity=sum(modules))]
    if kilograms is not None:
        lines.append(SimpleNamespace(family="hold_down", unit_mass_kg=0.1, quantity=kilograms))
    placement = [
        BayUse(bay=f"bay {number}", modules=count, series=count // parallel)
        for number, count in enumerate(modules)
    ]
    plan: Any = SimpleNamespace(
        placement=placement, lines=lines, core=SimpleNamespace(parallel=parallel)
    )
    return list(hold_checks(plan))


@pytest.mark.parametrize(
    ("each_kg", "modules", "kilograms"),
    [
        (1.35, (72,), 98),
        (1.35, (20, 52), 98),  # 27 and 70.2 kg
        (1.35, (36, 36), 98),  # 48.6 kg twice
        (12.8, (3, 9), 155),
        (0.1, (30,), 3),  # three kilograms exactly, though 0.1 is no binary fraction
        (1.1, (10,), 11),
        (4.1, (90,), 369),
    ],
)
def test_each_bay_is_rounded_up_once(
    each_kg: float, modules: tuple[int, ...], kilograms: int
) -> None:
    for counted in (kilograms - 1, kilograms, kilograms + 1):
        (check,) = checks(counted, each_kg, *modules)
        assert check.id == "audit.hold-down"
        assert check.passed == (counted == kilograms)
        assert f"for {counted} kg of modules, {kilograms} kg stand" in check.words
        assert bool(check.caution) == (counted < kilograms)


def test_what_every_module_rounded_up_comes_to_is_found() -> None:
    (check,) = checks(144, 1.35, 72)
    assert not check.passed
    assert check.words.endswith("98 kg stand in the bays")


def test_modules_in_parallel_stand_in_the_same_bay() -> None:
    (check,) = checks(155, 12.8, 3, 9, parallel=3)
    assert check.passed


def test_a_plan_without_either_line_is_told_elsewhere() -> None:
    assert checks(None, 1.35, 72) == []
