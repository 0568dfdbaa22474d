"""Each lint rule: silent on the shipped catalogue, and speaking on its failing example."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest

from bomplan.catalog import Catalog, CurvePoint, Offer, Pair, Part, TemperaturePoint
from bomplan.catalog.lint import RULES, Finding, lint

AS_OF = dt.date(2026, 10, 15)
Spoil = Callable[[Catalog], Catalog]


def part(part_id: str, **changes: Any) -> Spoil:
    """Change fields or figures of one part (a figure of None is taken out)."""

    def spoil(catalog: Catalog) -> Catalog:
        old = catalog.part(part_id)
        fields = {name: value for name, value in changes.items() if name in Part.model_fields}
        figures = dict(old.figures)
        for name, value in changes.items():
            if name in fields:
                continue
            if value is None:
                del figures[name]
            else:
                figures[name] = value
        new = old.model_copy(update={**fields, "figures": figures})
        rows = {**catalog.families[old.family], part_id: new}
        families = {**catalog.families, old.family: rows}
        return catalog.model_copy(update={"families": families})

    return spoil


def without(*part_ids: str) -> Spoil:
    def spoil(catalog: Catalog) -> Catalog:
        families = {
            name: {part_id: row for part_id, row in rows.items() if part_id not in part_ids}
            for name, rows in catalog.families.items()
        }
        return catalog.model_copy(update={"families": families})

    return spoil


def pair(motor: str, controller: str, **changes: Any) -> Spoil:
    def spoil(catalog: Catalog) -> Catalog:
        def change(old: Pair) -> Pair:
            hit = (old.motor, old.controller) == (motor, controller)
            return old.model_copy(update=changes) if hit else old

        return catalog.model_copy(update={"pairs": tuple(change(old) for old in catalog.pairs)})

    return spoil


def curve(name: str, state_of_charge: float, **changes: float) -> Spoil:
    def spoil(catalog: Catalog) -> Catalog:
        def change(old: CurvePoint) -> CurvePoint:
            hit = (old.curve, old.state_of_charge) == (name, state_of_charge)
            return old.model_copy(update=changes) if hit else old

        return catalog.model_copy(update={"curves": tuple(change(old) for old in catalog.curves)})

    return spoil


def temperature(chemistry: str, temperature_c: float, **changes: float) -> Spoil:
    def spoil(catalog: Catalog) -> Catalog:
        def change(old: TemperaturePoint) -> TemperaturePoint:
            hit = (old.chemistry, old.temperature_c) == (chemistry, temperature_c)
            return old.model_copy(update=changes) if hit else old

        rows = tuple(change(old) for old in catalog.temperatures)
        return catalog.model_copy(update={"temperatures": rows})

    return spoil


def offer(**fields: Any) -> Spoil:
    def spoil(catalog: Catalog) -> Catalog:
        return catalog.model_copy(update={"offers": (*catalog.offers, Offer(**fields))})

    return spoil


def without_offers_of(supplier: str) -> Spoil:
    def spoil(catalog: Catalog) -> Catalog:
        kept = tuple(offer for offer in catalog.offers if offer.supplier != supplier)
        return catalog.model_copy(update={"offers": kept})

    return spoil


def without_pairs_of(part_id: str) -> Spoil:
    def spoil(catalog: Catalog) -> Catalog:
        kept = tuple(p for p in catalog.pairs if part_id not in (p.motor, p.controller))
        return catalog.model_copy(update={"pairs": kept})

    return spoil


CELL = "lfp-cell-100"
MID = ("motor-mid-72v-14kw", "inverter-72v-400a")
MID_ROW = "/".join(MID)

# rule, what spoils the catalogue, where the rule must point
EXAMPLES: list[tuple[str, Spoil, str, str]] = [
    ("continuous-above-peak", part(CELL, discharge_continuous_a=251.0), CELL, "discharge_10s_a"),
    (
        "continuous-above-peak",
        part("motor-series-205mm", hour_a=149.0),
        "motor-series-205mm",
        "hour_a",
    ),
    (
        "continuous-above-peak",
        part("chopper-144v-500a", motor_a_hour=501.0),
        "chopper-144v-500a",
        "motor_a_peak",
    ),
    ("continuous-above-peak", pair(*MID, hour_kw=4.9), MID_ROW, "hour_kw"),
    ("window-order", part(CELL, soc_min=1.0), CELL, "soc_max"),
    ("window-order", part(CELL, cell_v_min=3.3), CELL, "cell_v_nominal"),
    ("window-order", part("heater-72v-1200w", v_max=50.0), "heater-72v-1200w", "v_max"),
    ("pair-window", pair(*MID, v_max=91.0), MID_ROW, "v_max"),
    ("pair-window", pair(*MID, v_min=35.0), MID_ROW, "v_min"),
    ("pair-window", pair(*MID, reference_v=91.0), MID_ROW, "reference_v"),
    ("resistance-order", part(CELL, resistance_ac_mohm=1.0), CELL, "resistance_ac_mohm"),
    ("fuse-curve", part("fuse-250v-400a", melt_s_at_5x=12.0), "fuse-250v-400a", "melt_s_at_3x"),
    (
        "fuse-curve",
        part("fuse-250v-400a", min_breaking_a=400.0),
        "fuse-250v-400a",
        "min_breaking_a",
    ),
    (
        "one-hour-capacity",
        part("lead-agm-12v-100", capacity_1h_ah=95.0),
        "lead-agm-12v-100",
        "capacity_1h_ah",
    ),
    ("torque-times-speed", pair(*MID, base_speed_rpm=3000.0), MID_ROW, "peak_kw"),
    ("power-against-battery", pair(*MID, peak_kw=16.0), MID_ROW, "peak_kw"),
    ("torque-against-amperes", pair(*MID, peak_torque_nm=140.0), MID_ROW, "peak_torque_nm"),
    (
        "open-circuit-at-speed",
        part("motor-mid-72v-14kw", max_speed_rpm=7000),
        MID_ROW,
        "controller",
    ),
    (
        "series-torque",
        part("motor-series-205mm", torque_nm_at_200a=23.0),
        "motor-series-205mm",
        "torque_nm_at_200a",
    ),
    (
        "series-speed",
        part("motor-series-205mm", max_motor_v=400.0),
        "motor-series-205mm",
        "max_speed_rpm",
    ),
    (
        "motor-efficiency",
        part("motor-mid-72v-14kw", copper_w_per_nm2=12.0),
        "motor-mid-72v-14kw",
        "copper_w_per_nm2",
    ),
    (
        "controller-efficiency",
        part("inverter-72v-400a", loss_v=9.0),
        "inverter-72v-400a",
        "loss_v",
    ),
    ("charger-power", part("charger-72v-900w", output_w=2600.0), "charger-72v-900w", "output_w"),
    ("charger-power", part("charger-72v-900w", output_a=8.0), "charger-72v-900w", "output_a"),
    ("energy-density", part(CELL, mass_g=3600), CELL, "mass_kg"),
    (
        "energy-density",
        part("lead-flooded-6v-225", mass_g=20_000),
        "lead-flooded-6v-225",
        "mass_kg",
    ),
    ("price-per-kwh", part(CELL, price=420), CELL, "price"),
    ("bulk-density", part(CELL, length_mm=16), CELL, "length_mm"),
    ("cell-voltage", part(CELL, cell_v_nominal=3.6), CELL, "cell_v_nominal"),
    ("curve-shape", curve("lfp", 0.5, open_circuit_v=3.272), "lfp", "open_circuit_v"),
    ("curve-shape", curve("lfp", 0.5, resistance_factor=1.02), "lfp", "resistance_factor"),
    ("curve-against-module", part(CELL, curve="nmc"), CELL, "curve"),
    ("temperature-shape", temperature("lfp", 25.0, capacity_factor=0.99), "lfp", "temperature_c"),
    ("temperature-shape", temperature("lfp", 0.0, capacity_factor=0.5), "lfp", "capacity_factor"),
    (
        "temperature-shape",
        temperature("lfp", 0.0, resistance_factor=1.2),
        "lfp",
        "resistance_factor",
    ),
    (
        "cable-resistance",
        part("cable-50mm2-105c", resistance_mohm_per_m=0.3),
        "cable-50mm2-105c",
        "resistance_mohm_per_m",
    ),
    ("old-price", part(CELL, price_date="2025-10-14"), CELL, "price_date"),
    ("price-from-the-future", part(CELL, price_date="2026-10-16"), CELL, "price_date"),
    ("missing-source", part(CELL, source=""), CELL, "source"),
    ("missing-source", pair(*MID, source=" "), MID_ROW, "source"),
    ("no-price", part(CELL, price=0), CELL, "price"),
    (
        "offer-steps",
        offer(
            part=CELL,
            supplier="northern-wholesale",
            pack_size=4,
            quantity_from=200,
            unit_price=4000,
        ),
        f"{CELL}/northern-wholesale",
        "unit_price",
    ),
    (
        "offer-steps",
        offer(part=CELL, supplier="northern-wholesale", quantity_from=200, unit_price=3000),
        f"{CELL}/northern-wholesale",
        "pack_size",
    ),
    (
        "lapsed-offer",
        offer(
            part="shunt-500a",
            supplier="yard-salvage",
            unit_price=2100,
            valid_until="2026-10-14",
        ),
        "shunt-500a/yard-salvage",
        "valid_until",
    ),
    (
        "offer-stock",
        offer(
            part="shunt-500a", supplier="yard-salvage", quantity_from=9, unit_price=2100, stock=8
        ),
        "shunt-500a/yard-salvage",
        "quantity_from",
    ),
    (
        "offer-against-price",
        offer(part="shunt-500a", supplier="yard-salvage", unit_price=900),
        "shunt-500a/yard-salvage",
        "unit_price",
    ),
    ("dangling-curve", part(CELL, curve="gone"), CELL, "curve"),
    ("dangling-curve", part(CELL, chemistry="gone"), CELL, "chemistry"),
    ("dangling-pair", without("motor-mid-72v-14kw"), MID_ROW, "motor"),
    ("dangling-pair", without("inverter-72v-400a"), MID_ROW, "controller"),
    ("dangling-offer", without("lfp-cell-20"), "lfp-cell-20/northern-wholesale", "part"),
    (
        "dangling-supplier",
        offer(part="shunt-500a", supplier="gone", unit_price=2100),
        "shunt-500a/gone",
        "supplier",
    ),
    ("dangling-supplier", without_offers_of("yard-salvage"), "yard-salvage", "id"),
    ("unpaired", without_pairs_of("motor-mid-72v-14kw"), "motor-mid-72v-14kw", "id"),
    ("unpaired", without_pairs_of("chopper-144v-500a"), "chopper-144v-500a", "id"),
    ("unmounted", part("motor-mid-72v-14kw", shaft="keyed-99"), "motor-mid-72v-14kw", "shaft"),
    (
        "unmounted",
        part("drive-unit-front-80kw", max_axle_torque_nm=9000.0),
        "drive-unit-front-80kw",
        "shaft",
    ),
    ("holder-missing", part("fuse-250v-400a", body="odd"), "fuse-250v-400a", "body"),
    ("lug-missing", part("cable-50mm2-105c", area_mm2=52.0), "cable-50mm2-105c", "area_mm2"),
]


@pytest.mark.parametrize(
    ("code", "spoil", "row", "column"),
    EXAMPLES,
    ids=[f"{code}-{row}-{column}" for code, _, row, column in EXAMPLES],
)
def test_a_rule_speaks_on_its_failing_example(
    generic: Catalog, code: str, spoil: Spoil, row: str, column: str
) -> None:
    spoilt = spoil(generic)
    found = list(RULES[code](spoilt, AS_OF))
    assert {finding.code for finding in found} == {code}
    assert (row, column) in {(finding.id, finding.column) for finding in found}
    assert all(finding.message and finding.family for finding in found)
    assert set(found) <= set(lint(spoilt, AS_OF))


def test_every_rule_has_a_failing_example() -> None:
    assert {code for code, *_ in EXAMPLES} == set(RULES)


def test_every_rule_is_explained() -> None:
    assert all(rule.__doc__ for rule in RULES.values())


def test_the_shipped_catalogue_has_no_finding(generic: Catalog) -> None:
    assert lint(generic, AS_OF) == []


def test_prices_grow_old_with_the_day_given(generic: Catalog) -> None:
    later = lint(generic, dt.date(2028, 1, 1))
    assert {finding.code for finding in later} == {"old-price"}
    assert len(later) == sum(1 for _ in generic.parts())


def test_findings_are_sorted(generic: Catalog) -> None:
    spoilt = part(CELL, mass_g=9000, price=0)(generic)
    found = lint(spoilt, AS_OF)
    assert found == sorted(found)
    assert found[0] == Finding(
        "bulk-density",
        "module",
        CELL,
        "length_mm",
        "9.53 kg/l with these sizes, 0.8 to 3.5 is possible",
    )
