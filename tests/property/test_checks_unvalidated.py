"""Checks are made without validation in the search: each is what the class itself would make."""

from __future__ import annotations

import copy
import pickle
from math import inf

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from bomplan import api
from bomplan.design.bill import RULES
from bomplan.design.bill.fits import row_checks
from bomplan.design.bill.rule import at_least, at_most, from_finding
from bomplan.design.context import Context
from bomplan.design.currents import no_mean_current
from bomplan.design.drive import Drive
from bomplan.design.records import Check
from bomplan.planner.energy import EnergyScreen
from bomplan.planner.judge import candidates
from bomplan.planner.screen import Screened, drives, packs
from bomplan.sizing.finding import Finding
from bomplan.source import COMMON

figures = st.one_of(
    st.integers(-(10**9), 10**9),
    st.floats(allow_nan=False),
    st.floats(allow_nan=False).map(np.float64),
    st.booleans(),
)


def as_the_class_makes_it(check: Check) -> bool:
    """Whether strict validation takes the record as it is, and gives an equal one."""
    made = Check.model_validate(dict(check), strict=True)
    same_kinds = [type(value) for _, value in check] == [type(value) for _, value in made]
    same_text = check.model_dump_json() == made.model_dump_json()
    return check == made and hash(check) == hash(made) and same_kinds and same_text


@given(figures, figures)
def test_a_check_is_the_validated_record(value: float, limit: float) -> None:
    for make, sense, passed in (
        (at_most, "at most", value <= limit),
        (at_least, "at least", value >= limit),
    ):
        check = make("a.b", "words", value, limit, "A", COMMON, "a caution")
        assert as_the_class_makes_it(check)
        plain = Check(
            id="a.b",
            words="words",
            value=value,
            limit=limit,
            unit="A",
            sense=sense,
            passed=bool(passed),
            source=COMMON.words,
            source_kind=COMMON.kind,
            caution="a caution",
        )
        assert check == plain
        assert check.model_fields_set == plain.model_fields_set
        assert pickle.loads(pickle.dumps(check)) == copy.deepcopy(check) == plain
        assert check.model_copy(update={"unit": "V"}).unit == "V"
        with pytest.raises(ValidationError):
            check.value = 1.0


@pytest.mark.parametrize("value", [1, 2.5, np.float64(3.0), inf, -inf])
def test_a_finding_becomes_the_validated_record(value: float) -> None:
    finding = Finding("fuse-voltage", "words", value, 2, "V", "at least", COMMON)
    check = from_finding(finding, "a caution")
    assert as_the_class_makes_it(check)
    assert (check.id, check.passed) == ("fuse.voltage", value >= 2)


@pytest.mark.parametrize("name", ["courier-motorcycle", "garden-pickup", "camper-van"])
def test_every_row_of_an_example_is_judged_by_such_records(name: str) -> None:
    context = Context(*api.check_references(f"example:{name}", None))
    found, row = packs(context, Screened()), drives(context, Screened())[0]
    screen = EnergyScreen(context, found)
    seen = 0
    for pack in (0, len(found.rows) // 2, len(found.rows) - 1):
        drive: Drive = screen.simulator(row, pack).drive
        currents = no_mean_current(context, drive)
        for rule in RULES:
            if not rule.needed(context, drive):
                continue
            for part in candidates(context, rule):
                for check in row_checks(context, drive, currents, rule, part):
                    assert as_the_class_makes_it(check), check.id
                    seen += 1
    assert seen > 300
