"""How a fuse protects a cable: two named routes, and the reasons when neither holds."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf
from typing import Literal

from bomplan.sizing.ampacity import ampacity_a
from bomplan.sizing.copper import effective_area_mm2, heating_k_per_s
from bomplan.sizing.finding import Finding, all_passed
from bomplan.sizing.fuse import (
    BREAKING_MARGIN,
    FuseData,
    check_fuse,
    check_least_fault,
    let_through_a2s,
)
from bomplan.sizing.withstand import LONGEST_S, withstand_a2s
from bomplan.source import practice, recalled, seen

Route = Literal["fuse-limited", "controller-limited"]


@dataclass(frozen=True)
class CableData:
    """One conductor: resistance per metre at 20 °C, insulation class, voltage it is made for."""

    resistance_mohm_per_m: float
    insulation_c: float
    v_rating: float


@dataclass(frozen=True)
class Currents:
    """What flows: rolling root-mean-square, peak and its length, the controller's own limit.

    ``battery_limit_a`` is the greatest battery current that the controller allows; None where
    nothing limits the current but the fuse.
    """

    rms_a: float
    peak_a: float
    peak_s: float
    battery_limit_a: float | None = None


@dataclass(frozen=True)
class Faults:
    """Prospective currents of the full warm pack and of the empty, cold, aged pack."""

    greatest_a: float
    least_a: float


@dataclass(frozen=True)
class Surroundings:
    """Air around the fuse and the cable, voltage, and how closely the cable is bundled."""

    highest_v: float
    fuse_ambient_c: float
    cable_ambient_c: float
    bundle_factor: float = 1.0


@dataclass(frozen=True)
class SizingMargins:
    """Fractions kept from every limit, and the time in which the least fault must end.

    ``continuous``, ``voltage``, ``fault_current`` and ``breaking`` are shares of the limit (0.1 is
    a tenth); common practice.
    """

    continuous: float = 0.10
    voltage: float = 0.05
    fault_current: float = 0.05
    breaking: float = BREAKING_MARGIN
    clearing_s: float = LONGEST_S


@dataclass(frozen=True)
class Protection:
    """Which route protects the cable (None: neither) and every rule that was looked at.

    ``findings`` holds the rules of the route taken, or, if there is none, those that both
    routes share together with every rule that kept a route from holding.
    """

    route: Route | None
    findings: tuple[Finding, ...]

    @property
    def passed(self) -> bool:
        """Whether the fuse is sound and protects the cable."""
        return self.route is not None and all_passed(self.findings)

    @property
    def reasons(self) -> tuple[str, ...]:
        """What failed, in words."""
        return tuple(finding.words for finding in self.findings if not finding.passed)


def temperature_after_peak_c(
    area_mm2: float,
    insulation_c: float,
    ambient_c: float,
    ampacity_amps: float,
    rms_a: float,
    peak_a: float,
    peak_s: float,
) -> float:
    """Conductor temperature after a peak that follows long running at the mean current, in °C.

    The long current warms the conductor with its square, to its class at its ampacity; the
    peak then heats it without loss (computed; the careful side). Infinite without ampacity.
    """
    if ampacity_amps <= 0:
        return inf
    warm = ambient_c + (insulation_c - ambient_c) * (rms_a / ampacity_amps) ** 2
    # heating at the class temperature, where resistance is greatest
    return warm + heating_k_per_s(peak_a, area_mm2, insulation_c) * peak_s


def fuse_limited(fuse: FuseData, carries_a: float, wire: str = "") -> Finding:
    """Whether the fuse alone keeps overload off a cable that carries so much for long.

    ``wire`` is what the cable is called where this is the only route.

    IEC 60364-4-43: In <= Iz (from memory); only a full-range fuse does that.
    """
    full = fuse.kind == "full_range"
    head, tail = (f"{wire}-", "") if wire else ("", "-fuse-limited")
    return Finding(
        f"{head}route{tail}",
        "rating of the fuse against what the cable carries for long"
        if full
        else "a partial-range fuse does not clear overloads, whatever the cable carries",
        fuse.rated_a if full else inf,
        carries_a,
        "A",
        "at most",
        recalled("IEC 60364-4-43, In <= Iz, full-range fuses only (from memory)"),
    )


def check_withstand(
    fuse: FuseData, cable: CableData, least_a: float, greatest_a: float, name: str = "cable"
) -> tuple[Finding, ...]:
    """Whether the cable, called ``name``, withstands what passes at both faults."""
    withstand = withstand_a2s(effective_area_mm2(cable.resistance_mohm_per_m), cable.insulation_c)
    return tuple(
        Finding(
            f"{name}-withstand-{which}",
            f"energy let through at the {which} fault against the {name.replace('_', ' ')}'s"
            " withstand",
            let_through_a2s(fuse, amps),
            withstand,
            "A²s",
            "at most",
            seen("IEC 60364-5-54, I²t <= (k S)² (seen in reproduction)"),
        )
        for which, amps in (("least", least_a), ("greatest", greatest_a))
    )


def protect(
    fuse: FuseData,
    cable: CableData,
    currents: Currents,
    faults: Faults,
    around: Surroundings,
    margins: SizingMargins = SizingMargins(),
) -> Protection:
    """Whether this fuse protects this cable, and by which route.

    *Fuse-limited*: the fuse's rating is not above what the cable carries for long, so every
    overload is cleared by the fuse (IEC 60364-4-43: Ib <= In <= Iz, from memory); only a
    full-range fuse does that. *Controller-limited*: overload cannot arise because the
    controller limits the battery current: the rolling root-mean-square stays within the cable
    (common practice), and the limit held for the peak's seconds leaves the conductor within
    its class. On both routes the fuse must clear the least fault within ``margins.clearing_s``
    and both faults within the cable's withstand.
    """
    carries = ampacity_a(
        cable.resistance_mohm_per_m,
        around.cable_ambient_c,
        cable.insulation_c,
        around.bundle_factor,
    )
    area = effective_area_mm2(cable.resistance_mohm_per_m)
    least = faults.least_a * (1.0 - margins.fault_current)
    greatest = faults.greatest_a * (1.0 + margins.fault_current)
    shared = (
        *check_fuse(
            fuse,
            around.highest_v,
            currents.rms_a,
            currents.peak_a,
            currents.peak_s,
            faults.greatest_a,
            around.fuse_ambient_c,
            continuous_margin=margins.continuous,
            voltage_margin=margins.voltage,
            breaking_margin=margins.breaking,
        ),
        Finding(
            "cable-voltage",
            "voltage that the cable is made for",
            around.highest_v * (1.0 + margins.voltage),
            cable.v_rating,
            "V",
            "at most",
            seen("ISO 6722-1:2011 and ISO 19642 voltage classes (seen in reproduction)"),
        ),
        Finding(
            "cable-continuous",
            "rolling root-mean-square current against what the cable carries",
            currents.rms_a * (1.0 + margins.continuous),
            carries,
            "A",
            "at most",
            seen("NEC 2023 Table 310.17 as a thermal reference, fitted (seen in reproduction)"),
        ),
        *check_least_fault(fuse, least, margins.clearing_s),
        *check_withstand(fuse, cable, least, greatest),
    )
    by_fuse = fuse_limited(fuse, carries)
    by_controller = Finding(
        "route-controller-limited",
        "conductor temperature after the controller's battery-current limit held for the peak",
        inf
        if currents.battery_limit_a is None
        else temperature_after_peak_c(
            area,
            cable.insulation_c,
            around.cable_ambient_c,
            carries,
            currents.rms_a,
            currents.battery_limit_a,
            currents.peak_s,
        ),
        cable.insulation_c,
        "°C",
        "at most",
        practice(
            "overload excluded by the controller's battery-current limit (common practice); "
            "adiabatic rise computed"
        ),
    )
    if by_fuse.passed:
        return Protection("fuse-limited", (*shared, by_fuse))
    if by_controller.passed:
        return Protection("controller-limited", (*shared, by_controller))
    return Protection(None, (*shared, by_fuse, by_controller))
