"""Another motor, controller or module in the place of the chosen one: a plan of its own.

No other line changes alone where the drive does. So the rest of the drive is locked and the chosen
row excluded, as a builder would write it into his choices, and the cheapest plan (or the best by
the project's goal) is searched for and proven like any other: number in series and in parallel,
placement and every other line are chosen anew.

* another **motor** stands beside the same module row, with any controller that goes with it;
* another **controller** beside the same motor and module row;
* another **module** beside the same motor and controller.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

from bomplan.design.context import Context
from bomplan.design.line_records import Instead, Nothing, OtherDrive
from bomplan.design.records import Core, Line
from bomplan.planner.farthest import Farthest
from bomplan.planner.goals import goal_of
from bomplan.planner.walked import Walked

# What of the drive stays beside another row of each family.
KEPT: Final = {
    "motor": ("module",),
    "controller": ("motor", "module"),
    "module": ("motor", "controller"),
}


@dataclass(frozen=True)
class Stand:
    """What the chosen plan comes to: by the goal (metres, where those are), in money and grams."""

    core: Core
    figure: int
    price: int
    added_g: int


# The whole search of a project with such choices.
Search = Callable[[Context], tuple[Walked, Farthest | None]]


def locked_beside(context: Context, core: Core, family: str) -> Context:
    """The project with all of the drive locked that stays beside another row of this family."""
    choices = context.project.choices
    changed: dict[str, Any] = {name: getattr(core, name) for name in KEPT[family]}
    changed["excluded"] = (*choices.excluded, getattr(core, family))
    return context.choosing(**changed)


def other_drive(
    context: Context, stand: Stand, family: str, search: Search
) -> tuple[Instead | None, Nothing]:
    """The best plan with another row of this family, or why there is none to tell."""
    walked, far = search(locked_beside(context, stand.core, family))
    if walked.best is None:
        return None, "none beside" if walked.complete else "not settled"
    best = walked.best
    core = min((opened.core for opened, _ in best.cores), key=Core.sort_key)
    plain = context.project.goal.aim == "least-cost"
    figure = best.figure if far is None else far.reached_m or 0
    part = context.catalog.family(family)[getattr(core, family)]
    found = Instead(
        part=part.id,
        description=part.description,
        supplier="",
        bought=core.series * core.parallel if family == "module" else 1,
        price=best.price - stand.price,
        mass_kg=(best.added_g - stand.added_g) / 1000,
        drive=OtherDrive(
            motor=core.motor,
            controller=core.controller,
            final_ratio=core.final_ratio,
            module=core.module,
            series=core.series,
            parallel=core.parallel,
            topology=core.topology,
            by_goal=None if plain else figure - stand.figure,
            goal_unit="" if plain else goal_of(context).unit,
            proven=walked.complete,
        ),
    )
    return found, ""


def with_other_drives(
    context: Context, lines: tuple[Line, ...], stand: Stand, search: Search
) -> tuple[Line, ...]:
    """The lines, with the next best row of motor, controller and module where none is fixed."""
    told = []
    for line in lines:
        if line.family in KEPT and line.standing is not None and _is_free(context, line.family):
            instead, nothing = other_drive(context, stand, line.family, search)
            standing = line.standing.model_copy(
                update={"instead": instead, "nothing_because": nothing}
            )
            line = line.model_copy(update={"standing": standing})
        told.append(line)
    return tuple(told)


def _is_free(context: Context, family: str) -> bool:
    return getattr(context.project.choices, family) is None
