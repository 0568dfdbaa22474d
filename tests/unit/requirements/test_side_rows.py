"""Rows on sides, wheels, tyres and greatest shares say the same as plain levers."""

from __future__ import annotations

from fractions import Fraction
from random import Random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from oracle.small_cases import generic, project_fields

from bomplan.design.context import Context
from bomplan.errors import InputError
from bomplan.project.records import Project
from bomplan.requirements.loads import mass_rows

TRACKS = (1_303, 1_287)
CORNERS = {
    "front_left_g": 201_003,
    "front_right_g": 214_100,
    "rear_left_g": 150_501,
    "rear_right_g": 139_999,
}


def context(donor: dict[str, Any], **house_rules: Any) -> Context:
    fields = project_fields(Random(3)) | {"house_rules": house_rules}
    weighing = fields["donor"]["weighing"] | CORNERS
    weighing["front_g"] = CORNERS["front_left_g"] + CORNERS["front_right_g"]
    weighing["rear_g"] = CORNERS["rear_left_g"] + CORNERS["rear_right_g"]
    fields["donor"] |= {
        "weighing": weighing,
        "track_front_mm": TRACKS[0],
        "track_rear_mm": TRACKS[1],
        **donor,
    }
    return Context(Project.model_validate(fields), generic())


SIDED = context(
    {
        "front_wheel_limit_g": 300_000,
        "rear_wheel_limit_g": 290_000,
        "tyres": {"front": "145/80 R13 70S", "rear": "195/70 R15C 104/102R", "rear_count": 4},
    },
    maximum_front_share=0.55,
    minimum_left_share=0.47,
    maximum_left_share=0.53,
)


def corners(at: Context, case: str, added: list[tuple[int, int, int]]) -> dict[str, Fraction]:
    """Four loads by levers, mass by mass, each first between axles and then across."""
    length = at.wheelbase_mm
    loads = dict.fromkeys(("front-left", "front-right", "rear-left", "rear-right"), Fraction(0))
    donor = at.project.donor
    for name in loads:
        loads[name] += getattr(donor.weighing, f"{name.replace('-', '_')}_g")
    centre = round(Fraction(donor.weighing.rear_g * length,
                            donor.weighing.front_g + donor.weighing.rear_g))  # fmt: skip
    weighing = donor.weighing
    masses = [
        (-weighing.fuel_g, centre if weighing.fuel_x_mm is None else weighing.fuel_x_mm, 0),
        (-weighing.people_g, centre if weighing.people_x_mm is None else weighing.people_x_mm, 0),
        *[(-item.mass_g, item.x_mm, item.y_mm or 0) for item in donor.removed],
        *[(item.mass_g, item.x_mm, item.y_mm or 0) for item in donor.added],
        *added,
    ]
    for load_case in at.project.load_cases:
        if load_case.name == case:
            masses += [(item.mass_g, item.x_mm, item.y_mm or 0) for item in load_case.items]
    for mass_g, x_mm, y_mm in masses:
        for axle, load, track in (
            ("front", Fraction(mass_g * (length - x_mm), length), TRACKS[0]),
            ("rear", Fraction(mass_g * x_mm, length), TRACKS[1]),
        ):
            loads[f"{axle}-left"] += load * (Fraction(1, 2) - Fraction(y_mm, track))
            loads[f"{axle}-right"] += load * (Fraction(1, 2) + Fraction(y_mm, track))
    return loads


MASSES = st.tuples(st.integers(0, 150_000), st.integers(-600, 2_600), st.integers(-700, 700))


@given(st.lists(MASSES, min_size=1, max_size=4))
def test_rows_agree_with_levers(added: list[tuple[int, int, int]]) -> None:
    mass = sum(m for m, _, _ in added)
    moment = sum(m * x for m, x, _ in added)
    lateral = sum(m * y for m, _, y in added)
    cross = sum(m * x * y for m, x, y in added)
    seen = set()
    for row in mass_rows(SIDED):
        kind, place = row.id.split(".")[:2]
        value = row.value(mass, moment, lateral, cross)
        loads = corners(SIDED, row.load_case, added)
        front = loads["front-left"] + loads["front-right"]
        rear = loads["rear-left"] + loads["rear-right"]
        total = front + rear
        if kind == "wheel":
            assert Fraction(value, row.divisor) == loads[place]
            limit = 300_000 if "front" in place else 290_000
            assert (value <= row.limit) == (loads[place] <= limit)
        elif kind == "tyre":
            # 70: 335 kg each of two; 102 in a twin fitment: 850 kg each of four.
            assert Fraction(value, row.divisor) == (front if place == "front" else rear)
            assert row.limit // row.divisor == (670_000 if place == "front" else 3_400_000)
        elif place == "front-most":
            assert (value <= row.limit) == (front <= Fraction(55, 100) * total)
        elif kind == "share":
            # By the middle of mass over the narrower track.
            aside = _lateral(SIDED, row.load_case) + lateral
            left = Fraction(1, 2) - aside / (min(TRACKS) * total)
            wanted = left >= Fraction(47, 100) if place == "left" else left <= Fraction(53, 100)
            assert (value <= row.limit) == wanted
            bound = Fraction(47 if place == "left" else 53, 100) * total
            over = bound - left * total if place == "left" else left * total - bound
            assert Fraction(value, row.divisor) == over
        else:
            continue
        seen.add(f"{kind}.{place}")
    assert seen == {
        "wheel.front-left", "wheel.front-right", "wheel.rear-left", "wheel.rear-right",
        "tyre.front", "tyre.rear", "share.front-most", "share.left", "share.left-most",
    }  # fmt: skip


def _lateral(at: Context, case: str) -> Fraction:
    """Sum of m y of the donor with this load case, from its four loads."""
    loads = corners(at, case, [])
    return (loads["front-right"] - loads["front-left"]) * TRACKS[0] / 2 + (
        loads["rear-right"] - loads["rear-left"]
    ) * TRACKS[1] / 2


@pytest.mark.parametrize("written", ["185/65", "88H", "185/65 R15 300H", "", "4.00-18 64S"])
def test_what_is_no_tyre_is_refused_in_words(written: str) -> None:
    at = context({"tyres": {"rear": written}})
    with pytest.raises(InputError) as error:
        mass_rows(at)
    (fault,) = error.value.faults
    assert fault.where == "donor.tyres.rear"
    assert "185/65 R15 88H" in (fault.allowed or "")


def test_a_motorcycle_has_one_tyre_on_each_axle() -> None:
    fields = project_fields(Random(3))
    fields["donor"] |= {
        "kind": "motorcycle",
        "tyres": {"front": "110/80-17 57H", "rear": "120/70 ZR17 M/C (58W)"},
    }
    at = Context(Project.model_validate(fields), generic())
    limits = {row.id: row.limit // row.divisor for row in mass_rows(at)}
    case = at.loads[0].name
    # ISO 4000-1 table: index 57 is 230 kg, 58 is 236 kg.
    assert limits[f"tyre.front.{case}"] == 230_000
    assert limits[f"tyre.rear.{case}"] == 236_000
