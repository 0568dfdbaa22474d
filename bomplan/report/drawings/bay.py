"""One bay's rack: each layer from above, terminals as they are faced, all layers from the side.

All lengths are millimetres from the bay's inner corner at the front, left and floor; they are
those of the plan file, so that a rack can be measured out from the table. Modules are numbered
in series order through the whole pack; a plan from before there was an order has its places
counted instead, and no polarity.
"""

from __future__ import annotations

import itertools
import re
import unicodedata
from dataclasses import dataclass
from functools import cached_property
from typing import Final

from bomplan.design.bill.links import cut_mm, is_bar, terminal_spacing_mm
from bomplan.design.context import bay_box, module_box
from bomplan.design.planfile import catalog_of, project_of
from bomplan.design.records import BayUse, Core, Plan, Stand
from bomplan.design.series import geometry
from bomplan.design.series_records import ModuleLink, module_label
from bomplan.packing import BayBox, ModuleBox, Plate, end_plates
from bomplan.project.records import Bay
from bomplan.report.drawings import bay_views
from bomplan.report.drawings.bay_joining import joining_words
from bomplan.report.drawings.bay_views import LEFT, Marked, View
from bomplan.report.drawings.ink import Ink, fit, wrap
from bomplan.report.units import METRIC, Show

WIDTH: Final = 860.0
LINE: Final = 14.0
HEADS: Final = (
    "module", "x", "y", "z", "length", "width", "height", "layer", "terminals", "+ lies",
)  # fmt: skip
# Where the columns of the table begin: of figures alone, and of figures with inches.
EVEN: Final = tuple(70.0 * column for column in range(10))
WIDE: Final = (0.0, *(50.0 + 88.0 * column for column in range(6)), 584.0, 628.0, 704.0)
_COLUMNS: Final = 108
_LIES: Final = {
    "x-": "front", "x+": "rear", "y-": "left", "y+": "right", "z-": "below", "z+": "above", "": "",
}  # fmt: skip
# Which way the terminals point.
_FACE: Final = {"up": "up", "x": "rear", "y": "right"}


def bay_drawings(plan: Plan, show: Show = METRIC) -> dict[str, str]:
    """File name to SVG for every bay of the plan that holds modules; empty without a choice.

    Lengths in mm; with US units in ``show`` those to build by have their inches in brackets.
    """
    if plan.core is None or not any(use.stands for use in plan.placement):
        return {}
    bays = {bay.name: bay for bay in project_of(plan).bays}
    return {
        file_name(number, use.bay): Rack(plan, plan.core, bays[use.bay], use, show).svg()
        for number, use in enumerate(plan.placement, start=1)
        if use.stands and use.bay in bays
    }


def file_name(number: int, bay: str) -> str:
    """A name that every file system takes; the number tells bays apart whose letters do not."""
    ascii_name = unicodedata.normalize("NFKD", bay).encode("ascii", "ignore").decode().lower()
    slug = re.sub(r"[^a-z0-9]+", "-", ascii_name).strip("-")[:40].strip("-")
    return f"bay-{number}-{slug}.svg" if slug else f"bay-{number}.svg"


def in_places(stands: tuple[Stand, ...]) -> tuple[Stand, ...]:
    """The stands as they are listed: in series order; else by layer, front to rear, left first."""
    return tuple(sorted(stands, key=lambda s: (s.place, s.beside, s.layer, s.x_mm, s.y_mm)))


@dataclass(frozen=True)
class Rack:
    """Everything that the drawing of one bay shows."""

    plan: Plan
    core: Core
    bay: Bay
    use: BayUse
    show: Show = METRIC

    @cached_property
    def ordered(self) -> bool:
        return all(stand.place for stand in self.use.stands)

    @cached_property
    def marked(self) -> tuple[Marked, ...]:
        grey = {
            place
            for number, part in enumerate(self.use.sections)
            if number % 2
            for place in range(part.first, part.last + 1)
        }
        return tuple(
            Marked(
                module_label(one.place, one.beside, self.core.parallel)
                if self.ordered
                else f"{number}",
                one,
                one.place in grey,
            )
            for number, one in enumerate(in_places(self.use.stands), start=1)
        )

    @cached_property
    def module(self) -> tuple[str, int | None]:
        part = catalog_of(self.plan).family("module")[self.core.module]
        return part.description, terminal_spacing_mm(part)

    @cached_property
    def plates(self) -> tuple[Plate, ...]:
        part = catalog_of(self.plan).family("module")[self.core.module]
        return end_plates(tuple(geometry(one) for one in self.use.stands), module_box(part))

    @cached_property
    def spots(self) -> dict[tuple[str, str], tuple[float, float, float]]:
        return {
            (one.label, pole): spot
            for one in self.marked
            for pole, spot in bay_views.poles(one.stand, self.module[1]).items()
        }

    @cached_property
    def last_links(self) -> tuple[ModuleLink, ...]:
        return tuple(link for link in self.use.links if link.last)

    @cached_property
    def outer(self) -> set[tuple[str, str]]:
        """Poles from which a cable or a disconnect leads on: where the run begins and ends."""
        parallel = self.core.parallel
        joined = {(link.first, link.first_pole) for link in self.use.links if link.way == "series"}
        joined |= {
            (link.second, link.second_pole) for link in self.use.links if link.way == "series"
        }
        # of a group the first module takes the cable
        first = [one for one in self.marked if self.core.topology == "strings" or
                 one.stand.beside in (0, 1) or parallel == 1]  # fmt: skip
        return {
            (one.label, pole)
            for one in first
            for pole in ("+", "-")
            if self.ordered and (one.label, pole) not in joined and self._is_end(one.stand, pole)
        }

    def _is_end(self, stand: Stand, pole: str) -> bool:
        """Whether the run through this box begins, ends or is cut at this pole."""
        places = [one.place for one in self.use.stands]
        cuts = self.use.disconnects
        if pole == "+":
            return stand.place == min(places) or stand.place - 1 in cuts
        return stand.place == max(places) or stand.place in cuts

    def svg(self) -> str:
        """The drawing."""
        ink = Ink()
        top = self._head(ink)
        for layer, group in itertools.groupby(
            sorted(self.marked, key=lambda one: one.stand.layer), key=lambda one: one.stand.layer
        ):
            top = self._layer(ink, top, layer, tuple(group))
        top = self._side(ink, top)
        top = self._order(ink, top)
        top = self._table(ink, top + 22)
        return ink.svg(
            WIDTH,
            top + 20,
            f"{self.plan.project}: bay {self.bay.name}",
            f"Layers of bay {self.bay.name} with {len(self.marked)} modules, where each stands"
            " and how they are joined.",
        )

    def _head(self, ink: Ink) -> float:
        box, module = bay_box(self.bay), self._module_box()
        ink.text(
            LEFT, 34, f"{fit(self.plan.project, 40)}: bay {fit(self.bay.name, 30)}",
            size=17, bold=True,
        )  # fmt: skip
        gaps = [f"box wall {box.wall_mm} on every face (dotted)"]
        if module.gap_mm:
            gaps.append(f"{module.gap_mm} between modules")
        if module.terminal_clearance_mm:
            gaps.append(f"{module.terminal_clearance_mm} free before the terminals (dashed)")
        if module.end_plate_mm:
            gaps.append(f"{module.end_plate_mm} for an end plate at both ends of a row (crossed)")
        if box.blocked:
            gaps.append(f"shelf {box.shelf_mm} under what stands on no floor or step (grey)")
        elif max(one.stand.layer for one in self.marked):
            gaps.append(f"shelf {box.shelf_mm} under each layer but the lowest")
        said = [
            f"{len(self.marked)} modules: {self.module[0]}.",
            "Lengths in mm"
            + (", inches in brackets," if self.show.us else "")
            + " from the bay's inner corner at front, left and floor.",
            "Figures along the edges: where modules begin, and where the last ends. Kept free: "
            + "; ".join(gaps)
            + ".",
        ]
        said += self._no_room(box)
        if self.ordered:
            said.append(
                "Numbers: series order through the whole pack from its +. Circles: poles; doubled"
                " where a cable or disconnect leads on, squared where a link leaves the view."
                " Thick lines: links between neighbours; thin dashed: past other modules; L1, L2:"
                " fitted last. Grey: every other section."
            )
        else:
            said.append("Numbers count places, not the order of wiring; no polarity is shown.")
        top = 54.0
        for one in said:
            top = ink.lines(LEFT, top, wrap(one, _COLUMNS, 4), first_bold=False)
        return top + 22

    @staticmethod
    def _no_room(box: BayBox) -> list[str]:
        """Where the bay is no room, in figures to cut by."""
        if not box.blocked:
            return []
        found = [
            f"x {x0} to {x1}, y {y0} to {y1}, z {z0} to {z1}"
            for x0, y0, z0, x1, y1, z1 in sorted(one.ends for one in box.blocked)
        ]
        return [
            "No room (hatched; dashed from the side where it does not go through): "
            + "; ".join(found)
            + ". The box's wall runs around it."
        ]

    def _module_box(self) -> ModuleBox:
        return module_box(catalog_of(self.plan).family("module")[self.core.module])

    def _bar_mm(self) -> int | None:
        """Length of the link of the bill; None where its catalogue does not say."""
        rows = catalog_of(self.plan).family("link")
        part = next((rows[x.part] for x in self.plan.lines if x.family == "link"
                     and x.part in rows), None)  # fmt: skip
        return None if part is None else part.length_mm

    def _cut_mm(self, link: ModuleLink) -> int | None:
        """How long the bill's cable for this link is; None where it is a bar."""
        rules = project_of(self.plan).house_rules
        if not any(line.family == "link_cable" for line in self.plan.lines):
            return None
        if is_bar(link.joins, link.length_mm, rules.link_reach_mm):
            return None
        return cut_mm(rules, link.length_mm)

    def _room(self) -> tuple[int, int, int]:
        return self.bay.length_mm, self.bay.width_mm, self.bay.height_mm

    def _layer(self, ink: Ink, top: float, layer: int, group: tuple[Marked, ...]) -> float:
        """A layer from above, and onto the terminals of modules that lie."""
        level = f"; stands at z = {group[0].stand.z_mm}" if bay_box(self.bay).blocked else ""
        ink.text(
            LEFT, top, f"Layer {layer + 1} from above: front left, left side below" + level,
            bold=True,
        )  # fmt: skip
        view = bay_views.from_above(self._room(), top + 12)
        up = tuple(one for one in group if one.stand.terminals == "up")
        self._view(ink, view, group, up)
        top = view.bottom + 100
        faces = sorted(
            {
                (one.stand.terminals, _face_mm(one.stand))
                for one in group
                if one.stand.terminals != "up"
            }
        )
        for terminals, face in faces:
            here = tuple(
                one
                for one in group
                if one.stand.terminals == terminals and _face_mm(one.stand) == face
            )
            seen = "the rear" if terminals == "x" else "the right"
            ink.text(
                LEFT, top,
                f"Layer {layer + 1} from {seen}, onto the terminals at {terminals} = {face}",
                bold=True,
            )  # fmt: skip
            view = bay_views.onto_terminals(self._room(), terminals, top + 12)
            self._view(ink, view, here, here)
            top = view.bottom + 100
        return top

    def _view(
        self, ink: Ink, view: View, group: tuple[Marked, ...], poled: tuple[Marked, ...]
    ) -> None:
        """Modules with their figures; poles and links of those whose terminals are seen."""
        box, module = bay_box(self.bay), self._module_box()
        bay_views.outline(ink, view, box.wall_mm, self.show)
        bay_views.cut_outs(ink, view, box, _depths(view, group))
        bay_views.ordinates(ink, view, _edges(group))
        layers = {one.stand.layer for one in group}
        if view.up == 1:
            bay_views.plates(ink, view, (one for one in self.plates if one.layer in layers))
        bay_views.clearances(ink, view, group, module.terminal_clearance_mm)
        bay_views.modules(ink, view, group)
        names = {one.label for one in poled}
        spots = {key: spot for key, spot in self.spots.items() if key[0] in names}
        away: set[tuple[str, str]] = {
            key
            for link in self.use.links
            for key, other in (
                ((link.first, link.first_pole), link.second),
                ((link.second, link.second_pole), link.first),
            )
            if other not in names
        }
        numbers = {
            (link.first, link.second): number
            for number, link in enumerate(self.last_links, start=1)
        }
        bay_views.links(ink, view, self.use.links, spots, numbers)
        size = self._pole_size(view, poled)
        bay_views.labels(ink, view, group)
        bay_views.poles_drawn(ink, view, spots, away.intersection(spots), self.outer, size)
        bay_views.scale_bar(ink, view.bottom + 56, view.scale)

    @staticmethod
    def _pole_size(view: View, group: tuple[Marked, ...]) -> float:
        least = min(
            (
                min(bay_views.sides_of(one.stand)[axis] for axis in (view.across, view.up))
                for one in group
            ),
            default=0,
        )
        return max(2.5, min(6.0, 0.22 * least * view.scale))

    def _side(self, ink: Ink, top: float) -> float:
        ink.text(LEFT, top, "From the left side, all layers: front left, floor below", bold=True)
        view = bay_views.from_the_left(self._room(), top + 12)
        box = bay_box(self.bay)
        bay_views.outline(ink, view, box.wall_mm, self.show)
        bay_views.cut_outs(ink, view, box, (0, box.width_mm), whole=True)
        bay_views.ordinates(ink, view, _edges(self.marked))
        # behind each other in this view: one outline for every place that is seen
        seen: dict[tuple[int, int, int, int], Marked] = {}
        for one in self.marked:
            stand = one.stand
            seen.setdefault((stand.x_mm, stand.z_mm, stand.length_mm, stand.height_mm), one)
        bay_views.clearances(ink, view, seen.values(), self._module_box().terminal_clearance_mm)
        bay_views.modules(ink, view, (Marked("", one.stand, False) for one in seen.values()))
        bay_views.shelves(ink, view, self.marked, box)
        bay_views.scale_bar(ink, view.bottom + 56, view.scale)
        return view.bottom + 100

    def _order(self, ink: Ink, top: float) -> float:
        """How to join the modules, in words."""
        if not self.ordered:
            return top
        ink.text(LEFT, top, "Joining", bold=True)
        top += LINE + 2
        for one in joining_words(
            self.use, self.last_links, self._bar_mm(), self._cut_mm, self.show
        ):
            top = ink.lines(LEFT, top, wrap(one, _COLUMNS, 12), first_bold=False)
        return top

    def _table(self, ink: Ink, top: float) -> float:
        columns = WIDE if self.show.us else EVEN
        for place, head in zip(columns, HEADS, strict=True):
            ink.text(LEFT + place, top, head, bold=True)
        for one in self.marked:
            top += LINE
            stand = one.stand
            lengths = (stand.x_mm, stand.y_mm, stand.z_mm, stand.length_mm, stand.width_mm,
                       stand.height_mm)  # fmt: skip
            row = (one.label, *(self._cell(mm) for mm in lengths), f"{stand.layer + 1}",
                   _FACE[stand.terminals], _LIES[stand.plus])  # fmt: skip
            for place, words in zip(columns, row, strict=True):
                ink.text(LEFT + place, top, words)
        return top

    def _cell(self, mm: int) -> str:
        return self.show.length(mm).replace(" in)", ")")


def _edges(group: tuple[Marked, ...]) -> list[tuple[int, int, int]]:
    """Low corners of the modules, and the high corner of them all."""
    corners = [bay_views.corner_of(one.stand) for one in group]
    ends = [
        max(corner[axis] + bay_views.sides_of(one.stand)[axis]
            for corner, one in zip(corners, group, strict=True))
        for axis in range(3)
    ]  # fmt: skip
    return [*corners, (ends[0], ends[1], ends[2])]


def _depths(view: View, group: tuple[Marked, ...]) -> tuple[int, int]:
    """From where to where the modules of a view reach along the way that it looks."""
    axis = 3 - view.across - view.up
    corners = [bay_views.corner_of(one.stand)[axis] for one in group]
    ends = [a + bay_views.sides_of(one.stand)[axis] for a, one in zip(corners, group, strict=True)]
    return min(corners), max(ends)


def _face_mm(stand: Stand) -> int:
    """Where the face of the terminals of a lying module is, along the way they point."""
    return stand.x_mm + stand.length_mm if stand.terminals == "x" else stand.y_mm + stand.width_mm
