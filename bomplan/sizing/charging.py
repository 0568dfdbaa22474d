"""Charging: the supply circuit, the charger's window, the current that the cells take, hours."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from bomplan.sizing.finding import Finding
from bomplan.source import computed, given, practice, recalled, seen

SupplyRule = Literal["continuous-80", "as-rated"]

LEAD = ("flooded", "agm", "gel")


@dataclass(frozen=True)
class CellCharging:
    """Charging figures of a chemistry per cell at 25 °C.

    ``bulk_c`` is the usual and ``bulk_max_c`` the greatest bulk current over capacity in Ah;
    ``returned`` the charge put in over the charge taken out; ``absorb_h`` the time at constant
    voltage; temperatures bound charging.
    """

    absorb_v: float
    highest_v: float
    bulk_c: float
    bulk_max_c: float
    returned: float
    absorb_h: float
    coldest_c: float
    warmest_c: float
    source: str
    seen: bool


_MEMORY = "charging practice of the chemistry (from memory)"
CELLS: dict[str, CellCharging] = {
    "flooded": CellCharging(
        2.45, 2.67, 0.10, 0.20, 1.15, 3.0, -20.0, 45.0,
        "2.40 V per cell seen in print; equalising voltage and currents from memory", False,
    ),
    "agm": CellCharging(2.42, 2.45, 0.20, 0.30, 1.08, 2.5, -15.0, 45.0, _MEMORY, False),
    "gel": CellCharging(2.37, 2.40, 0.20, 0.20, 1.10, 3.0, -15.0, 45.0, _MEMORY, False),
    "lfp": CellCharging(
        3.50, 3.65, 0.50, 1.00, 1.02, 0.3, 0.0, 45.0,
        "3.65 V and no charge below 0 °C seen in makers' manuals; the rest from memory", True,
    ),
    "nmc": CellCharging(
        4.10, 4.20, 0.50, 1.00, 1.02, 0.3, 0.0, 45.0,
        "4.20 V and no charge below 0 °C seen in print; the rest from memory", True,
    ),
    "lto": CellCharging(2.65, 2.70, 1.00, 2.00, 1.02, 0.2, -20.0, 50.0, _MEMORY, False),
    "sodium": CellCharging(3.90, 3.95, 0.50, 1.00, 1.02, 0.3, -10.0, 45.0, _MEMORY, False),
}  # fmt: skip
"""Per chemistry. Where a module's own data sheet differs, the data sheet counts."""


def usable_supply_a(rated_a: float, rule: SupplyRule) -> float:
    """What a charger may draw for hours from a circuit of this rating, in A.

    ``continuous-80``: a load of three hours or more takes 80 % of the circuit, NEC 210.20(A)
    and 625.41 (seen in reproduction). ``as-rated``: 230 V circuits with a rating meant for
    continuous use; household outlets are then entered as 8 to 10 A (common practice).

    ValueError for a rating below 0 A.
    """
    if rated_a < 0:
        raise ValueError("a circuit's rating cannot be below 0 A")
    return 0.8 * rated_a if rule == "continuous-80" else rated_a


INLET_SOURCE = seen(
    "SAE J1772: 16 A at 120 V, 80 A at 208 to 240 V; IEC 61851-1 mode 1: 16 A without a pilot"
    " (seen in reproduction)"
)
_LOW_SUPPLY_V = 150.0


def inlet_limit_a(supply_v: float, pilot: bool) -> float:
    """Most current in one phase through a vehicle inlet by its standard, in A.

    SAE J1772: 16 A at 120 V, 80 A at 208 to 240 V; IEC 61851-1 mode 1, without a pilot
    contact: 16 A (all seen in reproduction).
    """
    if not pilot or supply_v <= _LOW_SUPPLY_V:
        return 16.0
    return 80.0


def pilot_limit_a(duty_percent: float) -> float:
    """Current that a J1772 control pilot offers, in A.

    SAE J1772: 0.6 A per per cent from 10 to 85 %, 2.5 (D - 64) from 85 to 96 % (scale from
    memory). ValueError outside 10 to 96 %, where other meanings hold.
    """
    if not 10.0 <= duty_percent <= 96.0:
        raise ValueError("the pilot offers a current between 10 and 96 % duty only")
    return 0.6 * duty_percent if duty_percent <= 85.0 else 2.5 * (duty_percent - 64.0)


def charge_current_a(
    output_a: float,
    output_w: float,
    efficiency: float,
    supply_v: float,
    supply_a: float,
    pack_v: float,
    acceptance_a: float,
) -> float:
    """Bulk current into the pack in A: the least of charger, supply and what the cells take.

    ``supply_a`` is usable already (:func:`usable_supply_a`); ``pack_v`` the voltage while
    charging, taken at its highest, which understates the current.

    ValueError for a pack voltage that is not above 0 V.
    """
    if pack_v <= 0:
        raise ValueError("the pack voltage must be above 0 V")
    from_supply_w = supply_v * supply_a * efficiency
    return max(0.0, min(output_a, output_w / pack_v, from_supply_w / pack_v, acceptance_a))


def charge_hours(used_ah: float, current_a: float, returned: float, absorb_h: float) -> float:
    """Hours to put ``used_ah`` back: bulk at this current plus the absorption time.

    Infinite with no current. ``returned`` and ``absorb_h`` as in :data:`CELLS`; the rule is
    common practice.
    """
    if current_a <= 0:
        return float("inf")
    return used_ah * returned / current_a + absorb_h


def wall_energy_j(battery_energy_j: float, returned: float, efficiency: float) -> float:
    """Energy from the wall for energy put into the pack, in J.

    ``returned`` is what charging puts in over what discharging takes out, ``efficiency`` the
    charger's.
    """
    return battery_energy_j * returned / efficiency


def gassing_correction_v(temperature_c: float, cells_in_series: int) -> float:
    """What a lead-acid charge voltage changes away from 25 °C: -3 mV/K per cell (seen)."""
    return -0.003 * (temperature_c - 25.0) * cells_in_series


def check_charger(
    v_out_min: float,
    v_out_max: float,
    output_a: float,
    pack_empty_v: float,
    pack_full_v: float,
    charge_limit_a: float,
    hours: float,
    hours_limit: float,
) -> tuple[Finding, ...]:
    """Whether a charger suits the pack: its window, then its current."""
    return (
        *check_charger_window(v_out_min, v_out_max, pack_empty_v, pack_full_v),
        *check_charger_current(output_a, charge_limit_a, hours, hours_limit),
    )


def check_charger_window(
    v_out_min: float, v_out_max: float, pack_empty_v: float, pack_full_v: float
) -> tuple[Finding, ...]:
    """Whether a charger's output window suits the pack.

    ``pack_full_v`` is the highest charge voltage (equalising included).
    """
    return (
        Finding(
            "charger-over-voltage",
            "lowest voltage that the charger can be set to against the full pack's",
            v_out_min,
            pack_full_v,
            "V",
            "at most",
            computed("cells in series times the charge voltage of their chemistry (computed)"),
        ),
        Finding(
            "charger-reaches-full",
            "highest charge voltage against what the charger reaches",
            pack_full_v,
            v_out_max,
            "V",
            "at most",
            computed("cells in series times the charge voltage of their chemistry (computed)"),
        ),
        Finding(
            "charger-starts-empty",
            "voltage of the empty pack against where the charger starts",
            pack_empty_v,
            v_out_min,
            "V",
            "at least",
            given("output window of the charger (data sheet)"),
        ),
    )


def check_charger_current(
    output_a: float, charge_limit_a: float, hours: float, hours_limit: float
) -> tuple[Finding, ...]:
    """Whether a charger gives no more than the pack takes, and enough to fill it in time.

    ``charge_limit_a`` is what the pack takes for long. A charger that can be set lower than its
    rating is entered with the current it is set to.
    """
    return (
        Finding(
            "charger-current",
            "charge current against what the cells take for long",
            output_a,
            charge_limit_a,
            "A",
            "at most",
            recalled(
                "module's data sheet, else the chemistry's greatest bulk current (from memory)"
            ),
        ),
        Finding(
            "charger-hours",
            "hours from empty to full",
            hours,
            hours_limit,
            "h",
            "at most",
            practice(
                "ampere-hours times charge return over current, plus absorption (common practice)"
            ),
        ),
    )
