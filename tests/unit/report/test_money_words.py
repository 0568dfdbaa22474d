"""The whole sum and the order of buying as the summary tells them."""

from __future__ import annotations

from typing import Any

import pytest
from golden_files import compare
from money_plan import money_plan

from bomplan.report.money_words import (
    by_kind,
    limit_sentence,
    order_sentences,
    whole_sum_sentences,
)
from bomplan.report.terminal import summary


def block(text: str, first: str, last: str) -> str:
    start = text.index(first)
    return text[start : text.index(last, start)]


def test_the_blocks_of_the_summary() -> None:
    text = summary(money_plan(sold=[], limit=None))
    compare("terminal", "money", block(text, "What it costs", "What it weighs"))


@pytest.mark.parametrize(
    ("limit", "words"),
    [
        (1_000_000, "MORE than the 10 000 EUR that you set"),
        (3_000_000, "within the 30 000 EUR that you set for all of it, unless much goes wrong"),
        (9_000_000, "within the 90 000 EUR that you set for all of it, whatever goes wrong"),
    ],
)
def test_the_limit_of_all_of_it(limit: int, words: str) -> None:
    plan = money_plan(limit=limit)
    assert plan.whole_sum is not None
    assert words in limit_sentence(plan, plan.whole_sum)
    assert limit_sentence(plan, plan.whole_sum) in list(whole_sum_sentences(plan))


def test_headings_add_up() -> None:
    told = money_plan().whole_sum
    assert told is not None
    kinds = by_kind(told)
    assert sum(one[1] for one in kinds) == told.low
    assert sum(one[2] for one in kinds) == told.typical
    assert sum(one[3] for one in kinds) == told.high
    assert kinds[0][0] == "bill"


def test_which_sum_the_budget_limits() -> None:
    plan = money_plan()
    used: dict[str, Any] = {**plan.project_used}
    used["targets"] = {**used["targets"], "budget": 1_200_000}
    told = list(whole_sum_sentences(plan.model_copy(update={"project_used": used})))
    assert "The budget of 12 000 EUR limits the bill alone." in told


def test_own_work_is_hours_and_paid_work_is_money() -> None:
    assert any("not counted in money" in one for one in whole_sum_sentences(money_plan(rate=None)))
    paid = list(whole_sum_sentences(money_plan(workshop_share=0.5)))
    assert any("50 % of it paid" in one for one in paid)


def test_older_plans_tell_nothing() -> None:
    plan = money_plan().model_copy(update={"whole_sum": None, "buying_order": None})
    assert list(whole_sum_sentences(plan)) == []
    assert list(order_sentences(plan)) == []
