"""Of every plan: no part below the voltage that it sees, no conductor without its fuse.

The released plan and the sound car of the dangerous cases in the fast lane, the three shipped
examples in the slow one.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from math import log

import pytest
from circuit_fusing import unfused
from dangerous_cases import sound
from hypothesis import given, settings
from hypothesis import strategies as st
from shipped_examples import NAMES, plan_of
from todays_plan import todays_plan

from bomplan.audit.parts_list import PackSaid, audit_parts_list
from bomplan.buying.terms import CHARGES
from bomplan.catalog import load_catalog
from bomplan.design.bill import JOINTS, RULE_OF
from bomplan.design.circuit import circuit
from bomplan.design.circuit_records import Circuit
from bomplan.design.context import Context
from bomplan.design.currents import no_mean_current
from bomplan.design.drive import resolve
from bomplan.design.planfile import catalog_of, project_of
from bomplan.design.records import Check, Plan
from bomplan.sizing import ampacity_a

# Every family on the pack's voltage, and the column of what it is rated for.
RATINGS = {
    "controller": "v_max_abs",
    "cable": "v_rating",
    "fuse": "v_dc",
    "fuse_holder": "v_dc",
    "contactor": "v_max",
    "service_disconnect": "v_dc",
    "emergency_disconnect": "v_dc",
    "precharge_resistor": "v_max",
    "precharge_relay": "v_dc",
    "discharge_resistor": "v_max",
    "branch_fuse": "v_dc",
    "branch_fuse_holder": "v_dc",
    "branch_cable": "v_rating",
    "link_cable": "v_rating",
    "junction_box": "v_dc",
    "dcdc": "v_in_max",
    "heater": "v_max",
    "heater_relay": "v_dc",
    "isolation_monitor": "v_max",
    "charger": "v_out_max",
}


@cache
def small() -> Plan:
    car = sound()
    said = PackSaid(placement=car.placement)
    found = audit_parts_list(car.project(), car.catalog(), car.typed(), said).plan
    assert found is not None
    return found


PLANS = [
    pytest.param(todays_plan, id="released"),
    pytest.param(small, id="small"),
    *(
        pytest.param(lambda name=name: plan_of(name), id=name, marks=pytest.mark.slow)
        for name in NAMES
    ),
]
EACH = pytest.mark.parametrize("made", PLANS)


def by_id(plan: Plan) -> dict[str, Check]:
    return {check.id: check for check in plan.checks}


@EACH
def test_no_rating_lies_below_the_voltage_that_the_part_sees(made: Callable[[], Plan]) -> None:
    plan = made()
    assert plan.core is not None
    assert plan.performance is not None
    catalog, charged = catalog_of(plan), plan.performance.charge_v
    seen = 0
    for line in plan.lines:
        if line.family in RATINGS:
            part = catalog.family(line.family)[line.part]
            assert part.number(RATINGS[line.family]) >= charged, line.part
            seen += 1
    assert seen >= 12
    motor = catalog.family("motor")[plan.core.motor]
    if motor.text("kind") == "series_dc":
        # Behind a chopper the commutator sees the motor-volt limit, not the pack.
        assert motor.number("max_motor_v_high_current") <= motor.number("max_motor_v")


@EACH
def test_every_conductor_has_its_fuse_upstream(made: Callable[[], Plan]) -> None:
    plan = made()
    found = circuit(plan)
    assert unfused(found) == ()
    kinds = set()
    for wire in found.wires:
        if wire.kind in ("cable", "bar", "stud", "branch"):
            kinds.add(wire.kind)
            assert found.blocks[wire.fuse].kind == "fuse", wire.tag
    assert {"cable", "branch"} <= kinds


# At chassis potential or without a conductor of the traction circuit: no rating of the pack's.
NOT_ON_THE_PACK = frozenset(
    {
        "motor",
        "module",
        "link",
        "monitor",
        "box",
        "hold_down",
        "vent_fan",
        "lug",
        "link_lug",
        "gland",
        "conduit",
        "shunt",
        "charge_inlet",
        "battery_12v",
        "fuse_box_12v",
        "wire_12v",
        "feed_wire",
        "feed_fuse",
        "feed_lug",
        "branch_lug",
        "branch_gland",
        "inertia_switch",
        "gauge",
        "throttle",
        "adapter_plate",
        "coupler",
        "vacuum_set",
        "cooling_set",
        "labels",
        "consumables",
        "fasteners",
        "safety_kit",
    }
)


@EACH
def test_no_family_escapes_the_table_of_ratings(made: Callable[[], Plan]) -> None:
    families = {line.family for line in made().lines}
    assert families - RATINGS.keys() - NOT_ON_THE_PACK - set(CHARGES) == set()


def fed(found: Circuit, without: str) -> set[tuple[str, str]]:
    """Terminals that the positive pole of some cells reaches, with one fuse opened."""
    joined: dict[tuple[str, str], set[tuple[str, str]]] = {}

    def join(one: tuple[str, str], other: tuple[str, str]) -> None:
        joined.setdefault(one, set()).add(other)
        joined.setdefault(other, set()).add(one)

    for wire in found.wires:
        join((wire.start.tag, wire.start.terminal), (wire.end.tag, wire.end.terminal))
    through = ("stud", "disconnect", "driver disconnect", "contactor", "shunt", "fuse")
    for block in found.blocks.values():
        switched = block.kind.endswith((" relay", "resistor")) and block.side == "traction"
        if (block.kind in through or switched) and block.tag != without:
            join((block.tag, "1"), (block.tag, "2"))
    at = [(block.tag, "+") for block in found.blocks.values() if block.kind == "cells"]
    seen = set(at)
    while at:
        for other in joined.get(at.pop(), ()):
            if other not in seen:
                seen.add(other)
                at.append(other)
    return seen


@EACH
def test_the_fuse_of_a_branch_is_the_only_way_into_it(made: Callable[[], Plan]) -> None:
    """Opened, it leaves the device at no positive pole: so no fault in the branch passes by it."""
    found = circuit(made())
    assert {"charger", "converter"} <= found.branches.keys()
    for kind, fuse in found.branches.items():
        device = (found.of(kind)[0].tag, "+")
        assert device in fed(found, "")
        assert device not in fed(found, fuse), kind


@EACH
def test_every_conductor_is_protected_by_a_named_route(made: Callable[[], Plan]) -> None:
    plan = made()
    found, checks = circuit(plan), by_id(plan)
    catalog = catalog_of(plan)
    branch = next(line.part for line in plan.lines if line.family == "branch_cable")
    cable = catalog.family("branch_cable")[branch]
    carries = ampacity_a(
        cable.number("resistance_mohm_per_m"),
        project_of(plan).house_rules.conductor_ambient_c,
        cable.number("insulation_c"),
    )
    branches, boxes = set(found.branches.values()), {block.tag for block in found.of("fuse")}
    routes = set()
    for wire in found.wires:
        if wire.kind == "branch" and wire.fuse in branches:
            route = checks["branch_cable.protection"]
            assert wire.section == f"{cable.number('area_mm2'):g} mm²"
        elif wire.kind == "branch":
            # Behind the pre-charge resistor, which lets through less than the wire carries.
            amps = float(re.findall(r"at most ([\d.]+) A", wire.note)[0])
            assert amps <= carries, wire.tag
            continue
        elif wire.kind in ("cable", "bar", "stud"):
            route = checks["protection.route"]
            assert wire.fuse in boxes - branches
        else:
            continue
        assert route.passed
        assert "-limited" in route.words
        routes.add(route.id)
    assert routes == {"branch_cable.protection", "protection.route"}


# What may stand upstream of a conductor, by its kind, and the checks that name its route.
UPSTREAM = {
    "cable": ({"fuse"}, ("protection.route", "cable.withstand-least", "cable.withstand-greatest")),
    "bar": ({"fuse"}, ("protection.route",)),
    "stud": ({"fuse"}, ("protection.route",)),
    "branch": (
        {"fuse"},
        (
            "branch_cable.protection",
            "branch_cable.withstand-least",
            "branch_cable.withstand-greatest",
        ),
    ),
    "tap": (set(), ("monitor.tap-fuse",)),
    "feed": (
        {"feed fuse"},
        (
            "feed_wire.route",
            "feed_wire.withstand-least",
            "feed_wire.withstand-greatest",
            "feed_fuse.breaking",
            "feed_fuse.clears-in-time",
        ),
    ),
    "12 V": (
        {"blade fuse"},
        ("wire_12v.route", "wire_12v.withstand", "blade_fuse.clears-in-time"),
    ),
    "bolted 12 V": ({"blade fuse", "feed fuse"}, ()),
    "signal": ({"blade fuse"}, ()),
    "mains": (set(), ()),
}


@EACH
def test_no_conductor_of_any_kind_is_without_a_route(made: Callable[[], Plan]) -> None:
    """Traction, disconnect, pre-charge, discharge, branch, tap, 12 V feed and circuit, mains."""
    plan = made()
    found, checks = circuit(plan), by_id(plan)
    seen = set()
    for wire in found.wires:
        fuses, named = UPSTREAM[wire.kind]
        seen.add(wire.kind)
        if fuses:
            assert found.blocks[wire.fuse].kind in fuses, wire.tag
        for name in named:
            if name == "monitor.tap-fuse" and name not in checks:
                # The row does not say: then the building sheet asks for a fuse in each tap.
                assert wire.fuse == "one in each tap"
                continue
            assert checks[name].passed, (wire.tag, name)
            assert checks[name].source
    assert {"cable", "bar", "stud", "branch", "feed", "12 V", "bolted 12 V"} <= seen
    watched = {wire.start.tag for wire in found.wires if wire.kind == "tap"}
    cells = {block.tag for block in found.of("cells")}
    assert watched == (cells if any(line.family == "monitor" for line in plan.lines) else set())
    if found.of("inlet"):
        assert any(wire.kind == "mains" and "outlet" in wire.fuse for wire in found.wires)
    for block in found.of("discharge resistor"):
        own = [w for w in found.wires if block.tag in (w.start.tag, w.end.tag)]
        assert {found.blocks[w.fuse].kind for w in own} == {"fuse"}


@EACH
def test_the_12_v_wires_hold_against_a_reckoning_of_their_own(made: Callable[[], Plan]) -> None:
    """Each by its own length, at a full new battery and at a tired one, from figures set here."""
    plan = made()
    found, catalog = circuit(plan), catalog_of(plan)
    part = {line.family: line.part for line in plan.lines}
    battery_ah = catalog.family("battery_12v")[part["battery_12v"]].number("capacity_ah")
    ambient = project_of(plan).house_rules.conductor_ambient_c
    wires = {
        kind: catalog.family(family)[part[family]]
        for kind, family in (("feed", "feed_wire"), ("12 V", "wire_12v"))
    }
    fuses = [*found.of("feed fuse"), *found.of("blade fuse")]
    assert len(fuses) >= 5
    for block in fuses:
        kind = "feed" if block.kind == "feed fuse" else "12 V"
        behind = [w for w in found.wires if w.fuse == block.tag and w.kind == kind]
        assert behind, block.tag
        row = wires[kind]
        assert {w.section for w in behind} == {f"{row.number('area_mm2'):g} mm²"}
        rated = float(block.rating[0].split()[-2])
        milliohm = row.number("resistance_mohm_per_m")
        effective = 17.241 / milliohm
        bundled = 0.8 if kind == "12 V" else 1.0
        assert rated <= ampacity_a(milliohm, ambient, row.number("insulation_c"), bundled)
        loop_m = sum(w.length_mm or 0 for w in behind) / 1000
        tired_a = 11.5 / (0.9 / battery_ah + 0.001 + loop_m * milliohm * 1e-3 * 1.35)
        assert tired_a > 2 * rated, block.tag
        new_a = 12.8 / (0.275 / battery_ah + 0.001 + 0.0)
        if kind == "feed":
            breaking = catalog.family("feed_fuse")[part["feed_fuse"]].number("breaking_ka")
            assert new_a * 1.25 <= breaking * 1000
        # Ten seconds at twice the rating, which no such fuse takes, leave the wire whole.
        assert 10 * (2 * rated) ** 2 < (120 * effective) ** 2, block.tag


@EACH
def test_all_12_v_wire_of_the_bill_is_laid_but_its_last_started_metre(
    made: Callable[[], Plan],
) -> None:
    plan = made()
    found = circuit(plan)
    for kind, family in (("feed", "feed_wire"), ("12 V", "wire_12v")):
        line = next(line for line in plan.lines if line.family == family)
        laid = sum(w.length_mm or 0 for w in found.wires if w.kind == kind)
        assert 1000 * (line.quantity - 1) < laid <= 1000 * line.quantity


@EACH
def test_every_end_of_a_branch_has_a_lug_and_every_way_out_a_gland(
    made: Callable[[], Plan],
) -> None:
    plan = made()
    found = circuit(plan)
    pieces = {line.family: line.quantity for line in plan.lines}
    wires = [w for w in found.wires if w.kind == "branch"]
    assert pieces["branch_lug"] >= 2 * len(wires)
    assert pieces["branch_gland"] >= 2 * len(found.branches)
    cables = [w for w in found.wires if w.kind == "cable" and not found.blocks[w.end.tag].box]
    assert pieces["gland"] >= 2 * len(found.runs)
    assert pieces["gland"] >= len([w for w in cables if "T" in (w.end.tag[0], w.start.tag[0])])


@EACH
def test_the_capacitors_are_brought_down_by_something(made: Callable[[], Plan]) -> None:
    """A resistor in the plan, by its own formula t = R C ln(V/60); or the controller's figure."""
    plan = made()
    assert plan.core is not None
    assert plan.performance is not None
    controller = catalog_of(plan).family("controller")[plan.core.controller]
    longest, volts = project_of(plan).house_rules.discharge_seconds, plan.performance.charge_v
    line = next((line for line in plan.lines if line.family == "discharge_resistor"), None)
    if volts <= 60:
        assert line is None
    elif line is None:
        assert controller.number("discharge_s") <= longest
    else:
        ohm = catalog_of(plan).family("discharge_resistor")[line.part].number("ohm")
        seconds = ohm * controller.number("capacitance_mf") * 1e-3 * log(volts / 60.0)
        assert by_id(plan)["discharge.time"].value == pytest.approx(seconds, rel=1e-3)
        assert seconds <= longest


@EACH
def test_something_stops_the_charger_in_the_cold(made: Callable[[], Plan]) -> None:
    plan = made()
    assert plan.core is not None
    module = catalog_of(plan).family("module")[plan.core.module]
    lithium = module.text("chemistry") not in ("flooded", "agm", "gel")
    assert ("charging.cold-stop" in by_id(plan)) == lithium
    if lithium:
        assert by_id(plan)["charging.cold-stop"].passed


@given(st.floats(10.0, 200.0), st.floats(0.0, 150.0), st.floats(60.0, 400.0), st.floats(0.0, 300.0))
@settings(max_examples=25, deadline=None)
def test_more_current_leaves_no_thinner_cable_and_no_smaller_fuse(
    rms: float, more: float, peak: float, higher: float
) -> None:
    """Of the shipped rows, by the very rules that the planner asks."""
    plan = todays_plan()
    assert plan.core is not None
    context = Context(project_of(plan), load_catalog(["generic"]))
    drive = resolve(context, plan.core)
    base = no_mean_current(context, drive)

    def least(rms_a: float, peak_a: float) -> tuple[float, float]:
        currents = replace(base, rms_a=rms_a, peak_a=peak_a)
        kept = {
            family: [
                part
                for part in context.catalog.family(family).values()
                if all(c.passed for c in RULE_OF[family].suits(context, drive, currents, part))
            ]
            for family in ("fuse", "cable")
        }
        joint = next(one for one in JOINTS if (one.first, one.second) == ("fuse", "cable"))
        pairs = [
            (fuse.number("rated_a"), cable.number("area_mm2"))
            for fuse in kept["fuse"]
            for cable in kept["cable"]
            if joint.allows(context, drive, currents, fuse, cable)
        ]
        return (
            min((rated for rated, _ in pairs), default=1e9),
            min((area for _, area in pairs), default=1e9),
        )

    small, large = least(rms, peak), least(rms + more, peak + higher)
    assert large[0] >= small[0]
    assert large[1] >= small[1]


@EACH
def test_the_fuse_protects_at_the_least_and_at_the_greatest_fault(
    made: Callable[[], Plan],
) -> None:
    checks = by_id(made())
    assert "-limited" in checks["protection.route"].words
    for name in (
        "protection.route",
        "fuse.least-fault",
        "fuse.clears-in-time",
        "fuse.breaking",
        "cable.withstand-least",
        "cable.withstand-greatest",
        "branch_fuse.breaking",
    ):
        assert checks[name].passed, name
        assert checks[name].source
    assert checks["cable.withstand-least"].limit == checks["cable.withstand-greatest"].limit


@EACH
def test_the_controller_is_set_within_all_that_bounds_it(made: Callable[[], Plan]) -> None:
    plan = made()
    assert plan.core is not None
    context = Context(project_of(plan), catalog_of(plan))
    drive = resolve(context, plan.core)
    assert plan.core.battery_a == drive.battery_limit_a
    assert drive.battery_limit_a <= drive.figures.discharge_10s_a
    assert plan.performance is not None
    assert plan.performance.design_peak_a == pytest.approx(drive.battery_limit_a, abs=0.05)
