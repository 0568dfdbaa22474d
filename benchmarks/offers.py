"""The planner with four suppliers who sell everything, with and without the subset bound.

``python -m benchmarks.offers --example courier-motorcycle`` prints one row for each: cores that
were looked at closely, models solved, drives simulated, processor seconds in all and in the solver.
With lines from several suppliers and without; both rows must come to the same price, else it ends
with status 1. Without the bound all suppliers are one subset and no shipping is counted.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from random import Random
from typing import Any

from bomplan import api
from bomplan.catalog.records import Catalog, Offer, Supplier
from bomplan.planner import bounds, find_plan
from bomplan.planner.model import CoreModel
from bomplan.planner.walk import Walk

# Per supplier: currency, shipping, per kilogram, free above, least order, duty and tax in percent.
TERMS = {
    "city": ("EUR", 900, 0, 25_000, 0, "0", "0"),
    "harbour": ("EUR", 9_500, 0, 400_000, 0, "0", "0"),
    "north": ("USD", 12_000, 120, None, 0, "2.7", "0"),
    "overseas": ("USD", 18_000, 260, None, 30_000, "4.5", "0"),
}
LEVEL = {"city": 104, "harbour": 99, "north": 96, "overseas": 90}


def with_four_suppliers(catalog: Catalog, seed: int) -> Catalog:
    """Every part from two to four of them, pieces by the dozen for less."""
    random = Random(f"four suppliers {seed}")
    suppliers = {
        name: Supplier(
            id=name,
            currency=currency,
            shipping_flat=flat,
            shipping_per_kg=per_kg,
            free_above=free,
            minimum_order=least,
            duty_percent=duty,
            tax_percent=tax,
        )
        for name, (currency, flat, per_kg, free, least, duty, tax) in TERMS.items()
    }
    offers = tuple(_offers(random, catalog))
    return catalog.model_copy(update={"suppliers": suppliers, "offers": offers})


def _offers(random: Random, catalog: Catalog) -> Iterator[Offer]:
    for part in sorted(catalog.parts(), key=lambda one: one.id):
        for name in sorted(random.sample(sorted(TERMS), random.choice((2, 2, 3, 4)))):
            price = max(1, part.price * random.randrange(LEVEL[name] - 6, LEVEL[name] + 7) // 100)
            dozen = max(1, price * 93 // 100)
            for start, asked in ((1, price), (12, dozen)):
                yield Offer(part=part.id, supplier=name, quantity_from=start, unit_price=asked)


@dataclass
class Effort:
    """What one plan took beside its own counts."""

    looked: int = 0
    solver_s: float = 0.0


@contextmanager
def watched() -> Iterator[Effort]:
    """Counts the cores that are looked at closely and the solver's processor seconds."""
    found = Effort()
    refine, run = Walk._refine, CoreModel._run

    def counted(walk: Walk, *what: Any) -> Any:
        found.looked += 1
        return refine(walk, *what)

    def timed(core: CoreModel, *what: Any, **more: Any) -> Any:
        start = time.process_time()
        try:
            return run(core, *what, **more)
        finally:
            found.solver_s += time.process_time() - start

    Walk._refine, CoreModel._run = counted, timed  # type: ignore[method-assign]
    try:
        yield found
    finally:
        Walk._refine, CoreModel._run = refine, run  # type: ignore[method-assign]


def main() -> int:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--example", default="courier-motorcycle")
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    loaded = api.open_project(f"example:{given.example}")
    catalog = with_four_suppliers(api.load_catalog(list(loaded.project.catalogs)), given.seed)
    heads = "| split | subset bound | price | status | suppliers | looked at | solves | simulations"
    print(f"{heads} | processor s | of it solver s |\n|{'---|' * 10}", flush=True)
    most, differ = bounds.SUBSETS_MOST, False
    for split in (False, True):
        buying = loaded.project.buying.model_copy(update={"split": split})
        project = loaded.project.model_copy(update={"buying": buying})
        prices = set()
        for name, subsets in (("with", most), ("without", 1)):
            bounds.SUBSETS_MOST = subsets
            start = time.process_time()
            with watched() as effort:
                plan = find_plan(project, catalog)
            seconds = time.process_time() - start
            prices.add(plan.objective.value)
            print(
                f"| {'yes' if split else 'no'} | {name} | {plan.objective.value} | {plan.status}"
                f" | {len(plan.invoices)} | {effort.looked} | {plan.search.solved}"
                f" | {plan.search.simulated} | {seconds:.1f} | {effort.solver_s:.1f} |",
                flush=True,
            )
        differ = differ or len(prices) > 1
    return 1 if differ else 0


if __name__ == "__main__":
    sys.exit(main())
