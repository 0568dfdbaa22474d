"""A row that fails is moved as little as it takes, by the figures that hold it up."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lanes import examples
from shipped_examples import drive_of, generic

from bomplan.catalog.columns import schema
from bomplan.catalog.records import Part
from bomplan.design.bill import RULE_OF
from bomplan.design.bill.fits import row_checks
from bomplan.design.bill.rule import at_least, at_most, same
from bomplan.design.currents import no_mean_current
from bomplan.design.records import Check
from bomplan.outlook.mending import differences, mended, rounded, with_figure
from bomplan.source import COMMON

CHARGER = generic().family("charger")
ROW = next(iter(CHARGER.values()))


def needs(volts: float, amperes: float, isolated: bool = True):  # type: ignore[no-untyped-def]
    def judge(part: Part) -> list[Check]:
        return [
            at_least("a", "reaches", part.number("v_out_max"), volts, "V", COMMON),
            at_most("b", "draws", part.number("supply_a"), amperes, "A", COMMON),
            same("c", "is isolated", part.flag("isolated") == isolated, COMMON),
        ]

    return judge


@settings(deadline=None, max_examples=examples(8, 80))
@given(st.floats(10.0, 1000.0), st.floats(2.0, 60.0), st.booleans())
def test_it_passes_then_and_a_little_less_fails(volts: float, amps: float, isolated: bool) -> None:
    judge = needs(volts, amps, isolated)
    found = mended(ROW, judge, CHARGER.values())
    assert found is not None
    assert all(check.passed for check in judge(found.part))
    for one in differences(ROW, found.part):
        if isinstance(one.needed, str):
            assert (one.column, one.sense) == ("isolated", "exactly")
            continue
        assert one.column in ("v_out_max", "supply_a")
        assert one.sense == ("at least" if one.column == "v_out_max" else "at most")
        # One part in a hundred nearer to what the row has is not enough.
        nearer = one.needed * (0.99 if one.sense == "at least" else 1.01)
        worse = with_figure(found.part, one.column, nearer)
        assert not all(check.passed for check in judge(worse))
    changed = {one.column for one in differences(ROW, found.part)}
    assert ("v_out_max" in changed) == (ROW.number("v_out_max") < volts)
    assert ("isolated" in changed) == (ROW.flag("isolated") != isolated)


def test_what_nothing_mends_is_left() -> None:
    def never(part: Part) -> list[Check]:
        return [same("a", f"{part.id} is another part", False, COMMON)]

    assert mended(ROW, never, CHARGER.values()) is None
    # Beyond what a catalogue takes in this column no figure is looked for.
    most = schema()["charger"].columns["v_out_max"].maximum
    assert most is not None
    assert mended(ROW, needs(most * 1.5, 99.0, ROW.flag("isolated")), CHARGER.values()) is None


@pytest.mark.parametrize(
    ("value", "upwards", "whole", "shown"),
    [
        (84.001, True, False, 84.1),
        (84.001, False, False, 84.0),
        (1234.5, True, False, 1240.0),
        (0.012341, True, False, 0.0124),
        (12.2, True, True, 13.0),
        (12.8, False, True, 12.0),
    ],
)
def test_figures_are_rounded_away_from_what_fails(
    value: float, upwards: bool, whole: bool, shown: float
) -> None:
    assert rounded(value, upwards, whole=whole) == pytest.approx(shown, abs=1e-12)


@pytest.mark.parametrize(
    ("family", "column", "value", "sense"),
    [
        ("charger", "v_out_max", 61.0, "at least"),
        ("dcdc", "v_in_max", 62.0, "at least"),
        ("contactor", "v_max", 30.0, "at least"),
    ],
)
def test_rows_of_the_catalogue_are_mended_by_the_figure_that_was_spoilt(
    family: str, column: str, value: float, sense: str
) -> None:
    """The rules are asked themselves: the figure that was made too small is the one named."""
    context, drive, _ = drive_of("courier-motorcycle")
    currents, rule = no_mean_current(context, drive), RULE_OF[family]

    def judge(part: Part) -> list[Check]:
        return list(row_checks(context, drive, currents, rule, part))

    rows = context.catalog.family(family)
    good = next(row for row in rows.values() if all(check.passed for check in judge(row)))
    assert good.number(column) > value
    spoilt = with_figure(good, column, value)
    assert not all(check.passed for check in judge(spoilt))
    found = mended(spoilt, judge, rows.values())
    assert found is not None
    assert all(check.passed for check in judge(found.part))
    named = differences(spoilt, found.part)
    assert [(one.column, one.sense) for one in named] == [(column, sense)]
    assert value < float(named[0].needed) <= good.number(column)
