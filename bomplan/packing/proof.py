"""Whether one more rectangle can stand: a constraint solver's answer, in bounded effort."""

from __future__ import annotations

from bisect import bisect_left
from typing import TypeVar

from ortools.sat.python import cp_model

from bomplan.packing.bounds import fillable

Placed = tuple[int, int, bool]
Picked = TypeVar("Picked")


def search_more(
    length: int,
    width: int,
    long: int,
    short: int,
    placed: tuple[Placed, ...],
    bound: int,
    effort: float,
) -> tuple[tuple[Placed, ...], bool]:
    """Look for more than ``placed`` and prove it when there is no more.

    Returns the best placement known and whether it is proven to be the most. ``effort`` is
    counted in the solver's deterministic seconds over all its calls, with one worker, so
    that the same arguments always get the same answer. Model: one yes/no per position and
    turn, at most one rectangle over each raster point; J. E. Beasley, "An exact
    two-dimensional non-guillotine cutting tree search procedure", Operations Research 33
    (1985) 49-64 (from memory).
    """

    best = placed
    while len(best) < bound and effort > 0:
        found, used = _one_more(length, width, long, short, len(best) + 1, effort)
        effort -= used
        if found is None:
            break
        if not found:
            return best, True
        best = found
    return best, len(best) >= bound


def _one_more(
    length: int, width: int, long: int, short: int, target: int, effort: float
) -> tuple[tuple[Placed, ...] | None, float]:
    """A placement of ``target`` or more, () if there is none, None if undecided; effort used."""
    model = cp_model.CpModel()
    lefts = _lefts(length, long, short)
    bottoms = _lefts(width, long, short)
    cover: dict[tuple[int, int], list[cp_model.IntVar]] = {
        (x, y): [] for x in lefts for y in bottoms
    }
    chosen: list[tuple[cp_model.IntVar, Placed]] = []
    for upright, dx, dy in ((False, long, short), (True, short, long)):
        for x in lefts:
            for y in bottoms:
                if x + dx > length or y + dy > width:
                    continue
                variable = model.new_bool_var("")
                chosen.append((variable, (x, y, upright)))
                for a in lefts[bisect_left(lefts, x) : bisect_left(lefts, x + dx)]:
                    for b in bottoms[bisect_left(bottoms, y) : bisect_left(bottoms, y + dy)]:
                        cover[(a, b)].append(variable)
    # two rectangles that overlap share the raster point at the overlap's lower left
    for variables in cover.values():
        if len(variables) > 1:
            model.add_at_most_one(variables)
    model.add(sum(variable for variable, _ in chosen) >= target)
    spare = length * width - target * long * short
    _limit_waste(model, chosen, 0, lefts, (length, width), (long, short), spare)
    _limit_waste(model, chosen, 1, bottoms, (length, width), (long, short), spare)
    return settled(model, chosen, effort)


def settled(
    model: cp_model.CpModel, chosen: list[tuple[cp_model.IntVar, Picked]], effort: float
) -> tuple[tuple[Picked, ...] | None, float]:
    """What the solver picks of ``chosen``; () if it proves that nothing will do, None if it gives
    up; and the effort used, in its deterministic seconds."""
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = effort
    status = solver.solve(model)
    used = solver.response_proto.deterministic_time
    if status == cp_model.INFEASIBLE:
        return (), used
    if status in (cp_model.FEASIBLE, cp_model.OPTIMAL):
        return tuple(one for variable, one in chosen if solver.value(variable)), used
    return None, used


def _limit_waste(
    model: cp_model.CpModel,
    chosen: list[tuple[cp_model.IntVar, Placed]],
    axis: int,
    edges: tuple[int, ...],
    room: tuple[int, int],
    sides: tuple[int, int],
    spare: int,
) -> None:
    """Every strip between raster lines may waste something, all together at most ``spare``.

    Implied by the other rows; it lets the solver see early that a strip cannot be filled.
    """
    long, short = sides
    size, depth = room[axis], room[1 - axis]
    wasted = []
    for edge, following in zip(edges, (*edges[1:], size), strict=True):
        crossing = []
        for variable, (x, y, upright) in chosen:
            start = (x, y)[axis]
            runs_long = upright == bool(axis)
            along, across = (long, short) if runs_long else (short, long)
            if start <= edge < start + along:
                crossing.append(across * variable)
        waste = model.new_int_var(0, depth, "")
        model.add(sum(crossing) + waste == depth)
        wasted.append((following - edge) * waste)
    model.add(sum(wasted) <= spare)


def _lefts(size: int, long: int, short: int) -> tuple[int, ...]:
    """Left edges that suffice, those flush with the far end included."""
    sums = fillable(size, long, short)
    reached = set(sums)
    down = []
    last = 0
    for at in range(size + 1):
        if at in reached:
            last = at
        down.append(last)
    return tuple(sorted({down[size - at] for at in sums if at >= short}))
