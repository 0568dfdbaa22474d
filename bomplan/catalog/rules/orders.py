"""Rules on figures of one row that have a natural order."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from itertools import pairwise
from typing import Final

from bomplan.catalog.records import Catalog
from bomplan.catalog.rules.finding import Finding, about, out_of_order

_RATINGS: Final[dict[str, tuple[tuple[str, ...], ...]]] = {
    "motor": (
        ("continuous_a", "hour_a", "five_minute_a"),
        ("continuous_kw", "hour_kw"),
        ("max_speed_rpm", "burst_speed_rpm"),
    ),
    "controller": (("motor_a_continuous", "motor_a_hour", "motor_a_peak"),),
    "module": (
        ("discharge_continuous_a", "discharge_10s_a"),
        ("charge_continuous_a", "charge_10s_a"),
    ),
}
_WINDOWS: Final[dict[str, tuple[tuple[str, ...], ...]]] = {
    "controller": (("v_min", "v_max_abs"),),
    "module": (
        ("cell_v_min", "cell_v_nominal", "cell_v_charge"),
        ("discharge_min_c", "discharge_max_c"),
        ("charge_min_c", "charge_max_c"),
        ("soc_min", "soc_max"),
    ),
    "charger": (("v_out_min", "v_out_max"), ("supply_v_min", "supply_v_max")),
    "dcdc": (("v_in_min", "v_in_max"),),
    "heater": (("v_min", "v_max"),),
    "monitor": (("cell_v_min", "cell_v_max"),),
    "gland": (("cable_mm_min", "cable_mm_max"),),
}


def continuous_above_peak(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """A rating that holds longer is never above one that holds shorter."""
    code = "continuous-above-peak"
    for family, groups in _RATINGS.items():
        for part in catalog.family(family).values():
            for columns in groups:
                yield from out_of_order(part, code, columns)
    for pair in catalog.pairs:
        ratings = (
            ("continuous_kw", pair.continuous_kw),
            ("hour_kw", pair.hour_kw),
            ("peak_kw", pair.peak_kw),
        )
        given = [(name, value) for name, value in ratings if value is not None]
        for (low, a), (high, b) in pairwise(given):
            if a > b:
                row = f"{pair.motor}/{pair.controller}"
                yield Finding(code, "pairs", row, high, f"{b:g} is below {low} ({a:g})")


def window_order(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """The lower end of every window lies below its upper end."""
    for family, groups in _WINDOWS.items():
        for part in catalog.family(family).values():
            for columns in groups:
                yield from out_of_order(part, "window-order", columns, strictly=True)


def pair_window(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """A pair's volts lie in order and inside what its controller bears."""
    code = "pair-window"
    controllers = catalog.family("controller")
    for pair in catalog.pairs:
        row = f"{pair.motor}/{pair.controller}"
        if not pair.v_min < pair.v_max:
            yield Finding(code, "pairs", row, "v_max", f"{pair.v_max:g} is not above v_min")
        if pair.reference_v is not None and not pair.v_min <= pair.reference_v <= pair.v_max:
            message = f"{pair.reference_v:g} lies outside {pair.v_min:g} to {pair.v_max:g}"
            yield Finding(code, "pairs", row, "reference_v", message)
        controller = controllers.get(pair.controller)
        if controller is None:
            continue
        if pair.v_max > controller.number("v_max_abs"):
            message = f"{pair.v_max:g} is above the controller's absolute limit"
            yield Finding(code, "pairs", row, "v_max", message)
        if pair.v_min < controller.number("v_min"):
            message = f"{pair.v_min:g} is below the least voltage of the controller"
            yield Finding(code, "pairs", row, "v_min", message)


def resistance_order(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """The 1 kHz resistance is below that over seconds (common practice: by a third or more)."""
    for part in catalog.family("module").values():
        ac, dc = part.number("resistance_ac_mohm"), part.number("resistance_dc_mohm")
        if ac >= dc:
            message = f"{ac:g} is not below resistance_dc_mohm ({dc:g})"
            yield about(part, "resistance-order", "resistance_ac_mohm", message)


def fuse_curve(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """A fuse melts sooner at more current, and breaks more than it is rated for."""
    code = "fuse-curve"
    for part in catalog.family("fuse").values():
        columns = ("melt_s_at_5x", "melt_s_at_3x", "melt_s_at_2x")
        yield from out_of_order(part, code, columns, strictly=True)
        rated, least = part.number("rated_a"), part.number("min_breaking_a")
        if least <= rated:
            message = f"{least:g} is not above rated_a ({rated:g})"
            yield about(part, code, "min_breaking_a", message)
        if part.number("breaking_ka") * 1000 <= least:
            message = "the greatest breaking current is not above the least"
            yield about(part, code, "breaking_ka", message)


def one_hour_capacity(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """Lead gives less in one hour than in twenty: 0.5 to 0.7 of it (reference rows, from
    memory; common practice)."""
    for part in catalog.family("module").values():
        if not part.has("capacity_1h_ah"):
            continue
        share = part.number("capacity_1h_ah") / part.number("capacity_ah")
        if not 0.45 <= share <= 0.75:
            message = f"{share:.2f} of the 20 h capacity, 0.45 to 0.75 is usual"
            yield about(part, "one-hour-capacity", "capacity_1h_ah", message)
