"""How much of a pack a vehicle could hold at most: the figure beside "no plan".

An upper bound by room and mass alone, told with the module that reaches it; whether it would
drive is another matter. It proves nothing about the plan, the search has done that.
"""

from __future__ import annotations

from bomplan.catalog.records import Catalog, Part
from bomplan.design.comparison import MostThatFits
from bomplan.design.context import Context
from bomplan.design.pack_life import window_of
from bomplan.project.records import Project


def most_that_fits(project: Project, catalog: Catalog) -> MostThatFits | None:
    """The module of which the bays and the mass that is left hold the most energy.

    None where no module may be used at all.
    """
    context = Context(project, catalog)
    spare_g = spare_mass_g(context)
    found = [
        _most_of(context, part, spare_g)
        for part in catalog.family("module").values()
        if _allowed(project, part)
    ]
    return max(found, key=lambda one: (one.pack_kwh, one.nominal_v, one.module), default=None)


def spare_mass_g(context: Context) -> int:
    """What all parts together may weigh by the gross limit, in the load case that leaves least."""
    loads = [load.mass_g for load in context.loads]
    return max(0, context.limits.gross_g - context.base.mass_g - max(loads, default=0))


def pack_wh(module: Part, modules: int) -> float:
    """Energy from full to empty as bought [Wh], at the one-hour rate where it is given."""
    cells = module.number("cells_series")
    capacity = module.number_or("capacity_1h_ah", module.number("capacity_ah"))
    health = module.number_or("state_of_health", 1.0)
    volts = cells * module.number("cell_v_nominal")
    return volts * capacity * health * float(window_of(module)) * modules


def _allowed(project: Project, module: Part) -> bool:
    choices = project.choices
    if choices.chemistries and module.text("chemistry") not in choices.chemistries:
        return False
    if choices.module is not None:
        return module.id == choices.module
    return module.id not in choices.excluded


def _most_of(context: Context, module: Part, spare_g: int) -> MostThatFits:
    count = 0
    for index, bay in enumerate(context.bays):
        room = context.rows_at_most(index, module, 1)
        if bay.mass_limit_g is not None:
            room = min(room, bay.mass_limit_g // module.mass_g)
        count += room
    count = min(count, spare_g // module.mass_g)
    volts = module.number("cells_series") * module.number("cell_v_nominal")
    return MostThatFits(
        module=module.id,
        modules=count,
        nominal_v=round(count * volts, 1),
        pack_kwh=round(pack_wh(module, count) / 1000, 2),
        mass_kg=count * module.mass_g / 1000,
        spare_kg=spare_g / 1000,
    )
