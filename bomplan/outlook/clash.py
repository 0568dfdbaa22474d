"""Which requirements clash: a smallest set that no plan meets together, and what must give.

Every target, limit and choice of the builder is a switch; physics is none. A switch that is
off is moved to its loosest amount. QuickXplain (U. Junker, "QUICKXPLAIN: Preferred
Explanations and Relaxations for Over-Constrained Problems", AAAI 2004) then finds a set that
fails together while every smaller part of it has a plan; each answer on the way is a search
of the whole catalogue with its proof. Requirements that come first in the list are kept out
of the set where it can be done without them.

For each member, steps over its own amount, all else as asked, find how far it alone must
give; "alone it cannot help" is said only when even its loosest amount has no plan.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from bomplan.design.records import Plan
from bomplan.design.studies import Clash, Member
from bomplan.outlook.levers import Decision, Lever, decisions, levers
from bomplan.outlook.meeting import checks_of, least_with_room
from bomplan.outlook.needed import better_parts, core_words, parts_needed
from bomplan.outlook.solving import Solver, by_cost
from bomplan.project.records import Project

Switch = Lever | Decision

# Where these are moved not only more becomes possible: modules stand elsewhere in a longer bay, and
# for a heavier car conductors are sized larger. They are left as asked where that leaves no plan.
TURNING: Final = (
    ("mass.gross",),
    ("bay.room.",),
    ("bay.room.", "mass.gross"),
    ("bay.room.", "mass.gross", "axle."),
)


class UnprovenError(Exception):
    """A search ended without an answer, so nothing can be proven from it."""


def find_clash(
    project: Project,
    solver: Solver,
    hard: frozenset[str] = frozenset(),
    *,
    parts: bool | None = None,
) -> Clash:
    """The clash of a project that has no plan; ``possible`` if it has one after all.

    ``hard`` are ids of levers and decisions that are not to be given up. ``parts`` also says
    which better part would do in their stead, at the price of some dozens of searches; where the
    catalogue itself is the cause this is said unless ``parts`` is false.
    """
    before = solver.solved
    project = by_cost(project)
    try:
        return _clash(project, solver, before, hard, parts=parts)
    except UnprovenError:
        return Clash(
            currency=project.currency,
            possible=False,
            proven=False,
            searches=solver.solved - before,
        )


def _clash(
    project: Project, solver: Solver, before: int, hard: frozenset[str], *, parts: bool | None
) -> Clash:
    if _has_plan(project, solver):
        return Clash(currency=project.currency, possible=True, searches=solver.solved - before)
    # Preferred first: levers are looked for before the builder's own choices.
    every: list[Switch] = [*levers(project), *decisions(project)]
    switches = [one for one in every if one.id not in hard]
    fewer = [[one for one in switches if not one.id.startswith(turning)] for turning in TURNING]
    able = (some for some in (switches, *fewer) if _has_plan_with([], some, project, solver))
    given_up = next(able, None)
    if given_up is None:
        # Not even with every switch off: the catalogue has no whole car in it.
        return Clash(
            currency=project.currency,
            possible=False,
            missing_parts=_missing(_only([], switches, project), solver),
            parts=()
            if parts is False
            else parts_needed(project, _only([], switches, project), solver),
            parts_looked_for=parts is not False,
            searches=solver.solved - before,
        )
    members = _members(given_up, project, solver)
    if not any(member.helps for member in members):
        # Two clashes at once, or a set that clashes only where what turns is given up.
        others = (_members(some, project, solver) for some in able)
        helping = (some for some in others if any(member.helps for member in some))
        members = next(helping, members)
    return Clash(
        currency=project.currency,
        possible=False,
        members=members,
        parts=better_parts(project, solver) if parts else (),
        parts_looked_for=bool(parts),
        searches=solver.solved - before,
    )


def _members(switches: Sequence[Switch], project: Project, solver: Solver) -> tuple[Member, ...]:
    """A smallest set that clashes where all else of these switches is given up, as members."""
    needed = _explain([], [], list(switches), switches, project, solver)
    return tuple(_member(switch, project, solver) for switch in needed)


def _explain(
    kept: list[Switch],
    added: list[Switch],
    candidates: list[Switch],
    switches: Sequence[Switch],
    project: Project,
    solver: Solver,
) -> list[Switch]:
    """A smallest part of ``candidates`` that fails together with ``kept``."""
    if added and not _has_plan_with(kept, switches, project, solver):
        return []
    if len(candidates) == 1:
        return candidates
    half = len(candidates) // 2
    first, second = candidates[:half], candidates[half:]
    of_second = _explain([*kept, *first], first, second, switches, project, solver)
    of_first = _explain([*kept, *of_second], of_second, first, switches, project, solver)
    return [*of_first, *of_second]


def _only(kept: Sequence[Switch], switches: Sequence[Switch], project: Project) -> Project:
    """The project with every switch off but those ``kept``."""
    for switch in switches:
        if not any(switch is one for one in kept):
            project = switch.lifted(project)
    return project


def _has_plan_with(
    kept: Sequence[Switch], switches: Sequence[Switch], project: Project, solver: Solver
) -> bool:
    """Whether there is a plan with every switch off but those ``kept``."""
    return _has_plan(_only(kept, switches, project), solver)


def _has_plan(project: Project, solver: Solver) -> bool:
    answer = solver.possible(project)
    if answer is None:
        raise UnprovenError
    return answer


def _member(switch: Switch, project: Project, solver: Solver) -> Member:
    if isinstance(switch, Decision):
        lifted = solver.plan(switch.lifted(project))
        return Member(
            lever=switch.id,
            words=switch.words,
            helps=lifted.core is not None,
            price=lifted.objective.value,
            instead=core_words(lifted),
        )
    amount = round(switch.amount * switch.size, switch.decimals)
    farthest = round(switch.loosest * switch.size, switch.decimals)
    eased = how_far(switch, project, solver)
    if eased is None:
        return Member(
            lever=switch.id,
            words=switch.words,
            unit=switch.unit,
            amount=amount,
            farthest=farthest,
        )
    plan = solver.near(switch.at(project, eased))
    return Member(
        lever=switch.id,
        words=switch.words,
        unit=switch.unit,
        amount=amount,
        eased=round(eased * switch.size, switch.decimals),
        farthest=farthest,
        helps=True,
        price=plan.objective.value,
        instead=core_words(plan),
    )


def how_far(lever: Lever, project: Project, solver: Solver) -> int | None:
    """The amount nearest to what is asked with which there is a plan, the rest as asked.

    None where even the loosest amount has none. One grain nearer has no plan (the steps end there).
    """
    fails, works = lever.amount, lever.loosest
    if (works - fails) * lever.harder >= 0:
        return None
    near = _a_step_easier(lever)
    if near is not None and _has_plan(lever.at(project, near), solver):
        works = near
    else:
        fails = fails if near is None else near
        if not _has_plan(lever.at(project, works), solver):
            return None
    works, tight = _as_far_as(lever, project, works, solver)
    streak = 0
    while (gap := abs(works - fails)) > 1:
        # Where a core was followed as far as it goes, the next grain first; half way otherwise,
        # and where the next grain was met twice.
        by_grain = tight and streak < 2
        asked = works + lever.harder * (1 if by_grain else gap // 2)
        if _has_plan(lever.at(project, asked), solver):
            works, tight = _as_far_as(lever, project, asked, solver)
            streak = streak + 1 if by_grain else 0
        else:
            fails, streak = asked, 0
    return works


def _a_step_easier(lever: Lever) -> int | None:
    """What is asked first, since most limits are missed by little; None where that proves nothing.

    Where nothing of the project is asked any more, a search has many cores that hardly miss it.
    """
    if lever.id.startswith(TURNING[-1]):
        return None
    eased = lever.eased()
    return eased if eased is not None and (eased - lever.loosest) * lever.harder > 0 else None


def _as_far_as(lever: Lever, project: Project, works: int, solver: Solver) -> tuple[int, bool]:
    """An amount that the core of one amount's plan still meets, nearer to what is asked if it can.

    About where that is its plan says; whether it is so an audit or a look at the core. Also whether
    that core hardly goes farther.
    """
    plan = solver.witness(lever.at(project, works))
    if plan is None or plan.core is None:
        return works, False
    nearest = _told_by(plan, lever, project, works)
    if nearest is None:
        return works, False
    # Never as far as what is asked: that has no plan.
    nearest = min(nearest, lever.amount - 1) if lever.harder > 0 else max(nearest, lever.amount + 1)
    if (nearest - works) * lever.harder <= 0:
        return works, True
    if solver.stands(plan, lever.at(project, nearest)):
        return nearest, True
    # One core is asked many times sooner than all: half way, until a grain more is too much for it.
    stands, falls = works, nearest
    while abs(falls - stands) > 1:
        middle = (stands + falls) // 2
        if solver.stands(plan, lever.at(project, middle)):
            stands = middle
        else:
            falls = middle
    return stands, True


def _told_by(plan: Plan, lever: Lever, project: Project, works: int) -> int | None:
    """How far a plan may go on a lever by its own figures or the room that its modules need."""
    if lever.id.startswith("bay.room."):
        return least_with_room(plan, lambda to: lever.at(project, to), lever.amount, works)
    checks = checks_of(plan, lever.at(project, works)) or ()
    own = next((check for check in checks if check.id == lever.id), None)
    if own is not None and own.limit > 0 and own.value > 0:
        amount = works * own.value / own.limit
        return math.floor(amount + 1e-9) if lever.harder > 0 else math.ceil(amount - 1e-9)
    # Of a mass limit there is a check for every load case; a margin is a share of it or less.
    of_cases = [check for check in checks if check.id.startswith(f"{lever.id}.")]
    if lever.harder < 0 and of_cases:
        return works - math.floor(min(check.margin for check in of_cases) / lever.size + 1e-9)
    return None


def _missing(project: Project, solver: Solver) -> tuple[str, ...]:
    """Why the catalogue has no plan whatever is asked, most frequent reason first."""
    return solver.some(project).reasons[:6]
