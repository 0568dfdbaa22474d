"""What the keys of the series order mean in the plan file."""

from __future__ import annotations

SERIES: dict[tuple[str, str], str] = {
    ("Stand", "place"): "series place in the whole pack, from its positive end; 0 in plans older "
    "than the series order",
    ("Stand", "beside"): "which one of the modules in parallel, or which string",
    ("Stand", "plus"): "towards which side + lies: `x+` to the rear, `y+` to the right, `z+` up",
    ("BayUse", "links"): "links between modules in this box",
    ("BayUse", "sections"): "series places that are joined first, at most 60 V each",
    ("BayUse", "disconnects"): "series places after which a service disconnect leads on, in this "
    "box",
    ("BayUse", "places_apart"): "most series places between two modules that are neighbours",
    ("ModuleLink", "first"): "label of a module: series place, with a letter where modules are in "
    "parallel",
    ("ModuleLink", "first_pole"): "pole at which the link begins",
    ("ModuleLink", "second"): "label of the other module",
    ("ModuleLink", "second_pole"): "pole at which it ends",
    ("ModuleLink", "way"): "`series`: on to the next place; `across`: between modules in parallel",
    ("ModuleLink", "joins"): "neighbours, modules of two layers, or modules apart",
    ("ModuleLink", "length_mm"): "from terminal to terminal: straight between neighbours, along "
    "the walls otherwise",
    ("ModuleLink", "last"): "whether it joins two sections and is fitted when all else is",
    ("Section", "first"): "first series place",
    ("Section", "last"): "last series place",
    ("Section", "full_v"): "volts when charged",
}
