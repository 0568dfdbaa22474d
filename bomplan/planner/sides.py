"""What cores share: the rows of one pack, of one drive, of one pack under one controller.

A drive is met with thousands of packs and a pack with dozens of drives. Families that read only
one of the two are judged and priced once for it. Families that read both hardly ever read the
motor: they are judged and priced once for a pack under a controller, whatever motor it turns.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bomplan.design.assemble import joints_uohm
from bomplan.design.bill import JOINTS, RULES, Rule
from bomplan.design.context import Context
from bomplan.design.currents import no_mean_current
from bomplan.design.drive import Drive
from bomplan.design.records import Couplers
from bomplan.planner.bill_bound import BillBound
from bomplan.planner.bounds import Leasts, least_rest_g
from bomplan.planner.goals import Goal
from bomplan.planner.judge import Judge
from bomplan.planner.options import (
    UNREAD,
    Group,
    NoOption,
    Options,
    in_order,
    rows_of_pack_alone,
    rows_without_motor,
    ruled_out,
    side_rows,
    suitable,
)

# Judged by the pack's own fault current, a new figure for every pack: too dear for a bound.
LATE = frozenset({"fuse"})
LATE_JOINTS = frozenset({("fuse", "cable"), ("branch_fuse", "branch_cable")})
ALL_JOINTS = frozenset((joint.first, joint.second) for joint in JOINTS)


@dataclass(frozen=True, eq=False)
class Side:
    """Families that cores share, and what they cost at least.

    ``price`` is by sets of bays (one for all where no bay matters) and sets of suppliers;
    ``beside`` what the side tells of the families that it does not settle: least price.
    ``least`` is what no bill undercuts, those families and the core's own parts counted: g,
    microohm and W of the 12 V system.
    """

    group: Group
    price: npt.NDArray[np.int64]
    beside: npt.NDArray[np.int64]
    least: tuple[int, int, int]

    @property
    def by_suppliers(self) -> npt.NDArray[np.int64]:
        """Both prices together by sets of suppliers, in whatever bays they are least."""
        return np.asarray((self.price + self.beside).min(axis=0), dtype=np.int64)


@dataclass(frozen=True, eq=False)
class Held:
    """What a pack and a controller settle between them; ``left`` must see the motor too.

    ``price`` is that of the pack's own families and of these.
    """

    group: Group
    price: npt.NDArray[np.int64]
    left: tuple[Rule, ...]


class Sides:
    """The sides of one search; each is judged and priced once."""

    def __init__(
        self, context: Context, judge: Judge, goal: Goal, bill: BillBound, leasts: Leasts
    ) -> None:
        self._context, self._judge, self._goal, self._bill = context, judge, goal, bill
        self._leasts = leasts
        self._rests: dict[frozenset[str], tuple[int, int]] = {}
        # By the identity of rows, which the groups keep.
        self._groups: dict[tuple[int, ...], Group] = {}

    def of_drive(self, drive: Drive) -> Side | NoOption:
        """The motor and what hangs on the drive alone; ``beside`` is the controller's price."""
        rows = side_rows(self._context, self._judge, drive, "drive", ())
        if isinstance(rows, NoOption):
            return rows
        price = self._bill.by_set(drive, UNREAD, rows, ((),))
        price = price + self._bill.own(drive.motor, 1)
        motor = suitable(self._context, self._judge, drive, MOTOR, UNREAD, ())
        if isinstance(motor, NoOption):
            return motor
        controller = self._bill.own(drive.controller, 1)
        group = Group({**rows, "motor": motor})
        grams, uohm, watts = self._leasts.of_group(group)
        return Side(group, price, controller, (grams + drive.controller.mass_g, uohm, watts))

    def of_pack(self, drive: Drive, capacity: tuple[int, ...]) -> Side | NoOption:
        """What the pack alone settles; ``beside``: its modules, and what it tells of the rest."""
        context, judge, bill = self._context, self._judge, self._bill
        rows = side_rows(context, judge, drive, "pack", capacity)
        if isinstance(rows, NoOption):
            return rows
        sets = bill.bay_sets(drive, capacity)
        alone = rows_of_pack_alone(context, judge, drive, capacity)
        price = bill.by_set(drive, UNREAD, rows, sets, LATE_JOINTS)
        beside = bill.by_set(drive, UNREAD, alone, sets, ALL_JOINTS)
        modules = drive.core.series * drive.core.parallel
        rest, rest_g = self._rest_beside(alone)
        beside = beside + bill.own(drive.module, modules) + rest
        group = Group(rows)
        both = zip(self._leasts.of_group(group), self._leasts.of_group(Group(alone)), strict=True)
        grams, uohm, watts = map(sum, both)
        grams += modules * drive.module.mass_g + rest_g
        return Side(group, price, beside, (grams, uohm, watts))

    def held(self, drive: Drive, capacity: tuple[int, ...], pack: Side) -> Held | NoOption:
        """What a pack and its controller settle at no mean current.

        Whatever suits the true currents also suits no mean current (property-tested), so that
        the cheapest rows found here bound those of the true currents from below.
        """
        context, bill = self._context, self._bill
        currents = no_mean_current(context, drive)
        found = rows_without_motor(
            context, self._judge, drive, currents, capacity, frozenset(pack.group.rows), LATE
        )
        if isinstance(found, NoOption):
            return found
        rows, left = found
        both = {**pack.group.rows, **rows}
        price = bill.by_set(drive, currents, both, bill.bay_sets(drive, capacity), LATE_JOINTS)
        return Held(Group(rows), price, left)

    def whole(
        self, drive: Drive, capacity: tuple[int, ...], sides: tuple[Side, Side], held: Held
    ) -> tuple[Options, npt.NDArray[np.int64]] | NoOption:
        """All rows of a core at no mean current, and their least price by sets.

        ``sides`` are those of its pack and of its drive.
        """
        context, bill = self._context, self._bill
        of_pack, of_drive = sides
        currents = no_mean_current(context, drive)
        rest = {}
        for rule in held.left:
            if rule.family in of_drive.group.rows or not rule.needed(context, drive):
                continue
            judged = suitable(context, self._judge, drive, rule, currents, capacity, LATE)
            if isinstance(judged, NoOption):
                return judged
            rest[rule.family] = judged
        groups: tuple[Group, ...] = (of_pack.group, held.group, of_drive.group)
        if rest:
            key = tuple([id(some) for some in rest.values()])
            groups = (*groups, self._groups.setdefault(key, Group(rest)))
        rows = in_order({family: some for one in groups for family, some in one.rows.items()})
        broken = ruled_out(context, rows)
        if broken is not None:
            return broken
        price = held.price + of_drive.price
        if rest:
            sets = bill.bay_sets(drive, capacity)
            price = price + bill.by_set(drive, currents, rest, sets, LATE_JOINTS)
        return Options(rows, capacity, groups), price

    def least(self, pack: Side, drive: Side) -> int:
        """What a core of these sides costs at least, with the shipping that all of it pays."""
        return self._bill.with_shipping(pack.price + pack.beside + drive.price + drive.beside)

    def told(self, drive: Drive, sides: tuple[Side, Side] | None) -> Couplers:
        """What no bill of a core undercuts, as far as its pack and its drive tell apart."""
        assert sides is not None
        grams, uohm, watts = map(sum, zip(sides[0].least, sides[1].least, strict=True))
        return Couplers(
            added_g=grams,
            external_uohm=uohm + joints_uohm(self._context, drive),
            mean_12v_w=watts + round(self._context.project.donor.load_12v_w),
        )

    def _rest_beside(self, alone: Iterable[str]) -> tuple[int, int]:
        """What every core brings of the families that read all of it, but for these; and grams."""
        others = frozenset(rule.family for rule in RULES).difference(alone)
        known = self._rests.get(others)
        if known is None:
            rest_g = least_rest_g(self._context, "currents", others)
            known = self._rests[others] = self._goal.rest("currents", others), rest_g
        return known


MOTOR = next(rule for rule in RULES if rule.family == "motor")

__all__ = ["ALL_JOINTS", "LATE", "LATE_JOINTS", "Held", "Side", "Sides"]
