"""Axle-load problems from textbooks."""

from __future__ import annotations

from math import cos, radians

import pytest

from bomplan.weighing import (
    Mass,
    axle_loads_exact,
    base_from_weighing,
    centre_of_gravity_mm,
    height_by_axle_lift_m,
    load_of_index_kg,
    loads_in_motion_n,
    parse_tyre,
)

KG_PER_LB = 0.45359237
M_PER_IN = 0.0254


@pytest.mark.parametrize(
    ("mass_kg", "behind_front_m", "wheelbase_m", "front_n", "rear_n"),
    [
        (1765.0, 1.22, 2.84, 9876.7, 7438.0),
        (1245.0, 1.100, 2.423, 6668.8, 5544.7),
        (1400.0, 97.5 * M_PER_IN * 1.131 / 2.131, 97.5 * M_PER_IN, 6444.9, 7289.1),
    ],
)
def test_static_loads_of_jazar(mass_kg, behind_front_m, wheelbase_m, front_n, rear_n):
    """R. N. Jazar, Vehicle Dynamics: Theory and Application, ch. 2 exercises 1 to 3.

    Inputs seen (p. 90); answers computed with g = 9.81 m/s².
    """
    front, rear = loads_in_motion_n(mass_kg, wheelbase_m, behind_front_m, 0.5, gravity_m_s2=9.81)
    assert front == pytest.approx(front_n, abs=0.1)
    assert rear == pytest.approx(rear_n, abs=0.1)


def test_exact_loads_of_jazar_exercise_1():
    """The same exercise 1 through the exact sums: 1006.8 kg and 758.2 kg."""
    loads = axle_loads_exact([Mass("car", 1_765_000, 1_220)], 2_840)
    assert float(loads.front_g) == pytest.approx(1_006_800, abs=50)
    assert float(loads.rear_g) == pytest.approx(758_200, abs=50)
    assert loads.total_g == 1_765_000


@pytest.mark.parametrize(
    ("mass_lb", "wheelbase_in", "front_lb", "rear_lb", "ratio"),
    [(5091.0, 109.5, 2797.8, 2293.2, 1.22)],
)
def test_centre_of_gravity_of_jazar_exercise_4(mass_lb, wheelbase_in, front_lb, rear_lb, ratio):
    """Exercise 4 (inputs seen): front over rear 1.22 puts the centre 49.32 in behind the front."""
    assert front_lb / rear_lb == pytest.approx(ratio, abs=1e-4)
    assert front_lb + rear_lb == pytest.approx(mass_lb)
    sums = base_from_weighing(
        round(front_lb * KG_PER_LB * 1000),
        round(rear_lb * KG_PER_LB * 1000),
        round(wheelbase_in * 25.4 * 10),  # tenths of a millimetre keep the inches
    )
    assert float(centre_of_gravity_mm(sums)) / 254.0 == pytest.approx(49.32, abs=0.005)


def test_centre_of_gravity_of_gillespie():
    """T. D. Gillespie, Fundamentals of Vehicle Dynamics (SAE 1992), ch. 1 (from memory).

    2313 lb in front, 1322 lb behind, wheelbase 109 in: 39.64 in behind the front axle.
    """
    sums = base_from_weighing(2_313_000, 1_322_000, 109_000)
    assert float(centre_of_gravity_mm(sums)) == pytest.approx(39_640, abs=5)


def test_corner_weights_of_a_small_two_seat_car():
    """Published corner-weight example (seen): 813.6 and 994.4 lb, 73.5 in -> 40.425 in."""
    sums = base_from_weighing(813_600, 994_400, 73_500)
    assert float(centre_of_gravity_mm(sums)) == pytest.approx(40_425, abs=1)


def test_accelerating_up_a_grade_of_gillespie():
    """Gillespie ch. 1: 3246 lb, c.g. 39.15 in behind the front, L 106 in, h 20 in, 6 %, 6 ft/s².

    Inputs from memory; answers computed: front 1892.5 lb, rear 1347.7 lb.
    """
    weight_n = 3246 * KG_PER_LB * 9.80665
    front, rear = loads_in_motion_n(
        3246 * KG_PER_LB,
        106 * M_PER_IN,
        39.15 * M_PER_IN,
        20 * M_PER_IN,
        grade=0.06,
        acceleration_m_s2=6 * 0.3048,
    )
    to_lb = 1.0 / (KG_PER_LB * 9.80665)
    assert front * to_lb == pytest.approx(1892.5, abs=0.5)
    assert rear * to_lb == pytest.approx(1347.7, abs=0.5)
    assert front + rear == pytest.approx(weight_n / (1 + 0.06**2) ** 0.5)


def test_height_by_axle_lift():
    """ISO 10392:2011 method (seen): L 2.40 m, 1205 kg, 41.0 kg gained at 15 degrees: 0.3048 m."""
    angle = radians(15.0)
    assert height_by_axle_lift_m(1205.0, 2.40, [(angle, 41.0)]) == pytest.approx(0.3048, abs=1e-4)
    lifted = [(radians(a), 41.0) for a in (15.0,)] * 3
    assert height_by_axle_lift_m(1205.0, 2.40, lifted, 0.30) == pytest.approx(0.6048, abs=1e-4)
    with pytest.raises(ValueError, match="at least one lift"):
        height_by_axle_lift_m(1205.0, 2.40, [])
    assert cos(angle) < 1


def test_braking_moves_load_forward():
    front, rear = loads_in_motion_n(1200.0, 2.5, 1.2, 0.55, acceleration_m_s2=-5.0)
    still_front, still_rear = loads_in_motion_n(1200.0, 2.5, 1.2, 0.55)
    assert front - still_front == pytest.approx(1200.0 * 5.0 * 0.55 / 2.5)
    assert front + rear == pytest.approx(still_front + still_rear)


def test_load_index_88_of_the_standard_table():
    """ISO 4000-1 load index table (from memory): 88 is 560 kg; 75, 91 and 100 as well."""
    assert [load_of_index_kg(i) for i in (75, 88, 91, 100)] == [387, 560, 615, 800]


def test_rolling_radius_of_a_common_size():
    """195/65 R15: overall diameter 634.5 mm, about 0.308 m rolling (ETRTO, from memory)."""
    tyre = parse_tyre("195/65 R15 91T")
    assert tyre.free_diameter_mm == pytest.approx(634.5)
    assert tyre.rolling_radius_mm == pytest.approx(308.0, abs=0.5)
