"""A plan comes back from its file as it was written; what is no plan is told, not raised."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from bomplan.design.planfile import (
    catalog_of,
    digest,
    held_together,
    parse_plan,
    plan_bytes,
    project_of,
    read_plan,
)
from bomplan.design.records import Plan
from bomplan.errors import Fault, InputError


def test_round_trip_keeps_every_byte(make_plan: Callable[..., Plan], tmp_path: Path) -> None:
    path = tmp_path / "plan.json"
    path.write_bytes(plan_bytes(make_plan()))
    found = read_plan(path)
    assert found == make_plan()
    assert plan_bytes(found) == path.read_bytes()


def test_what_breaks_on_an_edited_plan_is_told_as_its_fault(
    make_plan: Callable[..., Plan], tmp_path: Path
) -> None:
    path = tmp_path / "plan.json"
    path.write_text(changed(make_plan(), project="another"), "utf-8")
    with pytest.raises(InputError, match=r"plan\.contradicts"), held_together(path):
        raise ValueError("the share must lie between 0 and 1")
    own = InputError([Fault("plan.field", "said already")])
    with pytest.raises(InputError, match="said already"), held_together(path):
        raise own


def test_what_breaks_on_a_plan_as_we_wrote_it_is_our_bug(
    make_plan: Callable[..., Plan], tmp_path: Path
) -> None:
    path = tmp_path / "plan.json"
    path.write_bytes(plan_bytes(make_plan()))
    with pytest.raises(ZeroDivisionError), held_together(path):
        _ = 1 / 0


def test_a_result_without_a_plan_comes_back_too(make_no_plan: Callable[..., Plan]) -> None:
    plan = make_no_plan()
    assert parse_plan(plan_bytes(plan).decode(), "plan.json") == plan


def refusal(text: str) -> str:
    with pytest.raises(InputError) as caught:
        parse_plan(text, "plan.json")
    return str(caught.value)


def changed(plan: Plan, **fields: Any) -> str:
    return json.dumps(json.loads(plan_bytes(plan)) | fields)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "plan.not-json"),
        ('{"format": "bomplan-plan"', "plan.not-json"),
        ("[" * 100_000, "plan.not-json"),
        ("[]", "plan.not-a-plan"),
        ('{"format": "bomplan-project"}', "plan.not-a-plan"),
        ('{"format": "bomplan-plan"}', "plan.version"),
        ('{"format": "bomplan-plan", "version": true}', "plan.version"),
        ('{"format": "bomplan-plan", "version": 0}', "plan.version"),
        ('{"format": "bomplan-plan", "version": 999}', "plan.newer"),
        ('{"format": "bomplan-plan", "version": 1}', "plan.field"),
    ],
)
def test_what_is_no_plan_is_told(text: str, code: str) -> None:
    told = refusal(text)
    assert f"[{code}]" in told
    assert "plan.json" in told


def test_a_newer_plan_says_what_to_do(make_plan: Callable[..., Plan]) -> None:
    told = refusal(changed(make_plan(), version=2))
    assert "newer" in told
    assert "update bomplan" in told


def test_a_wrong_field_is_named(make_plan: Callable[..., Plan]) -> None:
    assert "status" in refusal(changed(make_plan(), status="perfect"))
    assert "surprise" in refusal(changed(make_plan(), surprise=1))


def test_a_missing_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"plan\.unreadable"):
        read_plan(tmp_path / "nothing.json")


def test_embedded_records_that_are_not_whole_are_told(make_plan: Callable[..., Plan]) -> None:
    with pytest.raises(InputError, match=r"plan\.parts"):
        catalog_of(make_plan(parts_used={"parts": [{"family": "fuse", "id": "a"}]}))
    with pytest.raises(InputError, match=r"plan\.project"):
        project_of(make_plan(project_used={"name": "half"}))


def test_the_digest_reads_content_not_order() -> None:
    assert digest({"a": 1, "b": [1, 2]}) == digest({"b": [1, 2], "a": 1})
    assert digest({"a": [1, 2]}) != digest({"a": [2, 1]})
