"""How sure a plan is: its figures drawn anew many times within what may be.

Latin hypercube draws (scipy.stats.qmc) of every uncertain input at once; each draw drives the
car anew. The chance of keeping a target is the share of draws that do, with the interval of
Wilson (1927) at 95 %; stratified draws are at least as good as the independent ones it is meant
for. What explains an answer's variance is the first-order index by random balance designs
(Tarantola, Gatelli and Mara 2006, through SALib), which needs no draws of its own.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from concurrent.futures import Executor
from typing import Final

import numpy as np
import numpy.typing as npt

from bomplan.catalog.records import Catalog
from bomplan.design.adapter import Simulator
from bomplan.design.chances import Chance, Chances, Influence, InputRange
from bomplan.design.context import Context
from bomplan.design.planfile import catalog_of, project_of
from bomplan.design.records import Couplers, Plan
from bomplan.design.studies import Headline
from bomplan.design.uncertain import (
    TO_KNOW,
    WORDS,
    InputName,
    UncertainInput,
    car_with,
    couplers_with,
    latin_hypercube,
    more_12v_w,
    uncertain_inputs,
)
from bomplan.outlook.headline import headline
from bomplan.outlook.solving import StudyStoppedError
from bomplan.physics.powertrain import prepare_tables
from bomplan.planner import Stop
from bomplan.project.records import Project, RangeTarget
from bomplan.requirements.loads import mass_rows
from bomplan.requirements.simulated import Simulated, simulated

DRAWS: Final = 2_000
FEWEST_DRAWS: Final = 100
SEED: Final = 1
CHUNK: Final = 50
CONFIDENCE: Final = 0.95
_RESAMPLED: Final = 100
Floats = npt.NDArray[np.float64]


def chances(
    plan: Plan,
    *,
    draws: int = DRAWS,
    seed: int = SEED,
    executor: Executor | None = None,
    stop: Stop | None = None,
) -> Chances:
    """Every target and mass limit of the plan over ``draws`` draws; ``seed`` makes them.

    The executor only spreads the work: the answer is the same with any, and with none.
    ValueError for a plan that chose nothing, or fewer than 100 draws; InputError where the plan
    does not hold its own project and parts; StudyStoppedError where ``stop`` was asked for.
    """
    check_asked(plan, draws)
    project, catalog = project_of(plan), catalog_of(plan)
    inputs = uncertain_inputs(project)
    values = latin_hypercube(inputs, draws, seed)
    asked = _asked(plan, project, catalog)
    found = _figures(plan, inputs, values, executor, stop)
    told = tuple(
        _chance(one, found[:, number], inputs, values, seed) for number, one in enumerate(asked)
    )
    kept = np.column_stack([one.kept(found[:, number]) for number, one in enumerate(asked)])
    whole = int(kept.all(axis=1).sum())
    low, high = interval(whole, draws)
    return Chances(
        project=plan.project,
        currency=plan.currency,
        draws=draws,
        seed=seed,
        inputs=tuple(_range(one) for one in inputs),
        all_kept=whole / draws,
        all_low=low,
        all_high=high,
        chances=(*told, *_money(plan, project)),
        measure_first=_measure_first(told, inputs),
        chosen=_chosen(plan),
    )


def _chosen(plan: Plan) -> Headline | None:
    try:
        return headline(plan)
    except ValueError:
        return None


def check_asked(plan: Plan, draws: int) -> None:
    """ValueError for a plan that chose nothing, or fewer than 100 draws."""
    if plan.core is None or plan.couplers is None:
        raise ValueError("a plan that chose nothing has no chances")
    if draws < FEWEST_DRAWS:
        raise ValueError(f"fewer than {FEWEST_DRAWS} draws say nothing")


def interval(kept: int, draws: int) -> tuple[float, float]:
    """The interval of Wilson for a share of ``kept`` in ``draws``, at 95 %."""
    from scipy.stats import binomtest

    found = binomtest(kept, draws).proportion_ci(CONFIDENCE, method="wilson")
    return float(found.low), float(found.high)


def first_order(values: Floats, answer: Floats, seed: int) -> list[tuple[float, float]]:
    """Per column of ``values``: the share of the answer's variance that it alone explains.

    With half of its 95 % interval, by resampling. All zero where the answer never changes.
    """
    from SALib.analyze import rbd_fast

    columns = values.shape[1]
    if columns == 0 or float(np.ptp(answer)) == 0.0:
        return [(0.0, 0.0)] * columns
    problem = {
        "num_vars": columns,
        "names": [str(number) for number in range(columns)],
        "bounds": [[-1.0, 1.0]] * columns,
    }
    found = rbd_fast.analyze(problem, values, answer, num_resamples=_RESAMPLED, seed=seed)
    return [
        (min(1.0, max(0.0, float(share))), float(error))
        for share, error in zip(found["S1"], found["S1_conf"], strict=True)
    ]


# -- what is asked of every draw -------------------------------------------------------------


class _Asked:
    """One target or limit, as judged in a draw: against the wish itself, without the margin."""

    def __init__(self, id: str, words: str, unit: str, sense: str, limit: float, at: float) -> None:
        self.id, self.words, self.unit = id, words, unit
        self.sense, self.limit, self.at = sense, limit, at

    def kept(self, figures: Floats) -> npt.NDArray[np.bool_]:
        return figures >= self.limit if self.sense == "at least" else figures <= self.limit


def _asked(plan: Plan, project: Project, catalog: Catalog) -> list[_Asked]:
    assert plan.core is not None
    assert plan.couplers is not None
    context = Context(project, catalog)
    car = car_with(context, plan.core, {})
    found = []
    for requirement in _itself(car):
        check, target = requirement.check(car, plan.couplers), requirement.target
        limit = target.distance_m / 1000 if isinstance(target, RangeTarget) else check.limit
        found.append(
            _Asked(check.id, check.words, check.unit, check.sense, float(limit), float(check.value))
        )
    weights = _weights(context, plan)
    for row in mass_rows(context):
        if row.plate_g and not row.sideways:
            at = row.value(*weights) / row.divisor / 1000
            found.append(_Asked(row.id, row.words, "kg", "at most", row.plate_g / 1000, at))
    return found


def _itself(car: Simulator) -> list[Simulated]:
    """Every target itself; one with a confidence is not drawn within draws."""
    return [one for one in simulated(car) if type(one) is Simulated]


def _weights(context: Context, plan: Plan) -> tuple[int, int]:
    """Mass and moment that the plan adds, in g and g·mm, out of its own first load case."""
    assert plan.mass is not None
    assert plan.couplers is not None
    first = plan.mass.load_cases[0]
    load = context.load(first.name)
    rear_g = round(first.rear_kg * 1000)
    moment = rear_g * context.wheelbase_mm - context.base.moment_gmm - load.moment_gmm
    return plan.couplers.added_g, moment


def _figures(
    plan: Plan,
    inputs: Sequence[UncertainInput],
    values: Floats,
    executor: Executor | None,
    stop: Stop | None,
) -> Floats:
    names = [one.name for one in inputs]
    chunks = [values[begin : begin + CHUNK] for begin in range(0, len(values), CHUNK)]
    if executor is None:
        context = _context(plan)
        found = []
        for chunk in chunks:
            if stop is not None and stop.requested:
                raise StudyStoppedError
            found.append(_drive(plan, context, names, chunk))
        return np.vstack(found)
    futures = [executor.submit(_drive_afresh, plan, names, chunk) for chunk in chunks]
    try:
        found = []
        for future in futures:
            if stop is not None and stop.requested:
                raise StudyStoppedError
            found.append(future.result())
        return np.vstack(found)
    finally:
        for future in futures:
            future.cancel()


def _context(plan: Plan) -> Context:
    return Context(project_of(plan), catalog_of(plan))


def _drive_afresh(plan: Plan, names: Sequence[InputName], chunk: Floats) -> Floats:
    """A task for an executor: the figures of some draws."""
    return _drive(plan, _context(plan), names, chunk)


def _drive(plan: Plan, context: Context, names: Sequence[InputName], chunk: Floats) -> Floats:
    assert plan.core is not None
    assert plan.couplers is not None
    weights = _weights(context, plan)
    cars: list[tuple[Simulator, Couplers]] = []
    for row in chunk:
        off = dict(zip(names, (float(value) for value in row), strict=True))
        couplers = couplers_with(plan.couplers, more_12v_w(context.project, off))
        cars.append((car_with(context, plan.core, off), couplers))
    prepare_tables(asked for car, couplers in cars for asked in car.tables_asked(couplers))
    found: list[list[float]] = []
    for car, couplers in cars:
        figures = [float(one.check(car, couplers).value) for one in _itself(car)]
        figures += [
            limit.value(*weights) / limit.divisor / 1000
            for limit in mass_rows(car.context)
            if limit.plate_g and not limit.sideways
        ]
        found.append(figures)
    return np.array(found)


# -- what it comes to ------------------------------------------------------------------------


def _chance(
    asked: _Asked,
    figures: Floats,
    inputs: Sequence[UncertainInput],
    values: Floats,
    seed: int,
) -> Chance:
    kept = int(asked.kept(figures).sum())
    low, high = interval(kept, len(figures))
    ordered = np.sort(figures)
    if asked.sense != "at least":
        ordered = ordered[::-1]
    shares = first_order(values, figures, seed)
    influences = sorted(
        (
            Influence(name=one.name, share=round(share, 3), error=round(error, 3))
            for one, (share, error) in zip(inputs, shares, strict=True)
            if share > error  # else it says nothing
        ),
        key=lambda one: (-one.share, one.name),
    )
    return Chance(
        id=asked.id,
        words=asked.words,
        unit=asked.unit,
        sense=asked.sense,
        limit=asked.limit,
        at=asked.at,
        chance=kept / len(figures),
        low=low,
        high=high,
        worst_tenth=_at(ordered, 0.1),
        middle=_at(ordered, 0.5),
        best_tenth=_at(ordered, 0.9),
        influences=tuple(influences),
    )


def _money(plan: Plan, project: Project) -> list[Chance]:
    """The bill against the budget: all prices move together, which is the careful assumption.

    Evenly spread between the falls and rises that the project allows for, so that the chance
    is a plain share of that span and needs no draws.
    """
    price, limit = plan.objective.value, project.targets.budget
    if price is None or limit is None:
        return []
    fall, rise = project.budget.prices_fall, project.budget.prices_rise
    span = fall + rise
    kept = 1.0 if price <= limit else 0.0
    if span > 0:
        kept = min(1.0, max(0.0, (limit / price - 1 + fall) / span))
    return [
        Chance(
            id="money.budget",
            words=f"price of the bill, {fall * 100:.0f} % under to {rise * 100:.0f} % over",
            unit=f"smallest units of {project.currency}",
            sense="at most",
            limit=float(limit),
            at=float(price),
            chance=kept,
            low=kept,
            high=kept,
            worst_tenth=round(price * (1 - fall + 0.9 * span)),
            middle=round(price * (1 - fall + 0.5 * span)),
            best_tenth=round(price * (1 - fall + 0.1 * span)),
            influences=(),
        )
    ]


def _at(ordered: Floats, share: float) -> float:
    """The figure below which ``share`` of the draws lie: a draw itself, nothing in between."""
    return float(ordered[max(0, math.ceil(share * len(ordered)) - 1)])


def _range(one: UncertainInput) -> InputRange:
    return InputRange(
        name=one.name,
        words=WORDS[one.name],
        half=one.half,
        unit=one.unit,
        known=one.known,
        to_know=TO_KNOW[one.name],
    )


def _measure_first(told: Sequence[Chance], inputs: Sequence[UncertainInput]) -> str | None:
    """What, not measured yet, explains most of the least certain answer; weather is not asked."""
    open_names = {one.name for one in inputs if one.known != "measured"} - {"temperature"}
    for one in sorted(told, key=lambda chance: (chance.chance, chance.id)):
        if one.chance == 1.0:
            return None
        for influence in one.influences:
            if influence.name in open_names:
                return influence.name
    return None
