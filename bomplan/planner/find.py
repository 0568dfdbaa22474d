"""From a project and a catalogue to the cheapest plan that truly works, with its proof."""

from __future__ import annotations

from contextlib import AbstractContextManager, nullcontext

from bomplan.catalog.records import Catalog
from bomplan.design.adapter import Simulator
from bomplan.design.assemble import Bill, placement_records
from bomplan.design.context import Context
from bomplan.design.drive import may_regenerate
from bomplan.design.driving_figures import driving_record
from bomplan.design.figures import mass_record, performance_record
from bomplan.design.left_open import left_open
from bomplan.design.money import with_money
from bomplan.design.planfile import digest, parts_used
from bomplan.design.records import Core, Plan, SearchCounts, Status
from bomplan.design.supply import supply_record
from bomplan.errors import InternalError
from bomplan.planner.core_search import bounds_of, checked_bill, first_failure
from bomplan.planner.cuts import Point
from bomplan.planner.events import Event, Listener, Stop
from bomplan.planner.farthest import Farthest, farthest
from bomplan.planner.goals import goal_of
from bomplan.planner.instead import with_standings
from bomplan.planner.judge import Judge
from bomplan.planner.model import CoreModel, Solution
from bomplan.planner.other_drives import Stand, with_other_drives
from bomplan.planner.ranked import first_by_rank
from bomplan.planner.refusal import reasons, refused_checks
from bomplan.planner.seek import Remaining, Seek
from bomplan.planner.shared import Shared
from bomplan.planner.spread import open_here, open_in_processes
from bomplan.planner.walk import Best, Opened, Spread, Walk, Walked
from bomplan.project.goal import Goal
from bomplan.project.records import Project
from bomplan.requirements.cautions import cautions, refusal_cautions
from bomplan.requirements.cliffs import cliffs
from bomplan.requirements.evaluate import all_checks
from bomplan.requirements.overspeed import wrong_gear
from bomplan.requirements.simulated import all_worsen


def find_plan(
    project: Project,
    catalog: Catalog,
    *,
    workers: int = 1,
    listener: Listener | None = None,
    stop: Stop | None = None,
    certify: bool = False,
    barred: frozenset[tuple[str, str]] = frozenset(),
    shared: Shared | None = None,
    standings: bool = True,
    left_over: bool = False,
    other_drives: bool = False,
) -> Plan:
    """The cheapest plan of this project with the parts of this catalogue.

    ``workers`` processes open cores side by side; the plan and its counters are the same for
    any number. ``stop`` may be set at any time: the best plan so far comes back, ``feasible``.
    ``certify`` proves the optimum a second way (see :mod:`bomplan.planner.certificate`).
    ``barred`` names motors with modules that no plan may have together, so that the next
    best different plan can be asked for. ``shared`` holds what earlier searches of near-alike
    projects found; the plan is the same with and without. Without ``standings`` no line says how
    close it is and what else would do. With ``left_over`` only those cores are looked at that
    :func:`find_any` has not seen fall before (``shared`` knows), and so the counts are of these.
    With ``other_drives`` motor, controller and module have their next best, too, each by a search
    of its own (:mod:`bomplan.planner.other_drives`) with the rows that this one judged.
    Raises InputError where project and catalogue do not belong together (a missing rate,
    a name that no table has).
    """
    context = Context(project, catalog)
    judge = None if shared is None else shared.judge(context)
    if other_drives and context.laps is None:
        context.laps = {}
    fallen = None if shared is None or not left_over else shared.fallen(context)
    walk = (
        Walk(context, listener, stop, barred, judge)
        if fallen is None
        else Remaining(context, fallen, listener, stop, barred, judge)
    )
    opening: AbstractContextManager[Spread] = (
        nullcontext(open_here(context, walk.judge))
        if workers <= 1
        else open_in_processes(context, workers)
    )
    with opening as spread:
        far = _farthest(walk, spread, stop or Stop(), listener, barred)
        walked = walk.run(spread) if far is None else far.walked
    if walked.best is None:
        plan = _no_plan(context, walked, stop)
    else:
        certified = False
        if certify and walked.complete:
            from bomplan.planner.certificate import certified_optimum, nothing_within

            certified = certified_optimum(context, walked)
            if far is not None and far.beyond is not None:
                certified = nothing_within(context, far.beyond) and certified
        plan = _plan(context, walked, certified, far, standings=standings)
        if standings and other_drives:
            plan = _with_other_drives(plan, context, walked, far, walk.judge, stop, barred)
    if listener is not None:
        listener(
            Event(
                kind="done",
                screened=plan.search.screened,
                solved=plan.search.solved,
                simulated=plan.search.simulated,
                cut=plan.search.cut,
                bound=plan.objective.bound,
                best=plan.objective.value,
                words=plan.status,
            )
        )
    return plan


def find_any(
    project: Project,
    catalog: Catalog,
    *,
    stop: Stop | None = None,
    shared: Shared | None = None,
    only: Core | None = None,
) -> Plan:
    """Any plan of this project, whatever it costs, or the proof that there is none.

    With ``only`` no other core is looked at: then status ``none`` says that this one has no plan.
    The plan has status ``feasible`` and no bound: nothing is known of what others cost. Of a core
    the lightest bill is asked for first, since it goes farthest and loads the axles least.
    """
    lightest = project.model_copy(update={"goal": Goal(aim="least-mass")})
    context = Context(lightest, catalog)
    judge = None if shared is None else shared.judge(context)
    fallen = None if shared is None else shared.fallen(context)
    seek = Seek(context, stop=stop, judge=judge, fallen=fallen, only=only)
    walked = seek.run(open_here(context, seek.judge))
    if walked.best is None:
        return _no_plan(context, walked, stop)
    return _plan(context, walked, False, None, standings=False, first=False)


def _with_other_drives(
    plan: Plan,
    context: Context,
    walked: Walked,
    far: Farthest | None,
    judge: Judge,
    stop: Stop | None,
    barred: frozenset[tuple[str, str]],
) -> Plan:
    """The plan with what its lines say of other motors, controllers and modules."""
    best, core = walked.best, plan.core
    assert best is not None
    assert core is not None

    def search(other: Context) -> tuple[Walked, Farthest | None]:
        walk = Walk(other, None, stop, barred, judge)
        spread = open_here(other, judge)
        found = _farthest(walk, spread, stop or Stop(), None, barred)
        return (walk.run(spread), None) if found is None else (found.walked, found)

    figure = best.figure if far is None else far.reached_m or 0
    stand = Stand(core, figure, best.price, best.added_g)
    return plan.model_copy(update={"lines": with_other_drives(context, plan.lines, stand, search)})


def _farthest(
    walk: Walk,
    spread: Spread,
    stop: Stop,
    listener: Listener | None,
    barred: frozenset[tuple[str, str]],
) -> Farthest | None:
    """The searches for the most range, where that is the goal."""
    if walk.context.project.goal.aim != "most-range":
        return None

    def search(context: Context, until: Stop, hear: Listener | None) -> Walked:
        def both(event: Event) -> None:
            for one in (listener, hear):
                if one is not None:
                    one(event)

        return Walk(context, both, until, barred, walk.judge).run(spread)

    return farthest(walk.context, search, stop)


def _plan(
    context: Context,
    walked: Walked,
    certified: bool,
    far: Farthest | None,
    *,
    standings: bool,
    first: bool = True,
) -> Plan:
    """The plan in full; the ``first`` of those that come to the same, or any of them."""
    assert walked.best is not None
    opened, solution, bill = (_first if first else _any_of)(context, walked.best)
    fitted = {line.family for line in bill.lines}
    chosen = {family: pick for family, pick in solution.chosen.items() if family in fitted}
    # The checks are the project's own, whatever more the search asked for.
    simulator = opened.simulator if far is None else Simulator(context, opened.drive)
    figure, bound = walked.best.figure, walked.bound
    if far is not None:
        figure, bound = far.reached_m or 0, far.bound_m
    checks = all_checks(
        context,
        opened.drive,
        opened.currents,
        solution.rows,
        chosen,
        bill,
        simulator,
    )
    missed = [check.id for check in checks if not check.passed]
    if missed:
        raise InternalError(f"the plan that was found fails its own checks: {', '.join(missed)}")
    driving = driving_record(context, bill.couplers, chosen, simulator)
    placement = placement_records(context, opened.drive, solution.rows)
    status: Status = "optimal" if walked.complete else "feasible"
    plan = Plan(
        status=status,
        objective=goal_of(context).objective(bill, figure, bound),
        core=opened.core,
        placement=placement,
        lines=bill.lines
        if not standings
        else with_standings(
            context,
            opened.drive,
            opened.currents,
            solution.rows,
            chosen,
            bill,
            simulator,
            checks,
        ),
        invoices=bill.invoices,
        spares=bill.spares,
        mass=mass_record(context, bill),
        couplers=bill.couplers,
        performance=performance_record(
            context, opened.drive, opened.currents, bill, chosen, simulator
        ),
        driving=driving,
        supply_12v=supply_record(context, bill),
        checks=checks,
        cautions=cautions(
            opened.drive,
            checks,
            driving,
            (
                *wrong_gear(context, opened.drive.motor, opened.drive.core.final_ratio),
                *cliffs(simulator, bill.couplers),
                *left_open(
                    context,
                    opened.drive,
                    opened.currents,
                    placement,
                    {f: c.part for f, c in chosen.items()},
                ),
            ),
            regenerates=may_regenerate(context, opened.drive),
        ),
        parts_used=parts_used(context, opened.drive, [pick.part for pick in chosen.values()]),
        **_frame(context, walked, certified),
    )
    return with_money(plan, context.project)


def _first(context: Context, best: Best) -> tuple[Opened, Solution, Bill]:
    """The one plan among those of equal price and mass: core ids, rows, placement, in order."""
    opened, result = min(best.cores, key=lambda pair: pair[0].core.sort_key())
    assert result.solution is not None
    assert result.bill is not None
    drive, currents, options = opened.drive, opened.currents, opened.options
    judge = Judge(context)
    bounds = opened.bounds or bounds_of(context, judge, drive, currents, options)
    bounds.ask(result.cuts, best.figure)
    kept = bounds.rows_within(best.figure)
    monotone = all_worsen(opened.simulator)
    model = CoreModel(context, drive, currents, options, monotone, judge, kept)
    model.add_cuts(result.cuts)
    while True:
        first = first_by_rank(model, result.solution)
        bill = checked_bill(context, opened.drive, opened.currents, first)
        if first_failure(opened.simulator, bill.couplers) is None:
            return opened, first, bill
        couplers = bill.couplers
        model.exclude(Point(couplers.added_g, couplers.external_uohm, couplers.mean_12v_w))


def _any_of(context: Context, best: Best) -> tuple[Opened, Solution, Bill]:
    """The plan that was come to, as it was found."""
    del context
    opened, result = best.cores[0]
    assert result.solution is not None
    assert result.bill is not None
    return opened, result.solution, result.bill


def _no_plan(context: Context, walked: Walked, stop: Stop | None) -> Plan:
    stopped = stop is not None and stop.requested
    status: Status = "none" if walked.complete and not stopped else "unknown"
    checks = refused_checks(context, walked)
    return Plan(
        status=status,
        objective=goal_of(context).objective(None, None, walked.bound),
        reasons=tuple(reasons(context, walked)),
        checks=checks,
        cautions=refusal_cautions(checks),
        **_frame(context, walked, False),
    )


def _frame(context: Context, walked: Walked, certified: bool) -> dict[str, object]:
    """What every plan carries, whatever its status."""
    project, catalog = context.project, context.catalog
    used = project.model_dump(mode="json")
    return {
        "currency": project.currency,
        "project": project.name,
        "as_of": project.as_of.isoformat(),
        "search": SearchCounts(
            screened=walked.screened.cores,
            solved=walked.solved,
            simulated=walked.simulated,
            cut=walked.cut,
            rejected=dict(sorted(walked.screened.rejected.items())),
            certified=certified,
        ),
        "inputs": {"catalog": catalog.digest, "project": digest(used)},
        "project_used": used,
    }
