"""What joins the modules of a box: bars between neighbours, cable with two lugs for all else.

Which links are of cable, and how long each is, follows from where the modules stand, by the
rule of :mod:`bomplan.packing.series`: cable and lugs are exactly those of the plan's order.
That takes milliseconds for every number of modules, so it is asked for cores that are opened
alone; until then cheap bounds stand in. Bars are counted from the number of modules: one for
every link, or none where no bar reaches from any module to its neighbour.

Where the catalogue lists no cable for links every link is counted as a bar, and a caution tells
those that no bar reaches.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import cast

from bomplan.catalog.records import Part
from bomplan.design.bill.ends import bend_words
from bomplan.design.bill.rule import (
    DesignCurrents,
    Rule,
    at_least,
    at_most,
    same,
    voltage_check,
)
from bomplan.design.bill.studs import DRILLED, STUD
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.records import Check
from bomplan.design.sections import cut_inside
from bomplan.packing import SeriesRuns, fill_order, shortest_link_mm
from bomplan.project.house_rules import HouseRules
from bomplan.sizing import ampacity_a
from bomplan.source import COMMON, given

LINK_TAIL_MM = 100
"""What a cable between two terminals takes for its bends and both lugs; common practice."""
LINK_FAMILIES = ("link_cable", "link_lug")


BARE = "a cable without its lug is clamped by a screw, works loose and burns"


@dataclass(frozen=True)
class BoxLinks:
    """The links of one box: how many a bar joins, and the length of each cable as it is cut."""

    bars: int
    cables_mm: tuple[int, ...]

    @property
    def cable_m(self) -> int:
        """Whole metres to buy."""
        return math.ceil(sum(self.cables_mm) / 1000)


def cables_listed(context: Context) -> bool:
    """Whether cable for links is in the catalogue at all."""
    return all(context.catalog.family(family) for family in LINK_FAMILIES)


def told_by_presence(context: Context, parts: Iterable[Part]) -> list[Part]:
    """Rows that a plan has to carry so that its links are counted again by the same rule.

    Where no link of the plan is of cable, one row of each family says that it was listed.
    """
    if not cables_listed(context):
        return []
    held = {part.family for part in parts}
    return [
        rows[min(rows)]
        for family in LINK_FAMILIES
        if family not in held
        for rows in (context.catalog.family(family),)
    ]


def is_bar(joins: str, length_mm: int, reach_mm: int) -> bool:
    """Whether a link of the order is made of a bar: between neighbours, and within its reach."""
    return joins == "neighbours" and length_mm <= reach_mm


def cut_mm(rules: HouseRules, length_mm: int) -> int:
    """The cable for a link that is so long from terminal to terminal."""
    return math.ceil(length_mm * (1 + rules.cable_slack)) + LINK_TAIL_MM


def box_links(context: Context, drive: Drive, bay: int, rows: int) -> BoxLinks:
    """The links of the box in this bay when ``rows`` series places stand in it."""
    core = drive.core
    module, parallel, strings = drive.module.id, core.parallel, core.topology == "strings"
    cut = cut_inside(rows, core.series)
    remembered = context.remembered
    key = ("links", (bay, module, parallel, strings, rows, cut))
    known = remembered.get(key)
    if known is None:
        whole = ("series runs", (bay, module, parallel, strings))
        runs = remembered.get(whole)
        if runs is None:
            runs = remembered[whole] = _runs(context, module, bay, parallel, strings)
        opened = () if cut is None else (cut,)
        # a typed list may put more into a bay than finds room: told elsewhere
        fits = context.layout(bay, context.catalog.family("module")[module]).count // parallel
        found = cast(SeriesRuns, runs).joints(min(rows, fits) * parallel, opened)
        known = remembered[key] = _counted(context, found)
    return cast(BoxLinks, known)


def _runs(context: Context, module_id: str, bay: int, parallel: int, strings: bool) -> SeriesRuns:
    module = context.catalog.family("module")[module_id]
    layout = context.layout(bay, module)
    return SeriesRuns(
        tuple(layout.positions[index] for index in fill_order(layout)),
        parallel,
        strings=strings,
        from_rear=begins_at_rear(context, bay),
        spacing_mm=terminal_spacing_mm(module),
    )


def _counted(context: Context, joints: Iterable[tuple[str, int]]) -> BoxLinks:
    rules = context.project.house_rules
    bars, cables = 0, []
    for joins, length_mm in joints:
        if is_bar(joins, length_mm, rules.link_reach_mm):
            bars += 1
        else:
            cables.append(cut_mm(rules, length_mm))
    return BoxLinks(bars, tuple(sorted(cables)))


def begins_at_rear(context: Context, bay: int) -> bool:
    """Whether the run of a bay begins at its rear wall: the one that looks to the controller."""
    return context.project.places.controller_x_mm > context.bay_centre_mm(bay)


def terminal_spacing_mm(module: Part) -> int | None:
    """From + to - of the module; None where its catalogue does not say."""
    value = module.number_or("terminal_spacing_mm", 0)
    return int(value) or None


def all_links(drive: Drive, rows: int) -> int:
    """Links of a box with so many series places, where no disconnect cuts its string.

    ``rows`` groups of parallel modules have ``rows + 1`` poles in a row, each of which joins
    the modules across; between two groups one link leads on from every module.
    """
    parallel = drive.core.parallel
    along = (rows - 1) * parallel
    across = (rows + 1) * (parallel - 1) if drive.core.topology == "groups" else 0
    return along + across


def least_links(drive: Drive, rows: int) -> int:
    """The same where a disconnect may stand in for the links between two places.

    In place of those of a group one pole more is joined across; of strings each saves its own.
    """
    saved = drive.core.parallel if drive.core.topology == "strings" else 1
    return max(0, all_links(drive, rows) - saved)


def bars_reach(context: Context, drive: Drive, bay: int) -> bool:
    """Whether a bar reaches from any module of the filled bay to a neighbour, however turned."""
    module_id = drive.module.id
    key = ("bars reach", (bay, module_id))
    known = context.remembered.get(key)
    if known is None:
        module = context.catalog.family("module")[module_id]
        stands = context.layout(bay, module).positions
        reach = context.project.house_rules.link_reach_mm
        known = shortest_link_mm(stands, terminal_spacing_mm(module), reach) <= reach
        context.remembered[key] = known
    return cast(bool, known)


def ways_to_link(context: Context, drive: Drive, rows: int) -> tuple[dict[str, int], ...]:
    """The pieces, by family, with which a box of so many series places is linked at least.

    It goes one of these ways; which one hangs on where its modules stand.
    """
    bars = {"link": all_links(drive, rows)}
    if not cables_listed(context):
        return (bars,)
    links = least_links(drive, rows)
    return bars, {"link_cable": _tails_m(links), "link_lug": 2 * links}


def _tails_m(links: int) -> int:
    """Whole metres that the bends and lugs of so many cables take, however short they are."""
    return math.ceil(links * LINK_TAIL_MM / 1000)


class _InBoxes(Rule):
    """Pieces that join the modules of the boxes; a plan may need none of them."""

    system = "pack"
    least_ever = 0
    placed = True
    may_be_none = True

    def base(self, context: Context, drive: Drive, part: Part) -> int:  # noqa: ARG002
        return 0


class Link(_InBoxes):
    """Bars between modules of a box: along the series run and across parallel modules.

    A bar for every link, but none where no bar reaches from any module to its neighbour.
    Where single links are of cable their bars stay to spare, as the one of a disconnect does:
    so the number hangs on the number of modules alone, and can be told before they stand.
    """

    family = "link"

    def in_bay(self, context: Context, drive: Drive, part: Part, bay: int, rows: int) -> int:  # noqa: ARG002
        if cables_listed(context) and not bars_reach(context, drive, bay):
            return 0
        return all_links(drive, rows)

    def to_spare(self, context: Context, drive: Drive, rows: tuple[int, ...]) -> int:
        if not cables_listed(context):
            return 0
        return sum(
            self.in_bay(context, drive, drive.module, bay, count)
            - box_links(context, drive, bay, count).bars
            for bay, count in enumerate(rows)
            if count
        )

    def counted(self, context: Context, drive: Drive, rows: tuple[int, ...]) -> str:
        spare = self.to_spare(context, drive, rows)
        if not spare:
            return ""
        fitted = -spare + sum(
            self.in_bay(context, drive, drive.module, bay, count)
            for bay, count in enumerate(rows)
            if count
        )
        return (
            f"{fitted} fitted, bought is one for every link; {spare} to spare where a cable or a"
            " disconnect is instead"
        )

    def suits(
        self,
        context: Context,
        drive: Drive,
        currents: DesignCurrents,
        part: Part,
    ) -> Iterator[Check]:
        rules = context.project.house_rules
        yield at_least(
            "link.current",
            "the bar carries its share of the mean current",
            part.number("rated_a"),
            _share_a(context, drive, currents),
            "A",
            COMMON,
        )
        yield at_most(
            "link.resistance",
            "the bar and its two joints are no worse than the range figures assume",
            part.number("resistance_uohm"),
            rules.joint_uohm,
            "µΩ",
            given("house rule"),
        )
        if part.length_mm is not None and cables_listed(context):
            yield same(
                "link.length",
                f"the bar ({part.length_mm} mm) is as long as any link that is made of a bar:"
                f" {rules.link_reach_mm} mm (link_reach)",
                part.length_mm >= rules.link_reach_mm,
                given("house rule"),
            )

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return "joins neighbouring modules inside each box"


class _OfCable(_InBoxes):
    dear = True

    def needed(self, context: Context, drive: Drive) -> bool:  # noqa: ARG002
        return cables_listed(context)


class LinkCable(_OfCable):
    """Cable by the metre for the links that no bar reaches, whole metres for each box."""

    family = "link_cable"
    unit = "m"
    too_few = "a link of whatever wire is at hand burns where nobody sees it: inside the box"

    def counted(self, context: Context, drive: Drive, rows: tuple[int, ...]) -> str:
        told = []
        for bay, count in enumerate(rows):
            cables = Counter(box_links(context, drive, bay, count).cables_mm) if count else None
            if cables:
                each = ", ".join(f"{number} x {length} mm" for length, number in cables.items())
                told.append(f"{context.bays[bay].name}: {each}")
        return "cut " + "; ".join(told)

    def in_bay(self, context: Context, drive: Drive, part: Part, bay: int, rows: int) -> int:  # noqa: ARG002
        return box_links(context, drive, bay, rows).cable_m

    def least_in_bay(self, context: Context, drive: Drive, part: Part, bay: int, rows: int) -> int:  # noqa: ARG002
        if bars_reach(context, drive, bay):
            return 0
        return _tails_m(least_links(drive, rows))

    def most_in_bay(self, context: Context, drive: Drive, part: Part, bay: int, rows: int) -> int:  # noqa: ARG002
        room = context.bays[bay]
        longest = room.length_mm + room.width_mm + room.height_mm
        each = cut_mm(context.project.house_rules, longest)
        return math.ceil(all_links(drive, rows) * each / 1000)

    def suits(
        self, context: Context, drive: Drive, currents: DesignCurrents, part: Part
    ) -> Iterator[Check]:
        rules = context.project.house_rules
        yield voltage_check(context, drive, "link_cable", part.number("v_rating"))
        yield at_least(
            "link_cable.current",
            "the cable between modules carries its share of the mean current",
            ampacity_a(
                part.number("resistance_mohm_per_m"),
                rules.conductor_ambient_c,
                part.number("insulation_c"),
            ),
            _share_a(context, drive, currents),
            "A",
            COMMON,
        )
        yield at_most(
            "link_cable.peak-density",
            "its share of the peak current per square millimetre stays short of quick heating",
            currents.peak_a / drive.core.parallel / part.number("area_mm2"),
            15.0,
            "A/mm²",
            COMMON,
        )

    def external_uohm(self, drive: Drive, part: Part) -> int:
        # Copper at 50 °C, as the traction cable; of parallel links each carries its share.
        parallel = drive.core.parallel
        return math.ceil(part.number("resistance_mohm_per_m") * 1000 * 1.118 / parallel**2)

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        reach = context.project.house_rules.link_reach_mm
        return (
            f"links longer than a bar of {reach} mm, past other modules or to another layer;"
            f" {bend_words(part)}"
        )


class LinkLug(_OfCable):
    family = "link_lug"
    too_few = BARE

    def in_bay(self, context: Context, drive: Drive, part: Part, bay: int, rows: int) -> int:  # noqa: ARG002
        return 2 * len(box_links(context, drive, bay, rows).cables_mm)

    def suits(
        self,
        context: Context,  # noqa: ARG002
        drive: Drive,
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        if drive.module.has(STUD):
            stud = drive.module.number(STUD)
            yield same(
                "link_lug.stud",
                f"the link lug's hole (M{part.number(STUD):g}) fits the module's M{stud:g}",
                part.number(STUD) == stud,
                COMMON,
                DRILLED,
            )

    def least_in_bay(self, context: Context, drive: Drive, part: Part, bay: int, rows: int) -> int:  # noqa: ARG002
        return 0 if bars_reach(context, drive, bay) else 2 * least_links(drive, rows)

    def most_in_bay(self, context: Context, drive: Drive, part: Part, bay: int, rows: int) -> int:  # noqa: ARG002
        return 2 * all_links(drive, rows)

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return "two for each cable between modules"


def _share_a(context: Context, drive: Drive, currents: DesignCurrents) -> float:
    return currents.rms_a / drive.core.parallel * (1 + context.project.margins.continuous)


def link_cable_and_cable(
    context: Context,  # noqa: ARG001
    drive: Drive,
    currents: DesignCurrents,  # noqa: ARG001
    link_cable: Part,
    cable: Part,
) -> Iterator[Check]:
    """The parallel cables of a link together stand what the fuse lets through the trunk."""
    yield at_least(
        "link_cable.area",
        "the parallel cables between modules have together the copper of the traction cable, so"
        " that the box's fuse protects them as well",
        link_cable.number("area_mm2") * drive.core.parallel,
        cable.number("area_mm2"),
        "mm²",
        COMMON,
        "a conductor that its fuse does not protect burns",
    )


RULES: tuple[Rule, ...] = (Link(), LinkCable(), LinkLug())
