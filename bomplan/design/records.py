"""The records of a plan: what was chosen, where it stands, what it costs, weighs and does.

Masses are integer grams and positions integer millimetres; money is an integer number of
smallest units of the plan's currency. The plan file shows masses in kilograms: grams over
a thousand, exact to the gram.
"""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field

from bomplan.design.driving import Driving
from bomplan.design.line_records import Standing
from bomplan.design.money_records import BuyingOrder, WholeSum
from bomplan.design.purchase_records import Invoice, Purchase, Spare
from bomplan.design.record import Record
from bomplan.design.series_records import ModuleLink, Section
from bomplan.design.supply_records import Supply12V
from bomplan.design.weight_records import Weights
from bomplan.source import SourceKind

Topology = Literal["groups", "strings"]
Status = Literal["optimal", "feasible", "none", "unknown"]


class Core(Record):
    """What the drive is made of; everything else follows from it or is fitted to it.

    ``battery_a`` is what the controller is set to take from the pack at most.
    """

    motor: str
    controller: str
    final_ratio: float
    module: str
    series: int = Field(ge=1)
    parallel: int = Field(ge=1)
    topology: Topology
    battery_a: int | None = Field(None, ge=1)

    @property
    def modules(self) -> int:
        return self.series * self.parallel

    def sort_key(self) -> tuple[str, str, float, str, int, int, str, int]:
        return (
            self.motor,
            self.controller,
            self.final_ratio,
            self.module,
            self.series,
            self.parallel,
            self.topology,
            self.battery_a or 0,
        )


class Stand(Record):
    """Where one module stands: its corner nearest to the front, left and floor, in the bay.

    ``place`` counts series places through the whole pack from its positive end, ``beside``
    the modules in parallel there (or the strings); 0 in plans older than the series order.
    """

    x_mm: int
    y_mm: int
    z_mm: int
    length_mm: int
    width_mm: int
    height_mm: int
    layer: int
    terminals: Literal["up", "x", "y"] = "up"
    place: int = 0
    beside: int = 0
    plus: Literal["", "x-", "x+", "y-", "y+", "z-", "z+"] = ""


class BayUse(Record):
    """The modules in one bay: ``series`` consecutive places of the pack, all parallels of each."""

    bay: str
    modules: int
    series: int
    stands: tuple[Stand, ...] = ()
    links: tuple[ModuleLink, ...] = ()
    sections: tuple[Section, ...] = ()
    disconnects: tuple[int, ...] = ()
    places_apart: int = 0


class Line(Record):
    """One line of the bill. ``quantity`` is fitted, ``bought`` is paid for.

    price = bought x unit_price, and where there are several purchases the sum of theirs, with
    ``supplier`` and ``unit_price`` those of the first; mass = quantity x unit mass; the moment
    is about the front axle. Spares (bought and not fitted) weigh nothing here; parts at hand
    cost nothing and weigh what they weigh. Of the ``quantity`` so many are ``to_spare`` as no
    place takes them (bars where a cable joins instead): weighed with the others, but nobody fits
    them. The lateral moments (m y, m x y) are 0 where no side is known.
    """

    family: str
    part: str
    description: str
    quantity: int
    unit: str = "piece"
    to_spare: int = 0
    bought: int
    owned: int = 0
    supplier: str = ""
    unit_price: int
    price: int
    unit_mass_kg: float
    mass_kg: float
    moment_gmm: int = 0
    moment_y_gmm: int = 0
    moment_xy_gmm2: int = 0
    system: str
    hours: float = 0.0
    why: str
    purchases: tuple[Purchase, ...] = ()
    standing: Standing | None = None

    @property
    def in_place(self) -> int:
        """Pieces that are fitted where they belong: none of those to spare."""
        return self.quantity - self.to_spare


class AxleLoad(Record):
    name: str
    load_case: str
    load_kg: float
    limit_kg: float
    allowed_kg: float


class LoadCaseMass(Record):
    name: str
    laden_kg: float
    front_kg: float
    rear_kg: float


class Mass(Record):
    """``laden_kg`` and ``axles`` are those of the heaviest load case."""

    base_kg: float
    added_kg: float
    kerb_kg: float
    laden_kg: float
    axles: tuple[AxleLoad, ...]
    load_cases: tuple[LoadCaseMass, ...]
    weights: Weights | None = None


class Check(Record):
    """One requirement against one figure. ``sense`` says on which side of the limit it must lie.

    ``source_kind`` says how far the source was looked at; empty in plans made before that was
    kept.
    """

    id: str
    words: str
    value: float
    limit: float
    unit: str
    sense: Literal["at most", "at least"]
    passed: bool
    source: str
    source_kind: SourceKind | Literal[""] = ""
    caution: str = ""

    @property
    def margin(self) -> float:
        """Distance to the limit, positive on the good side."""
        return self.limit - self.value if self.sense == "at most" else self.value - self.limit


class RangeResult(Record):
    """What one range target came to."""

    target: str
    profile: str
    condition: str
    load_case: str
    range_km: float
    wanted_km: float
    energy_wh_per_km: float
    wheel_wh_per_km: float
    wall_wh_per_km: float
    usable_kwh: float
    min_voltage_v: float
    peak_battery_a: float
    end_cause: str


class DayCharge(Record):
    """What goes back in after the distance between two charges, no farther than it gets."""

    target: str
    km: float
    hours: float
    wall_kwh: float


class Performance(Record):
    """``range_km`` and ``energy_wh_per_km`` are those of the worst range target."""

    range_km: float
    energy_wh_per_km: float
    top_speed_kmh: float
    top_speed_cause: str
    gradeability: float
    nominal_v: float
    charge_v: float
    capacity_ah: float
    nominal_kwh: float
    usable_kwh: float
    design_rms_a: float
    design_peak_a: float
    charge_hours: float
    ranges: tuple[RangeResult, ...]
    charge_wall_kwh: float | None = None
    day: DayCharge | None = None


class Couplers(Record):
    """The only figures of the bill that the simulation reads, besides the core."""

    added_g: int
    external_uohm: int
    mean_12v_w: int


class Reached(Record):
    """What a plan comes to by a goal other than the least cost, in whole units."""

    aim: str
    unit: Literal["g", "m", "money"]
    figure: int | None
    bound: int | None


class Objective(Record):
    minimise: str
    value: int | None
    bound: int | None
    goal: Reached | None = None


class SearchCounts(Record):
    """How the choice was made: cores screened, given to the solver, simulated, cut off."""

    screened: int
    solved: int
    simulated: int
    cut: int
    rejected: dict[str, int] = Field({})
    certified: bool = False


class Plan(Record):
    """A plan as it is saved. Status ``none`` and ``unknown`` carry no core and no lines."""

    format: Literal["bomplan-plan"] = "bomplan-plan"
    version: int = 1
    status: Status
    objective: Objective
    currency: str
    project: str
    as_of: str
    core: Core | None = None
    placement: tuple[BayUse, ...] = ()
    lines: tuple[Line, ...] = ()
    invoices: tuple[Invoice, ...] = ()
    spares: tuple[Spare, ...] = ()
    mass: Mass | None = None
    couplers: Couplers | None = None
    performance: Performance | None = None
    driving: Driving | None = None
    supply_12v: Supply12V | None = None
    whole_sum: WholeSum | None = None
    buying_order: BuyingOrder | None = None
    checks: tuple[Check, ...] = ()
    reasons: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    search: SearchCounts
    inputs: dict[str, str]
    parts_used: dict[str, Any] = Field({})
    project_used: dict[str, Any] = Field({})
