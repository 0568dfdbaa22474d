"""What each key of the plan's 12 V side means."""

from __future__ import annotations

SUPPLY: dict[tuple[str, str], str] = {
    ("Plan", "supply_12v"): "the 12 V side: loads, converter, battery; null in older plans",
    ("Supply12V", "loads"): "every load that is known by name: the car's, then the bill's",
    ("Supply12V", "counted_w"): "mean that every range reads, the same as `couplers.mean_12v_w`",
    ("Supply12V", "named"): "whether the project names the car's loads, or gives one figure",
    ("Supply12V", "day_w"): "mean by day, dry and warm",
    ("Supply12V", "night_w"): "mean at night",
    ("Supply12V", "rain_w"): "mean by day in rain",
    ("Supply12V", "winter_w"): "mean on a dry winter's day",
    ("Supply12V", "worst_w"): "mean at night, in rain, in winter: what the converter must carry",
    ("Supply12V", "continuous_w"): "all that runs without a break, while it is on",
    ("Supply12V", "intermittent_w"): "all that comes and goes, while it is on",
    ("Supply12V", "peak_w"): "everything at its greatest at once; the battery gives the rest",
    ("Supply12V", "supply_w"): "four fifths of what the converter is rated for",
    ("Supply12V", "battery_ah"): "capacity of the 12 V battery on its label",
    ("Supply12V", "coldest_c"): "coldest of the conditions",
    ("Supply12V", "reserve_a"): "what the battery feeds alone when the converter has failed",
    ("Supply12V", "reserve_minutes"): "how long it does, from half its capacity at the coldest;"
    " null where nothing draws",
    ("SupplyLoad", "name"): "name in the project, or the part's id",
    ("SupplyLoad", "title"): "how sheets call it",
    ("SupplyLoad", "origin"): "`car`: the project names it; `bill`: a row of the bill draws it",
    ("SupplyLoad", "kind"): "`gone` left with the engine; `bill` is counted by its row of the bill",
    ("SupplyLoad", "power_w"): "while it is on; of a row of the bill: its mean",
    ("SupplyLoad", "peak_w"): "its greatest",
    ("SupplyLoad", "day"): "share of the time that it is on by day",
    ("SupplyLoad", "night"): "the same at night",
    ("SupplyLoad", "rain"): "the same in rain",
    ("SupplyLoad", "winter"): "the same in winter; of several circumstances the greatest holds",
    ("SupplyLoad", "worst_w"): "mean at night, in rain, in winter",
    ("SupplyLoad", "reserve"): "share that goes on when the converter has failed",
    ("SupplyLoad", "source"): "where power and duty are from",
}
