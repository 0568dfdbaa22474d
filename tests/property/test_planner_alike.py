"""Rows that are judged together are judged as each would be alone; what falls is what pairs say.

Catalogues of the shipped examples are made larger by rows that differ in nothing but mass and
price, and by rows that differ in single figures, so that kinds of many rows and of one both
occur; every shortcut is held against the plain way.
"""

from __future__ import annotations

from collections import Counter
from functools import cache

import numpy as np
import pytest
from lanes import examples, first_fast

from bomplan import api
from bomplan.catalog.records import Catalog, Part
from bomplan.design.bill import JOINTS
from bomplan.design.bill.body import box_holds_g
from bomplan.design.bill.fits import row_checks
from bomplan.design.context import Context
from bomplan.design.currents import no_mean_current
from bomplan.design.drive import Drive
from bomplan.planner.alike import Columns, by_kind
from bomplan.planner.bill_bound import BEYOND, _pieces
from bomplan.planner.bounds import Subsets
from bomplan.planner.dominance import _falls, lighter_keeps_limits, partners_of, undominated
from bomplan.planner.energy import EnergyScreen
from bomplan.planner.goals import goal_of
from bomplan.planner.judge import Beside, Judge, candidates
from bomplan.planner.options import CORE, NoOption, Options, Row, find_options
from bomplan.planner.room import Wanting, room_for
from bomplan.planner.screen import Screened, drives, matching, packs

EXAMPLES = ["courier-motorcycle", "garden-pickup", "camper-van"]


def with_more_rows(catalog: Catalog, each: int, seed: int) -> Catalog:
    """So many more rows in each family beside the core's: some alike, some with other figures."""
    rng = np.random.default_rng(seed)
    families = {name: dict(rows) for name, rows in catalog.families.items()}
    for name, rows in families.items():
        if name in CORE or not rows:
            continue
        bases = [rows[part_id] for part_id in sorted(rows)]
        for number in range(each):
            base = bases[int(rng.integers(len(bases)))]
            figures = dict(base.figures)
            numbers = [
                key
                for key, value in figures.items()
                if isinstance(value, float) and not key.endswith("_c")  # too hot is no row at all
            ]
            if numbers and rng.random() < 0.5:
                key = numbers[int(rng.integers(len(numbers)))]
                figures[key] = float(figures[key]) * float(rng.choice([0.5, 0.9, 1.0, 1.1, 2.0]))
            update = {
                "id": f"{base.id}-{number}",
                "mass_g": max(1, round(base.mass_g * rng.choice([0.8, 1.0, 1.0, 1.2]))),
                "price": max(1, round(base.price * rng.choice([0.8, 0.9, 1.0, 1.0, 1.1]))),
                "figures": figures,
            }
            rows[str(update["id"])] = base.model_copy(update=update)
    return catalog.model_copy(update={"families": families})


@cache
def context_of(example: str, more: int) -> Context:
    project = api.open_project(f"example:{example}").project
    return Context(project, with_more_rows(api.load_catalog(project.catalogs), more, 3))


def cores(context: Context, seed: int, number: int) -> list[Drive]:
    """Cores whose voltages and rooms fit, drawn over all drives and packs."""
    rng = np.random.default_rng(seed)
    rows, found = drives(context, Screened()), packs(context, Screened())
    screen = EnergyScreen(context, found)
    some: list[Drive] = []
    while len(some) < number:
        row = rows[int(rng.integers(len(rows)))]
        order = matching(row, found, 1 + context.project.margins.voltage)
        if len(order):
            drive = screen.simulator(row, int(rng.choice(order))).drive
            if not isinstance(room_for(context, drive, Screened()), Wanting):
                some.append(drive)
    return some


def options_of(context: Context, judge: Judge, drive: Drive, every: bool) -> Options | None:
    """The core's rows; ``every``: those that do not suit it too."""
    capacity = room_for(context, drive, Screened())
    assert not isinstance(capacity, Wanting)
    unjudged = frozenset(context.catalog.families) - {*CORE} if every else frozenset()
    found = find_options(
        context, drive, no_mean_current(context, drive), capacity, None, judge, unjudged
    )
    return None if isinstance(found, NoOption) else found


@pytest.mark.parametrize("example", first_fast(EXAMPLES, 2))
def test_rows_judged_by_kind_are_judged_as_one_by_one(example: str) -> None:
    context = context_of(example, 12)
    judge = Judge(context)
    kinds = compared = 0
    for drive in cores(context, 4, examples(3, 20)):
        currents = no_mean_current(context, drive)
        every = options_of(context, judge, drive, every=True)
        assert every is not None
        for family, rows in every.rows.items():
            if family in CORE:
                continue
            rule, reasons = rows[0].rule, Counter[str]()
            direct, nearest = [], {}
            for part in candidates(context, rule):
                checks = row_checks(context, drive, currents, rule, part)
                failed = next((check for check in checks if not check.passed), None)
                if failed is None:
                    direct.append(part)
                else:
                    reasons[failed.id] += 1
                    known = nearest.get(failed.id)
                    if known is None or failed.margin > known.margin:
                        nearest[failed.id] = failed
            found = judge.suiting(rule, drive, currents)
            assert list(found.parts) == direct
            if reasons:
                assert found.most_failed == max(sorted(reasons), key=lambda name: reasons[name])
                assert found.nearest == nearest[found.most_failed]
            compared += len(candidates(context, rule))
            kinds += len(judge._columns[id(rule), family].kinds(judge.candidates(rule)).firsts)
    assert 0 < kinds < 0.7 * compared


@pytest.mark.parametrize("example", first_fast(EXAMPLES, 2))
def test_rows_stand_beside_each_other_by_kind_as_one_by_one(example: str) -> None:
    context = context_of(example, 8)
    judge = Judge(context)
    outcomes = Counter[bool]()
    for drive in cores(context, 5, examples(1, 10)):
        currents = no_mean_current(context, drive)
        every = options_of(context, judge, drive, every=True)
        assert every is not None
        for (first, second), found in judge.neighbours(drive, currents, every.rows).items():
            joint = next(one for one in JOINTS if (one.first, one.second) == (first, second))
            direct = [
                [
                    joint.allows(context, drive, currents, one.part, other.part)
                    for other in every.rows[second]
                ]
                for one in every.rows[first]
            ]
            whole = found.allowed[found.first][:, found.second]
            assert whole.tolist() == direct
            outcomes.update(allowed for row in direct for allowed in row)
            assert found.turned.allowed.T.tolist() == found.allowed.tolist()
    assert min(outcomes[True], outcomes[False]) > 100


def stands_beside(partners: tuple[Beside, ...], rows: tuple[Row, ...]) -> dict[str, set[object]]:
    """For each row everything that it may stand beside, by joint and row."""
    return {
        row.part.id: {
            (number, int(other))
            for number, beside in enumerate(partners)
            for other in np.flatnonzero(beside.allowed[beside.first[place]][beside.second])
        }
        for place, row in enumerate(rows)
    }


@pytest.mark.parametrize("monotone", [True, False])
@pytest.mark.parametrize("example", first_fast(EXAMPLES, 2))
def test_what_falls_is_what_pairs_of_rows_say(example: str, monotone: bool) -> None:
    context = context_of(example, 25)
    judge = Judge(context)
    kept = seen = 0
    for drive in cores(context, 6, examples(2, 10)):
        currents = no_mean_current(context, drive)
        options = options_of(context, judge, drive, every=True)
        assert options is not None
        neighbours = judge.neighbours(drive, currents, options.rows)
        for family, rows in options.rows.items():
            partners = partners_of(family, neighbours)
            beside = stands_beside(partners, rows)
            lighter = monotone and lighter_keeps_limits(context, rows[0], options.capacity)
            direct = [
                row.part.id
                for row in rows
                if not any(
                    _falls(context, row, other, lighter, monotone)
                    and beside[row.part.id] <= beside[other.part.id]
                    for other in rows
                    if other is not row
                )
            ]
            found = undominated(context, rows, partners, options.capacity, monotone)
            assert [row.part.id for row in found] == direct
            kept, seen = kept + len(found), seen + len(rows)
    assert 0 < kept < 0.9 * seen


def part(part_id: str, **figures: float | str) -> Part:
    return Part(
        id=part_id, family="lug", description="", mass_g=1, price=1, currency="EUR",
        price_date="2026-01-01", source="", figures=figures,
    )  # fmt: skip


def test_a_judgement_that_reads_more_of_some_rows_tells_them_apart_by_it() -> None:
    def judge(row: Part) -> bool:
        return row.number("area") > 10 and row.text("body") == "round"

    rows = [part("a", area=5.0, body="x"), part("b", area=20.0, body="round"),
            part("c", area=20.0, body="square"), part("d", area=5.0)]  # fmt: skip
    kinds, told = by_kind(Columns(), rows, judge)
    assert [told[kind] for kind in kinds.of] == [judge(row) for row in rows]
    assert len(kinds.firsts) == 4


def test_what_a_rule_leaves_unread_tells_no_rows_apart() -> None:
    rows = [part(f"row{number}", area=float(number % 3), colour=str(number)) for number in range(9)]
    kinds, told = by_kind(Columns(), rows, lambda row: row.number("area"))
    assert (told, kinds.counts, kinds.firsts) == ([0.0, 1.0, 2.0], (3, 3, 3), (0, 1, 2))


@pytest.mark.parametrize(
    "use",
    [
        lambda name: name == "a",
        lambda name: name in {"a"},
        lambda name: name < "b",
        lambda name: name.startswith("a"),
        lambda name: "a" in name,
        lambda name: name[0],
        lambda name: len(name),
    ],
)
def test_a_rule_that_asks_for_the_name_tells_all_rows_apart(use) -> None:
    rows = [part("a", area=1.0), part("ab", area=1.0), part("c", area=1.0)]
    kinds, told = by_kind(Columns(), rows, lambda row: use(row.id))
    assert told == [use("a"), use("ab"), use("c")]
    assert len(kinds.firsts) == 3


def test_a_name_written_into_words_tells_no_rows_apart() -> None:
    rows = [part("a", area=1.0), part("b", area=1.0)]
    kinds, told = by_kind(Columns(), rows, lambda row: f"the lug {row.id} is thin")
    assert (told, len(kinds.firsts)) == (["the lug a is thin"], 1)
    assert type(told[0]) is str


@pytest.mark.parametrize("goal", ["least-cost", "least-mass"])
@pytest.mark.parametrize("example", first_fast(EXAMPLES, 2))
def test_rows_priced_together_are_priced_as_one_by_one(example: str, goal: str) -> None:
    context = aiming(context_of(example, 12), goal)
    judge, subsets = Judge(context), Subsets(context)
    bill = goal_of(context).measure(subsets, judge)
    tables, beyond, seen = 0, 0, 0
    for drive in cores(context, 7, examples(2, 20)):
        options = options_of(context, judge, drive, every=True)
        assert options is not None
        sets = bill.bay_sets(drive, options.capacity)
        for family, rows in options.rows.items():
            found = bill._priced(drive, family, rows, sets)
            tables += len({row.tables for row in rows}) > 1
            for number, row in enumerate(rows):
                for place, bays in enumerate(sets):
                    pieces = row.base + _pieces(row, bays)
                    direct = bill._price(row, pieces)
                    if family == "box" and fullest_box_g(drive, row, bays) > box_holds_g(row.part):
                        direct, beyond = np.full_like(direct, BEYOND), beyond + 1
                    assert found[number, place].tolist() == direct.tolist(), (family, row.part.id)
                    seen += 1
    assert seen > 1000
    assert beyond > 0
    assert tables > 0 or example == "camper-van"


def aiming(context: Context, aim: str) -> Context:
    goal = context.project.goal.model_copy(update={"aim": aim})
    return Context(context.project.model_copy(update={"goal": goal}), context.catalog)


def fullest_box_g(drive: Drive, row: Row, bays: tuple[int, ...]) -> int:
    """Grams in the fullest box where the modules are shared out as evenly as rooms allow."""
    room = [len(row.tables[bay]) - 1 for bay in bays]
    standing = [0] * len(room)
    for _ in range(drive.core.series if bays else 0):
        open_bays = [place for place, most in enumerate(room) if standing[place] < most]
        emptiest = min(open_bays, key=lambda place: standing[place])
        standing[emptiest] += 1
    return max(standing, default=0) * drive.core.parallel * drive.module.mass_g


@pytest.mark.parametrize("example", first_fast(EXAMPLES, 1))
def test_rows_are_made_alike_with_the_figures_of_each(example: str) -> None:
    context = context_of(example, 12)
    judge = Judge(context)
    seen = 0
    for drive in cores(context, 8, examples(2, 20)):
        options = options_of(context, judge, drive, every=True)
        assert options is not None
        for rows in options.rows.values():
            for row in rows:
                rule = row.rule
                assert (row.base, row.external_uohm, row.load_12v_w, row.supply_12v_w) == (
                    rule.base(context, drive, row.part),
                    rule.external_uohm(drive, row.part),
                    rule.mean_12v_w(row.part),
                    rule.supply_12v_w(row.part),
                )
                for bay, table in enumerate(row.tables):
                    least = [
                        rule.least_in_bay(context, drive, row.part, bay, places)
                        for places in range(1, len(table))
                    ]
                    assert list(table[1:]) == least
                seen += 1
    assert seen > 500
