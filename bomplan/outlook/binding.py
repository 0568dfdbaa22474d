"""What binds: the cheapest plan with each target or limit one step easier and one step harder.

Every figure is that of a plan which was searched for and proven anew; nothing is guessed
from margins. One search is saved where it cannot matter: a plan that also meets the harder
project is its cheapest plan too, since making a demand harder admits no new plan.
"""

from __future__ import annotations

from collections.abc import Sequence

from bomplan.design.context import Context
from bomplan.design.planfile import catalog_of
from bomplan.design.records import Plan
from bomplan.design.studies import Binding, Step
from bomplan.outlook.levers import Lever, levers
from bomplan.outlook.meeting import meets
from bomplan.outlook.solving import Solver, by_cost
from bomplan.project.records import Project


def what_binds(
    project: Project, plan: Plan, solver: Solver, only: Sequence[str] = ()
) -> tuple[Binding, ...]:
    """Each lever of the project (or those whose ids are in ``only``), dearest first.

    ``plan`` is the proven cheapest plan of ``project``; ValueError if it chose nothing.
    """
    if plan.objective.value is None:
        raise ValueError("nothing can bind where there is no plan")
    project = by_cost(project)
    chosen = [lever for lever in levers(project) if not only or lever.id in only]
    wanted: list[Project] = []
    for lever in chosen:
        easier, harder = lever.eased(), lever.hardened()
        if easier is not None:
            wanted.append(lever.at(project, easier))
        if harder is not None and not still_cheapest(plan, project, lever.at(project, harder)):
            wanted.append(lever.at(project, harder))
    found = iter(solver.plans(wanted))
    bindings = []
    for lever in chosen:
        easier, harder = lever.eased(), lever.hardened()
        eased = _no_step(lever) if easier is None else _step(lever, easier, plan, next(found))
        if harder is None:
            hardened = _no_step(lever)
        elif still_cheapest(plan, project, lever.at(project, harder)):
            hardened = Step(amount=_shown(lever, harder), outcome="plan", price_change=0)
        else:
            hardened = _step(lever, harder, plan, next(found))
        bindings.append(
            Binding(
                lever=lever.id,
                words=lever.words,
                unit=lever.unit,
                amount=_shown(lever, lever.amount),
                easier=eased,
                harder=hardened,
            )
        )
    return tuple(sorted(bindings, key=_weight))


def still_cheapest(plan: Plan, project: Project, harder: Project) -> bool:
    """Whether the plan meets the harder project as it stands, and so stays the cheapest.

    Not asked where the change also changes the mass at which conductors are sized: then
    other plans may become possible.
    """
    catalog = catalog_of(plan)
    before, after = Context(project, catalog), Context(harder, catalog)
    return before.reference_mass_g == after.reference_mass_g and meets(plan, harder)


def _step(lever: Lever, amount: int, plan: Plan, found: Plan) -> Step:
    assert plan.objective.value is not None
    if found.objective.value is None:
        outcome = found.status if found.status == "none" else "unknown"
        return Step(amount=_shown(lever, amount), outcome=outcome)
    return Step(
        amount=_shown(lever, amount),
        outcome="plan",
        price_change=found.objective.value - plan.objective.value,
    )


def _no_step(lever: Lever) -> Step:
    return Step(amount=_shown(lever, lever.amount), outcome="not asked")


def _shown(lever: Lever, amount: int) -> float:
    return round(amount * lever.size, lever.decimals)


def _weight(binding: Binding) -> tuple[int, int, str]:
    """What saves most by giving way first, then what costs most by asking more."""
    harder = binding.harder
    dearer = 10**15 if harder.outcome == "none" else harder.price_change or 0
    return (binding.easier.price_change or 0, -dearer, binding.lever)
