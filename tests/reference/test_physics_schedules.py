"""Driving schedules against their published totals."""

from __future__ import annotations

import numpy as np
import pytest

from bomplan.physics import cap, load_profile, schedule_names

# UDDS and HWFET: US EPA, dynamometer drive schedules (7.45 and 10.26 miles). WLTC: UN GTR
# No. 15, Annex 1. NEDC, ECE-15 and EUDC: UN Regulation No. 83, Annex 4a.
TOTALS = [
    ("udds", 1369, 11.990, 31.53, 91.25),
    ("hwfet", 765, 16.5065, 77.68, 96.40),
    ("wltc-3b", 1800, 23.266, 46.5, 131.3),
    ("wltc-3a", 1800, 23.194, 46.4, 131.3),
    ("wltc-2", 1800, 22.649, 45.3, 123.1),
    ("wltc-1", 1022, 8.098, 28.5, 64.4),
    ("nedc", 1180, 11.007, 33.6, 120.0),
    ("ece-15", 195, 1.013, 18.7, 50.0),
    ("eudc", 400, 6.955, 62.6, 120.0),
]


@pytest.mark.parametrize(("name", "seconds", "km", "mean_kmh", "max_kmh"), TOTALS)
def test_totals(name: str, seconds: int, km: float, mean_kmh: float, max_kmh: float) -> None:
    profile = load_profile(name)
    assert profile.steps == seconds
    # Straight lines between the regulation's breakpoints give 0.16 % more than the 1.013 km
    # that it prints for its urban cycle.
    assert profile.length_m / 1000 == pytest.approx(km, rel=2e-3 if name == "ece-15" else 1e-3)
    assert profile.length_m / seconds * 3.6 == pytest.approx(mean_kmh, abs=0.1)
    assert float(profile.speed_m_s.max()) * 3.6 == pytest.approx(max_kmh, abs=0.1)
    assert profile.closed


def test_trapezoid_and_rectangle_agree_between_standstills() -> None:
    for name, *_ in TOTALS:
        profile = load_profile(name)
        assert float(profile.speed_m_s.sum()) == pytest.approx(profile.length_m, abs=1e-6)


def test_ftp_bags() -> None:
    """US EPA's own phase distances: 3.591 and 3.859 miles, split at 505 s."""
    udds = load_profile("udds")
    mile = 1609.344
    assert float(udds.distance_m[:505].sum()) / mile == pytest.approx(3.591, rel=3e-4)
    assert float(udds.distance_m[505:].sum()) / mile == pytest.approx(3.859, rel=3e-4)


@pytest.mark.parametrize(
    ("cycle", "phases_m"),
    [
        ("wltc-3b", (3094.5, 4755.9, 7161.7, 8254.1)),
        ("wltc-3a", (3094.5, 4721.0, 7123.9, 8254.1)),
        ("wltc-2", (3100.6, 4737.3, 6791.8, 8019.4)),
    ],
)
def test_wltc_phases(cycle: str, phases_m: tuple[float, ...]) -> None:
    """UN GTR No. 15, Annex 1: distances of the phases, which add up to the whole."""
    found = [
        load_profile(f"{cycle}-{phase}").length_m
        for phase in ("low", "medium", "high", "extra-high")
    ]
    assert found == pytest.approx(phases_m, abs=0.1)
    assert sum(found) == pytest.approx(load_profile(cycle).length_m, abs=1.0)


@pytest.mark.parametrize(
    ("cycle", "total_kmh"), [("wltc-3b", 83758.6), ("wltc-2", 81536.9), ("wltc-3a", 83496.9)]
)
def test_wltc_checksums(cycle: str, total_kmh: float) -> None:
    """Sum of all the speeds of the regulation's table."""
    assert float(load_profile(cycle).speed_m_s.sum()) * 3.6 == pytest.approx(total_kmh, abs=0.05)


def test_wltc_phase_maxima() -> None:
    maxima = [
        float(load_profile(f"wltc-3b-{phase}").speed_m_s.max()) * 3.6
        for phase in ("low", "medium", "high", "extra-high")
    ]
    assert maxima == pytest.approx([56.5, 76.6, 97.4, 131.3], abs=0.05)


@pytest.mark.parametrize(
    ("name", "seconds", "km", "laps_per_mile"),
    [("j227a-c", 80, 0.545, 2.95), ("j227a-d", 122, 1.560, 1.03)],
)
def test_j227a(name: str, seconds: int, km: float, laps_per_mile: float) -> None:
    """SAE J227a, from memory: total times; 3 and 1 cycles a mile, coast ending at 90 %."""
    profile = load_profile(name)
    assert profile.steps == seconds
    assert profile.length_m / 1000 == pytest.approx(km, rel=2e-3)
    assert 1609.344 / profile.length_m == pytest.approx(laps_per_mile, abs=0.02)


def test_udds_rows_of_the_federal_table() -> None:
    """40 CFR Part 86, Appendix I(a): seconds 21 to 30, mph."""
    mph = load_profile("udds").speed_m_s[21:31] / 0.44704
    assert np.round(mph, 1).tolist() == [3.0, 5.9, 8.6, 11.5, 14.3, 16.9, 17.3, 18.1, 20.7, 21.7]


def test_cap_holds_the_speed_and_keeps_the_time() -> None:
    capped = cap(load_profile("wltc-3b"), 90 / 3.6)
    assert float(capped.speed_m_s.max()) * 3.6 == pytest.approx(90.0)
    assert capped.steps == 1800
    assert capped.closed
    assert capped.length_m < load_profile("wltc-3b").length_m


def test_every_name_loads_and_an_unknown_one_is_refused() -> None:
    for name in schedule_names():
        assert load_profile(name).length_m > 0
    with pytest.raises(ValueError, match="udds"):
        load_profile("to town and back")
    with pytest.raises(ValueError, match="constant 80 km/h"):
        load_profile("constant fast")


def test_constant_speed_in_either_unit() -> None:
    assert load_profile("constant 50 mph").mean_speed_m_s[0] == pytest.approx(22.352)
    assert load_profile("constant 80 km/h").mean_speed_m_s[0] == pytest.approx(80 / 3.6)


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")
def test_wltc_equals_an_independent_copy_of_the_regulation() -> None:
    """Every row against the table in the ``wltp`` package (UN GTR No. 15)."""
    model = pytest.importorskip("wltp.model")
    for name, data in (
        ("wltc-1", model.class1.class_data()),
        ("wltc-2", model.class2.class_data()),
        ("wltc-3a", model.class3.class_data_a()),
        ("wltc-3b", model.class3.class_data_b()),
    ):
        ours = load_profile(name).speed_m_s * 3.6
        assert np.allclose(ours, data["cycle"], atol=1e-9)
