"""Project and catalogue taken together: everything that no choice changes.

The donor as it stands stripped, the load cases, what each axle may carry after margins,
the bays, the prices, and the named profiles and conditions that targets refer to.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from copy import copy
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Any, TypeVar, cast

from bomplan.buying.envelope import Envelope
from bomplan.buying.prices import PriceBook, Wishes
from bomplan.catalog.records import Catalog, CurvePoint, Part, TemperaturePoint
from bomplan.design.roads import road
from bomplan.design.tyres import tyres_of
from bomplan.packing import (
    BayBox,
    Block,
    Layout,
    ModuleBox,
    Orientation,
    at_most,
    blocked_around,
    free_spans,
    layout,
    stowed,
)
from bomplan.physics import EnvelopeMotor, Profile, SeriesMotor, cap, load_profile
from bomplan.project.chassis import BayPiece, Floor, MassAt
from bomplan.project.records import Bay, Condition, LoadCase, Project
from bomplan.weighing import (
    CornerSums,
    Mass,
    Moments,
    PlacedMass,
    Tyre,
    allowed_axle_g,
    allowed_gross_g,
    base_from_weighing,
    corner_sums,
    moments,
    sums_of_readings,
)

Row = TypeVar("Row")


@dataclass(frozen=True)
class Load:
    """People and luggage of one load case: total mass and moment about the front axle."""

    name: str
    mass_g: int
    moment_gmm: int
    sums: CornerSums | None = None


@dataclass(frozen=True)
class Limits:
    """What may be carried after margins, in grams, laden."""

    gross_g: int
    front_g: int
    rear_g: int


def price_book(project: Project, catalog: Catalog, *, rounded_each: bool = False) -> PriceBook:
    """The catalogue's prices for this project; ``rounded_each`` as older versions counted."""
    buying = project.buying
    return PriceBook(
        catalog,
        project.currency,
        dict(project.rates),
        project.choices.suppliers,
        Wishes(
            buying.excluded,
            buying.deadline_days,
            dict(buying.supplier_of),
            project.as_of,
            rounded_each,
            frozenset(part for part, pieces in project.choices.owned.items() if pieces > 0),
        ),
    )


class Context:
    """A project against a catalogue. Cheap to build; profiles and layouts are made on demand.

    ``unknown_families``: those that did not exist when an older plan was made; nothing of them
    is needed, so that the rest of that plan can still be counted.
    """

    def __init__(
        self,
        project: Project,
        catalog: Catalog,
        *,
        rounded_each: bool = False,
        unknown_families: frozenset[str] = frozenset(),
    ) -> None:
        self.project = project
        self.unknown_families = unknown_families
        self.catalog = catalog
        self.prices = price_book(project, catalog, rounded_each=rounded_each)
        self.envelope = Envelope(self.prices, project.buying.split)
        self._profiles: dict[tuple[str, float | None], Profile] = {}
        self._layouts: dict[tuple[int, str], Layout] = {}
        # Metres that range targets must come to beyond what the project asks, by name.
        self.farther_m: dict[str, int] = {}
        # Answers about single cores that several rooms ask for, by what they are about.
        self.remembered: dict[tuple[str, object], object] = {}
        # Ranges that were driven, by car and couplers; shared by searches of like projects.
        self.driven: dict[Any, Any] = {}
        # Packs held against laps; kept only where searches share them.
        self.laps: dict[Any, Any] | None = None
        # By motor, controller and the pack's nominal voltage: all that a machine reads.
        self.machines: dict[tuple[str, str, float], SeriesMotor | EnvelopeMotor] = {}

    def going(self, target: str, metres: int) -> Context:
        """The same, with at least so many metres asked of one range target."""
        other = copy(self)
        other.farther_m = {target: metres}
        return other

    def without_budget(self) -> Context:
        """The same, whatever a plan costs."""
        other = copy(self)
        targets = self.project.targets.model_copy(update={"budget": None})
        other.project = self.project.model_copy(update={"targets": targets})
        return other

    def choosing(self, **changed: object) -> Context:
        """The same with other locks on motor, controller or pack, or more parts excluded.

        What is remembered of single cores is shared: it hangs on none of these.
        """
        other = copy(self)
        choices = self.project.choices.model_copy(update=changed)
        other.project = self.project.model_copy(update={"choices": choices})
        return other

    # -- the donor ---------------------------------------------------------------------

    @cached_property
    def base(self) -> Moments:
        """The stripped donor: as weighed, less fuel and people, less what comes out.

        Fuel or people without a place are taken off at the donor's centre of gravity.
        """
        donor = self.project.donor
        weighing = donor.weighing
        centre = round(
            Fraction(weighing.rear_g * donor.wheelbase_mm, weighing.front_g + weighing.rear_g)
        )
        in_it = [
            Mass(name, mass_g, centre if x_mm is None else x_mm)
            for name, mass_g, x_mm in (
                ("fuel", weighing.fuel_g, weighing.fuel_x_mm),
                ("people", weighing.people_g, weighing.people_x_mm),
            )
        ]
        removed = [Mass(item.name, item.mass_g, item.x_mm) for item in donor.removed]
        added = [Mass(item.name, item.mass_g, item.x_mm) for item in donor.added]
        stripped = base_from_weighing(
            weighing.front_g, weighing.rear_g, donor.wheelbase_mm, in_it, removed
        )
        return stripped.plus(moments(added))

    @property
    def tracks_mm(self) -> tuple[int, int] | None:
        """Front and rear track; None unless both are known."""
        donor = self.project.donor
        if donor.track_front_mm is None or donor.track_rear_mm is None:
            return None
        return donor.track_front_mm, donor.track_rear_mm

    @cached_property
    def base_corners(self) -> CornerSums | None:
        """What decides the corner loads of the stripped donor; None without corner readings.

        Everything taken off or added counts at its place; in the middle where it has no ``y``.
        """
        donor, tracks = self.project.donor, self.tracks_mm
        weighing = donor.weighing
        readings = weighing.corners_g
        if readings is None or tracks is None:
            return None
        sums = sums_of_readings(readings, donor.wheelbase_mm, *tracks)
        centre = round(
            Fraction(weighing.rear_g * donor.wheelbase_mm, weighing.front_g + weighing.rear_g)
        )
        in_it = [
            PlacedMass(name, mass_g, centre if x_mm is None else x_mm, y_mm or 0)
            for name, mass_g, x_mm, y_mm in (
                ("fuel", weighing.fuel_g, weighing.fuel_x_mm, weighing.fuel_y_mm),
                ("people", weighing.people_g, weighing.people_x_mm, weighing.people_y_mm),
            )
        ]
        sums = sums.minus(corner_sums([*in_it, *_placed(donor.removed)]))
        return sums.plus(corner_sums(_placed(donor.added)))

    @cached_property
    def tyres(self) -> tuple[Tyre | None, Tyre | None]:
        """Tyres of the front and the rear axle. Raises InputError; see :func:`tyres_of`."""
        return tyres_of(self.project)

    @property
    def tyre_counts(self) -> tuple[int, int]:
        """Tyres on the front and on the rear axle."""
        return self.project.donor.tyre_counts

    @cached_property
    def loads(self) -> tuple[Load, ...]:
        return tuple(_load(case) for case in self.project.load_cases)

    def load(self, name: str) -> Load:
        """The load case of this name; KeyError if the project has none."""
        for load in self.loads:
            if load.name == name:
                return load
        raise KeyError(name)

    @property
    def wheelbase_mm(self) -> int:
        return self.project.donor.wheelbase_mm

    @cached_property
    def limits(self) -> Limits:
        """Plate limits less the margins that the project keeps (or the weighing's spread)."""
        donor, margins = self.project.donor, self.project.margins

        def axle(limit_g: int) -> int:
            return allowed_axle_g(limit_g, margins.axle, margins.axle_g, self._spread_g)

        return Limits(
            allowed_gross_g(donor.gross_limit_g, margins.gross),
            axle(donor.front_axle_limit_g),
            axle(donor.rear_axle_limit_g),
        )

    @property
    def _spread_g(self) -> int:
        """A weighing's spread counts unless the project asks for no margin at all."""
        margins = self.project.margins
        if margins.axle == 0 and margins.axle_g == 0:
            return 0
        return self.project.donor.weighing.spread_g

    @cached_property
    def reference_mass_g(self) -> int:
        """The mass at which conductors are sized: the most that plate and axles allow."""
        donor = self.project.donor
        return min(donor.gross_limit_g, donor.front_axle_limit_g + donor.rear_axle_limit_g)

    # -- bays --------------------------------------------------------------------------

    @property
    def bays(self) -> tuple[Bay, ...]:
        return self.project.bays

    def bay_centre_mm(self, index: int) -> int:
        bay = self.bays[index]
        return bay.x_mm + bay.length_mm // 2

    def floors(self) -> tuple[tuple[Floor, tuple[int, ...]], ...]:
        """Every floor with the indices of the bays that stand on it."""
        return tuple(
            (
                floor,
                tuple(n for n, bay in enumerate(self.bays) if bay.floor == floor.name),
            )
            for floor in self.project.floors
        )

    def rows_at_most(self, index: int, module: Part, parallel: int) -> int:
        """No more series places than this can stand in the bay: a proven bound, cheaply."""
        return at_most(bay_box(self.bays[index]), module_box(module)) // parallel

    def layout(self, index: int, module: Part) -> Layout:
        """Where the modules of this kind stand when the bay is as full as we can make it.

        Against the front wall, or wherever the bay says that they are to be stowed.
        """
        key = (index, module.id)
        found = self._layouts.get(key)
        if found is None:
            bay, box = bay_box(self.bays[index]), module_box(module)
            found = layout(bay, box)
            where = self.bays[index].stow
            if where is not None:
                found = stowed(found, bay, box, where)
            self._layouts[key] = found
        return found

    # -- names that targets use --------------------------------------------------------

    def condition(self, name: str) -> Condition:
        for condition in self.project.conditions:
            if condition.name == name:
                return condition
        raise KeyError(name)

    def profile(self, name: str, speed_cap_m_s: float | None = None) -> Profile:
        """The speed trace that a target names: a schedule, a steady speed or a route."""
        key = (name, speed_cap_m_s)
        found = self._profiles.get(key)
        if found is None:
            route = self.project.routes.get(name)
            if route is not None:
                found = road(name, route, speed_cap_m_s)
            else:
                found = load_profile(name)
                found = found if speed_cap_m_s is None else cap(found, speed_cap_m_s)
            self._profiles[key] = found
        return found

    @cached_property
    def highest_speed_m_s(self) -> float:
        """The highest road speed that any target asks for."""
        targets = self.project.targets
        speeds = [
            float(self.profile(one.profile, one.speed_cap_m_s).speed_m_s.max())
            for one in targets.range
        ]
        speeds += [one.speed_m_s for one in targets.top_speed]
        speeds += [one.speed_m_s for one in targets.climb]
        speeds += [one.speed_m_s for one in targets.acceleration]
        return max(speeds)

    def share(self, other: Context) -> None:
        """Make use of the roads and machines that ``other`` has worked out.

        Both must name the same roads, and have the same motors, controllers and pairs.
        """
        self._profiles = other._profiles
        self.machines = other.machines

    # -- tables behind a name ----------------------------------------------------------

    @cached_property
    def _curves(self) -> dict[str, tuple[CurvePoint, ...]]:
        return _by_name(self.catalog.curves, lambda row: row.curve, lambda row: row.state_of_charge)

    @cached_property
    def _temperatures(self) -> dict[str, tuple[TemperaturePoint, ...]]:
        return _by_name(
            self.catalog.temperatures, lambda row: row.chemistry, lambda row: row.temperature_c
        )

    def curve(self, name: str) -> tuple[CurvePoint, ...]:
        return self._curves[name]

    def temperature_factors(self, chemistry: str) -> tuple[TemperaturePoint, ...]:
        return self._temperatures[chemistry]


def module_box(module: Part) -> ModuleBox:
    """A catalogue module as the packing room sees it."""
    return ModuleBox(
        length_mm=module.length_mm or 0,
        width_mm=module.width_mm or 0,
        height_mm=module.height_mm or 0,
        orientation=cast(Orientation, module.text("orientation") or "upright"),
        gap_mm=int(module.number_or("gap_mm", 0)),
        terminal_clearance_mm=int(module.number_or("terminal_clearance_mm", 0)),
        end_plate_mm=int(module.number_or("end_plate_mm", 0)),
    )


def bay_box(bay: Bay) -> BayBox:
    """A bay as the packing room sees it, with everything of its outer box that is no room."""
    sides = (bay.length_mm, bay.width_mm, bay.height_mm)
    blocked = pieces_of(bay, bay.blocked)
    if bay.boxes:
        blocked = (*blocked_around(sides, pieces_of(bay, bay.boxes)), *blocked)
    return BayBox(*sides, blocked=blocked)


def room_mm3(bay: Bay) -> int:
    """The bay's room, without what is no room of it; its box's walls are not taken off."""
    return sum(
        (x1 - x0) * (y1 - y0) * (z1 - z0) for x0, y0, z0, x1, y1, z1 in free_spans(bay_box(bay))
    )


def pieces_of(bay: Bay, pieces: Iterable[BayPiece]) -> tuple[Block, ...]:
    """Pieces as far as they lie in the bay; a side that is left out reaches the far wall."""
    found = []
    for one in pieces:
        corner = (one.x_mm, one.y_mm, one.z_mm)
        ends = [
            whole if size is None else min(whole, low + size)
            for low, size, whole in zip(
                corner,
                (one.length_mm, one.width_mm, one.height_mm),
                (bay.length_mm, bay.width_mm, bay.height_mm),
                strict=True,
            )
        ]
        if all(low < high for low, high in zip(corner, ends, strict=True)):
            sides = [high - low for low, high in zip(corner, ends, strict=True)]
            found.append(Block(*corner, sides[0], sides[1], sides[2]))
    return tuple(found)


def _load(case: LoadCase) -> Load:
    total = moments(Mass(item.name, item.mass_g, item.x_mm) for item in case.items)
    return Load(case.name, total.mass_g, total.moment_gmm, corner_sums(_placed(case.items)))


def _placed(items: Iterable[MassAt]) -> list[PlacedMass]:
    """Masses with their places, in the middle of the car where no side is known."""
    return [PlacedMass(item.name, item.mass_g, item.x_mm, item.y_mm or 0) for item in items]


def _by_name(
    rows: Iterable[Row], name: Callable[[Row], str], order: Callable[[Row], float]
) -> dict[str, tuple[Row, ...]]:
    groups: dict[str, list[Row]] = {}
    for row in rows:
        groups.setdefault(name(row), []).append(row)
    return {key: tuple(sorted(group, key=order)) for key, group in groups.items()}
