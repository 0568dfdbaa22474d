"""Rules on rows that name one another: nothing dangles, nothing stands alone."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from bomplan.catalog.records import Catalog, Part
from bomplan.catalog.rules.finding import Finding, about


def dangling_curve(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """A module's curve and the temperatures of its chemistry exist."""
    curves = {point.curve for point in catalog.curves}
    chemistries = {point.chemistry for point in catalog.temperatures}
    for part in catalog.family("module").values():
        if part.text("curve") not in curves:
            message = f"there is no curve {part.text('curve')}"
            yield about(part, "dangling-curve", "curve", message)
        if part.text("chemistry") not in chemistries:
            message = f"there are no temperatures for {part.text('chemistry')}"
            yield about(part, "dangling-curve", "chemistry", message)


def dangling_pair(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """Motor and controller of a pair exist."""
    for pair in catalog.pairs:
        row = f"{pair.motor}/{pair.controller}"
        for column, part_id in (("motor", pair.motor), ("controller", pair.controller)):
            if part_id not in catalog.family(column):
                yield Finding("dangling-pair", "pairs", row, column, f"there is no {part_id}")


def dangling_offer(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """What is offered exists."""
    known = {part.id for part in catalog.parts()}
    for offer in catalog.offers:
        if offer.part not in known:
            row = f"{offer.part}/{offer.supplier}"
            yield Finding("dangling-offer", "offers", row, "part", f"there is no {offer.part}")


def dangling_supplier(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """Who offers exists, and who exists offers something."""
    code = "dangling-supplier"
    for offer in catalog.offers:
        if offer.supplier not in catalog.suppliers:
            row = f"{offer.part}/{offer.supplier}"
            message = f"there is no supplier {offer.supplier}"
            yield Finding(code, "offers", row, "supplier", message)
    selling = {offer.supplier for offer in catalog.offers}
    for supplier in catalog.suppliers:
        if supplier not in selling:
            yield Finding(code, "suppliers", supplier, "id", "offers nothing")


def unpaired(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """Every motor and every controller stands in a pair, or nobody can plan with it."""
    used = {
        "motor": {pair.motor for pair in catalog.pairs},
        "controller": {pair.controller for pair in catalog.pairs},
    }
    for family, ids in used.items():
        for part in catalog.family(family).values():
            if part.id not in ids:
                yield about(part, "unpaired", "id", "stands in no pair")


def unmounted(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """For every motor there is a plate for its face and a coupler for its shaft that bear its
    greatest torque."""
    greatest = _greatest_torque(catalog)
    for part in catalog.family("motor").values():
        torque = greatest.get(part.id, 0.0)
        mount = part.text("mount")
        for family, column in (("adapter_plate", "face_pattern"), ("coupler", "shaft")):
            wanted = part.text(column)
            at_output = mount == "axle" and family == "coupler"
            need = part.number_or("max_axle_torque_nm", torque) if at_output else torque
            fits = [
                other
                for other in catalog.family(family).values()
                if other.text(column) in (wanted, "any")
                and other.text("mount") == mount
                and other.number("max_torque_nm") >= need
            ]
            if not fits:
                message = f"no {family} fits {wanted} at {need:.0f} N m"
                yield about(part, "unmounted", column, message)


def holder_missing(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """For every fuse there is a holder of its body that bears its volts and amperes."""
    for fuse_family, holder_family in (
        ("fuse", "fuse_holder"),
        ("branch_fuse", "branch_fuse_holder"),
    ):
        holders = list(catalog.family(holder_family).values())
        for part in catalog.family(fuse_family).values():
            if not any(_holds(holder, part) for holder in holders):
                message = f"no {holder_family} takes body {part.text('body')}"
                yield about(part, "holder-missing", "body", message)


def lug_missing(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """For every cable there is a lug."""
    for cables, lugs in (("cable", "lug"), ("link_cable", "link_lug")):
        areas = {lug.number("area_mm2") for lug in catalog.family(lugs).values()}
        for part in catalog.family(cables).values():
            if part.number("area_mm2") not in areas:
                message = f"no {lugs} for {part.number('area_mm2'):g} mm2"
                yield about(part, "lug-missing", "area_mm2", message)


def _holds(holder: Part, fuse: Part) -> bool:
    return (
        holder.text("body") == fuse.text("body")
        and holder.number("v_dc") >= fuse.number("v_dc")
        and holder.number("rated_a") >= fuse.number("rated_a")
    )


def _greatest_torque(catalog: Catalog) -> dict[str, float]:
    """Greatest shaft torque of each motor: of its pairs, or of its table."""
    torques: dict[str, float] = {}
    for pair in catalog.pairs:
        if pair.peak_torque_nm is not None:
            torques[pair.motor] = max(torques.get(pair.motor, 0.0), pair.peak_torque_nm)
    for part in catalog.family("motor").values():
        for amps in (100, 200, 300, 500, 1000):
            torque = part.number_or(f"torque_nm_at_{amps}a", 0.0)
            torques[part.id] = max(torques.get(part.id, 0.0), torque)
    return torques
