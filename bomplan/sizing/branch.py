"""How the fuse of a side branch protects the thin cable behind it: by its rating, or not at all."""

from __future__ import annotations

from math import inf

from bomplan.sizing.ampacity import PAIR_IN_LOOM, ampacity_a
from bomplan.sizing.copper import effective_area_mm2
from bomplan.sizing.finding import Finding
from bomplan.sizing.fuse import FuseData, let_through_a2s, melting_s
from bomplan.sizing.protection import CableData, Faults, Protection, SizingMargins
from bomplan.sizing.withstand import withstand_a2s

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
    """
    carries = ampacity_a(cable.resistance_mohm_per_m, ambient_c, cable.insulation_c, bundle_factor)
    withstand = withstand_a2s(effective_area_mm2(cable.resistance_mohm_per_m), cable.insulation_c)
    least = faults.least_a * (1.0 - margins.fault_current)
    greatest = faults.greatest_a * (1.0 + margins.fault_current)
    route = Finding(
        "branch_cable-route",
        "rating of the branch fuse against what its cable carries for long, two poles side by side"
        if fuse.kind == "full_range"
        else "a partial-range fuse does not clear overloads, whatever the cable carries",
        fuse.rated_a if fuse.kind == "full_range" else inf,
        carries,
        "A",
        "at most",
        "IEC 60364-4-43, In <= Iz, full-range fuses only (from memory)",
        False,
    )
    findings = (
        route,
        Finding(
            "branch_fuse-least-fault",
            "least fault at the end of the longest branch against what its fuse can break",
            least,
            fuse.least_breaking_a,
            "A",
            "at least",
            "partial-range fuses clear from about 5 times their rating (from memory)",
            False,
        ),
        Finding(
            "branch_fuse-clears-in-time",
            "time in which the branch fuse clears the least fault at the end of the longest branch",
            melting_s(fuse, least) * 1.25 if least >= 2.0 * fuse.rated_a else inf,
            margins.clearing_s,
            "s",
            "at most",
            "5 s, to which the adiabatic rule of IEC 60364-5-54 holds (seen in reproduction)",
            True,
        ),
        Finding(
            "branch_cable-withstand-least",
            "energy that the branch fuse lets through at the least fault against its cable's"
            " withstand",
            let_through_a2s(fuse, least),
            withstand,
            "A²s",
            "at most",
            "IEC 60364-5-54, I²t <= (k S)² (seen in reproduction)",
            True,
        ),
        Finding(
            "branch_cable-withstand-greatest",
            "energy that the branch fuse lets through at the greatest fault against its cable's"
            " withstand",
            let_through_a2s(fuse, greatest),
            withstand,
            "A²s",
            "at most",
            "IEC 60364-5-54, I²t <= (k S)² (seen in reproduction)",
            True,
        ),
    )
    return Protection("fuse-limited" if route.passed else None, findings)
