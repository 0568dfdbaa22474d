"""Route files as spreadsheet programs save them."""

from __future__ import annotations

from pathlib import Path

import pytest

from bomplan.errors import InputError
from bomplan.physics.route import LONGEST_S
from bomplan.project import read_route
from bomplan.project.records import LONGEST_LAP_S

PLAIN = (
    "distance_m,speed_limit_kmh,elevation_m,stop_s\n0,50,100,0\n400.5,36,102.5,20\n900,30,100,\n"
)


def written(folder: Path, text: str) -> Path:
    path = folder / "round.csv"
    path.write_text(text, encoding="utf-8", newline="")
    return path


def test_reads_points(tmp_path: Path) -> None:
    points = read_route(written(tmp_path, PLAIN))
    assert [p.distance_m for p in points] == [0, 400.5, 900]
    assert [p.elevation_m for p in points] == [100, 102.5, 100]
    assert points[1].speed_limit_m_s == pytest.approx(10)
    assert [p.stop_s for p in points] == [0, 20, 0]


@pytest.mark.parametrize(
    "text",
    [
        PLAIN.replace(",", ";").replace(".", ","),
        PLAIN.replace(",", "\t"),
        PLAIN.replace("\n", "\r\n"),
        "\ufeff# a remark\n\n" + PLAIN,
        PLAIN.replace("distance_m", " Distance_m ").replace("0,50", ' 0 ,"50"'),
    ],
)
def test_other_ways_of_saving_it_make_no_difference(tmp_path: Path, text: str) -> None:
    expected = read_route(written(tmp_path, PLAIN))
    assert read_route(written(tmp_path, text)) == expected


def test_stops_may_be_left_out(tmp_path: Path) -> None:
    text = "elevation_m,distance_m,speed_limit_kmh\n5,0,30\n6,100,30\n"
    assert [p.stop_s for p in read_route(written(tmp_path, text))] == [0, 0]


def test_thousands_of_day_long_stops_are_refused_before_anything_is_driven(tmp_path: Path) -> None:
    rows = "".join(f"{1 + n},50,100,86400\n" for n in range(3000))
    text = "distance_m,speed_limit_kmh,elevation_m,stop_s\n0,50,100,0\n" + rows
    with pytest.raises(InputError, match="takes too long for a drive"):
        read_route(written(tmp_path, text))


def test_two_days_are_the_most_that_a_lap_takes(tmp_path: Path) -> None:
    text = "distance_m,speed_limit_kmh,elevation_m,stop_s\n0,36,0,0\n100,36,0,{}\n200,36,0,86400\n"
    assert len(read_route(written(tmp_path, text.format(86380)))) == 3
    with pytest.raises(InputError, match=r"route.too-long"):
        read_route(written(tmp_path, text.format(86381)))


def test_files_and_traces_have_one_longest_lap() -> None:
    """Physics knows no records, and records load without its arrays: each says it for itself."""
    assert LONGEST_LAP_S == LONGEST_S
