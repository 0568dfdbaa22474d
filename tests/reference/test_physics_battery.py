"""Peukert's law, constant power and string sharing against published and closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from bomplan.physics import (
    CellCurve,
    Pack,
    TemperatureTable,
    condition_pack,
    current_for_power,
    greatest_power_w,
    peukert_exponent,
    peukert_hours,
    string_currents,
)
from bomplan.physics.battery import Pack as PackRecord
from bomplan.physics.discharge import discharge
from bomplan.physics.pack_condition import PackData


@pytest.mark.parametrize(
    ("amps", "hours", "amp_hours"),
    [
        (5, 20.000, 100.00), (10, 8.7055, 87.06), (20, 3.7893, 75.79), (50, 1.26191, 63.10),
        (100, 0.54928, 54.93), (200, 0.23909, 47.82),
    ],
)  # fmt: skip
def test_peukert_table(amps: float, hours: float, amp_hours: float) -> None:
    """t = H (C/(I H))^n, C20 100 Ah, n 1.2 (Larminie and Lowry, ch. 3)."""
    found = peukert_hours(100.0, 20.0, 1.2, amps)
    assert found == pytest.approx(hours, rel=1e-4)
    assert found * amps == pytest.approx(amp_hours, rel=1e-4)


@pytest.mark.parametrize(
    ("c20", "minutes", "published"),
    [
        (225, 447, 1.24), (235, 488, 1.19), (244, 530, 1.14), (250, 535, 1.17), (305, 660, 1.21),
        (350, 760, 1.28), (85, 135, 1.23), (130, 225, 1.24), (216, 450, 1.17), (105, 160, 1.28),
    ],
)  # fmt: skip
def test_published_exponents(c20: float, minutes: float, published: float) -> None:
    """A battery monitor's manual prints these beside C20 and the minutes at 25 A."""
    hours = minutes / 60
    assert peukert_exponent(c20, 20.0, 25 * hours, hours) == pytest.approx(published, abs=0.012)


def test_peukert_is_not_carried_above_the_rated_hours() -> None:
    """A deep-cycle block's sheet: 250 Ah at 100 h, where the bare law promises 306."""
    exponent = peukert_exponent(225.0, 20.0, 25 * 447 / 60, 447 / 60)
    assert peukert_hours(225.0, 20.0, exponent, 2.5) * 2.5 == pytest.approx(225.0)
    for hours, printed in ((5.0, 185.0), (10.0, 207.0)):
        amps = printed / hours
        assert peukert_hours(225.0, 20.0, exponent, amps) * amps == pytest.approx(printed, rel=0.1)


@pytest.mark.parametrize("amps", [2.0, 5.0, 20.0, 50.0])
def test_the_drive_reproduces_peukert_at_constant_current(amps: float) -> None:
    """Second by second, from full to empty, against the closed form."""
    flat = CellCurve(np.array([0.0, 1.0]), np.array([2.0, 2.0]), np.array([1.0, 1.0]))
    pack = Pack(flat, 50, 100.0, 1e-9, 20.0, 1.2, 0.0, 1.0, 1.0, 200.0, 1e3, 1e3)
    gone = discharge(pack, np.full(600, amps * 100.0), 0.0)
    seconds = gone.steps - 1 + gone.last_share
    assert seconds / 3600 == pytest.approx(peukert_hours(100.0, 20.0, 1.2, amps), rel=1e-6)


@pytest.mark.parametrize(
    ("volts", "ohm", "watts", "amps", "terminal", "loss", "most"),
    [
        (120.0, 0.06, 20e3, 183.503, 108.990, 2020.4, 60e3),
        (96.0, 0.05, 30e3, 392.902, 76.355, 7718.6, 46.08e3),
    ],
)
def test_constant_power(
    volts: float, ohm: float, watts: float, amps: float, terminal: float, loss: float, most: float
) -> None:
    """I = (E - sqrt(E² - 4 P R))/(2 R), greatest power E²/(4 R) (closed form)."""
    current = float(current_for_power(np.array([watts]), np.array([volts]), np.array([ohm]))[0])
    assert current == pytest.approx(amps, rel=1e-5)
    assert volts - ohm * current == pytest.approx(terminal, rel=1e-5)
    assert ohm * current**2 == pytest.approx(loss, rel=1e-4)
    assert (volts - ohm * current) * current == pytest.approx(watts, rel=1e-12)
    assert greatest_power_w(volts, ohm) == pytest.approx(most, rel=1e-12)
    beyond = current_for_power(np.array([most * 1.0001]), np.array([volts]), np.array([ohm]))
    assert np.isnan(beyond[0])


def test_constant_power_without_resistance_and_on_charge() -> None:
    none = current_for_power(np.array([1000.0]), np.array([100.0]), np.array([0.0]))
    assert none[0] == pytest.approx(10.0)
    back = float(current_for_power(np.array([-5e3]), np.array([100.0]), np.array([0.05]))[0])
    assert back < 0
    assert (100.0 - 0.05 * back) * back == pytest.approx(-5e3)


def test_lead_acid_capacity_in_the_cold() -> None:
    """IEEE 485 sizing factors, from memory: 1.19 at 10 °C, 1.52 at -3.9 °C, 1 at 25 °C."""
    factors = {-3.9: 1.520, 4.4: 1.300, 10.0: 1.190, 18.3: 1.080, 25.0: 1.000}
    table = TemperatureTable(
        np.array(list(factors)), 1 / np.array(list(factors.values())), np.ones(len(factors))
    )
    for celsius, factor in factors.items():
        assert pack_at(table, celsius).capacity_ah == pytest.approx(200.0 / factor, rel=1e-6)
        # The published cubic, x = C/100; largest disagreement with the table 1 %.
        x = celsius / 100
        cubic = -2.8117 * x**3 + 4.1916 * x**2 - 2.4941 * x + 1.405
        assert pack_at(table, celsius).capacity_ah == pytest.approx(200.0 / cubic, rel=0.012)


def pack_data(state_of_health: float = 1.0) -> PackData:
    curve = CellCurve(np.array([0.0, 1.0]), np.array([1.9, 2.12]), np.array([1.0, 1.0]))
    return PackData(
        curve, 60, 200.0, 0.1, 20.0, 1.2, 0.2, 1.0, 1.6, 2.6, 150.0, 500.0, 60.0, 0.0, 45.0,
        state_of_health,
    )  # fmt: skip


def pack_at(table: TemperatureTable, celsius: float, aged: bool = False) -> PackRecord:
    return condition_pack(pack_data(), table, celsius, aged, 72.0, 160.0)


def test_condition_sets_age_and_voltage_window() -> None:
    table = TemperatureTable(np.array([0.0, 25.0]), np.array([0.8, 1.0]), np.array([2.0, 1.0]))
    new, old, cold = pack_at(table, 25.0), pack_at(table, 25.0, aged=True), pack_at(table, -1.0)
    assert old.capacity_ah == pytest.approx(0.8 * new.capacity_ah)
    assert old.resistance_ohm == pytest.approx(1.5 * new.resistance_ohm)
    assert cold.resistance_ohm == pytest.approx(2.0 * new.resistance_ohm)
    assert (new.charge_limit_a, cold.charge_limit_a) == (60.0, 0.0)
    assert (new.min_voltage_v, new.max_voltage_v) == (96.0, 156.0)


def test_four_blocks_in_series_make_one_of_four_times_the_volts() -> None:
    """Packaged lithium blocks: 4 x 2 mohm at 12.8 V equals the 51.2 V block's 8 mohm."""
    currents = string_currents(np.full(2, 51.2), np.array([4 * 2e-3, 8e-3]), 100.0)
    assert currents == pytest.approx([50.0, 50.0])


def test_unequal_strings() -> None:
    """Kirchhoff: 2 V apart over 80 mohm drives 25 A round at no load."""
    currents = string_currents(np.array([100.0, 98.0]), np.array([0.04, 0.04]), 0.0)
    assert currents == pytest.approx([25.0, -25.0])
    loaded = string_currents(np.array([100.0, 100.0]), np.array([0.04, 0.06]), 100.0)
    assert loaded == pytest.approx([60.0, 40.0])


def test_a_used_module_ages_from_what_it_was_bought_at() -> None:
    """The catalogue gives the end of life as a share of the capacity as bought."""
    table = TemperatureTable(np.array([0.0, 25.0]), np.array([0.8, 1.0]), np.array([2.0, 1.0]))
    data = pack_data(state_of_health=0.7)
    new, old = (condition_pack(data, table, 25.0, aged, 72.0, 160.0) for aged in (False, True))
    assert new.capacity_ah == pytest.approx(0.7 * data.capacity_ah)
    assert old.capacity_ah == pytest.approx(0.8 * 0.7 * data.capacity_ah)


@pytest.mark.parametrize(("hours", "published_ah"), [(5.0, 185.0), (10.0, 207.0), (20.0, 225.0)])
def test_one_exponent_between_its_two_rates(hours: float, published_ah: float) -> None:
    """The 225 Ah block's sheet at 5, 10 and 20 h, within 10 % (its own maker's exponent gives
    172.6 and 197.0 Ah); above 20 h nothing is promised, though the sheet says 250 Ah at 100 h."""
    exponent = peukert_exponent(225.0, 20.0, 25.0 * 447 / 60, 447 / 60)
    current = 225.0 / 20.0 * (20.0 / hours) ** (1 / exponent)
    assert peukert_hours(225.0, 20.0, exponent, current) == pytest.approx(hours)
    assert hours * current == pytest.approx(published_ah, rel=0.10)
    assert hours * current == pytest.approx({5.0: 172.6, 10.0: 197.0, 20.0: 225.0}[hours], rel=2e-3)
    slow = 2.5
    assert slow * peukert_hours(225.0, 20.0, exponent, slow) == pytest.approx(225.0)
