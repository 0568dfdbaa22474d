"""Boxes are held at the accelerations of the country, and stay out of its crush zones."""

from __future__ import annotations

from typing import Any

import pytest
from dangerous_cases import CORE, sound

from bomplan.design.bill.restraint import fasteners_and_box, held_n, wanted_n
from bomplan.design.context import Context
from bomplan.design.currents import no_mean_current
from bomplan.design.drive import resolve
from bomplan.project.countries import countries
from bomplan.requirements.mounting import crush_checks, restraint_checks
from bomplan.sizing.restraint import crush_reach_mm


def context(**fields: Any) -> Context:
    car = sound()
    car.fields.update(fields)
    return Context(car.project(), car.catalog())


def test_the_table_says_whose_figures_and_whether_they_were_seen() -> None:
    found = countries()
    assert found["general"].greatest_g == 20
    for country in found.values():
        assert country.crush_rule in ("warn", "forbid")
        assert country.supply_rule in ("", "continuous-80", "as-rated")
        for source in (country.restraint_source, country.crush_source):
            assert "from memory" in source or "seen" in source
        assert bool(country.supply_rule) == bool(country.supply_source)


@pytest.mark.parametrize(
    ("country", "forward", "side"),
    [
        # UN R100.02 annex 8C by category (from memory); NCOP14 (20 g seen, 15 g from memory)
        ("un-r100-m1-n1", 20, 8),
        ("un-r100-m2-n2", 10, 5),
        ("un-r100-m3-n3", 6.6, 5),
        ("australia", 20, 15),
    ],
)
def test_guideline_accelerations(country: str, forward: float, side: float) -> None:
    found = countries()[country]
    assert (found.forward_g, found.side_g) == (forward, side)


def test_bolts_of_a_box_at_20_g() -> None:
    """300 kg at 20 g is 58.84 kN; an M10 of class 8.8 takes 22.3 kN in shear (computed)."""
    here = context()
    set_ = here.catalog.family("fasteners")["fasteners-car"]
    assert wanted_n(here, 300_000) == pytest.approx(2 * 58_840, rel=1e-3)
    assert held_n(set_) == pytest.approx(8 * 22_300, rel=2e-3)
    bay = here.bays[0]
    check, over = restraint_checks(here, bay, 300_000, set_)
    assert check.id == "restraint.bonnet"
    assert check.passed
    assert over.passed
    heavy, _ = restraint_checks(here, bay, 500_000, set_)
    assert not heavy.passed
    assert "never to bare sheet" in heavy.caution


def test_a_box_hangs_from_its_bolts_when_the_car_lies_on_its_roof() -> None:
    """300 kg: 44.1 kN sideways at 15 g, 29.4 kN upwards at 10 g, both twice; eight M10 of 8.8."""
    here = context()
    set_ = here.catalog.family("fasteners")["fasteners-car"]
    _, over = restraint_checks(here, here.bays[0], 300_000, set_)
    assert over.id == "restraint-over.bonnet"
    by_hand = 2 * 44.145 / (8 * 22.3) + 2 * 29.43 / (1.4 * 8 * 33.4)
    assert over.value == pytest.approx(by_hand, rel=2e-3)
    heaviest_g = round(300_000 / over.value)
    assert restraint_checks_pass(here, heaviest_g - 100)
    assert not restraint_checks_pass(here, heaviest_g + 100)
    small = set_.model_copy(update={"figures": {**set_.figures, "bolts": 4, "bolt_mm": 6}})
    _, failed = restraint_checks(here, here.bays[0], 120_000, small)
    assert not failed.passed
    assert "lies on its roof" in failed.caution


def restraint_checks_pass(here: Context, mass_g: int) -> bool:
    set_ = here.catalog.family("fasteners")["fasteners-car"]
    _, over = restraint_checks(here, here.bays[0], mass_g, set_)
    return over.passed


def test_a_country_that_asks_for_less_takes_a_heavier_box() -> None:
    lorry = context(
        country="un-r100-m3-n3",
        donor={**sound().fields["donor"], "front_overhang_mm": 900, "rear_overhang_mm": 900},
    )
    set_ = lorry.catalog.family("fasteners")["fasteners-car"]
    (check,) = restraint_checks(lorry, lorry.bays[0], 500_000, set_)
    assert check.passed
    assert "6.6 g" in check.words


def test_a_set_must_hold_the_fullest_box_and_hang_on_four_bolts() -> None:
    here = context()
    drive = resolve(here, CORE)
    currents = no_mean_current(here, drive)
    box = here.catalog.family("box")["box-vented-60kg"]
    set_ = here.catalog.family("fasteners")["fasteners-car"]
    assert all(c.passed for c in fasteners_and_box(here, drive, currents, set_, box))
    few = set_.model_copy(update={"figures": {**set_.figures, "bolts": 3, "bolt_mm": 5}})
    failed = [c.id for c in fasteners_and_box(here, drive, currents, few, box) if not c.passed]
    assert failed == ["restraint.full-box", "restraint-over.full-box", "restraint.bolts"]
    blank = set_.model_copy(update={"figures": {}})
    assert list(fasteners_and_box(here, drive, currents, blank, box)) == []


@pytest.mark.parametrize(
    ("end", "box", "reach"),
    [
        # front end at -700: the zone ends at -280; rear end at 2700: it begins at 2400
        ("front", (-420, 480), 140),
        ("front", (-280, 480), 0),
        ("front", (-720, 0), 440),
        ("rear", (1_500, 2_400), 0),
        ("rear", (1_500, 2_401), 1),
    ],
)
def test_how_far_a_box_reaches_into_a_zone(end: str, box: tuple[int, int], reach: int) -> None:
    overhang, depth = (700, 420) if end == "front" else (650, 300)
    assert crush_reach_mm(end, *box, 2_050, overhang, depth) == reach


def test_without_the_ends_of_the_car_nothing_is_said_of_its_zones() -> None:
    here = context()
    assert list(crush_checks(here, here.bays[0])) == []


def test_a_motorcycle_has_no_crush_zones_of_cars() -> None:
    donor = {**sound().fields["donor"], "front_overhang_mm": 400, "rear_overhang_mm": 300}
    here = context(donor={**donor, "kind": "motorcycle"}, country="un-r100-m1-n1")
    assert list(crush_checks(here, here.bays[0])) == []
