"""What the scales said against the plan, as lines for the terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from bomplan.measure import WeighIn
from bomplan.report.lines import Row
from bomplan.report.terminal import check_rows
from bomplan.report.text import clean
from bomplan.report.units import Show

_CORNERS: Final = ("front left", "front right", "rear left", "rear right")


def weigh_in_rows(found: Sequence[WeighIn], show: Show) -> Iterator[Row]:
    """Every weighing with its difference; the limits as the last one leaves them."""
    for one in found:
        yield Row(clean(one.name, 80), "heading")
        yield from _loads(one, show)
        yield from _difference(one, show)
        yield Row("")
    last = found[-1]
    yield Row(f"Limits of the finished car, as found at: {clean(last.name, 40)}", "heading")
    yield from check_rows(last.checks, show)
    yield Row("")
    wrong = sum(not check.passed for check in last.checks)
    if wrong:
        yield Row(f"{wrong} of {len(last.checks)} limits FAIL with the spread of the scales", "bad")
    else:
        yield Row(f"every limit holds, with the spread of the scales ({len(last.checks)})", "good")


def _loads(one: WeighIn, show: Show) -> Iterator[Row]:
    pairs = [
        ("front axle", one.expected_front_g, one.read_front_g),
        ("rear axle", one.expected_rear_g, one.read_rear_g),
    ]
    corners = one.expected_corners
    if corners is not None and one.read_corners_g is not None:
        expected = (
            corners.front_left_g, corners.front_right_g, corners.rear_left_g, corners.rear_right_g,
        )  # fmt: skip
        pairs += [
            (name, round(wanted), read)
            for name, wanted, read in zip(_CORNERS, expected, one.read_corners_g, strict=True)
        ]
    for name, wanted_g, read_g in pairs:
        more = read_g - wanted_g
        sign = "+" if more >= 0 else "-"
        yield Row(
            f"  {name:<12} plan {show.mass(wanted_g / 1000):>8}   scales"
            f" {show.mass(read_g / 1000):>8}   {sign}{show.mass(abs(more) / 1000)}"
        )


def _difference(one: WeighIn, show: Show) -> Iterator[Row]:
    spread = show.mass(one.tolerance_g / 1000)
    if one.agrees:
        yield Row(f"  Scales and plan agree within {spread} an axle.", "good")
        return
    more = "more" if one.extra_g >= 0 else "less"
    where = ""
    if one.extra_x_mm is not None:
        where = f", as if at {abs(one.extra_x_mm)} mm " + (
            "behind the front axle" if one.extra_x_mm >= 0 else "ahead of the front axle"
        )
        if one.extra_y_mm is not None:
            side = "right" if one.extra_y_mm >= 0 else "left"
            where += f" and {abs(one.extra_y_mm)} mm {side} of the middle"
    yield Row(f"  The car is {show.mass(abs(one.extra_g) / 1000)} {more} than planned{where}.",
              "caution")  # fmt: skip
    for suspect in one.suspects:
        yield Row(
            f"    It would fit if: {clean(suspect.words, 50)}"
            f" ({show.mass(suspect.mass_g / 1000)} at {suspect.x_mm} mm)"
        )
    if not one.suspects:
        yield Row("    No single thing explains it: look for several, or read the scales again.")
