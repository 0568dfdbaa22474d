"""The series order of a plan, checked from its own records by geometry and by its circuit.

Shares no code with the rule that made the order: numbers, neighbours, lengths, the nodes that
the links make and the sections are all found again. A plan from before there was an order
(every place 0) has nothing to check.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from bomplan.design.bill.rule import at_most
from bomplan.design.drive import Drive
from bomplan.design.records import BayUse, Check, Plan, Stand
from bomplan.design.series_records import ModuleLink, module_label
from bomplan.source import computed, recalled

SECTION_V = 60.0
SOURCE = computed("geometry and numbers of the recorded stands and links")
_Key = tuple[str, str]


def series_checks(drive: Drive, plan: Plan) -> Iterator[Check]:
    """Order, links and sections of every box, and whether the bill holds enough links."""
    uses = [use for use in plan.placement if use.stands]
    if all(stand.place == 0 for use in uses for stand in use.stands):
        return
    offset = 0
    for use in uses:
        faults = [
            *_order_faults(drive, use, offset),
            *_link_faults(drive, use),
            *_node_faults(drive, use, offset),
        ]
        yield at_most(
            f"audit.series.{use.bay}",
            f"faults of the series order in bay {use.bay}" + (f" ({faults[0]})" if faults else ""),
            len(faults),
            0,
            "faults",
            SOURCE,
        )
        wrong = list(_section_faults(drive, use, offset))
        yield at_most(
            f"audit.sections.{use.bay}",
            f"faults of the sections that are joined before the last links in bay {use.bay}"
            + (f" ({wrong[0]})" if wrong else ""),
            len(wrong),
            0,
            "faults",
            recalled(
                "at most 60 V before the last link is fitted: common practice, ISO 6469-3 class B"
            ),
            "above 60 V direct voltage a touch can kill",
        )
        offset += use.series
    pieces = {line.family: line.quantity for line in plan.lines}
    bought = pieces.get("link", 0) + pieces.get("link_lug", 0) // 2
    yield at_most(
        "audit.links",
        "links between modules, against bars and cables with two lugs of the bill",
        sum(len(use.links) for use in uses),
        bought,
        "links",
        SOURCE,
    )


def _labelled(drive: Drive, use: BayUse) -> dict[str, Stand]:
    return {
        module_label(stand.place, stand.beside, drive.core.parallel): stand for stand in use.stands
    }


def _order_faults(drive: Drive, use: BayUse, offset: int) -> Iterator[str]:
    parallel = drive.core.parallel
    numbers = sorted((stand.place, stand.beside) for stand in use.stands)
    wanted = [
        (place, beside)
        for place in range(offset + 1, offset + use.series + 1)
        for beside in range(1, parallel + 1)
    ]
    if numbers != wanted:
        yield "its modules are not numbered once each, in one run without a gap"
    for stand in use.stands:
        sides = {"x": stand.length_mm, "y": stand.width_mm, "z": stand.height_mm}
        facing = "z" if stand.terminals == "up" else stand.terminals
        face = {axis: size for axis, size in sides.items() if axis != facing}
        if stand.plus[:1] not in face or face[stand.plus[0]] < max(face.values()):
            label = module_label(stand.place, stand.beside, parallel)
            yield f"module {label} has its poles on no longer side of its face"


def _link_faults(drive: Drive, use: BayUse) -> Iterator[str]:
    stands = _labelled(drive, use)
    for link in use.links:
        name = f"link {link.first}{link.first_pole} to {link.second}{link.second_pole}"
        one, other = stands.get(link.first), stands.get(link.second)
        if one is None or other is None:
            yield f"{name} joins a module that does not stand here"
            continue
        if link.joins != _joins(one, other):
            yield f"{name} does not join {link.joins}"
        start, end = _end(drive, one, link.first_pole), _end(drive, other, link.second_pole)
        # a bar between neighbours lies straight, a cable to any other along the walls
        apart = (
            math.dist(start, end)
            if link.joins == "neighbours"
            else sum(abs(a - b) for a, b in zip(start, end, strict=True))
        )
        if not apart - 1e-6 <= link.length_mm < apart + 1:
            yield f"{name} is not as long as its terminals are apart ({apart:.0f} mm)"


def _joins(one: Stand, other: Stand) -> str:
    if one.layer != other.layer:
        return "layers"
    apart = [
        max(a, b) - min(a + size_a, b + size_b)
        for a, size_a, b, size_b in (
            (one.x_mm, one.length_mm, other.x_mm, other.length_mm),
            (one.y_mm, one.width_mm, other.y_mm, other.width_mm),
        )
    ]
    narrow = min(one.length_mm, one.width_mm, one.height_mm)
    face_to_face = min(apart) < 0 <= max(apart) < narrow
    return "neighbours" if face_to_face else "apart"


def _end(drive: Drive, stand: Stand, pole: str) -> tuple[float, float, float]:
    """The middle of a terminal."""
    corner = {"x": stand.x_mm, "y": stand.y_mm, "z": stand.z_mm}
    size = {"x": stand.length_mm, "y": stand.width_mm, "z": stand.height_mm}
    at = {axis: corner[axis] + size[axis] / 2 for axis in "xyz"}
    facing = "z" if stand.terminals == "up" else stand.terminals
    at[facing] = corner[facing] + size[facing]
    axis, side = stand.plus[0], stand.plus[1]
    known = drive.module.number_or("terminal_spacing_mm", 0)
    spacing = min(known, size[axis]) if known else 7 * size[axis] // 10
    sign = 1 if (side == "+") == (pole == "+") else -1
    at[axis] += sign * spacing / 2
    return at["x"], at["y"], at["z"]


class _Nodes:
    """Which poles the links make one."""

    def __init__(self) -> None:
        self._up: dict[_Key, _Key] = {}

    def root(self, key: _Key) -> _Key:
        while self._up.get(key, key) != key:
            key = self._up[key]
        return key

    def join(self, one: _Key, other: _Key) -> bool:
        """False where the two were one already: a link too many."""
        first, second = self.root(one), self.root(other)
        self._up[first] = second
        return first != second


def _node_faults(drive: Drive, use: BayUse, offset: int) -> Iterator[str]:
    """Joined must be what the circuit asks for, and nothing else, with no link too many."""
    nodes = _Nodes()
    for link in use.links:
        if not nodes.join((link.first, link.first_pole), (link.second, link.second_pole)):
            yield f"link {link.first}{link.first_pole} to {link.second}{link.second_pole} is idle"
    parallel = drive.core.parallel
    groups = drive.core.topology == "groups"
    meant: dict[tuple[int, int], list[_Key]] = {}
    for place in range(offset + 1, offset + use.series + 1):
        for beside in range(1, parallel + 1):
            label, string = module_label(place, beside, parallel), 0 if groups else beside
            # a node counts by the place behind it; a disconnect keeps two nodes apart
            behind = -place if place - 1 in use.disconnects else place - 1
            meant.setdefault((behind, string), []).append((label, "+"))
            meant.setdefault((place, string), []).append((label, "-"))
    roots: set[_Key] = set()
    for (place, _), poles in meant.items():
        here = {nodes.root(pole) for pole in poles}
        if len(here) > 1:
            yield f"the poles at series place {abs(place)} are not joined"
        if here & roots:
            yield f"the poles at series place {abs(place)} are joined to others: a short circuit"
        roots |= here


def _section_faults(drive: Drive, use: BayUse, offset: int) -> Iterator[str]:
    each_v = drive.module.number("cells_series") * drive.module.number("cell_v_charge")
    covered = [place for part in use.sections for place in range(part.first, part.last + 1)]
    if covered != list(range(offset + 1, offset + use.series + 1)):
        yield "the sections do not hold every series place once"
    for part in use.sections:
        places = part.last - part.first + 1
        volts = places * each_v
        if abs(volts - part.full_v) > 0.01:
            yield f"section {part.first} to {part.last} comes to {volts:.2f} V"
        if volts > SECTION_V + 1e-6 and places > 1:
            yield f"section {part.first} to {part.last} comes to {volts:.1f} V, above 60 V"
    ends = {part.last for part in use.sections[:-1]}
    if not set(use.disconnects) <= ends:
        yield "a disconnect stands inside a section"
    place = {label: stand.place for label, stand in _labelled(drive, use).items()}
    for link in use.links:
        if link.last != (_crosses(link, place) in ends):
            yield f"link {link.first} to {link.second}: whether it is fitted last is told wrongly"


def _crosses(link: ModuleLink, place: dict[str, int]) -> int:
    """The series place after which the link leads on; 0 for a link across."""
    return place.get(link.first, 0) if link.way == "series" else 0
