"""The shipped catalogue: enough of everything, and figures that hang together."""

from __future__ import annotations

import math
import re
from collections import Counter
from pathlib import Path

import pytest

from bomplan.catalog import Catalog
from bomplan.catalog.columns import part_families, schema
from bomplan.catalog.reference import column_help, columns_page
from bomplan.catalog.rules.energy import curves_by_name, nominal_kwh, temperatures_by_chemistry
from bomplan.catalog.sources import shipped_catalogs

# ISO 4217 code, ISO 8601 day and the four origins are checked on loading.


def test_counts_make_choosing_a_real_problem(generic: Catalog) -> None:
    assert len(generic.family("module")) >= 42
    assert len(generic.family("motor")) >= 26
    assert len(generic.family("controller")) >= 26
    assert len(generic.pairs) >= 60
    assert len(generic.offers) >= 100
    assert len(generic.suppliers) == 3
    for family in part_families():
        assert len(generic.family(family.name)) >= 3, family.name


def test_every_kind_of_module_is_there(generic: Catalog) -> None:
    modules = generic.family("module").values()
    chemistries = Counter(module.text("chemistry") for module in modules)
    assert set(chemistries) == {"flooded", "agm", "gel", "lfp", "nmc", "lto", "sodium"}
    for kind in ("flooded", "agm", "gel"):
        volts = {m.number("cells_series") * 2 for m in modules if m.text("chemistry") == kind}
        assert volts == {6, 8, 12}
    bare = [
        m.number("capacity_ah")
        for m in modules
        if m.text("chemistry") == "lfp" and m.text("form") == "cell"
    ]
    assert (min(bare), max(bare)) == (20, 300)
    packaged = [m for m in modules if m.flag("built_in_protection")]
    assert {m.number("cells_series") for m in packaged} == {4, 8, 16}
    for m in packaged:
        assert m.number("cells_series") * m.number("max_series") <= 16
    health = [m.number("state_of_health") for m in modules if m.text("condition") == "salvage"]
    assert (min(health), max(health)) == (0.75, 0.9)


def test_every_kind_of_motor_is_there(generic: Catalog) -> None:
    motors = generic.family("motor").values()
    kinds = Counter((motor.text("kind"), motor.text("mount")) for motor in motors)
    assert set(kinds) == {
        ("series_dc", "gearbox"),
        ("series_dc", "chain"),
        ("induction", "gearbox"),
        ("induction", "chain"),
        ("induction", "axle"),
        ("permanent_magnet", "gearbox"),
        ("permanent_magnet", "chain"),
        ("permanent_magnet", "axle"),
    }
    continuous = [motor.number_or("continuous_kw", math.nan) for motor in motors]
    known = [kw for kw in continuous if not math.isnan(kw)]
    assert min(known) <= 5
    assert max(known) >= 60


def test_each_motor_has_one_to_five_pairs(generic: Catalog) -> None:
    counts = Counter(pair.motor for pair in generic.pairs)
    assert set(counts) == set(generic.family("motor"))
    assert max(counts.values()) <= 5
    assert sum(count >= 2 for count in counts.values()) == len(counts)


@pytest.mark.parametrize("volts", [48.0, 72.0, 96.0, 120.0, 144.0, 320.0, 400.0])
def test_every_voltage_class_finds_its_auxiliaries(generic: Catalog, volts: float) -> None:
    for family, low, high in (
        ("charger", "v_out_min", "v_out_max"),
        ("dcdc", "v_in_min", "v_in_max"),
        ("heater", "v_min", "v_max"),
    ):
        fits = [
            part.id
            for part in generic.family(family).values()
            if part.number(low) <= volts <= part.number(high)
        ]
        assert fits, (family, volts)


def test_mass_per_kwh_in_the_windows_of_the_trade(generic: Catalog) -> None:
    """Bare modules, common practice (typical, 15 % either way); lead never below 18."""
    windows = {
        "flooded": (19, 25),
        "agm": (23, 28),
        "gel": (26, 30),
        "lfp": (5.8, 9.2),
        "nmc": (4.3, 11),
        "lto": (13, 16),
        "sodium": (7.5, 9),
    }
    for module in generic.family("module").values():
        low, high = windows[module.text("chemistry")]
        assert low <= module.mass_g / 1000 / nominal_kwh(module) <= high, module.id


def test_lead_keeps_sixteen_to_twenty_four_usable_watt_hours_per_kg(generic: Catalog) -> None:
    """80 % of the one-hour capacity at nominal volts, common practice; 48 is a car-pack myth."""
    for module in generic.family("module").values():
        if not module.has("capacity_1h_ah"):
            continue
        volts = module.number("cells_series") * 2.0
        usable = 0.8 * module.number("capacity_1h_ah") * volts
        assert 16 <= usable / (module.mass_g / 1000) <= 26, module.id


def test_two_resistances_in_the_right_order(generic: Catalog) -> None:
    """Over seconds a lithium cell has 1.3 to 3.5 times its 1 kHz value (common practice: 2 to
    3 for LFP)."""
    for module in generic.family("module").values():
        ratio = module.number("resistance_dc_mohm") / module.number("resistance_ac_mohm")
        assert 1.25 <= ratio <= 3.5, module.id


def test_packaged_blocks_add_up(generic: Catalog) -> None:
    """Four 12.8 V blocks in series make one of 51.2 V, as a maker's sheet has it (2 and 8 mohm
    there); here the larger block has its protection only once."""
    small = generic.part("lfp-block-12-8v-100").number("resistance_dc_mohm")
    large = generic.part("lfp-block-51-2v-100").number("resistance_dc_mohm")
    assert 0.6 * 4 * small <= large <= 4 * small


# open-circuit volts of one cell at 10, 20, ... 90 %: two published parameter sets of NMC
# (Mohtat2020, and the resistance-network example, as shipped with PyBaMM 26.10)
NMC_SETS = [
    (3.511, 3.585, 3.639, 3.671, 3.716, 3.797, 3.880, 3.971, 4.077),
    (3.494, 3.576, 3.625, 3.655, 3.697, 3.768, 3.854, 3.937, 4.046),
]
# volts per cell of flooded lead at 10, 20, ... 100 %, a maker's sheet; 5 mV
LEAD_SHEET = (1.918, 1.943, 1.969, 1.993, 2.017, 2.040, 2.062, 2.083, 2.103, 2.122)


def volts(catalog: Catalog, curve: str) -> dict[float, float]:
    return {p.state_of_charge: p.open_circuit_v for p in curves_by_name(catalog)[curve]}


def test_nmc_curve_against_published_sets(generic: Catalog) -> None:
    curve = volts(generic, "nmc")
    for published in NMC_SETS:
        for step, value in enumerate(published, start=1):
            assert abs(curve[step / 10] - value) <= 0.060


def test_lead_curve_against_the_sheet(generic: Catalog) -> None:
    curve = volts(generic, "lead-flooded")
    for step, value in enumerate(LEAD_SHEET, start=1):
        assert abs(curve[step / 10] - value) <= 0.005


def test_lfp_plateau(generic: Catalog) -> None:
    """30 to 70 % lies in 3.20 to 3.30 V and is flatter than 1.8 mV per percent (Prada2013
    parameter set)."""
    curve = volts(generic, "lfp")
    assert 3.20 <= curve[0.3] < curve[0.7] <= 3.30
    assert (curve[0.7] - curve[0.3]) / 40 < 0.0018


# IEEE 485 sizing factors, vented lead-acid, base 25 C, from memory
IEEE_485 = {
    -3.9: 1.520,
    4.4: 1.300,
    10.0: 1.190,
    15.6: 1.110,
    21.1: 1.040,
    32.2: 0.940,
    43.3: 0.880,
}


def test_lead_capacity_in_the_cold_against_ieee_485(generic: Catalog) -> None:
    points = temperatures_by_chemistry(generic)["flooded"]
    for celsius, factor in IEEE_485.items():
        low = max((p for p in points if p.temperature_c <= celsius), key=lambda p: p.temperature_c)
        high = min((p for p in points if p.temperature_c > celsius), key=lambda p: p.temperature_c)
        share = (celsius - low.temperature_c) / (high.temperature_c - low.temperature_c)
        value = low.capacity_factor + share * (high.capacity_factor - low.capacity_factor)
        assert abs(value * factor - 1) <= 0.010, celsius


def test_lithium_in_the_cold(generic: Catalog) -> None:
    """0 C 80 to 90 %, -20 C 50 to 60 %; resistance at 0 C 2.07 times that at 25 C."""
    for chemistry in ("lfp", "nmc"):
        points = {p.temperature_c: p for p in temperatures_by_chemistry(generic)[chemistry]}
        assert 0.80 <= points[0.0].capacity_factor <= 0.90
        assert 0.50 <= points[-20.0].capacity_factor <= 0.60
        assert points[0.0].resistance_factor == pytest.approx(2.07)


def test_nine_inch_class_series_motor_against_its_own_equation(generic: Catalog) -> None:
    """Back-EMF times current is torque times speed; at 72 V the reference rows give 2900,
    2390 and 1940 rpm at 200, 300 and 500 A, with about one volt more lost than here."""
    motor = generic.part("motor-series-232mm")
    for amps, expected in ((200, 2900), (300, 2390), (500, 1940)):
        emf = 72 - motor.number("brush_v") - amps * motor.number("resistance_hot_mohm") / 1000
        rpm = emf * amps / motor.number(f"torque_nm_at_{amps}a") * 30 / math.pi
        assert rpm == pytest.approx(expected, rel=0.03)


def test_cable_is_class_5(generic: Catalog) -> None:
    """IEC 60228:2004 table 3, plain copper, 20 C, ohm/km (10 mm2 from memory)."""
    table = {10: 1.91, 16: 1.21, 25: 0.780, 35: 0.554, 50: 0.386, 70: 0.272, 95: 0.206, 120: 0.161}
    found = {
        (part.number("area_mm2"), part.number("insulation_c")): part
        for part in generic.family("cable").values()
    }
    assert set(found) == {(area, celsius) for area in table for celsius in (90, 105, 125)}
    for (area, _), part in found.items():
        assert part.number("resistance_mohm_per_m") == table[int(area)]


def test_a_hundred_may_cost_less_than_ninety_five(generic: Catalog) -> None:
    steps = [
        offer
        for offer in generic.offers
        if (offer.part, offer.supplier) == ("lfp-cell-100", "northern-wholesale")
    ]
    by_step = {offer.quantity_from: offer.unit_price for offer in steps}
    assert 100 * by_step[100] < 95 * by_step[16]


def test_ids_are_generic(generic: Catalog) -> None:
    pattern = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
    assert all(pattern.fullmatch(part.id) for part in generic.parts())


def test_nothing_of_the_shipped_catalogue_is_unknown(generic: Catalog) -> None:
    assert generic.notes == ()


def test_the_page_of_columns_is_up_to_date() -> None:
    page = (shipped_catalogs()["generic"] / "README.md").read_text(encoding="utf-8")
    assert page.endswith(columns_page())


def test_every_column_of_every_table_is_explained() -> None:
    for family in schema().values():
        assert family.title
        assert family.system
        for column in family.columns.values():
            assert column.description, (family.name, column.name)
            assert column.description in column_help(family.name, column.name)
            if column.type == "choice":
                assert len(column.choices) >= 2
            if column.minimum is not None and column.maximum is not None:
                assert column.minimum < column.maximum


def test_the_schema_names_only_known_families() -> None:
    folder = Path(shipped_catalogs()["generic"])
    assert {path.stem for path in folder.glob("*.csv")} == set(schema())
