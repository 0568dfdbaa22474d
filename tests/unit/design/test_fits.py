"""Whether motor, plate and other parts fit their places, to the millimetre."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from bomplan.catalog.records import Part
from bomplan.design.bill.fits import core_fits, row_checks, unchecked
from bomplan.project.chassis import PartPlace
from bomplan.project.records import Places


def part(family: str, sides: tuple[int | None, int | None, int | None], **figures: Any) -> Part:
    return Part(
        id=f"some-{family}", family=family, description="", mass_g=1, length_mm=sides[0],
        width_mm=sides[1], height_mm=sides[2], price=1, currency="EUR", price_date="2026-09-15",
        source="typical", figures=figures,
    )  # fmt: skip


def context(**place: Any) -> Any:
    record = PartPlace.model_validate(
        {"x": "0 mm"} | {key: value if isinstance(value, (str, bool)) else f"{value} mm"
                         for key, value in place.items()}
    )  # fmt: skip
    return SimpleNamespace(
        project=SimpleNamespace(places=Places.model_construct(parts=(record,)), choices=None)
    )


MOTOR = part("motor", (430, 232, 240), diameter_mm=232)
CONTROLLER = part("controller", (300, 200, 100))


def failed(checks: Any) -> set[str]:
    return {check.id for check in checks if not check.passed}


def margins(checks: Any) -> dict[str, float]:
    return {check.id: check.margin for check in checks}


def test_a_motor_is_measured_along_and_across_its_shaft_and_against_the_half_shaft() -> None:
    place = {"family": "motor", "length": 450, "width": 260, "height": 252, "keep_clear": 10,
             "half_shaft": 130}  # fmt: skip
    assert margins(core_fits(context(**place), MOTOR, CONTROLLER)) == {
        "place.motor.length": 0,
        "place.motor.round": 0,  # turned: 240 across and 232 upwards
        "place.motor.half-shaft": 4,
    }
    for key, check in (("length", "length"), ("width", "round"), ("height", "round")):
        tight = place | {key: place[key] - 1}  # type: ignore[operator]
        assert failed(core_fits(context(**tight), MOTOR, CONTROLLER)) == {f"place.motor.{check}"}
    tight = place | {"half_shaft": 125}
    assert failed(core_fits(context(**tight), MOTOR, CONTROLLER)) == {"place.motor.half-shaft"}


def test_the_adapter_plate_adds_to_the_motor() -> None:
    plate = part("adapter_plate", (260, 220, 18), thickness_mm=18)
    drive: Any = SimpleNamespace(motor=MOTOR)
    rule = SimpleNamespace(family="adapter_plate", suits=lambda *_: iter(()))
    for length, spare in ((448, 0), (447, -1)):
        where = context(family="motor", length=length, width=300, height=300)
        (check,) = row_checks(where, drive, None, rule, plate)  # type: ignore[arg-type]
        assert (check.id, check.margin) == ("place.motor.with-adapter", spare)


@pytest.mark.parametrize(("any_way_up", "fits"), [(False, False), (True, True)])
def test_a_controller_may_lie_on_its_side_where_that_is_said(any_way_up: bool, fits: bool) -> None:
    where = context(
        family="controller", length=310, width=110, height=210, keep_clear=5, any_way_up=any_way_up
    )
    (check,) = core_fits(where, MOTOR, CONTROLLER)
    assert check.passed == fits
    assert check.margin == (0 if fits else -100)


def test_several_pieces_must_find_room_together() -> None:
    contactor = part("contactor", (62, 50, 70))
    rule = SimpleNamespace(family="contactor", suits=lambda *_: iter(()), base=lambda *_: 2)
    where = context(family="contactor", length=124, width=50, height=70)
    both: Any = (where, None, None, rule, contactor)
    assert failed(row_checks(*both)) == set()
    where = context(family="contactor", length=123, width=50, height=70)
    assert failed(row_checks(where, *both[1:])) == {"place.contactor.pieces"}


@pytest.mark.parametrize(("stands", "passes"), [(60, True), (59, False)])
def test_a_part_stands_the_heat_of_its_place(stands: int, passes: bool) -> None:
    where = context(family="controller", ambient="60 °C")
    hot = part("controller", (None, None, None), ambient_max_c=stands)
    (check,) = core_fits(where, MOTOR, hot)
    assert (check.id, check.passed, check.margin) == ("place.controller.heat", passes, stands - 60)
    where = context(family="motor", ambient="60 °C")
    warm = part("motor", (1, 1, 1), ambient_max_c=stands)
    assert failed(core_fits(where, warm, CONTROLLER)) == set() if passes else {"place.motor.heat"}


# IEC 60529: second digit 4 splash, 5 and 6 jets, 7 and 8 immersion, which do not include jets
# (from memory); 9 of ISO 20653 is a jet, too.
@pytest.mark.parametrize(
    ("code", "dry", "splash", "jets", "immersion"),
    [
        ("IP20", True, False, False, False),
        ("IPXXB", True, False, False, False),
        ("IP54", True, True, False, False),
        ("IP65", True, True, True, False),
        ("IP67", True, True, False, True),
        ("IP65/IP67", True, True, True, True),
        ("IP6K9K", True, True, True, False),
        ("waterproof", False, False, False, False),
    ],
)
def test_a_part_keeps_out_the_water_of_its_place(
    code: str, dry: bool, splash: bool, jets: bool, immersion: bool
) -> None:
    rule = SimpleNamespace(family="heater", suits=lambda *_: iter(()), base=lambda *_: 1)
    drive: Any = SimpleNamespace(touchable=True)
    row: Any = part("heater", (None, None, None), protection=code)
    for water, keeps in (("dry", dry), ("splash", splash), ("jets", jets),
                         ("immersion", immersion)):  # fmt: skip
        where = context(family="heater", water=water)
        (check,) = row_checks(where, drive, None, rule, row)  # type: ignore[arg-type]
        assert (check.id, check.passed) == ("place.heater.water", keeps)


def test_heat_and_water_that_a_row_does_not_tell_are_named() -> None:
    where = context(family="controller", ambient="60 °C", water="splash")
    assert list(core_fits(where, MOTOR, CONTROLLER)) == []
    (said,) = unchecked(where, {"motor": MOTOR, "controller": CONTROLLER})
    assert "some-controller stands the heat and the water" in said
    known = part("controller", (1, 1, 1), ambient_max_c=70, protection="IP65")
    assert unchecked(where, {"controller": known}) == ()
    assert unchecked(context(family="controller", water="dry"), {"controller": CONTROLLER}) == ()


def test_what_has_no_size_is_told_and_not_passed() -> None:
    bare = part("controller", (None, 200, 100))
    where = context(family="controller", length=10, width=10, height=10)
    assert list(core_fits(where, MOTOR, bare)) == []
    (said,) = unchecked(where, {"controller": bare, "motor": MOTOR})
    assert "some-controller" in said
    assert unchecked(where, {"controller": CONTROLLER}) == ()


def test_a_place_without_sizes_asks_nothing() -> None:
    where = context(family="controller")
    assert list(core_fits(where, MOTOR, CONTROLLER)) == []
    assert unchecked(where, {"controller": part("controller", (None, None, None))}) == ()
