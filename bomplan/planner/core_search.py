"""The best bill of one core: solve, simulate, and cut until the simulation agrees."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from bomplan.design.adapter import Simulator
from bomplan.design.assemble import Bill, assemble, joints_uohm
from bomplan.design.bill import DesignCurrents
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.records import Couplers
from bomplan.errors import InternalError
from bomplan.planner.bounds import Leasts, Subsets
from bomplan.planner.core_bounds import CoreBounds, ceiling_of
from bomplan.planner.cuts import Cut, Cuts, Point, shut_out
from bomplan.planner.goals import goal_of
from bomplan.planner.judge import Judge
from bomplan.planner.model import Answer, CoreModel, Solution
from bomplan.planner.options import Options
from bomplan.planner.row_bounds import NEVER
from bomplan.project.records import ClimbTarget, RangeTarget, SpeedTarget
from bomplan.requirements.simulated import Simulated, all_worsen, simulated

# Bills are looked for that come to so much more than the bound: at first by a part of so many
# bits of it, then by so many times what was looked for before, at last of any.
FIRST_STEP, NEXT_STEP, LAST_STEP = 11, 4, 3
QUICK = (ClimbTarget, SpeedTarget)  # answered without a drive


@dataclass(frozen=True)
class CoreResult:
    """What one look into a core came to.

    ``solution`` and its ``bill`` passed the simulation: the core's best. With neither, the
    core has no bill within the incumbent if ``proven``, or the solver gave up; unless
    ``bound`` is given: then a bill that comes to so much by the goal failed the simulation,
    ``cuts`` now holds what that taught, and no bill of the core comes to less. ``rejected``
    names the simulated requirement that no bill of it meets. ``floor`` and
    ``tried`` are for the next look.
    """

    proven: bool
    solution: Solution | None = None
    bill: Bill | None = None
    bound: int | None = None
    cuts: Cuts = ()
    solved: int = 0
    simulated: int = 0
    rejected: str | None = None
    floor: int | None = None
    tried: int = 0


def least_couplers(
    context: Context, drive: Drive, options: Options, leasts: Leasts | None = None
) -> Couplers:
    """Couplers that no bill of the core can undercut; ``leasts`` what is known of its rows."""
    grams, uohm, watts = (leasts or Leasts()).of(options)
    return Couplers(
        added_g=grams,
        external_uohm=uohm + joints_uohm(context, drive),
        mean_12v_w=watts + round(context.project.donor.load_12v_w),
    )


def falls_short(
    simulator: Simulator, least: Couplers, known: Counter[str], quick: bool | None = None
) -> tuple[str | None, int]:
    """The target that even these couplers miss, if one does; and the simulations run.

    ``least`` must undercut every bill of the core; a miss tells only where the target gets worse
    with them. ``quick`` asks those only that take no drive (climbs and speeds), or, if False, the
    others: runs up to speed, then ranges. ``known`` counts which targets turned cores away so
    far; of the ranges those that turned away most are asked first.
    """
    asked = [one for one in simulated(simulator) if quick in (None, isinstance(one.target, QUICK))]
    asked.sort(key=lambda one: (isinstance(one.target, RangeTarget), -known[one.id]))
    for runs, requirement in enumerate(asked, start=1):
        # Its direction costs a run too: asked only where it matters.
        missed = not requirement.check(simulator, least).passed
        if missed and requirement.fails_beyond(simulator, least):
            known[requirement.id] += 1
            return requirement.id, runs
    return None, len(asked)


def look_into(
    context: Context,
    drive: Drive,
    currents: DesignCurrents,
    options: Options,
    simulator: Simulator,
    incumbent: int | None,
    cuts: Cuts = (),
    judge: Judge | None = None,
    bounds: CoreBounds | None = None,
    floor: int | None = None,
    tried: int = 0,
) -> CoreResult:
    """Bound a core, or solve it, once; and simulate what comes out.

    ``incumbent`` is what to match or beat by the goal, if there is anything yet; ``cuts`` what
    earlier looks taught, ``floor`` how little a bill comes to at least, ``tried`` that the solver
    found none within; ``judge`` what is known of rows, ``bounds`` of this core. A failed
    simulation ends the look, and so does the proof that no bill comes to hardly more than the
    bound: the walk goes on with whichever core now has the least.
    """
    runs = 0
    if not cuts and not tried:
        name, runs = falls_short(simulator, least_couplers(context, drive, options), Counter())
        if name is not None:
            return CoreResult(True, simulated=runs, rejected=name)
    judge = judge or Judge(context)
    bounds = bounds or bounds_of(context, judge, drive, currents, options)
    floor = bounds.least if floor is None else floor
    ceiling = ceiling_of(floor, incumbent)
    if incumbent is None:
        # A core that no bill suits is climbed in few looks: each goes on by what the last gained.
        ceiling += 2 * max(0, floor - bounds.plain)
    most = NEVER - 1 if incumbent is None else incumbent
    least = bounds.ask(cuts, ceiling)
    if max(least, tried + 1) > most:
        return CoreResult(True, cuts=cuts, simulated=runs)
    if least > ceiling:
        return CoreResult(True, None, None, least, cuts, 0, runs, None, least, tried)
    # The rows that come to least are simulated before anything is solved: most cores fall here.
    couplers = bounds.couplers() if least > tried else None
    if couplers is not None and not any(shut_out(cut, couplers) for cut in cuts):
        learnt, asked = _learnt(context, drive, options, simulator, couplers, bool(cuts))
        runs += asked
        if any(isinstance(one, Cut) for one in learnt):
            cuts, before = (*cuts, *learnt), least
            least = max(least, bounds.ask(cuts, ceiling))
            if incumbent is not None and least > most:
                return CoreResult(True, cuts=cuts, simulated=runs)
            if least >= NEVER:
                least = before  # that no bill is left is for the next look to say
            floor = least if least > ceiling else floor
            return CoreResult(True, None, None, least, cuts, 0, runs, None, floor, tried)
    solved = 0
    while True:
        step = max(1, least >> FIRST_STEP, NEXT_STEP * (tried - least))
        within = most if step > least >> LAST_STEP else min(least + step, most)
        answer = _solved(
            context, drive, currents, options, simulator, within, within == NEVER - 1, cuts,
            judge, bounds,
        )  # fmt: skip
        solved += 1
        if answer.solution is not None:
            break
        if not answer.solved or within == most:
            return CoreResult(answer.solved, cuts=cuts, solved=solved, simulated=runs)
        tried = within
        if cuts:
            # Its cheapest rows failed once: others may come to less.
            return CoreResult(True, None, None, within + 1, cuts, solved, runs, None, floor, within)
    bill = checked_bill(context, drive, currents, answer.solution)
    learnt, asked = _learnt(context, drive, options, simulator, bill.couplers, bool(cuts))
    runs += asked
    if not learnt:
        return CoreResult(answer.solved, answer.solution, bill, None, cuts, solved, runs)
    figure, cuts = answer.solution.figure, (*cuts, *learnt)
    return CoreResult(answer.solved, None, None, figure, cuts, solved, runs, None, floor, tried)


def bounds_of(
    context: Context, judge: Judge, drive: Drive, currents: DesignCurrents, options: Options
) -> CoreBounds:
    """The bounds of one core by itself."""
    goal = goal_of(context)
    bill = goal.measure(Subsets(context), judge)
    return CoreBounds(context, goal, bill, judge, drive, currents, options)


def _learnt(
    context: Context,
    drive: Drive,
    options: Options,
    simulator: Simulator,
    couplers: Couplers,
    again: bool,
) -> tuple[Cuts, int]:
    """What a simulation at these couplers teaches, nothing if it passes; and the simulations."""
    failed = first_failure(simulator, couplers)
    if failed is None:
        return (), 1
    if not failed.fails_beyond(simulator, couplers):
        return (Point(couplers.added_g, couplers.external_uohm, couplers.mean_12v_w),), 1
    least = least_couplers(context, drive, options)
    learnt, tried = cuts_from(failed, simulator, couplers, least, again)
    return learnt, 1 + tried


def _solved(
    context: Context,
    drive: Drive,
    currents: DesignCurrents,
    options: Options,
    simulator: Simulator,
    within: int,
    anything: bool,
    cuts: Cuts,
    judge: Judge,
    bounds: CoreBounds,
) -> Answer:
    """The core's best bill that the cuts leave and that comes to so much at most.

    Asked among those rows alone that such a bill may hold; ``anything``: of any figure.
    """
    kept = bounds.rows_within(within)
    if not all(keep.any() for keep in kept.values()):
        return Answer(True, None)
    monotone = all_worsen(simulator)
    model = CoreModel(context, drive, currents, options, monotone, judge, kept)
    model.add_cuts(cuts)
    model.hold(bounds.boxes(cuts))
    return model.solve(None if anything else within)


def checked_bill(
    context: Context, drive: Drive, currents: DesignCurrents, solution: Solution
) -> Bill:
    """The solution's bill, counted again from scratch; the two counts must agree."""
    bill = assemble(context, drive, currents, solution.rows, solution.chosen)
    if (bill.price, bill.added_g) != (solution.price, solution.added_g):
        raise InternalError(
            f"the model counts {solution.price} and {solution.added_g} g,"
            f" the bill {bill.price} and {bill.added_g} g"
        )
    return bill


def first_failure(simulator: Simulator, couplers: Couplers) -> Simulated | None:
    """The first simulated requirement that these couplers fail."""
    for requirement in simulated(simulator):
        if not requirement.check(simulator, couplers).passed:
            return requirement
    return None


def cuts_from(
    failed: Simulated, simulator: Simulator, at: Couplers, least: Couplers, again: bool
) -> tuple[Cuts, int]:
    """Strong valid cuts from one failure, and the simulations that they took.

    Each is a corner at which the requirement is known to fail: worse couplers fail too. The
    corner is moved as far towards better couplers as bisection finds it failing still, to
    within a step; a corner between the last failing and the last passing point loses nothing
    but strength. First along mass and along resistance from where the bill stands, and, where
    no mass is light enough, along resistance at the least mass; on a second failure of the same
    core also from its least resistance and its least mass.
    """
    found: list[Cut] = []
    tried = 0
    worsens = failed.direction(simulator) == "worsens"

    def fails(mass_g: int, uohm: int, watts: int) -> bool:
        nonlocal tried
        tried += 1
        couplers = Couplers(added_g=mass_g, external_uohm=uohm, mean_12v_w=watts)
        if failed.check(simulator, couplers).passed:
            return False
        return worsens or failed.fails_beyond(simulator, couplers)

    starts = [(at.added_g, at.external_uohm, at.mean_12v_w)]
    if again:
        starts += [
            (at.added_g, least.external_uohm, least.mean_12v_w),
            (least.added_g, at.external_uohm, least.mean_12v_w),
        ]
    for number, (mass_g, uohm, watts) in enumerate(starts):
        if number and mass_g == least.added_g and any(cut.added_g < mass_g for cut in found):
            continue  # asked at the least mass already
        if number and not fails(mass_g, uohm, watts):
            continue
        if watts > least.mean_12v_w and fails(mass_g, uohm, least.mean_12v_w):
            watts = least.mean_12v_w
        lighter = _least_failing(
            least.added_g, mass_g, MASS_STEP_G, partial(_along_mass, fails, uohm, watts)
        )
        if lighter == least.added_g:
            # It fails at any mass: less resistance alone can help, and how much less is asked.
            lower = _least_failing(
                least.external_uohm, uohm, UOHM_STEP, partial(_along_ohm, fails, lighter, watts)
            )
            found.append(Cut(lighter - 1, lower, watts))
            if mass_g == lighter:
                continue
        else:
            found.append(Cut(lighter - 1, uohm, watts))
        lower = _least_failing(
            least.external_uohm, uohm, UOHM_STEP, partial(_along_ohm, fails, mass_g, watts)
        )
        found.append(Cut(mass_g - 1, lower, watts))
    return tuple(dict.fromkeys(found)), tried


Fails = Callable[[int, int, int], bool]


def _along_mass(fails: Fails, uohm: int, watts: int, mass_g: int) -> bool:
    return fails(mass_g, uohm, watts)


def _along_ohm(fails: Fails, mass_g: int, watts: int, uohm: int) -> bool:
    return fails(mass_g, uohm, watts)


MASS_STEP_G = 50
UOHM_STEP = 10


def _least_failing(low: int, high: int, step: int, fails: Callable[[int], bool]) -> int:
    """A failing value no more than ``step`` above the least one; ``high`` is known to fail."""
    if low >= high:
        return high
    if fails(low):
        return low
    while high - low > step:
        middle = (low + high) // 2
        if fails(middle):
            high = middle
        else:
            low = middle
    return high
