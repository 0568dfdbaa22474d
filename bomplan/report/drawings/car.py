"""The car from above and from the side, to scale: bays, modules, parts, centres of gravity, loads.

Front is left. Whatever was not measured (tracks, sides, heights) is drawn dashed at a usual
place and listed below the picture; the sums never use a drawn place. Black on white, so that
a print shop's copier keeps all of it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

from bomplan.design.context import bay_box
from bomplan.design.planfile import project_of
from bomplan.design.records import AxleLoad, BayUse, Plan
from bomplan.design.weight_records import LoadState, Weights
from bomplan.project.records import Bay, Project
from bomplan.report.drawings.car_marks import Mark, marks
from bomplan.report.drawings.ink import HEAVY, PLAIN, THIN, Anchor, Ink, fit, wrap
from bomplan.report.drawings.wheels import (
    USUAL_TRACK_MM,
    drawn_tracks_mm,
    tracks_known,
    tyre_middles_mm,
    tyre_width_mm,
)
from bomplan.report.text import clean
from bomplan.report.units import METRIC, Show

PIXELS_PER_MM: Final = 96 / 25.4
WIDTH: Final = 1060.0
VIEW: Final = 880.0
LEFT: Final = 90.0
SCALES: Final = (4, 5, 8, 10, 12, 15, 20, 25, 30, 40, 50, 80, 100)
# Drawn where nothing was measured; common practice for a small car.
USUAL_FLOOR_MM: Final = 300
OVERHANG_MM: Final = 500
ROW: Final = 14.0
# Columns of the table from its left: words start at them, figures end at them.
COLUMNS: Final = (0, 32, 76, 440, 575, 690, 810)
FIGURES: Final = 400


def car_svg(plan: Plan, show: Show = METRIC) -> str | None:
    """The drawing, masses in the units of ``show``; None without a choice or a weighing."""
    if plan.core is None or plan.mass is None or plan.mass.weights is None:
        return None
    return CarDrawing(plan, project_of(plan), plan.mass.weights, show=show).draw()


@dataclass
class _View:
    """One view: where x = 0 and the other axis' zero lie on the sheet."""

    left: float
    zero: float
    scale: float

    def x(self, mm: float) -> float:
        return self.left + mm * self.scale

    def across(self, mm: float) -> float:
        return self.zero + mm * self.scale


@dataclass
class CarDrawing:
    """One drawing in the making; ``ink`` holds what has been drawn, ``notes`` what was assumed."""

    plan: Plan
    project: Project
    weights: Weights
    ink: Ink = field(default_factory=Ink)
    notes: list[str] = field(default_factory=list)
    show: Show = METRIC

    def draw(self) -> str:
        donor, ink = self.project.donor, self.ink
        heaviest = max(
            self.project.load_cases, key=lambda case: sum(item.mass_g for item in case.items)
        )
        self.heaviest = heaviest.name
        found = marks(self.plan, self.project, self.weights, heaviest)
        radius = donor.driveline.wheel_radius_mm
        near = [mark.x_mm for mark in found] + [float(bay.x_mm) for bay in self.project.bays]
        far = [mark.x_mm for mark in found]
        far += [float(bay.x_mm + bay.length_mm) for bay in self.project.bays]
        front = min(-radius, -OVERHANG_MM if donor.kind == "car" else -radius, *near)
        rear = max(donor.wheelbase_mm + radius, *far)
        if donor.kind == "car":
            rear = max(rear, donor.wheelbase_mm + OVERHANG_MM)
        ratio = next((s for s in SCALES if (rear - front) * PIXELS_PER_MM / s <= VIEW), SCALES[-1])
        self.front_mm, self.rear_mm = front, rear
        scale = PIXELS_PER_MM / ratio
        left = LEFT - front * scale
        ink.text(
            LEFT,
            34,
            f"{fit(self.plan.project, 60)}: the {donor.kind} by weight",
            size=17,
            bold=True,
        )
        ink.text(
            LEFT, 54,
            f"Front is left; from above the right side is up. 1 : {ratio} when printed at full"
            " size; positions in mm. The body is not drawn.",
        )  # fmt: skip
        half = self._half_width_mm() * scale
        above = _View(left, 128 + half, scale)
        # The car points left, so its right side lies at the top of the sheet.
        bottom = self._from_above(above, _View(left, above.zero, -scale), found, half)
        top_of_side = bottom + 70
        height = self._height_mm(found)
        side = _View(left, top_of_side + height * scale, -scale)
        side_x = _View(left, side.zero, scale)
        bottom = self._from_the_side(side_x, side, found, top_of_side)
        bottom = self._loads(bottom + 16)
        bottom = self._table(found, bottom + 26)
        bottom = self._notes(bottom + 10)
        return ink.svg(
            WIDTH, bottom + 20, f"{self.plan.project}: the {donor.kind} by weight",
            "The car from above and from the side with bays, modules, parts, centres of gravity"
            " before and after, and the load of each axle against its limit.",
        )  # fmt: skip

    # -- sizes -------------------------------------------------------------------------

    def _tracks(self) -> tuple[int, int]:
        donor = self.project.donor
        if not tracks_known(donor):
            self._note("The tracks are not given: wheels are drawn dashed"
                       f" {USUAL_TRACK_MM} mm apart.")  # fmt: skip
        return drawn_tracks_mm(donor)

    def _half_width_mm(self) -> float:
        widest = max(self._tracks()) / 2 + 150
        for bay in self.project.bays:
            y_mm = -bay.width_mm / 2 if bay.y_mm is None else bay.y_mm
            widest = max(widest, abs(y_mm), abs(y_mm + bay.width_mm))
        return widest + 30

    def _height_mm(self, found: list[Mark]) -> float:
        highest = 2.0 * self.project.donor.driveline.wheel_radius_mm
        for bay in self.project.bays:
            highest = max(highest, self._floor(bay) + bay.height_mm)
        heights = [mark.z_mm for mark in found if mark.z_mm is not None]
        heights += [one.z_mm for one in self.weights.states if one.z_mm is not None]
        return max([highest, *heights]) + 40

    def _floor(self, bay: Bay) -> int:
        if bay.z_mm is not None:
            return bay.z_mm
        self._note(f"Bays without a height (z) are drawn dashed, {USUAL_FLOOR_MM} mm above the"
                   " ground.")  # fmt: skip
        return USUAL_FLOOR_MM

    def _note(self, words: str) -> None:
        if words not in self.notes:
            self.notes.append(words)

    # -- from above --------------------------------------------------------------------

    def _from_above(self, view: _View, over: _View, found: list[Mark], half: float) -> float:
        ink, donor = self.ink, self.project.donor
        ink.text(LEFT, 84, "From above", size=13, bold=True)
        begin, end = view.x(self.front_mm) - 10, view.x(self.rear_mm) + 10
        ink.line((begin, view.zero), (end, view.zero), weight=THIN, dash="12 3 2 3")
        tracks = self._tracks()
        known, counts = tracks_known(donor), donor.tyre_counts
        for x_mm, track, count in (
            (0, tracks[0], counts[0]), (donor.wheelbase_mm, tracks[1], counts[1]),
        ):  # fmt: skip
            x = view.x(x_mm)
            if track:
                ink.line(
                    (x, over.across(-track / 2)), (x, over.across(track / 2)), weight=PLAIN,
                    dash="" if known else "4 3",
                )  # fmt: skip
            self._tyres_above(view, over, x_mm, track, count, dashed=bool(track) and not known)
        for bay in self.project.bays:
            y_mm = -bay.width_mm / 2 if bay.y_mm is None else bay.y_mm
            if bay.y_mm is None:
                self._note("Bays without a side (y) are drawn dashed in the middle of the car.")
            self._bay(view, over, bay, y_mm, bay.width_mm, above=True)
        self._centres(view, over, above=True)
        if any(mark.y_mm is None for mark in found):
            self._note("Things without a side (y) are marked on the middle line.")
        top = view.zero - half - 14
        self._balloons(view, found, {m.label: over.across(m.y_mm or 0.0) for m in found}, top)
        bottom = view.zero + half
        return self._wheel_loads(view, bottom)

    def _tyres_above(
        self, view: _View, over: _View, x_mm: int, track_mm: int, count: int, *, dashed: bool
    ) -> None:
        radius = self.project.donor.driveline.wheel_radius_mm
        width = tyre_width_mm(self.project.donor)
        for y_mm in tyre_middles_mm(count, track_mm, width):
            self.ink.rectangle(
                view.x(x_mm - radius), over.across(y_mm + width / 2),
                2 * radius * view.scale, width * view.scale,
                weight=HEAVY, dash="4 3" if dashed else "",
            )  # fmt: skip

    def _bay(
        self, view: _View, other: _View, bay: Bay, low_mm: float, size_mm: float, *, above: bool
    ) -> None:
        """A bay with its modules, seen from above (y) or from the side (z)."""
        known = bay.y_mm is not None if above else bay.z_mm is not None
        ends = other.across(low_mm), other.across(low_mm + size_mm)
        self.ink.rectangle(
            view.x(bay.x_mm), min(ends), bay.length_mm * view.scale, abs(ends[1] - ends[0]),
            weight=PLAIN + 0.5, dash="" if known else "6 3",
        )  # fmt: skip
        whole = bay.height_mm if above else bay.width_mm
        for piece in bay_box(bay).blocked:
            # only what goes through is no room in this view
            low, high = (piece.ends[2], piece.ends[5]) if above else (piece.ends[1], piece.ends[4])
            if (low, high) == (0, whole):
                first = piece.y_mm if above else piece.z_mm
                size = piece.width_mm if above else piece.height_mm
                ends = other.across(low_mm + first), other.across(low_mm + first + size)
                self.ink.hatched(
                    view.x(bay.x_mm + piece.x_mm), min(ends),
                    piece.length_mm * view.scale, abs(ends[1] - ends[0]), step=5.0,
                )  # fmt: skip
        use: BayUse | None = next((one for one in self.plan.placement if one.bay == bay.name), None)
        seen: set[tuple[float, float, float, float]] = set()
        for stand in use.stands if use is not None else ():
            first = stand.y_mm if above else stand.z_mm
            size = stand.width_mm if above else stand.height_mm
            ends = other.across(low_mm + first), other.across(low_mm + first + size)
            box = (
                view.x(bay.x_mm + stand.x_mm), min(ends),
                stand.length_mm * view.scale, abs(ends[1] - ends[0]),
            )  # fmt: skip
            if box not in seen:
                seen.add(box)
                self.ink.rectangle(*box, weight=THIN / 2, fill="#e4e4e4")

    # -- from the side -----------------------------------------------------------------

    def _from_the_side(self, view: _View, height: _View, found: list[Mark], top: float) -> float:
        ink, donor = self.ink, self.project.donor
        ink.text(LEFT, top - 44, "From the side", size=13, bold=True)
        radius = donor.driveline.wheel_radius_mm
        ground = height.across(0)
        ends = view.x(self.front_mm) - 20, view.x(self.rear_mm) + 20
        ink.line((ends[0], ground), (ends[1], ground), weight=HEAVY)
        for bay in self.project.bays:
            self._bay(view, height, bay, self._floor(bay), bay.height_mm, above=False)
        for x_mm in (0, donor.wheelbase_mm):
            ink.circle(view.x(x_mm), height.across(radius), radius * view.scale, weight=HEAVY)
            ink.circle(view.x(x_mm), height.across(radius), 3, weight=THIN)
        self._centres(view, height, above=False)
        places = {}
        for mark in found:
            z_mm = mark.z_mm
            if z_mm is None and mark.kind == "bay":
                bay = self.project.bays[ord(mark.label[0]) - ord("A")]
                z_mm = self._floor(bay) + bay.height_mm / 2
            if z_mm is None:
                self._note("Things without a height (z) are marked on the ground line of the"
                           " side view.")  # fmt: skip
            places[mark.label] = height.across(z_mm or 0.0)
        self._balloons(view, found, places, top - 14)
        # The wheelbase, dimensioned below the ground.
        y = ground + 22
        for x_mm in (0, donor.wheelbase_mm):
            ink.line((view.x(x_mm), ground + 4), (view.x(x_mm), y + 5), weight=THIN)
        ink.line((view.x(0), y), (view.x(donor.wheelbase_mm), y), weight=THIN)
        inches = self.show.inches(donor.wheelbase_mm)
        ink.text(
            view.x(donor.wheelbase_mm / 2), y + 14, f"wheelbase {donor.wheelbase_mm} mm{inches}",
            anchor="middle",
        )  # fmt: skip
        return y + 20

    # -- marks -------------------------------------------------------------------------

    def _balloons(
        self, view: _View, found: list[Mark], places: dict[str, float], top: float
    ) -> None:
        """A row of numbers above the view, each with a line down to its mark."""
        step = 23.0
        ordered = sorted(found, key=lambda mark: (mark.x_mm, mark.label))
        xs: list[float] = []
        for mark in ordered:
            wanted = view.x(mark.x_mm)
            xs.append(max(wanted, xs[-1] + step) if xs else max(wanted, 20.0))
        over = xs[-1] - (WIDTH - 24) if xs else 0.0
        for place in range(len(xs) - 1, -1, -1):
            if over <= 0:
                break
            most = (WIDTH - 24) if place == len(xs) - 1 else xs[place + 1] - step
            xs[place] = min(xs[place], most)
        for mark, x in zip(ordered, xs, strict=True):
            target = view.x(mark.x_mm), places[mark.label]
            self._symbol(mark, *target)
            self.ink.line((x, top + 9), target, weight=THIN / 2)
            self.ink.circle(x, top, 9, weight=PLAIN, fill="#fff")
            self.ink.text(
                x, top + 3.6, mark.label, size=10, anchor="middle", bold=mark.kind == "bay",
                inside=True,
            )  # fmt: skip

    def _symbol(self, mark: Mark, x: float, y: float) -> None:
        ink = self.ink
        if mark.kind in ("part", "own"):
            ink.rectangle(x - 4, y - 4, 8, 8, weight=PLAIN, fill="#000")
        elif mark.kind == "out":
            ink.line((x - 4, y - 4), (x + 4, y + 4), weight=PLAIN)
            ink.line((x - 4, y + 4), (x + 4, y - 4), weight=PLAIN)
        elif mark.kind == "load":
            ink.path(f"M {x:.1f} {y - 5:.1f} l 5 9 h -10 z", weight=PLAIN)
        else:
            ink.dot(x, y)

    def _centres(self, view: _View, other: _View, *, above: bool) -> None:
        """Centres of gravity: open before, quartered after, quartered in a ring when laden."""
        shown = [("before", ""), ("after", ""), ("after", self.heaviest)]
        base = self._state("before", "")
        for stage, case in shown:
            state = self._state(stage, case)
            if above:
                y = other.across(state.y_mm or 0.0)
            else:
                z_mm = state.z_mm
                if z_mm is None:
                    z_mm = base.z_mm or 0.0
                    self._note("The height of the finished car's centre of gravity is not known:"
                               " it is drawn at the donor's.")  # fmt: skip
                y = other.across(z_mm)
            x = view.x(state.x_mm)
            if stage == "before":
                self.ink.circle(x, y, 8, weight=PLAIN, fill="#fff")
                self.ink.line((x - 8, y), (x + 8, y), weight=THIN)
                self.ink.line((x, y - 8), (x, y + 8), weight=THIN)
                continue
            if case:
                self.ink.circle(x, y, 11, weight=PLAIN, fill="#fff")
            self.ink.circle(x, y, 8, weight=PLAIN, fill="#fff")
            self.ink.quarters(x, y, 8)

    def _state(self, stage: str, case: str) -> LoadState:
        return next(
            one for one in self.weights.states if (one.stage, one.load_case) == (stage, case)
        )

    # -- loads -------------------------------------------------------------------------

    def _wheel_loads(self, view: _View, bottom: float) -> float:
        """Under the view from above: what each wheel carries, where that is known."""
        wheels = self._state("after", self.heaviest).wheels
        if wheels is None:
            return bottom
        for x_mm, left, right in (
            (0, wheels.front_left_kg, wheels.front_right_kg),
            (self.project.donor.wheelbase_mm, wheels.rear_left_kg, wheels.rear_right_kg),
        ):
            words = f"left {self.show.mass(left)}, right {self.show.mass(right)}"
            self.ink.text(view.x(x_mm), bottom + 14, words, anchor="middle")
        middle = view.x(self.project.donor.wheelbase_mm / 2)
        self.ink.text(middle, bottom + 14, fit(f"({self.heaviest})", 22), anchor="middle")
        return bottom + 18

    def _loads(self, top: float) -> float:
        """A block for each axle: before, after, laden, and the limit as a bar."""
        assert self.plan.mass is not None
        columns = (LEFT, LEFT + 460)
        bottom = top
        for axle, x in zip(("front", "rear"), columns, strict=True):
            worst: AxleLoad = next(
                one
                for one in self.plan.mass.axles
                if one.name == axle and one.load_case == self.heaviest
            )
            states = (
                ("donor as weighed", self._state("before", "")),
                ("finished, nobody in it", self._state("after", "")),
                (f"finished, {self.heaviest}", self._state("after", self.heaviest)),
            )
            y = top
            self.ink.text(x, y, f"{axle.capitalize()} axle", size=13, bold=True)
            for words, state in states:
                y += ROW
                load = state.front_kg if axle == "front" else state.rear_kg
                share = state.front_share if axle == "front" else 1 - state.front_share
                self.ink.text(x, y, fit(words, 28))
                self.ink.text(x + 260, y, self.show.mass(load), anchor="end")
                self.ink.text(x + 330, y, f"{100 * share:.1f} %", anchor="end")
            y += ROW + 4
            self._bar(x, y, worst)
            y += 30
            left = worst.limit_kg - worst.load_kg
            words = self._left(left)
            self.ink.text(
                x, y, f"limit {self.show.mass(worst.limit_kg)}, with margin"
                f" {self.show.mass(worst.allowed_kg)}:"
                f" {words}{' to the limit' if left >= 0 else ''}",
            )  # fmt: skip
            for change in self.weights.changes:
                if change.axle == axle and change.springs:
                    y += ROW
                    wanted = "springs and dampers" if change.dampers else "springs"
                    self.ink.text(
                        x, y, f"{100 * change.change_share:+.0f} % without people: stronger"
                        f" {wanted} usual",
                    )  # fmt: skip
            bottom = max(bottom, y)
        gross_kg = self.project.donor.gross_limit_g / 1000
        laden = self._state("after", self.heaviest).mass_kg
        left = gross_kg - laden
        words = self._left(left)
        bottom += ROW + 4
        self.ink.text(
            LEFT, bottom, f"Whole {self.project.donor.kind}, {fit(self.heaviest, 28)}:"
            f" {self.show.mass(laden)} of the gross limit {self.show.mass(gross_kg)}: {words}",
        )  # fmt: skip
        return bottom

    def _left(self, kg: float) -> str:
        return f"{self.show.room(kg)} left" if kg >= 0 else f"{self.show.mass(-kg)} TOO MUCH"

    def _tenths(self, kg: float) -> str:
        return f"{kg * self.show.scale('kg')[0]:.1f}"

    def _bar(self, x: float, y: float, axle: AxleLoad) -> None:
        """Load against limit: solid to the load, a mark at what the margin allows."""
        length = 330.0
        share = min(max(axle.load_kg / axle.limit_kg, 0.0), 1.0) if axle.limit_kg > 0 else 1.0
        self.ink.rectangle(x, y, length, 10, weight=PLAIN)
        self.ink.rectangle(x, y, length * share, 10, weight=THIN, fill="#000")
        mark = x + length * min(max(axle.allowed_kg / axle.limit_kg, 0.0), 1.0)
        self.ink.line((mark, y - 4), (mark, y + 14), weight=HEAVY)

    def _table(self, found: list[Mark], top: float) -> float:
        unit = self.show.scale("kg")[1]
        self._row(top, ("", "", "what", unit, "behind front axle", "to the right", "above ground"),
                  bold=True)  # fmt: skip
        y = top
        kinds = {"bay": "bay", "part": "new", "own": "own", "out": "out", "load": "load"}
        for mark in found:
            y += ROW
            places = (f"{mark.x_mm:.0f}", _place(mark.y_mm), _place(mark.z_mm))
            mass = f"{'-' if mark.kind == 'out' else ''}{self._tenths(mark.mass_kg)}"
            first, *others = wrap(mark.words, 46, 3)
            self._row(y, (mark.label, kinds[mark.kind], first, mass, *places))
            for words in others:
                y += ROW
                self.ink.text(LEFT + COLUMNS[2], y, words)
        y += 6
        for label, stage, case in (
            ("centre of gravity, donor: open, crossed", "before", ""),
            ("centre of gravity, finished: quartered", "after", ""),
            (f"the same, {fit(self.heaviest, 20)}: in a ring", "after", self.heaviest),
        ):
            y += ROW
            state = self._state(stage, case)
            places = (f"{state.x_mm:.0f}", _place(state.y_mm), _place(state.z_mm))
            self._row(y, ("", "", fit(label, 44), self._tenths(state.mass_kg), *places))
        return y

    def _row(self, y: float, cells: tuple[str, ...], *, bold: bool = False) -> None:
        """One row of the table: label, kind and words to the left, figures to the right."""
        for place, words in zip(COLUMNS, cells, strict=True):
            anchor: Anchor = "start" if place < FIGURES else "end"
            self.ink.text(LEFT + place, y, words, bold=bold, anchor=anchor)

    def _notes(self, top: float) -> float:
        y = top
        for words in [
            "Filled square: part that comes in; cross: comes out; triangle: people and luggage;"
            " grey: modules.",
            *self.notes,
        ]:
            y += ROW
            self.ink.text(LEFT, y, fit(clean(words), 140), size=10)
        return y


def _place(mm: float | None) -> str:
    return "not known" if mm is None else str(round(mm))
