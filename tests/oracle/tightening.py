"""Limits of a small case set where its loose plan shows that they bind."""

from __future__ import annotations

from collections.abc import Callable
from random import Random
from typing import Any

from oracle.brute_force import Candidate

from bomplan.catalog.records import Catalog
from bomplan.design.adapter import Simulator
from bomplan.design.context import Context
from bomplan.design.drive import resolve
from bomplan.project.records import (
    AccelerationTarget,
    ClimbTarget,
    Project,
    SpeedTarget,
)

Tighten = Callable[[Random, dict[str, Any], Catalog, Candidate], None]


def _depth(random: Random) -> float:
    """How far below the loose plan's figure a limit goes: mostly a hair, often far."""
    return random.choice((0.0, 0.0, 0.002, 0.01, 0.02, 0.1))


def _axle(random: Random, fields: dict[str, Any], catalog: Catalog, loose: Candidate) -> None:
    context = Context(Project.model_validate(fields), catalog)
    load = context.loads[-1]
    moment = sum(pick.moment_gmm for pick in loose.picks)
    rear = (context.base.moment_gmm + load.moment_gmm + moment) // context.wheelbase_mm
    total = context.base.mass_g + load.mass_g + loose.added_g
    name, value = random.choice((("rear", rear), ("front", total - rear)))
    allowed = value - 1 - int(_depth(random) * 0.4 * loose.added_g)
    fields["donor"][f"{name}_axle_limit_g"] = _with_margin(fields, allowed)


def _with_margin(fields: dict[str, Any], allowed_g: int) -> int:
    """The plate limit that leaves just so much after the margins."""
    if fields["margins"]:
        return allowed_g
    return max(allowed_g + 25_000, -(-allowed_g * 100 // 97))


def _gross(random: Random, fields: dict[str, Any], catalog: Catalog, loose: Candidate) -> None:
    context = Context(Project.model_validate(fields), catalog)
    heaviest = max(load.mass_g for load in context.loads)
    allowed = context.base.mass_g + heaviest + loose.added_g - 1
    fields["donor"]["gross_limit_g"] = allowed - int(_depth(random) * 0.5 * loose.added_g)


def _range(random: Random, fields: dict[str, Any], catalog: Catalog, loose: Candidate) -> None:
    project = Project.model_validate(fields)
    context = Context(project, catalog)
    simulator = Simulator(context, resolve(context, loose.core))
    reach = simulator.range(project.targets.range[0], loose.couplers).distance_m
    margin = 1 + project.margins.range
    further = random.choice((1.0, 1.0, 1.0, 1.001, 1.02, 1.2))
    fields["targets"]["range"][0]["distance_m"] = max(1, int(reach * further / margin) + 1)


def _performance(
    random: Random, fields: dict[str, Any], catalog: Catalog, loose: Candidate
) -> None:
    """A speed, a hill or a run up to speed, a little or much beyond what the loose plan does."""
    what = random.choice(("top_speed", "climb", "acceleration"))
    target: dict[str, Any] = {
        "name": "extra",
        "condition": random.choice(("mild", "cold")),
        "load_case": random.choice(("two", "laden")),
    }
    more = random.choice((0.999, 0.999, 1.001, 1.01, 1.1))
    context = Context(Project.model_validate(fields), catalog)
    simulator = Simulator(context, resolve(context, loose.core))
    if what == "top_speed":
        target |= {"speed_m_s": 10.0, "hold_s": 600.0}
        reached = simulator.top_speed(SpeedTarget.model_validate(target), loose.couplers)
        target["speed_m_s"] = max(0.1, reached.speed_m_s * more)
    elif what == "climb":
        target |= {"grade": 0.01, "speed_m_s": random.choice((0.0, 6.0))}
        target["grade"] = min(0.6, _steepest(simulator, target, loose) * more)
    else:
        target |= {"speed_m_s": random.choice((8.0, 13.9)), "within_s": 1.0}
        found = simulator.acceleration(AccelerationTarget.model_validate(target), loose.couplers)
        target["within_s"] = max(0.1, min(found.seconds, 60.0) / more)
    fields["targets"][what] = [target]


def _steepest(simulator: Simulator, target: dict[str, Any], loose: Candidate) -> float:
    """The steepest hill in steps of half a percent that the loose plan climbs."""
    grade = 0.005
    while grade < 0.6:
        steeper = ClimbTarget.model_validate(target | {"grade": grade + 0.005})
        found = simulator.climb(steeper, loose.couplers)
        if not found.possible or found.margin_n < 0:
            return grade
        grade += 0.005
    return grade


def _bay(random: Random, fields: dict[str, Any], _: Catalog, loose: Candidate) -> None:
    used = [bay for bay, count in enumerate(loose.rows) if count]
    bay = random.choice(used)
    held = sum(pick.bay_g[bay] for pick in loose.picks)
    limit = max(1, held - 1 - int(_depth(random) * 3 * held))
    fields["bays"][bay]["mass_limit_g"] = limit
    if random.random() < 0.6:
        fields["bays"][1 - bay]["mass_limit_g"] = max(1, held * random.choice((20, 40, 90)) // 100)


def _budget(random: Random, fields: dict[str, Any], _: Catalog, loose: Candidate) -> None:
    """Exactly the least price, which is enough, or one smallest unit less, which is not."""
    fields["targets"]["budget"] = loose.price - random.choice((0, 1))


def _twelve_volt(random: Random, fields: dict[str, Any], _: Catalog, loose: Candidate) -> None:
    """So much 12 V load that the loose plan's converter is just too small, or just not."""
    spare = sum(pick.supply_w for pick in loose.picks) - loose.couplers.mean_12v_w
    more = spare + random.choice((1, 1, 20, 80))
    fields["donor"]["load_12v_w"] = max(0.0, fields["donor"]["load_12v_w"] + more)


TIGHTEN: dict[str, Tighten] = {
    "axle": _axle,
    "gross": _gross,
    "range": _range,
    "performance": _performance,
    "bay": _bay,
    "budget": _budget,
    "twelve-volt": _twelve_volt,
}
