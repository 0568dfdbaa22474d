"""Levers: amounts in whole grains that ask no less than the project does."""

from __future__ import annotations

import pytest
from shipped_examples import project_of

from bomplan.outlook.levers import Lever, levers
from bomplan.project.records import Project


def project_with(speed_m_s: float, grade: float, within_s: float) -> Project:
    loaded = project_of("garden-pickup")
    targets = loaded.targets
    changed = targets.model_copy(
        update={
            "top_speed": (targets.top_speed[0].model_copy(update={"speed_m_s": speed_m_s}),),
            "climb": (targets.climb[0].model_copy(update={"grade": grade}),),
            "acceleration": (targets.acceleration[0].model_copy(update={"within_s": within_s}),),
        }
    )
    return loaded.model_copy(update={"targets": changed})


def by_kind(project: Project) -> dict[str, Lever]:
    return {lever.id.split(".")[0]: lever for lever in levers(project)}


@pytest.mark.parametrize(
    ("kind", "amount"), [("speed", 784), ("climb", 124), ("acceleration", 141)]
)
def test_a_figure_between_two_grains_asks_what_the_harder_one_does(kind: str, amount: int) -> None:
    found = by_kind(project_with(21.7537, 0.1231, 14.19))
    assert found[kind].amount == amount


@pytest.mark.parametrize(
    ("kind", "amount"), [("speed", 950), ("climb", 120), ("acceleration", 142)]
)
def test_a_figure_on_a_grain_is_that_grain(kind: str, amount: int) -> None:
    found = by_kind(project_with(95 / 3.6, 0.12, 14.2))
    assert found[kind].amount == amount
