"""The 12 V side of a finished plan: the car's own loads and those of the bill, with their sums."""

from __future__ import annotations

from collections.abc import Iterator
from math import floor

from bomplan.design.assemble import Bill
from bomplan.design.bill import RULE_OF
from bomplan.design.bill.supply_12v import coldest_c, safety_load_a
from bomplan.design.context import Context
from bomplan.design.supply_records import Supply12V, SupplyLoad
from bomplan.project.records import Donor
from bomplan.project.twelve_volt import (
    WORST,
    Circumstance,
    Load12V,
    mean_w,
    on_w,
    peak_w,
)
from bomplan.sizing.low_voltage import BATTERY_V, reserve_minutes


def supply_record(context: Context, bill: Bill) -> Supply12V:
    """Every load that is known by name, and what they come to by day and in the worst night."""
    project = context.project
    donor = project.donor
    own = list(_of_bill(context, bill))
    fitted_w = bill.couplers.mean_12v_w - round(donor.load_12v_w)
    loads = (*donor.loads_12v, *own)
    amps, cold = _reserve_a(donor, context), coldest_c(project)
    battery = next(
        (
            line.quantity * context.catalog.part(line.part).number_or("capacity_ah", 0.0)
            for line in bill.lines
            if line.family == "battery_12v"
        ),
        0.0,
    )

    def mean(*circumstances: Circumstance) -> int:
        if donor.loads_12v:
            return mean_w(donor.loads_12v, circumstances) + fitted_w
        return bill.couplers.mean_12v_w

    return Supply12V(
        loads=tuple(_load(load, "car") for load in donor.loads_12v)
        + tuple(_load(load, "bill") for load in own),
        counted_w=bill.couplers.mean_12v_w,
        named=bool(donor.loads_12v),
        day_w=mean(),
        night_w=mean("night"),
        rain_w=mean("rain"),
        winter_w=mean("winter"),
        worst_w=donor.worst_12v_w + fitted_w,
        continuous_w=on_w(loads, "continuous") + (0 if donor.loads_12v else _single_w(donor)),
        intermittent_w=on_w(loads, "intermittent"),
        peak_w=peak_w(loads) + (0 if donor.loads_12v else _single_w(donor)),
        supply_w=bill.supply_12v_w,
        battery_ah=battery,
        coldest_c=cold,
        reserve_a=round(amps, 3),
        reserve_minutes=floor(reserve_minutes(battery, amps, temperature_c=cold)) if amps else None,
    )


def _single_w(donor: Donor) -> int:
    """The one figure of a project that names no loads."""
    return round(donor.load_12v_w)


def _reserve_a(donor: Donor, context: Context) -> float:
    """What the battery feeds alone: the safety loads, or all of the one figure."""
    if donor.loads_12v:
        return safety_load_a(context.project)
    return donor.load_12v_w / BATTERY_V


def _of_bill(context: Context, bill: Bill) -> Iterator[Load12V]:
    """What the rows of the bill draw as it drives, one load for each line."""
    for line in bill.lines:
        rule = RULE_OF.get(line.family)
        if rule is None:
            continue
        watts = float(line.quantity * rule.mean_12v_w(context.catalog.part(line.part)))
        if watts:
            yield Load12V(
                name=line.part,
                power_w=watts,
                peak_w=watts,
                day=1.0,
                night=1.0,
                rain=1.0,
                winter=1.0,
                kind="continuous",
                title=line.description,
                source="catalogue row, mean over a drive",
            )


def _load(load: Load12V, origin: str) -> SupplyLoad:
    return SupplyLoad.model_validate(
        {
            **load.model_dump(exclude={"duty", "current_a"}),
            "title": load.title or load.name,
            "origin": origin,
            "worst_w": round(load.mean_w(WORST), 3),
        }
    )
