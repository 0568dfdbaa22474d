"""Wires of the 12 V side: blade fuses, what a 12 V battery feeds into a short, volts lost."""

from __future__ import annotations

from dataclasses import dataclass

from bomplan.sizing.ampacity import BUNDLE_4_TO_6, ampacity_a
from bomplan.sizing.copper import at_temperature, effective_area_mm2
from bomplan.sizing.finding import Finding
from bomplan.sizing.fuse import FuseData, check_least_fault, let_through_a2s
from bomplan.sizing.protection import CableData, check_withstand, fuse_limited
from bomplan.sizing.withstand import withstand_a2s
from bomplan.source import practice, recalled

SPARE = 1.25
"""Rating of a fuse over the steady current behind it; 1.25 to 1.5 is common practice."""
MOST_DROP_V = 0.5
"""Volts that may be lost on the way to a 12 V load and back; common practice, about 4 %."""
WARM_C = 70.0
"""Copper of a loaded wire for its voltage drop."""
COIL_A, RELAY_A, FAN_A, ELECTRONICS_A = 2.0, 0.5, 1.0, 1.0
"""Each, while it is on: coil of a contactor as it pulls in, coil of a relay, fan of a box, gauge
or monitors or isolation monitor; common practice."""
CONTROLLER_A, PUMP_RUNS_A, COOLING_A = 2.0, 12.0, 11.0
"""Key feed of a controller, vacuum pump while it runs, coolant pump with its fan; common
practice, the last of 3 and 8 A."""
BLADES_A = (3.0, 5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0)
"""Ratings of blade fuses: ISO 8820-3 (series from memory)."""
BLADE_V = 32.0
BLADE_BREAKING_A = 1000.0
"""Blade fuses: ISO 8820-3, 32 V and 1 kA (seen in reproduction)."""
SHORTED_OHM_AH = 0.275
"""Resistance of a new, full 12 V lead-acid battery times its ampere-hours; common practice."""
TIRED_OHM_AH = 0.9
"""The same when cold and worn; common practice, two of the ten-second resistance."""
FULL_V, TIRED_V = 12.8, 11.5
CONNECTIONS_OHM = 0.001
"""Clamps, studs and the fuse's own holder on the way to a short; common practice."""
DROP_SOURCE = practice("0.5 V on the way to a 12 V load and back (common practice)")
BLADE_SOURCE = recalled(
    "IEC 60364-5-54, I²t <= (k S)² (seen in reproduction); blade fuses: ISO 8820-3, 5 s at twice"
    " the rating at most (from memory)"
)


@dataclass(frozen=True)
class Circuit12V:
    """One fused circuit: its current while it is on, and its pieces of wire, out and back."""

    name: str
    amps: float
    legs_mm: tuple[int, ...]

    @property
    def loop_m(self) -> float:
        """Out and back in metres."""
        return sum(self.legs_mm) / 1000


def blade_a(amps: float) -> float | None:
    """The least blade fuse for a steady current; None above the series."""
    return next((one for one in BLADES_A if one >= SPARE * amps), None)


def blade(rated_a: float) -> FuseData:
    """A blade fuse as slow as its standard allows: ISO 8820-3 (times from memory).

    5 s at 2 times, 0.5 s at 3.5 times, 0.1 s at 6 times the rating; the points between on the
    straight line in log-log.
    """
    return FuseData(
        v_dc=BLADE_V,
        rated_a=rated_a,
        breaking_a=BLADE_BREAKING_A,
        kind="full_range",
        melt_s_at_2x=4.0,
        melt_s_at_3x=0.9,
        melt_s_at_5x=0.16,
        clearing_a2s=0.1 * (6.0 * rated_a) ** 2,
    )


def short_a(capacity_ah: float) -> float:
    """Current of a new, full battery into a short behind its fuse, in A (computed)."""
    return FULL_V / (SHORTED_OHM_AH / capacity_ah + CONNECTIONS_OHM)


def tired_short_a(capacity_ah: float, loop_ohm: float) -> float:
    """Current of a cold, worn battery into a short at the far end of a wire, in A (computed)."""
    return TIRED_V / (TIRED_OHM_AH / capacity_ah + CONNECTIONS_OHM + loop_ohm)


def drop_v(amps: float, loop_m: float, resistance_mohm_per_m: float) -> float:
    """Volts lost out and back with warm copper."""
    return amps * loop_m * at_temperature(resistance_mohm_per_m, WARM_C) * 1e-3


def check_circuits(
    circuits: tuple[Circuit12V, ...], cable: CableData, ambient_c: float, capacity_ah: float
) -> tuple[Finding, ...]:
    """Whether one size of wire serves every circuit, each behind its own blade fuse.

    By the circuit that is hardest on it: largest fuse, greatest drop, least fault over rating.
    """
    fuses = {one: blade_a(one.amps) for one in circuits}
    missing = [one for one, rated in fuses.items() if rated is None]
    carries = ampacity_a(cable.resistance_mohm_per_m, ambient_c, cable.insulation_c, BUNDLE_4_TO_6)
    largest = max((rated for rated in fuses.values() if rated is not None), default=BLADES_A[0])
    worst = max(circuits, key=lambda one: one.amps * one.loop_m)
    faults = [
        (tired_short_a(capacity_ah, _loop_ohm(one, cable)) / rated, rated)
        for one, rated in fuses.items()
        if rated is not None
    ]
    ratio, rated = min(faults, default=(6.0, BLADES_A[0]))
    return (
        Finding(
            "wire_12v-series",
            "12 V circuits that no blade fuse of the usual ratings carries",
            float(len(missing)),
            0.0,
            "circuits",
            "at most",
            recalled("blade fuses of 3 to 30 A: ISO 8820-3 (series from memory)"),
        ),
        fuse_limited(blade(largest), carries, "wire_12v"),
        *check_least_fault(blade(rated), 0.95 * ratio * rated, name="blade_fuse"),
        Finding(
            "wire_12v-withstand",
            "energy that the largest blade fuse lets through against the 12 V wire's withstand",
            let_through_a2s(blade(largest), 2.0 * largest),
            withstand_a2s(effective_area_mm2(cable.resistance_mohm_per_m), cable.insulation_c),
            "A²s",
            "at most",
            BLADE_SOURCE,
        ),
        Finding(
            "wire_12v-drop",
            f"volts lost out and back on the longest way, to {worst.name} ({worst.amps:g} A)",
            drop_v(worst.amps, worst.loop_m, cable.resistance_mohm_per_m),
            MOST_DROP_V,
            "V",
            "at most",
            DROP_SOURCE,
        ),
    )


def check_battery(fuse: FuseData, capacity_ah: float) -> tuple[Finding, ...]:
    """Whether a feed fuse breaks what a new battery gives, and clears what a tired one does.

    The fault lies at the far end of a wire that loses the most that it may, at four fifths of
    the fuse's rating.
    """
    loop_ohm = MOST_DROP_V / (0.8 * fuse.rated_a)
    return (
        Finding(
            "feed_fuse-breaking",
            "breaking capacity of the 12 V feed's fuse against what a new battery gives",
            1.25 * short_a(capacity_ah),
            fuse.breaking_a,
            "A",
            "at most",
            practice(
                "resistance of a lead-acid battery by its ampere-hours (common practice), 25 % to"
                " spare"
            ),
        ),
        *check_least_fault(fuse, 0.95 * tired_short_a(capacity_ah, loop_ohm), name="feed_fuse"),
    )


def check_feed(
    fuse: FuseData, cable: CableData, loop_m: float, ambient_c: float
) -> tuple[Finding, ...]:
    """Whether the fuse of the 12 V feed protects its wire, and the wire loses few volts.

    Withstand at the least fault that the fuse's curve tells of, twice its rating, and at what
    it breaks: whatever battery stands before it gives something between.
    """
    carries = ampacity_a(cable.resistance_mohm_per_m, ambient_c, cable.insulation_c)
    least = max(fuse.least_breaking_a, 2.0 * fuse.rated_a)
    return (
        fuse_limited(fuse, carries, "feed_wire"),
        *check_withstand(fuse, cable, least, fuse.breaking_a, "feed_wire"),
        Finding(
            "feed_wire-drop",
            "volts lost out and back between 12 V converter and battery, at four fifths of the"
            " fuse",
            drop_v(0.8 * fuse.rated_a, loop_m, cable.resistance_mohm_per_m),
            MOST_DROP_V,
            "V",
            "at most",
            DROP_SOURCE,
        ),
    )


def _loop_ohm(one: Circuit12V, cable: CableData) -> float:
    return one.loop_m * at_temperature(cable.resistance_mohm_per_m, cable.insulation_c) * 1e-3
