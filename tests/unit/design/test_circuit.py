"""The circuit is the bill's: every line in it, every conductor between two ends and fused."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from circuit_fusing import unfused
from todays_plan import todays_plan

from bomplan.buying.terms import CHARGES
from bomplan.design.circuit import BY_THE_METRE, circuit
from bomplan.design.circuit_records import Circuit
from bomplan.design.planfile import read_plan
from bomplan.design.records import Plan

SAVED = Path(__file__).parents[2] / "golden" / "released" / "1" / "plan.json"


@pytest.fixture(scope="module", params=["released", "today's"])
def plan(request: pytest.FixtureRequest) -> Plan:
    return read_plan(SAVED) if request.param == "released" else todays_plan()


@pytest.fixture(scope="module")
def found(plan: Plan) -> Circuit:
    return circuit(plan)


def test_every_line_of_the_bill_stands_in_it_with_its_pieces(plan: Plan, found: Circuit) -> None:
    beside = {one.line.family: one.pieces for one in found.beside}
    for line in plan.lines:
        if line.family in (*BY_THE_METRE, *CHARGES, "module", "monitor"):
            continue
        blocks = [b for b in found.blocks.values() if b.family == line.family]
        assert len(blocks) + beside.get(line.family, 0) == line.quantity, line.family
        assert all(block.part == line.part for block in blocks)


def test_all_cable_of_the_bill_is_laid(plan: Plan, found: Circuit) -> None:
    bought = next(line.quantity for line in plan.lines if line.family == "cable")
    laid = sum(Fraction(w.length_mm or 0, 1000) for w in found.wires if w.kind == "cable")
    assert float(laid) == pytest.approx(bought, abs=0.005)


def test_all_branch_cable_of_the_bill_is_laid_but_its_last_started_metre() -> None:
    plan = todays_plan()
    found = circuit(plan)
    line = next(line for line in plan.lines if line.family == "branch_cable")
    wires = [w for w in found.wires if w.kind == "branch"]
    laid = sum(Fraction(w.length_mm or 0, 1000) for w in wires)
    assert line.quantity - 1 < laid <= line.quantity
    assert line.part == found.branch_cable
    assert {w.section for w in wires} == {"6 mm²"}
    assert line.mass_kg == pytest.approx(0.074 * line.quantity)
    assert line.price > 0


def test_each_branch_has_a_fuse_of_its_own() -> None:
    found = circuit(todays_plan())
    assert set(found.branches) == {"charger", "converter", "heater", "isolation monitor"}
    assert len(set(found.branches.values())) == 4
    for kind, fuse in found.branches.items():
        device = found.of(kind)[0].tag
        fed = [w for w in found.wires if device in (w.start.tag, w.end.tag) and w.kind == "branch"]
        assert len(fed) >= 2
        assert {w.fuse for w in fed} == {fuse}


def test_every_wire_ends_at_two_blocks_and_names_its_fuse(found: Circuit) -> None:
    for wire in found.wires:
        assert wire.start.tag in found.blocks
        assert wire.end.tag in found.blocks
        assert wire.start != wire.end
        assert wire.fuse
        if wire.kind in ("cable", "bar", "stud", "branch"):
            assert found.blocks[wire.fuse].kind == "fuse"
        if wire.kind == "cable":
            assert wire.section.endswith("mm²")
            assert wire.length_mm


def test_no_loop_through_cells_without_a_fuse(found: Circuit) -> None:
    assert unfused(found) == ()


def test_a_box_whose_fuse_is_bridged_is_found(found: Circuit) -> None:
    run = found.runs[0]
    fuse, cells = run.tags[0], run.tags[1]
    into = next(w for w in found.wires if w.end.tag == fuse)
    bridge = type(into)("W99", into.start, type(into.end)(cells, "+"), "cable", "1 mm²", 1, fuse)
    from dataclasses import replace

    assert unfused(replace(found, wires=(*found.wires, bridge))) == (fuse,)


def test_volts_of_boxes_and_of_cells_add_up_to_the_pack(plan: Plan, found: Circuit) -> None:
    assert plan.performance is not None
    assert sum(b.full_v for b in found.boxes) == pytest.approx(plan.performance.charge_v)
    assert sum(b.nominal_v for b in found.boxes) == pytest.approx(plan.performance.nominal_v)
