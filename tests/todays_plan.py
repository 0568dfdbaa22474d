"""The released plan's car with the rules, the figures and the families of today."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from bomplan.audit.parts_list import PackSaid, audit_parts_list
from bomplan.audit.typed_list import TypedPart
from bomplan.catalog import load_catalog
from bomplan.design.planfile import project_of, read_plan
from bomplan.design.records import Plan

RELEASED = Path(__file__).parent / "golden" / "released" / "1" / "plan.json"
# What came after that plan was made, as its builder would add it today.
ADDED = {
    "branch_cable": "branch-cable-6mm2-105c",
    "discharge_resistor": "discharge-resistor-10k-10w",
    "branch_lug": "branch-lug-6mm2-m6",
    "branch_gland": "branch-gland-m12",
    "wire_12v": "wire-12v-2-5mm2-105c",
    "feed_fuse": "feed-fuse-strip-60a",
    "feed_wire": "feed-wire-10mm2-105c",
    "feed_lug": "feed-lug-10mm2-m8",
    "link_cable": "link-cable-25mm2-105c",
    "link_lug": "link-lug-25mm2-m6",
}
# What would not fit the studs that the catalogue gives today.
REPLACED = {"junction_box": "junction-box-large"}


@cache
def todays_plan() -> Plan:
    """Counted anew from the parts of the released plan and what has been added since."""
    old = read_plan(RELEASED)
    lines = {
        line.family: TypedPart(line.family, REPLACED.get(line.family, line.part), "", line.quantity)
        for line in old.lines
        if line.family != "shipping"
    }
    lines |= {family: TypedPart(family, part, "", 1) for family, part in ADDED.items()}
    said = PackSaid({use.bay: use.series for use in old.placement})
    found = audit_parts_list(project_of(old), load_catalog(["generic"]), lines, said).plan
    assert found is not None
    return found
