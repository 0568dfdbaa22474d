"""What is told of a pack before it is judged never passes what its own families come to.

Held against the plain way: the pack laid out, every family judged, every row priced.
"""

from __future__ import annotations

from functools import cache
from itertools import product
from typing import cast

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lanes import FULL, examples, first_fast

from bomplan import api
from bomplan.design.bill import RULE_OF, RULES
from bomplan.design.bill.links import LINK_FAMILIES, ways_to_link
from bomplan.design.context import Context
from bomplan.design.currents import no_mean_current
from bomplan.design.drive import Drive
from bomplan.planner.bill_bound import BEYOND
from bomplan.planner.bounds import Leasts, Subsets
from bomplan.planner.energy import EnergyScreen
from bomplan.planner.goals import arranged, goal_of
from bomplan.planner.judge import Judge
from bomplan.planner.options import (
    AT_LEAST,
    CORE,
    UNREAD,
    NoOption,
    Row,
    _PackAlone,
    least_in_bays,
)
from bomplan.planner.pack_keys import PackKeys, _bays, _BoxAlone, _least_of_tables, _StringAlone
from bomplan.planner.pack_queue import PackQueue
from bomplan.planner.room import Wanting, room_for
from bomplan.planner.screen import Screened, drives, packs
from bomplan.planner.sides import Side, Sides

EXAMPLES = ("courier-motorcycle", "garden-pickup", "camper-van")


@cache
def context_of(example: str, aim: str) -> Context:
    project = api.open_project(f"example:{example}").project
    goal = project.goal.model_copy(update={"aim": aim})
    changed = project.model_copy(update={"goal": goal})
    return Context(changed, api.load_catalog(project.catalogs))


class Plain:
    """The packs of a project, told before they are judged, and judged the plain way."""

    def __init__(self, context: Context) -> None:
        self.context, self.seen = context, Screened()
        self.judge = Judge(context)
        self.goal = goal_of(context)
        self.bill = self.goal.measure(Subsets(context), self.judge)
        found = packs(context, self.seen)
        self.found, self.modules = arranged(found, self.goal.of_packs(found))
        self.keys = PackKeys(context, self.judge, self.goal, self.bill, self.found)
        self.sides = Sides(context, self.judge, self.goal, self.bill, Leasts())
        self._screen = EnergyScreen(context, self.found)
        self._row = drives(context, self.seen)[0]

    def drive(self, pack: int) -> Drive:
        return self._screen.simulator(self._row, pack).drive

    def judged(self, pack: int) -> int | None:
        """The least that the pack's own families and its modules come to; None if one has none."""
        drive = self.drive(pack)
        capacity = room_for(self.context, drive, self.seen)
        if isinstance(capacity, Wanting):
            return None
        side = self.sides.of_pack(drive, capacity)
        if isinstance(side, NoOption):
            return None
        assert isinstance(side, Side)
        return self.bill.with_shipping(side.price + side.beside)


@cache
def plain(example: str, aim: str) -> Plain:
    return Plain(context_of(example, aim))


@pytest.mark.parametrize("aim", ["least-cost", "least-mass"])
@pytest.mark.parametrize("example", first_fast(EXAMPLES, 1))
def test_no_pack_comes_to_less_than_its_key(example: str, aim: str) -> None:
    told, rng = plain(example, aim), np.random.default_rng(7)
    number = min(len(told.found.rows), 300 if FULL else 40)
    rises = fell = 0
    for pack in rng.choice(len(told.found.rows), number, replace=False).tolist():
        key, judged = told.keys.known(pack), told.judged(pack)
        if key >= BEYOND:
            fell += 1
            assert judged is None, told.found.rows[pack]
            assert told.keys.fallen[pack].reason
        elif judged is not None:
            assert int(told.modules[pack]) + key <= judged, told.found.rows[pack]
            rises += key > sum(told.goal.rest(side) for side in ("pack", "currents"))
    assert rises > number // 4
    if example != "courier-motorcycle" and FULL:
        assert fell > 0


@pytest.mark.parametrize("example", first_fast(EXAMPLES, 1))
def test_packs_are_handed_out_in_the_order_of_their_keys(example: str) -> None:
    told = plain(example, "least-cost")
    order = np.arange(min(len(told.found.rows), 400 if FULL else 60), dtype=np.int64)
    rest = sum(told.goal.rest(side) for side in ("pack", "currents"))
    own = 1_000 + told.modules[order]
    seen = Screened()
    queue = PackQueue(order, own + rest, own, None, told.keys)
    handed: list[tuple[int, int]] = []
    while (first := queue.next_key(seen)) is not None:
        # Nothing that is asked for alone comes back, and nothing above it.
        some = queue.take(seen, first)
        assert [key for key, _ in some] == [first] * max(1, len(some))
        handed += some
    keys = [told.keys.known(pack) for pack in order.tolist()]
    plain_way = sorted(
        (max(int(own[pack]) + rest, int(own[pack]) + keys[pack]), pack)
        for pack in order.tolist()
        if keys[pack] < BEYOND
    )
    assert handed == plain_way
    assert sum(seen.rejected.values()) == len(order) - len(handed)
    together = PackQueue(order, own + rest, own, None, told.keys)
    again: list[tuple[int, int]] = []
    while some := together.take(Screened(), None):
        again += some
    assert again == plain_way


@pytest.mark.parametrize("example", first_fast(EXAMPLES, 2))
def test_what_is_asked_of_many_packs_is_no_more_than_their_rules_say(example: str) -> None:
    """A charger that may not suit fails a check; no placement has fewer boards than are told."""
    told, rng = plain(example, "least-cost"), np.random.default_rng(3)
    context, charger, monitor = told.context, RULE_OF["charger"], RULE_OF["monitor"]
    unfit = boards = 0
    # Some of all packs, and some of the dearest: those take the longest to fill.
    number = len(told.found.rows)
    some = rng.choice(number, 20 if FULL else 8).tolist()
    for pack in [*some, *range(number - 1, number // 2, -(number // 40 + 1))]:
        drive = told.drive(pack)
        for part in context.catalog.family("charger").values():
            if not charger.may_suit(context, drive, part):
                unfit += 1
                checks = list(charger.suits(context, drive, UNREAD, part))
                assert not all(check.passed for check in checks)
        series = drive.core.series
        if not monitor.needed(context, drive) or series > 24:
            continue
        for part in list(context.catalog.family("monitor").values())[:4]:
            least = monitor.least_in_all(context, drive, part)
            table = monitor.in_bay_from(context, drive, part, 0, range(1, series + 1))
            one = [monitor.in_bay(context, drive, part, 0, rows) for rows in range(1, series + 1)]
            assert table == one
            for first in range(series + 1):
                split = [places for places in (first, series - first) if places]
                assert sum(table[places - 1] for places in split) >= least
                boards += 1
    assert boards > 0
    assert unfit > 0 or example == "courier-motorcycle"


@pytest.mark.parametrize("example", first_fast(EXAMPLES, 2))
def test_rows_that_fall_by_their_pack_alone_suit_no_core_with_it(example: str) -> None:
    """Whatever drives it, and however little current is asked for: told of every part of a pack."""
    told, rng = plain(example, "least-cost"), np.random.default_rng(5)
    context, rows = told.context, drives(told.context, Screened())
    screen, fell = EnergyScreen(context, told.found), 0
    for pack in rng.choice(len(told.found.rows), 40 if FULL else 8, replace=False).tolist():
        module, series, parallel, topology = told.found.rows[pack]
        for row in rng.choice(len(rows), 3).tolist():
            drive = screen.simulator(rows[row], pack).drive
            parts_of_it = (
                _BoxAlone(module, parallel, topology),
                _StringAlone(module, series),
                _PackAlone(drive),
            )
            for rule in RULES:
                if rule.side != "currents" or rule.family in CORE:
                    continue
                if not rule.needed(context, drive):
                    continue
                suiting = told.judge.suiting(rule, drive, no_mean_current(context, drive)).parts
                for alone in parts_of_it:
                    may = told.judge.may_suit(rule, cast(Drive, alone), AT_LEAST).parts
                    assert set(map(id, suiting)) <= set(map(id, may)), rule.family
                    fell += len(told.judge.sold(rule)) - len(may)
    assert fell > 0


@pytest.mark.parametrize("example", first_fast(EXAMPLES, 1))
def test_no_box_is_linked_for_less_than_the_cheapest_way(example: str) -> None:
    """Whatever its layout says: pieces by family are never below those of both ways."""
    told, rng = plain(example, "least-cost"), np.random.default_rng(11)
    context, ways_met = told.context, set()
    links = [RULE_OF[family] for family in ("link", *LINK_FAMILIES)]
    for pack in rng.choice(len(told.found.rows), 60 if FULL else 12).tolist():
        drive = told.drive(pack)
        for bay in range(len(context.bays)):
            most = context.layout(bay, drive.module).count // drive.core.parallel
            for rows in range(1, min(most, drive.core.series) + 1):
                pieces = {
                    rule.family: rule.least_in_bay(context, drive, drive.module, bay, rows)
                    for rule in links
                }
                ways = ways_to_link(context, drive, rows)
                enough = [
                    number
                    for number, way in enumerate(ways)
                    if all(pieces[family] >= some for family, some in way.items())
                ]
                assert enough, (told.found.rows[pack], bay, rows)
                ways_met.update(enough)
    assert ways_met == {0, 1}


@pytest.mark.parametrize("aim", ["least-cost", "least-mass"])
@pytest.mark.parametrize("example", first_fast(EXAMPLES, 1))
def test_pack_and_drive_bought_from_the_same_come_to_no_less_than_their_key(
    example: str, aim: str
) -> None:
    """The key by sets of suppliers, against both judged; and it is no lower than one apart."""
    told, rng = plain(example, aim), np.random.default_rng(13)
    context, held = told.context, 0
    screen, rows = EnergyScreen(context, told.found), drives(context, told.seen)
    rest = sum(told.goal.rest(side) for side in ("pack", "currents", "drive"))
    for pack in rng.choice(len(told.found.rows), 80 if FULL else 15).tolist():
        row = rows[int(rng.integers(len(rows)))]
        drive = screen.simulator(row, pack).drive
        of_drive = told.sides.of_drive(drive)
        capacity = room_for(context, drive, told.seen)
        if isinstance(of_drive, NoOption) or isinstance(capacity, Wanting):
            continue
        of_pack = told.sides.of_pack(drive, capacity)
        if isinstance(of_pack, NoOption):
            continue
        by_set = of_drive.by_suppliers
        order, own = np.array([pack]), told.modules[[pack]]
        coarse = own + told.goal.of_drive(row) + rest
        queue = PackQueue(order, coarse, own, None, told.keys, by_set)
        key = queue.next_key(Screened())
        least = told.sides.least(of_pack, of_drive)
        if least >= BEYOND:
            continue
        assert key is not None
        assert key <= least, told.found.rows[pack]
        assert key >= int(own[0]) + int(by_set.min()) + told.keys.known(pack)
        held += 1
    assert held > 0


TABLES = st.lists(
    st.one_of(
        # Counted by a line, as most families are, or just so.
        st.tuples(st.integers(-3, 6), st.integers(0, 4), st.integers(0, 5)).map(
            lambda line: (0, *[line[0] + line[1] * rows for rows in range(1, line[2] + 1)])
        ),
        st.lists(st.integers(0, 9), max_size=5).map(lambda some: (0, *some)),
    ),
    min_size=1,
    max_size=4,
)


def drawn_tables(data: st.DataObject, alike: bool) -> tuple[tuple[int, ...], ...]:
    """Pieces by places for each of some bays; ``alike``: by one line in all of them."""
    tables = tuple(data.draw(TABLES))
    if not alike:
        return tables
    once, each = data.draw(st.tuples(st.integers(-3, 6), st.integers(0, 4)))
    return tuple((0, *[once + each * rows for rows in range(1, len(table))]) for table in tables)


@settings(max_examples=examples(150, 1500), deadline=None)
@given(st.data(), st.booleans())
def test_least_and_most_pieces_are_those_of_all_placements(
    data: st.DataObject, alike: bool
) -> None:
    tables = drawn_tables(data, alike)
    room = sum(len(table) - 1 for table in tables)
    series = data.draw(st.integers(1, max(1, room)))
    rule = RULE_OF["hold_down"]
    part = next(iter(context_of(EXAMPLES[0], "least-cost").catalog.family("hold_down").values()))
    row = Row(rule, part, (), 0, tables, series, 0, 0, 0, 0)
    totals: dict[tuple[int, ...], list[int]] = {}
    for rows in product(*(range(len(table)) for table in tables)):
        if sum(rows) == series:
            used = tuple(bay for bay, places in enumerate(rows) if places)
            totals.setdefault(used, []).append(row.fitted(rows))
    if not totals:
        return
    every = [total for some in totals.values() for total in some]
    assert row.least == min(every)
    assert row.most == max(0, *every)
    for used, sums in totals.items():
        assert least_in_bays(tables, series, used) == min(sums)


@settings(max_examples=examples(150, 1500), deadline=None)
@given(st.data(), st.booleans())
def test_no_placement_has_fewer_pieces_than_its_tables_tell(
    data: st.DataObject, alike: bool
) -> None:
    tables = drawn_tables(data, alike)
    tables = tuple(tuple(max(0, pieces) for pieces in table) for table in tables)
    told = _least_of_tables(tables, _bays(tuple(len(table) - 1 for table in tables)))
    lines = alike and all(table[1:] and table[-1] > 0 for table in tables)
    totals: dict[int, int] = {}
    for rows in product(*(range(len(table)) for table in tables)):
        pieces = sum(table[places] for table, places in zip(tables, rows, strict=True))
        totals[sum(rows)] = min(pieces, totals.get(sum(rows), pieces))
    assert len(told) == max(totals) + 1
    for series, least in totals.items():
        assert told[series] <= least
        if lines and all(table[1] > 0 for table in tables) and len(tables) == 1:
            assert told[series] == least or series == 0
