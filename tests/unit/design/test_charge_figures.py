"""What charging takes: from empty, and after a usual day, in hours and energy from the wall."""

from __future__ import annotations

import pytest
from dangerous_cases import CORE, sound

from bomplan.audit.parts_list import PackSaid, audit_parts_list
from bomplan.design.bill.charging import charge_hours, charge_wall_kwh, refill_hours
from bomplan.design.context import Context
from bomplan.design.drive import resolve


def test_energy_from_the_wall_by_hand() -> None:
    """2.8 V to full: window x 100 Ah x 89.6 V over the charger's and the cells' efficiency."""
    car = sound()
    context = Context(car.project(), car.catalog())
    drive = resolve(context, CORE)
    charger = context.catalog.family("charger")[car.parts["charger"][0]]
    module = drive.module
    window = module.number("soc_max") - module.number("soc_min")
    # charger 0.92, iron phosphate 0.92 there and back (published round figures)
    assert charge_wall_kwh(drive, charger) == pytest.approx(
        window * 100 * 28 * 3.2 / 0.92 / 0.92 / 1000, rel=1e-6
    )
    all_of_it = window * 100 * 28 * 3.2
    assert refill_hours(context, drive, charger, all_of_it) == pytest.approx(
        charge_hours(context, drive, charger)
    )
    # the absorption stays, the bulk halves: 0.3 h for lithium
    half = refill_hours(context, drive, charger, all_of_it / 2)
    assert half - 0.3 == pytest.approx((charge_hours(context, drive, charger) - 0.3) / 2)
    assert refill_hours(context, drive, charger, 99 * all_of_it) == charge_hours(
        context, drive, charger
    )


@pytest.mark.parametrize(("between_m", "km"), [(None, 8.0), (5_000, 5.0), (900_000, None)])
def test_a_day_is_the_distance_between_two_charges(between_m: int | None, km: float | None) -> None:
    car = sound()
    if between_m is not None:
        car.fields["use"] = {"between_charges_m": between_m}
    found = audit_parts_list(
        car.project(), car.catalog(), car.typed(), PackSaid(placement=car.placement)
    )
    assert found.plan is not None
    performance = found.plan.performance
    assert performance is not None
    day = performance.day
    assert day is not None
    (only,) = performance.ranges
    assert day.km == (only.range_km if km is None else km)
    assert day.wall_kwh == pytest.approx(day.km * only.wall_wh_per_km / 1000, abs=0.006)
    assert day.hours <= performance.charge_hours
    assert performance.charge_wall_kwh is not None
    assert day.wall_kwh > 0
