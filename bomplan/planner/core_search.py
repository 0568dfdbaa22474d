"""The best bill of one core: solve, simulate, and cut until the simulation agrees."""

from __future__ import annotations

from dataclasses import dataclass

from bomplan.design.adapter import Simulator
from bomplan.design.assemble import Bill, assemble, joints_uohm
from bomplan.design.bill import DesignCurrents
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.records import Couplers
from bomplan.errors import InternalError
from bomplan.planner.bounds import least_12v_w, least_external_uohm, least_mass_g
from bomplan.planner.model import CoreModel, Cut, Point, Solution
from bomplan.planner.options import Options
from bomplan.requirements.simulated import Simulated, simulated


@dataclass(frozen=True)
class CoreResult:
    """What opening one core came to.

    ``proven`` tells that ``solution`` is the core's best, or that it has none within the
    incumbent; ``rejected`` names the simulated requirement that no bill of it meets.
    """

    proven: bool
    solution: Solution | None
    bill: Bill | None
    solved: int
    simulated: int
    cut: int
    rejected: str | None = None
    ties: tuple[Cut | Point, ...] = ()


def least_couplers(context: Context, drive: Drive, options: Options) -> Couplers:
    """Couplers that no bill of the core can undercut."""
    return Couplers(
        added_g=least_mass_g(options),
        external_uohm=least_external_uohm(options, joints_uohm(context, drive)),
        mean_12v_w=least_12v_w(options, round(context.project.donor.load_12v_w)),
    )


def rejected_for_good(
    context: Context, drive: Drive, simulator: Simulator, options: Options
) -> str | None:
    """The requirement that fails even at the least couplers of all, if one does."""
    least = least_couplers(context, drive, options)
    for requirement in simulated(simulator):
        if requirement.direction(simulator) != "worsens":
            continue
        if not requirement.check(simulator, least).passed:
            return requirement.id
    return None


def search_core(
    context: Context,
    drive: Drive,
    currents: DesignCurrents,
    options: Options,
    simulator: Simulator,
    incumbent: tuple[int, int] | None,
    most_mass_g: int,
) -> CoreResult:
    """Open one core. ``incumbent`` is the (price, mass) to match or beat, if there is one."""
    solved = cut = 0
    runs = 1
    name = rejected_for_good(context, drive, simulator, options)
    if name is not None:
        return CoreResult(True, None, None, 0, runs, 0, name)
    model = CoreModel(context, drive, currents, options)
    least = least_couplers(context, drive, options)
    cuts: list[Cut | Point] = []
    while True:
        answer = model.solve(incumbent)
        solved += 1
        if answer.solution is None:
            return CoreResult(answer.solved, None, None, solved, runs, cut, None, tuple(cuts))
        bill = checked_bill(context, drive, currents, answer.solution)
        runs += 1
        failed = first_failure(simulator, bill.couplers)
        if failed is None:
            return CoreResult(
                answer.solved, answer.solution, bill, solved, runs, cut, None, tuple(cuts)
            )
        if failed.direction(simulator) == "none":
            point = Point(
                bill.couplers.added_g, bill.couplers.external_uohm, bill.couplers.mean_12v_w
            )
            model.exclude(point)
            cuts.append(point)
        else:
            for made, tried in _cuts_from(failed, simulator, bill.couplers, least, most_mass_g):
                model.add_cut(made)
                cuts.append(made)
                runs += tried
        cut += 1


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


def _cuts_from(
    failed: Simulated,
    simulator: Simulator,
    at: Couplers,
    least: Couplers,
    most_mass_g: int,
) -> list[tuple[Cut, int]]:
    """The strongest valid cuts that a failure gives.

    First the greatest mass that passes with the least resistance and load of the core: it
    bounds every bill. Then the greatest that passes with the bill's own: it bounds every
    bill that has at least as much of both.
    """
    found: list[tuple[Cut, int]] = []
    easiest = Couplers(
        added_g=at.added_g, external_uohm=least.external_uohm, mean_12v_w=least.mean_12v_w
    )
    seen: set[tuple[int, int]] = set()
    for base in (easiest, at):
        key = (base.external_uohm, base.mean_12v_w)
        if key in seen:
            continue
        seen.add(key)
        mass, tried = greatest_mass(failed, simulator, base, least.added_g, most_mass_g)
        if mass < at.added_g:
            found.append((Cut(mass, base.external_uohm, base.mean_12v_w), tried))
    if not found:
        raise InternalError(f"{failed.id} fails at {at} and yet gives no cut")
    return found


def greatest_mass(
    requirement: Simulated,
    simulator: Simulator,
    base: Couplers,
    least_g: int,
    most_g: int,
) -> tuple[int, int]:
    """The greatest added mass at which the requirement still passes, by bisection.

    ``least_g - 1`` if it fails at the least mass already. Also the number of simulations.
    """
    tried = 0

    def passes(mass_g: int) -> bool:
        nonlocal tried
        tried += 1
        couplers = Couplers(
            added_g=mass_g, external_uohm=base.external_uohm, mean_12v_w=base.mean_12v_w
        )
        return requirement.check(simulator, couplers).passed

    low, high = least_g - 1, max(most_g, base.added_g) + 1
    if not passes(least_g):
        return low, tried
    low = least_g
    if passes(base.added_g):
        low = base.added_g
    else:
        high = min(high, base.added_g)
    while high - low > 1:
        middle = (low + high) // 2
        if passes(middle):
            low = middle
        else:
            high = middle
    return low, tried
