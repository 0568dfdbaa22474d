"""Among the bills of a core that cost and weigh the same, the first in a fixed order."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from bomplan.planner.model import CoreModel, Solution

if TYPE_CHECKING:
    from ortools.sat.python import cp_model


def first_by_rank(model: CoreModel, known: Solution) -> Solution:
    """Among the bills of this price and mass, the first in the fixed order.

    Per family the part's id, then the suppliers'; then the placement, fullest first bay
    first; last the fewest pieces bought. Every question is put with price and mass as the
    objective ("is there one as good that comes earlier?"), because its bounds prove the
    answer quickly; as mere limits they make a knapsack of it. One question asks for any
    bill that comes earlier; most often the first answer is that there is none. Where the
    solver runs out of effort the order stands as far as it got.
    """
    best = known
    buying = model.purchases
    while (better := model.as_good(known, _ask_for_earlier(model, best))) is not None:
        best = better
    fixed = [same for _, same in _order(model, best)]
    while buying.loose:
        bought = sum(lot.bought for one in best.chosen.values() for lot in one.lots)
        better = model.as_good(known, _all_of([*fixed, buying.pieces() <= bought - 1]))
        if better is None:
            break
        best = better
    return best


def _order(core: CoreModel, best: Solution) -> list[tuple[Any | None, Any]]:
    """For each place of the fixed order: what comes earlier there (None: nothing), and what
    stands as in ``best``."""
    buying = core.purchases
    order: list[tuple[Any | None, Any]] = []
    for family in core.families:
        rank, mine = buying.rank(family), buying.rank_of(family, best.chosen[family])
        order.append((rank <= mine - 1 if mine > 1 else None, rank == mine))
    for bay, at in enumerate(core.at[:-1]):
        fuller = at[best.rows[bay] + 1 :]
        earlier = core.cp.LinearExpr.sum(fuller) >= 1 if fuller else None
        order.append((earlier, at[best.rows[bay]] == 1))
    return order


def _ask_for_earlier(core: CoreModel, best: Solution) -> Callable[[cp_model.CpModel], None]:
    """Constraints for a bill that comes before this one in the fixed order.

    It is as this one up to some place, and earlier there.
    """
    order = _order(core, best)

    def ask(model: cp_model.CpModel) -> None:
        here: list[Any] = []
        alike: Any = None  # as this one up to here
        for earlier, same in order:
            # A family with one row and one way to buy it stands as it is: plain True.
            if earlier is not None and not isinstance(earlier, bool):
                first = model.new_bool_var("")
                model.add(earlier).only_enforce_if(first)
                if alike is not None:
                    model.add_implication(first, alike)
                here.append(first)
            if isinstance(same, bool):
                continue
            onward = model.new_bool_var("")
            model.add(same).only_enforce_if(onward)
            if alike is not None:
                model.add_implication(onward, alike)
            alike = onward
        model.add_bool_or(here)

    return ask


def _all_of(constraints: list[Any]) -> Callable[[cp_model.CpModel], None]:
    def ask(model: cp_model.CpModel) -> None:
        for constraint in constraints:
            model.add(constraint)

    return ask
