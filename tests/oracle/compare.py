"""The planner's answer beside the brute force's, and what to do when they differ."""

from __future__ import annotations

import json
import os
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any

from oracle.brute_force import Found, brute_force
from oracle.small_cases import Case, make_case

from bomplan.audit import audit_plan
from bomplan.buying.terms import CHARGES
from bomplan.design.records import Plan
from bomplan.planner import find_plan


def differences(plan: Plan, found: Found) -> list[str]:
    """Where a plan is not the one that brute force found best; empty if it is."""
    best = found.best
    if best is None:
        return [] if plan.status == "none" else [f"there is no plan, the planner: {plan.status}"]
    if plan.status != "optimal" or plan.core is None or plan.couplers is None:
        return [f"the best plan costs {best.price}, the planner says {plan.status}"]
    stated = {
        "price": (plan.objective.value, best.price),
        "bound": (
            (plan.objective.bound, best.price)
            if plan.objective.goal is None
            else (plan.objective.goal.bound, plan.objective.goal.figure)
        ),
        "mass": (plan.couplers.added_g, best.added_g),
        "couplers": (plan.couplers, best.couplers),
        "core": (plan.core, best.core),
        "lines": _only_here(stated_lines(plan), best.quantities()),
        "shipping": (
            sum(line.price for line in plan.lines if line.family in CHARGES),
            best.shipping,
        ),
        "placement": (
            [(use.series, use.modules) for use in plan.placement],
            [(count, count * best.core.parallel) for count in best.rows if count],
        ),
    }
    return [
        f"{what}: {got}, brute force: {wanted}"
        for what, (got, wanted) in stated.items()
        if got != wanted
    ]


Bought = tuple[str, str, str, int]


def stated_lines(plan: Plan) -> list[Bought]:
    """Family, part, supplier and number fitted of every line but shipping."""
    return [
        (
            line.family,
            line.part,
            "+".join(one.supplier for one in line.purchases) or line.supplier,
            line.quantity,
        )
        for line in plan.lines
        if line.family not in CHARGES
    ]


def _only_here(ours: list[Bought], theirs: list[Bought]) -> tuple[list[Bought], list[Bought]]:
    """What each list has and the other has not; their order must agree as well."""
    if sorted(ours) == sorted(theirs) and ours != theirs:
        return ours, theirs
    return (
        [line for line in ours if line not in theirs],
        [line for line in theirs if line not in ours],
    )


@dataclass
class Tally:
    """What a row of cases was like; quotas are asserted on it."""

    cases: int = 0
    feasible: int = 0
    plans: int = 0
    binding: Counter[str] = field(default_factory=Counter)
    sole_cause: Counter[str] = field(default_factory=Counter)
    ties: int = 0
    ties_of_mass: int = 0
    spread_over_bays: int = 0
    suppliers: int = 0
    strings: int = 0
    wrong: dict[int, list[str]] = field(default_factory=dict)

    def add(self, found: Found) -> None:
        self.cases += 1
        self.plans += found.plans
        best = found.best
        for kind, other in found.without.items():
            if best is None:
                self.sole_cause[kind] += 1
            if best is None or other.key < best.key:
                self.binding[kind] += 1
        if best is None:
            return
        self.feasible += 1
        self.ties += len(found.optima) > 1
        self.ties_of_mass += sum(c.added_g == best.added_g for c in found.optima) > 1
        # The bays decide: both hold modules, or filling the first one first was not allowed.
        self.spread_over_bays += best.rows[1] > 0
        self.strings += best.core.topology == "strings"
        self.suppliers += _pays_for_an_order(best.picks)

    def take(self, other: Tally) -> None:
        """Count another row of cases in."""
        for one in fields(self):
            mine, theirs = getattr(self, one.name), getattr(other, one.name)
            if isinstance(mine, int):
                setattr(self, one.name, mine + theirs)
            else:
                mine.update(theirs)

    def share(self, count: int) -> float:
        return count / self.cases


def _pays_for_an_order(picks: Iterable[Any]) -> bool:
    """Whether a line is bought dearer than it could be, to save an order's shipping."""
    return any(pick.dearer_than_needed for pick in picks)


def run_cases(seeds: Iterable[int]) -> Tally:
    """Plan every case both ways; a difference is written down and saved."""
    tally = Tally()
    for seed in seeds:
        case = make_case(seed)
        found = brute_force(case.project, case.catalog)
        tally.add(found)
        plan = find_plan(case.project, case.catalog)
        wrong = differences(plan, found)
        if plan.core is not None:
            wrong += [f"audit: {check.id}" for check in audit_plan(plan) if not check.passed]
        if wrong:
            tally.wrong[seed] = wrong
            save(case, wrong)
    return tally


def save(case: Case, wrong: list[str]) -> None:
    """Keep a failing case as JSON where ``BOMPLAN_FAILED_CASES`` names a folder."""
    folder = os.environ.get("BOMPLAN_FAILED_CASES")
    if folder is None:
        return
    data = {
        "seed": case.seed,
        "kind": case.kind,
        "wrong": wrong,
        "project": case.project.model_dump(mode="json"),
        "catalog": case.catalog.model_dump(mode="json"),
    }
    text = json.dumps(data, indent=1, ensure_ascii=False)
    (Path(folder) / f"case-{case.seed}.json").write_text(text, encoding="utf-8")
