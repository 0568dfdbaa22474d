"""A second proof of the optimum: other seed, presolve off, and nothing may be better.

Every core that the walk opened, and every one that it left waiting because its closest bounds
passed the best, is asked again, with its cuts, for a bill that is better by at least one smallest
unit of the goal (a cent, a gram). Each must be infeasible. What the screen and the first bounds
rejected is outside this proof; small cases are proven against brute force in the tests.
"""

from __future__ import annotations

from typing import Final

from bomplan.design.context import Context
from bomplan.errors import InternalError
from bomplan.planner.model import CoreModel
from bomplan.planner.walked import Walked
from bomplan.requirements.simulated import all_worsen

MOST: Final = 10**12  # beyond any bill


def certified_optimum(context: Context, walked: Walked) -> bool:
    """True if no core looked at has a better bill; False where the solver ran out of effort.

    Raises InternalError if a better bill turns up: the first answer was wrong.
    """
    assert walked.best is not None
    return _nothing_below(context, walked, walked.best.figure)


def nothing_within(context: Context, walked: Walked) -> bool:
    """The same of a search that found nothing: no core has a bill within the budget."""
    budget = context.project.targets.budget
    return _nothing_below(context, walked, MOST if budget is None else budget + 1)


def _nothing_below(context: Context, walked: Walked, figure: int) -> bool:
    certain = True
    asked = [(one, result.cuts) for one, result in walked.opened if result.rejected is None]
    for opened, cuts in (*asked, *((one, one.cuts) for one in walked.waiting)):
        model = CoreModel(
            context,
            opened.drive,
            opened.currents,
            opened.options,
            all_worsen(opened.simulator),
        )
        model.add_cuts(cuts)
        answer = model.better_than(figure)
        if answer.solution is not None:
            raise InternalError(
                f"{opened.core.motor} with {opened.core.module} has a bill of"
                f" {answer.solution.price} and {answer.solution.added_g} g, below {figure}"
            )
        certain = certain and answer.solved
    return certain
