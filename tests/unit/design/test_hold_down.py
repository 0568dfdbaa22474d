"""Hold-downs: the mass of the modules of a bay, rounded up to a whole kilogram once for the bay."""

from __future__ import annotations

from functools import cache
from itertools import product
from random import Random

import numpy as np
import pytest
from oracle.small_cases import generic, project_fields

from bomplan.catalog.records import Catalog, Part
from bomplan.design.assemble import quantity
from bomplan.design.bill import RULE_OF
from bomplan.design.context import Context
from bomplan.design.drive import Drive, resolve
from bomplan.design.records import Core
from bomplan.planner.judge import Judge
from bomplan.planner.mass_bound import MassBound
from bomplan.planner.options import Row, least_in_bays
from bomplan.project.records import Project

RULE = RULE_OF["hold_down"]
MODULE = "lfp-cell-60"


def weighing(mass_g: int) -> Catalog:
    catalog = generic()
    modules = dict(catalog.family("module"))
    modules[MODULE] = modules[MODULE].model_copy(update={"mass_g": mass_g})
    return catalog.model_copy(update={"families": {**catalog.families, "module": modules}})


@cache
def packed(mass_g: int, series: int, parallel: int) -> tuple[Context, Drive]:
    fields = project_fields(Random(5))
    for bay in fields["bays"]:
        bay |= {"length_mm": 700, "width_mm": 1_000, "height_mm": 330}
    context = Context(Project.model_validate(fields), weighing(mass_g))
    core = {
        "motor": "motor-series-185mm", "controller": "chopper-120v-450a", "final_ratio": 3.9,
        "module": MODULE, "series": series, "parallel": parallel, "topology": "groups",
    }  # fmt: skip
    return context, resolve(context, Core.model_validate(core))


def row_of(context: Context) -> Part:
    return context.catalog.family("hold_down")["hold-down-steel"]


@pytest.mark.parametrize(
    ("mass_g", "series", "parallel", "kilograms"),
    [
        (1_350, 72, 1, 98),  # 97.2 kg
        (1_350, 20, 1, 27),  # exactly 27 kg: nothing is rounded
        (1_350, 40, 2, 108),  # 80 modules, exactly 108 kg
        (500, 2, 1, 1),  # exactly 1 kg
        (500, 3, 1, 2),
        (1_000, 7, 3, 21),
        (999, 1_000, 1, 999),  # exact in whole grams
        (1_001, 1_000, 1, 1_001),
        (1_001, 999, 1, 1_000),  # 999.999 kg
        (1_000_001, 1, 1, 1_001),
        (1, 1, 1, 1),
        (12_800, 4, 3, 154),  # 153.6 kg
    ],
)
def test_a_bay_is_rounded_up_once(mass_g: int, series: int, parallel: int, kilograms: int) -> None:
    context, drive = packed(mass_g, series, parallel)
    assert RULE.base(context, drive, row_of(context)) == 0
    assert RULE.in_bay(context, drive, row_of(context), 0, series) == kilograms


@pytest.mark.parametrize("mass_g", [500, 999, 1_000, 1_001, 1_350, 4_100])
def test_each_bay_for_itself_and_never_a_kilogram_too_many(mass_g: int) -> None:
    context, drive = packed(mass_g, 12, 2)
    for first in range(1, 12):
        fitted = quantity(context, drive, RULE, row_of(context), (first, 12 - first))
        grams = [24 * mass_g * part // 12 for part in (first, 12 - first)]
        assert fitted == sum((one + 999) // 1_000 for one in grams)
        assert 0 <= fitted * 1_000 - sum(grams) < 2 * 1_000


@pytest.mark.parametrize("parallel", [1, 3])
@pytest.mark.parametrize("mass_g", [250, 999, 1_000, 1_001, 1_350, 1_750, 4_100])
def test_the_bounds_are_no_more_than_any_placement_counts(mass_g: int, parallel: int) -> None:
    """Fewest, most and every total of a row, with all bays open and in each set of them."""
    series, capacity = 9, (7, 4, 5)
    context, drive = packed(mass_g, series, parallel)
    tables = Judge(context).tables(RULE, drive, row_of(context), capacity)  # bays count alike
    row = Row(RULE, row_of(context), (), 0, tables, series, 0, 0, 0, 0, (), ())
    counted: dict[tuple[int, ...], list[int]] = {}
    for rows in product(*(range(most + 1) for most in capacity)):
        if sum(rows) == series:
            total = sum(-(-places * parallel * mass_g // 1_000) for places in rows)
            assert row.fitted(rows) == total
            used = tuple(bay for bay, places in enumerate(rows) if places)
            counted.setdefault(used, []).append(total)
    everywhere = [total for totals in counted.values() for total in totals]
    assert len(everywhere) > 20
    assert row.least == min(everywhere)
    assert row.most == max(everywhere)
    assert list(row.quantities) == sorted(set(everywhere))
    for used, totals in counted.items():
        assert least_in_bays(tables, series, used) == min(totals)
    assert row.least >= -(-series * parallel * mass_g // 1_000)


@pytest.mark.parametrize("mass_g", [700, 1_000, 1_350])
def test_no_mass_limit_counts_more_than_a_placement_adds(mass_g: int) -> None:
    series = 9
    context, drive = packed(mass_g, series, 2)
    capacity = (8, 8)
    tables = Judge(context).tables(RULE, drive, row_of(context), capacity)
    row = Row(RULE, row_of(context), (), 0, tables, series, 0, 0, 0, 0, (), ())
    bound = MassBound(context)
    assert len(bound.left) > 2
    for first in range(1, series):
        rows = (first, series - first)
        bays = (0, 1)
        effects = [
            row.part.mass_g * tables[bay][rows[bay]] * bound.effect(context.bay_centre_mm(bay))
            for bay in bays
        ]
        assert (bound.by_row((row,), bays)[0] <= np.sum(effects, axis=0)).all()
