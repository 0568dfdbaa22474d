"""How tight a cable may be bent, as it stands on its line of the bill."""

from __future__ import annotations

import pytest
from todays_plan import todays_plan

from bomplan.catalog import load_catalog
from bomplan.catalog.records import Part
from bomplan.design.bill.ends import bend_words, least_bend_mm


def cable(diameter_mm: float) -> Part:
    rows = load_catalog(["generic"]).family("cable")
    row = rows[min(rows)]
    return row.model_copy(update={"figures": row.figures | {"outer_diameter_mm": diameter_mm}})


@pytest.mark.parametrize(
    ("diameter_mm", "still_mm", "moving_mm"),
    [(11.9, 36, 60), (12.0, 36, 60), (12.1, 49, 73)],
)
def test_the_least_bend_jumps_above_twelve_millimetres(
    diameter_mm: float, still_mm: int, moving_mm: int
) -> None:
    """IEC 62440: 3 and 5 diameters up to 12 mm, 4 and 6 above; rounded up, never down."""
    one = cable(diameter_mm)
    assert least_bend_mm(one) == still_mm
    assert least_bend_mm(one, moving=True) == moving_mm
    assert f"{still_mm} mm and {moving_mm} mm to the motor" in bend_words(one, "to the motor")
    assert f"{moving_mm} mm" not in bend_words(one).replace(f"{still_mm} mm", "")


def test_a_whole_millimetre_is_not_rounded_up_by_the_float() -> None:
    """4 times 17.5 and 3 times 4.1 are 70 and 12.3 whatever the last bit says."""
    assert least_bend_mm(cable(17.5)) == 70
    assert least_bend_mm(cable(4.1)) == 13
    assert least_bend_mm(cable(1.1 * 10)) == 33


def test_wherever_glands_are_counted_the_entries_of_devices_are_told() -> None:
    told = [line.why for line in todays_plan().lines if line.family.endswith("gland")]
    assert len(told) == 2
    assert all("entries of the devices themselves are not counted" in why for why in told)
