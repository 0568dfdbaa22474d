"""How the fuse of a side branch protects the thin cable behind it: by its rating, or not at all."""

from __future__ import annotations

from bomplan.sizing.ampacity import PAIR_IN_LOOM, ampacity_a
from bomplan.sizing.fuse import FuseData, check_least_fault
from bomplan.sizing.protection import (
    CableData,
    Faults,
    Protection,
    SizingMargins,
    check_withstand,
    fuse_limited,
)

_USUAL = SizingMargins()


def protect_branch(
    fuse: FuseData,
    cable: CableData,
    faults: Faults,
    ambient_c: float,
    margins: SizingMargins = _USUAL,
    bundle_factor: float = PAIR_IN_LOOM,
) -> Protection:
    """Whether the fuse of a branch protects both poles of its cable.

    No controller limits what flows in a branch, so only the *fuse-limited* route is open: a
    full-range fuse whose rating is not above what the cable carries for long, the two poles
    side by side. The fuse must clear the least fault at the far end within
    ``margins.clearing_s``, and at both faults let through no more than the cable withstands.

    That a fuse protects what it is not above is common practice.
    """
    carries = ampacity_a(cable.resistance_mohm_per_m, ambient_c, cable.insulation_c, bundle_factor)
    least = faults.least_a * (1.0 - margins.fault_current)
    greatest = faults.greatest_a * (1.0 + margins.fault_current)
    route = fuse_limited(fuse, carries, "branch_cable")
    findings = (
        route,
        *check_least_fault(fuse, least, margins.clearing_s, "branch_fuse"),
        *check_withstand(fuse, cable, least, greatest, "branch_cable"),
    )
    return Protection("fuse-limited" if route.passed else None, findings)
