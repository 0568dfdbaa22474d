"""Cores that the slow lane has found for the first seeds: the fast suite makes cases with them.

A case's limits are set by the best plan of a car drawn at random, and to look into every core for
it takes as long as to count all plans of the case. A core that is out of date makes another case
and no wrong one: then the limits are set by a plan that is not the cheapest.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path

from oracle.brute_force import Candidate, best_alone

from bomplan.catalog.records import Catalog
from bomplan.design.records import Core
from bomplan.project.records import Project

FILE = Path(__file__).parents[1] / "golden" / "small-case-cores.json"
# Of each car that was drawn for a seed; None where a car had no plan.
Cores = tuple[Core | None, ...]


@cache
def known_cores() -> dict[int, Cores]:
    """By seed."""
    return {
        int(seed): tuple(None if one is None else Core.model_validate(one) for one in cores)
        for seed, cores in json.loads(FILE.read_text("utf-8")).items()
    }


def write_cores(found: Mapping[int, Cores]) -> None:
    """A line for each seed."""
    lines = [
        f' "{seed}": {json.dumps([one and one.model_dump(mode="json") for one in cores])}'
        for seed, cores in sorted(found.items())
    ]
    FILE.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")


def plan_with(project: Project, catalog: Catalog, left: Iterator[Core | None]) -> Candidate | None:
    """The best plan of the next core that is known; of all cores where none is or it has none."""
    for core in left:
        if core is None:
            return None
        found = best_alone(project, catalog, core)
        if found is not None:
            return found
        break
    return best_alone(project, catalog)
