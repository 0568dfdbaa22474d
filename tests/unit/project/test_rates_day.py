"""Exchange rates have a day; far from the day of the prices it is told."""

from __future__ import annotations

import datetime as dt

import pytest
from money_plan import base

from bomplan.project.check_rates import STALE_DAYS, rates_off_by
from bomplan.report.purchase_words import purchase_sentences
from bomplan.report.units import Show

DAY = dt.date(2026, 11, 1)


@pytest.mark.parametrize(
    ("days", "off"), [(0, 0), (STALE_DAYS, 0), (STALE_DAYS + 1, 32), (-40, -40), (400, 400)]
)
def test_a_month_is_let_pass(days: int, off: int) -> None:
    assert rates_off_by(DAY, DAY - dt.timedelta(days)) == off


def test_no_day_is_no_judgement() -> None:
    assert rates_off_by(DAY, None) == 0


@pytest.mark.parametrize(("told", "words"), [("2026-03-01", "245 days before"), (None, "")])
def test_the_plan_tells(told: str | None, words: str) -> None:
    plan = base()
    parts = [{**plan.parts_used["parts"][0], "currency": "JPY"}]
    plan = plan.model_copy(
        update={
            "as_of": "2026-11-01",
            "project_used": {**plan.project_used, "rates_as_of": told},
            "parts_used": {**plan.parts_used, "parts": parts},
        }
    )
    said = " ".join(one for one in purchase_sentences(plan, Show()) if "rates" in one)
    assert words in said
    assert bool(said) == bool(words)


def test_money_of_ones_own_needs_no_rate() -> None:
    plan = base()
    own = [{**row, "currency": plan.currency} for row in plan.parts_used["parts"]]
    plan = plan.model_copy(
        update={
            "lines": (),
            "project_used": {**plan.project_used, "rates_as_of": "2020-01-01"},
            "parts_used": {**plan.parts_used, "parts": own},
        }
    )
    assert not [one for one in purchase_sentences(plan, Show()) if "rates" in one]
