"""The comparison as text, CSV and picture tells what its rows hold, and nothing runs wild."""

from __future__ import annotations

import csv
import io
import xml.etree.ElementTree as ET

import pytest

from bomplan.design.comparison import (
    Compared,
    Comparison,
    LifeCost,
    MostThatFits,
    YearsOfUse,
)
from bomplan.design.studies import Front, FrontPoint, Headline
from bomplan.report.comparison import comparison_csv, comparison_rows
from bomplan.report.comparison_chart import comparison_svg
from bomplan.report.studies import front_rows
from bomplan.report.units import Show

LIFE = LifeCost(
    depth=0.48, cycles_depth=0.8, cycles=833, cycle_years=4.1, calendar_years=6.0, pack_years=4.1,
    ended_by="cycles", packs=1, pack_price=235_000, purchase=800_000, energy=493_848,
    replacements=235_000, total=1_528_848, per_100_km=1_593, wall_wh_per_km=180.5,
)  # fmt: skip


def plan(price: int, laden_kg: float) -> Headline:
    return Headline(
        motor="motor-a", controller="controller-a", final_ratio=4.1, module="m", chemistry="lfp",
        series=36, parallel=1, topology="groups", price=price, kerb_kg=900.0, laden_kg=laden_kg,
        front_left_kg=40.0, rear_left_kg=55.5, rear_axle_kg=700.0, range_target="day",
        range_km=84.2, wanted_km=60.0, energy_wh_per_km=121.0, usable_kwh=10.2, nominal_v=115.2,
        top_speed_kmh=96.4, gradeability=0.23, charge_hours=6.4, own_hours=120.0,
    )  # fmt: skip


def row(label: str, price: int, laden_kg: float) -> Compared:
    return Compared(
        label=label, outcome="plan", plan=plan(price, laden_kg), room_share=0.68, pack_kwh=10.4,
        asked_km=60.0, range_new_km=100.0, range_worn_km=80.0, range_cold_km=55.55, life=LIFE,
        cautions=(f"only {label}",),
    )  # fmt: skip


REFUSED = Compared(
    label="flooded", outcome="none", reasons=("9 choices failed bay.room",),
    most=MostThatFits(module="lead-a", modules=4, nominal_v=24.0, pack_kwh=1.9, mass_kg=114.0,
                      spare_kg=290.0),
)  # fmt: skip


def comparison(*rows: Compared) -> Comparison:
    return Comparison(
        currency="EUR", by="chemistry", words="the cheapest plan with each cell chemistry",
        rows=rows,
        use=YearsOfUse(
            distance_a_year_km=12_000.0, years=8.0, between_charges_km=60.0, target="day",
            asked_km=60.0, least_nominal_v=66.0, electricity="0.29 EUR", assumed=("years",),
        ),
        cautions=("for all",),
    )  # fmt: skip


FOUND = comparison(row("lfp", 800_000, 1_200.0), row("nmc", 912_345, 1_100.0), REFUSED)


def text(found: Comparison, show: Show = Show()) -> str:  # noqa: B008
    return "\n".join(one.text for one in comparison_rows("Side by side", found, show))


def told_front(*points: Headline) -> str:
    found = Front(
        currency="EUR",
        against="range",
        words="range of day",
        unit="km",
        greater_is_better=True,
        points=tuple(FrontPoint(figure=one.range_km, plan=one) for one in points),
        complete=True,
    )
    lines = (one.text for one in front_rows("Cost against range", found, Show()))
    return " ".join(" ".join(lines).split())


def test_points_of_a_front_with_the_same_parts_say_how_they_differ() -> None:
    first = plan(800_000, 1_200.0)
    second = plan(810_000, 1_190.0).model_copy(update={"range_km": 86.0, "rear_left_kg": 61.0})
    other = second.model_copy(update={"price": 900_000, "range_km": 90.0, "motor": "motor-b"})
    words = told_front(first, second, other)
    otherwise = (
        "motor-a, controller-a, 36 x 1 m, placed or fitted out otherwise: laden 1190 kg, 40 kg"
        " left in front, 61 kg left at the rear"
    )
    assert otherwise in words.replace("\u00a0", " ")
    # The first of them and one of other parts are told by their parts alone.
    assert words.count("placed or fitted out otherwise") == 1
    assert "motor-b, controller-a, 36 x 1 m" in words.replace("\u00a0", " ")
    assert "otherwise" not in told_front(first, other, second)


def line(told: str, words: str) -> list[str]:
    return next(one for one in told.splitlines() if one.startswith(f"  {words}")).split()


def test_figures_stand_in_columns_and_the_best_is_marked() -> None:
    told = text(FOUND)
    assert line(told, "purchase")[-4:] == ["8", "000*", "9", "123"]
    assert line(told, "laden")[-2:] == ["1200", "1100*"]
    assert line(told, "range, new")[-2:] == ["100.0", "100.0"]
    assert line(told, "range, new, -10 °C")[-2:] == ["55.5", "55.5"]
    assert line(told, "each discharge")[-2:] == ["48", "48"]
    assert line(told, "per 100 km")[-2:] == ["15.93", "15.93"]
    assert max(map(len, told.splitlines())) <= 80


def test_a_refusal_says_how_little_fits() -> None:
    told = " ".join(text(FOUND).split())
    assert "flooded: no plan (proven)" in told
    assert "at most 4 lead-a fit the bays and the 290 kg left for all parts: 1.9 kWh" in told
    assert "24 V all in series where at least 66 V is asked" in told
    assert "the plan of lfp does it with 10.4 kWh" in told
    assert "9 choices failed bay.room" in told


def test_what_would_be_enough_of_a_pack_is_no_reason() -> None:
    most = MostThatFits(
        module="lead-a", modules=40, nominal_v=240.0, pack_kwh=19.0, mass_kg=114.0, spare_kg=290.0
    )
    enough = REFUSED.model_copy(update={"most": most})
    told = text(comparison(row("lfp", 1, 1.0), enough))
    assert "at most 40" not in told
    assert "9 choices failed bay.room" in told
    # With no plan to hold it against it is told: that much and no more.
    assert "at most 40" in text(comparison(enough))


def test_long_labels_get_wider_columns() -> None:
    told = text(comparison(row("permanent magnet", 1, 1.0), row("induction", 1, 1.0)))
    heads = [one.split() for one in told.splitlines() if one.startswith(" " * 27)]
    assert ["permanent", "induction"] in heads
    assert ["magnet"] in heads


def test_what_was_assumed_is_said() -> None:
    told = " ".join(text(FOUND).split())
    assert "Over 8 years at 12 000 km a year on day" in told
    assert "energy at 0.29 EUR a kWh" in told
    assert "Not said under [use], so taken as usual: years." in told


def test_units_and_decimal_mark_follow_the_reader() -> None:
    told = text(FOUND, Show("us", decimal_comma=True))
    assert line(told, "range, new, mi")[-2:] == ["62,1", "62,1"]
    assert line(told, "laden, lb")[-2:] == ["2646", "2425*"]
    assert line(told, "per 100 km, EUR")[-2:] == ["15,93", "15,93"]


def test_cautions_of_one_row_name_it() -> None:
    told = text(FOUND)
    assert "! lfp: only lfp" in told
    assert "! for all" in told


def test_cautions_that_differ_in_their_figures_alone_stand_once() -> None:
    hot = [
        row(label, 1, 1.0).model_copy(update={"cautions": (f"The pack reaches {volts} V.",)})
        for label, volts in (("lfp", 139), ("lto", 116.5))
    ]
    told = text(comparison(*hot))
    assert "! lfp, lto (figures of lfp): The pack reaches 139 V." in told
    assert "116.5" not in told


def test_more_rows_than_fit_stand_in_blocks() -> None:
    found = comparison(*[row(f"kind {number}", 800_000, 1_200.0) for number in range(7)])
    told = text(found).splitlines()
    assert sum(one.startswith("  purchase") for one in told) == 2
    assert max(map(len, told)) <= 80


def test_without_any_plan_there_are_only_reasons() -> None:
    told = text(comparison(REFUSED))
    assert "purchase" not in told
    assert "no plan (proven)" in told
    assert comparison_svg(comparison(REFUSED), Show()) is None


def test_csv_holds_every_row_with_exact_money() -> None:
    rows = list(csv.DictReader(io.StringIO(comparison_csv(FOUND))))
    assert [one["label"] for one in rows] == ["lfp", "nmc", "flooded"]
    assert rows[1]["purchase"] == "9123.45"
    assert rows[0]["lifetime_cost"] == "15288.48"
    assert rows[0]["range_minus_10_c_km"] == "55.55"
    assert rows[2]["purchase"] == ""
    assert rows[2]["reasons"] == "9 choices failed bay.room"


def test_a_label_is_no_formula_and_no_markup() -> None:
    nasty = '=cmd|"/c calc"!A1<script>$x$</script>'
    found = comparison(row(nasty, 1, 1.0))
    assert next(csv.reader(io.StringIO(comparison_csv(found).split("\n", 1)[1])))[0][0] == "'"
    picture = comparison_svg(found, Show())
    assert picture is not None
    assert "<script" not in picture
    ET.fromstring(picture)
    assert max(map(len, text(found).splitlines())) <= 80


def test_the_picture_is_the_same_bytes_and_names_its_axes() -> None:
    picture = comparison_svg(FOUND, Show())
    assert picture is not None
    assert picture == comparison_svg(FOUND, Show())
    shown = [one.text or "" for one in ET.fromstring(picture).iter() if one.tag.endswith("text")]
    for words in ("Cost over 8 years [EUR]", "Range on day [km]", "Laden mass [kg]", "new packs"):
        assert words in shown
    assert "15 288" in shown
    assert "http-equiv" not in picture


@pytest.mark.parametrize("show", [Show("us"), Show(decimal_comma=True)])
def test_the_picture_follows_the_reader(show: Show) -> None:
    picture = comparison_svg(FOUND, show)
    assert picture is not None
    assert ("[mi]" in picture) == show.us
