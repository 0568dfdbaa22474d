"""What is said of a line's room and of the next best part."""

from __future__ import annotations

import io

import openpyxl
import pytest
from shipped_examples import quick_plan

from bomplan.design.line_records import Instead, OtherDrive, Slack, Standing
from bomplan.report.standing_words import instead_words, slack_words
from bomplan.report.units import Show
from bomplan.report.workbook import workbook_bytes

SLACK = Slack(
    check="box.load.boot",
    words="modules in bay boot against what its box holds",
    value=45.5,
    limit=60.0,
    unit="kg",
    sense="at most",
    share=0.241667,
)
BOX = Instead(part="box-80kg", description="box", supplier="", bought=1, price=1_250, mass_kg=-0.4)


def test_room_figure_and_limit() -> None:
    words = slack_words(Standing(slack=SLACK), Show())
    assert words == (
        "24.2 % room: modules in bay boot against what its box holds: 45.5 kg, at most 60 kg"
    )
    assert slack_words(Standing(), Show()) == "no figure limits it"


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, "box-80kg: +12.50 EUR, 0.40 kg less"),
        ({"price": 0, "mass_kg": 0.0}, "box-80kg: same price, same mass"),
        (
            {"price": -5, "mass_kg": 1.0, "supplier": "harbour"},
            "box-80kg from harbour: -0.05 EUR, 1 kg more",
        ),
    ],
)
def test_price_and_mass_of_the_next_best(changes: dict[str, object], words: str) -> None:
    standing = Standing(instead=BOX.model_copy(update=changes))
    assert instead_words(standing, "EUR", Show()) == words


DRIVE = OtherDrive(
    motor="motor-a",
    controller="controller-a",
    final_ratio=3.9,
    module="cell-a",
    series=24,
    parallel=2,
    topology="groups",
)


@pytest.mark.parametrize(
    ("part", "changes", "words"),
    [
        ("motor-a", {}, "motor-a with controller-a and 24 x 2 cell-a: +12.50 EUR, 0.40 kg less"),
        ("controller-a", {}, "controller-a with 24 x 2 cell-a: +12.50 EUR, 0.40 kg less"),
        ("cell-a", {}, "cell-a with 24 in series, 2 in parallel: +12.50 EUR, 0.40 kg less"),
        (
            "controller-a",
            {"proven": False},
            "controller-a with 24 x 2 cell-a: +12.50 EUR, 0.40 kg less, not proven the best",
        ),
        (
            "controller-a",
            {"by_goal": -400, "goal_unit": "g"},
            "controller-a with 24 x 2 cell-a: +12.50 EUR, 0.40 kg less",
        ),
        (
            "controller-a",
            {"by_goal": 9_900, "goal_unit": "money"},
            "controller-a with 24 x 2 cell-a: +12.50 EUR, 0.40 kg less, +99.00 EUR by the goal",
        ),
        (
            "controller-a",
            {"by_goal": -1_200, "goal_unit": "m", "proven": False},
            "controller-a with 24 x 2 cell-a: +12.50 EUR, 0.40 kg less, goes 1.2 km less,"
            " not proven the best",
        ),
    ],
)
def test_another_drive_and_what_stands_beside_it(
    part: str, changes: dict[str, object], words: str
) -> None:
    other = BOX.model_copy(update={"part": part, "drive": DRIVE.model_copy(update=changes)})
    assert instead_words(Standing(instead=other), "EUR", Show()) == words


def test_the_reader_s_units_and_mark() -> None:
    show = Show("us", decimal_comma=True)
    assert "0,88 lb less" in instead_words(Standing(instead=BOX), "EUR", show)
    assert "24,2 % room" in slack_words(Standing(slack=SLACK), show)


@pytest.mark.parametrize(
    ("because", "words"),
    [
        ("core", "another drive, which bomplan plan --other-drives looks for"),
        ("fixed", "project"),
        ("none suits", "nothing else while the other lines stay"),
        ("none beside", "nothing else beside the rest of the drive"),
        ("not settled", "stopped"),
    ],
)
def test_why_there_is_nothing_else(because: str, words: str) -> None:
    standing = Standing.model_validate({"nothing_because": because})
    assert words in instead_words(standing, "EUR", Show())


def test_the_sheet_of_reasons_says_the_same() -> None:
    plan = quick_plan()
    sheet = openpyxl.load_workbook(io.BytesIO(workbook_bytes(plan)), data_only=True)["Why"]
    told = {
        str(row[1]): (row[4], row[5])
        for row in sheet.iter_rows(min_row=4, max_col=6, values_only=True)
    }
    stated = {line.part: line.standing for line in plan.lines if line.standing is not None}
    assert len(stated) > 20
    for part, standing in stated.items():
        close, other = slack_words(standing, Show()), instead_words(standing, plan.currency, Show())
        assert told[part] == (close, other)
