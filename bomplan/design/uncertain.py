"""Figures of a project that may be otherwise than they stand, and the car when they are.

Every figure lies anywhere within its limits with equal chance: where nothing but limits is
known, that is the distribution to take (JCGM 100:2008, Guide to the expression of uncertainty
in measurement, 4.3.7; from memory). They are taken as independent of each other.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np
import numpy.typing as npt

from bomplan import quantities
from bomplan.catalog.records import Part
from bomplan.design.adapter import Simulator
from bomplan.design.context import Context
from bomplan.design.drive import resolve
from bomplan.design.records import Core, Couplers
from bomplan.physics import rolling_terms
from bomplan.physics.powertrain import prepare_tables
from bomplan.project.records import Donor, Project

InputName = Literal[
    "drag_area",
    "rolling_resistance",
    "driveline_loss",
    "load_12v",
    "weighing_front",
    "weighing_rear",
    "capacity",
    "resistance",
    "temperature",
]
# Key of the project = share of the figure that it may be off, by how it is known. From memory,
# common practice: a coast-down gives drag and rolling within some percent, a class does not.
BY_KNOWN: Final[Mapping[InputName, Mapping[str, float]]] = {
    "drag_area": {"guess": 0.20, "class": 0.10, "measured": 0.03},
    "rolling_resistance": {"guess": 0.30, "class": 0.20, "measured": 0.05},
    "driveline_loss": {"guess": 0.50, "class": 0.35, "measured": 0.15},
    "load_12v": {"guess": 0.50, "class": 0.30, "measured": 0.10},
}
WORDS: Final[Mapping[InputName, str]] = {
    "drag_area": "drag area",
    "rolling_resistance": "rolling resistance",
    "driveline_loss": "loss of gears and axle",
    "load_12v": "12 V load of the donor",
    "weighing_front": "reading of the front axle",
    "weighing_rear": "reading of the rear axle",
    "capacity": "capacity of the modules",
    "resistance": "inner resistance of the modules",
    "temperature": "temperature",
}
TO_KNOW: Final[Mapping[InputName, str]] = {
    "drag_area": "let the vehicle roll out from two speeds (coast-down) before it is taken apart",
    "rolling_resistance": "let it roll out slowly on a level road, tyres at pressure",
    "driveline_loss": "turn the wheels by hand with a scale on a lever; see to the oil",
    "load_12v": "clamp an ammeter on the 12 V battery lead with lamps and all else that runs on",
    "weighing_front": "weigh the front axle on a weighbridge, or more than once",
    "weighing_rear": "weigh the rear axle on a weighbridge, or more than once",
    "capacity": "discharge one module to its cut-off before paying for the rest",
    "resistance": "read one module's volts before and under a known load",
    "temperature": "ask the weather service for the coldest morning of a usual year",
}
_PATHS: Final[Mapping[InputName, str]] = {
    "drag_area": "donor.drag_area",
    "rolling_resistance": "donor.rolling_resistance",
    "driveline_loss": "donor.driveline.efficiency",
    "load_12v": "donor.load_12v",
    "weighing_front": "donor.weighing.front",
    "weighing_rear": "donor.weighing.rear",
}


# The cars that a target with a confidence is judged by: so many, always the same.
CARS: Final = 100
_CARS_SEED: Final = 1


@dataclass(frozen=True)
class UncertainInput:
    """One figure: it may be off by ``half`` either way, in ``unit`` (``""``: a share of it)."""

    name: InputName
    half: float
    unit: str
    known: str


def uncertain_inputs(project: Project) -> tuple[UncertainInput, ...]:
    """Every figure that may be off at all, in a fixed order."""
    donor, said = project.donor, project.uncertainty
    found = [
        _donor_share(project, "drag_area", said.drag_area, donor.drag_area_m2),
        _donor_share(
            project, "rolling_resistance", said.rolling_resistance, donor.rolling_resistance
        ),
        _loss(project, said.driveline_loss),
        _donor_share(project, "load_12v", said.load_12v, donor.load_12v_w),
        _reading(project, "weighing_front"),
        _reading(project, "weighing_rear"),
        UncertainInput("capacity", said.capacity, "", "class"),
        UncertainInput("resistance", said.resistance, "", "class"),
        UncertainInput("temperature", said.temperature_kelvin, "K", "class"),
    ]
    return tuple(one for one in found if one.half > 0)


def _donor_share(
    project: Project, name: InputName, said: float | None, value: float | None
) -> UncertainInput:
    """A figure of the donor, as a share of itself: its own spread, the section's, or by class."""
    note = project.provenance.get(_PATHS[name])
    known = note.known if note is not None else "class"
    if project.donor.coast_down is not None and name in ("drag_area", "rolling_resistance"):
        known = "measured"
    half = BY_KNOWN[name][known] if said is None else said
    if note is not None and note.spread is not None and value:
        half = _spread(note.spread, name, value)
    return UncertainInput(name, half, "", known)


def _loss(project: Project, said: float | None) -> UncertainInput:
    """The driveline's loss; a spread of the efficiency is one of what it loses."""
    note = project.provenance.get(_PATHS["driveline_loss"])
    known = note.known if note is not None else "class"
    half = BY_KNOWN["driveline_loss"][known] if said is None else said
    efficiency = project.donor.driveline.efficiency
    if note is not None and note.spread is not None and efficiency < 1:
        points = float(quantities.parse(note.spread, "fraction"))
        half = min(0.9, points / (1 - efficiency))
    return UncertainInput("driveline_loss", half, "", known)


def _reading(project: Project, name: InputName) -> UncertainInput:
    """An axle's reading, in grams."""
    note = project.provenance.get(_PATHS[name])
    half = float(project.donor.weighing.spread_g)
    weighing = project.donor.weighing
    value = weighing.front_g if name == "weighing_front" else weighing.rear_g
    if note is not None and note.spread is not None:
        half = _spread(note.spread, name, value) * value
    return UncertainInput(name, half, "g", note.known if note is not None else "measured")


def _spread(text: str, name: InputName, value: float) -> float:
    """A spread as written, as a share of the figure."""
    if "%" in text:
        return float(quantities.parse(text, "fraction"))
    kinds = {"drag_area": "area", "rolling_resistance": "number", "load_12v": "power"}
    kind = kinds.get(name, "mass")
    return float(quantities.parse(text, kind)) * (1000 if kind == "mass" else 1) / value


Values = Mapping[InputName, float]


def project_with(project: Project, values: Values) -> Project:
    """The project when its figures are off by ``values`` (in each input's unit)."""
    changes: dict[str, Any] = {"donor": _donor_with(project.donor, values)}
    kelvin = values.get("temperature", 0.0)
    if kelvin:
        changes["conditions"] = tuple(
            one.model_copy(update={"temperature_c": one.temperature_c + kelvin})
            for one in project.conditions
        )
    return project.model_copy(update=changes)


def _donor_with(donor: Donor, values: Values) -> Donor:
    drag = 1 + values.get("drag_area", 0.0)
    rolling = 1 + values.get("rolling_resistance", 0.0)
    weighing, line = donor.weighing, donor.driveline
    changes: dict[str, Any] = {
        "load_12v_w": donor.load_12v_w * (1 + values.get("load_12v", 0.0)),
        "driveline": line.model_copy(
            update={
                "efficiency": 1 - (1 - line.efficiency) * (1 + values.get("driveline_loss", 0.0))
            }
        ),
    }
    front, rear = (round(values.get(name, 0.0)) for name in ("weighing_front", "weighing_rear"))
    if front or rear:
        moved: dict[str, Any] = {
            "front_g": weighing.front_g + front,
            "rear_g": weighing.rear_g + rear,
        }
        # Corner readings of an axle are off by the same share as the axle's.
        for name in ("front_left_g", "front_right_g", "rear_left_g", "rear_right_g"):
            corner = getattr(weighing, name)
            change, whole = (
                (front, weighing.front_g) if name.startswith("front") else (rear, weighing.rear_g)
            )
            if corner is not None and whole:
                moved[name] = round(corner * (whole + change) / whole)
        changes["weighing"] = weighing.model_copy(update=moved)
    if donor.coast_down is not None:
        rolled = donor.coast_down
        changes["coast_down"] = rolled.model_copy(
            update={
                "a_n": rolled.a_n * rolling,
                "b_n_s_m": rolled.b_n_s_m * rolling,
                "c_n_s2_m2": rolled.c_n_s2_m2 * drag,
            }
        )
    elif donor.tyre_pressure_bar is not None:
        still, growth = rolling_terms(donor.tyre_pressure_bar)
        changes |= {
            "tyre_pressure_bar": None,
            "rolling_resistance": still * rolling,
            "rolling_resistance_speed": growth * rolling,
        }
    elif donor.rolling_resistance is not None:
        changes["rolling_resistance"] = donor.rolling_resistance * rolling
        changes["rolling_resistance_speed"] = donor.rolling_resistance_speed * rolling
    if donor.drag_area_m2 is not None:
        changes["drag_area_m2"] = donor.drag_area_m2 * drag
    return donor.model_copy(update=changes)


def car_with(context: Context, core: Core, values: Values) -> Simulator:
    """The core on the donor, both with figures off by ``values``.

    Roads and machines are shared with ``context``: no figure here changes one.
    """
    catalog = context.catalog
    capacity, resistance = values.get("capacity", 0.0), values.get("resistance", 0.0)
    if capacity or resistance:
        module = _module_with(catalog.family("module")[core.module], capacity, resistance)
        modules = {**catalog.families["module"], core.module: module}
        families = {**catalog.families, "module": modules}
        catalog = catalog.model_copy(update={"families": families})
    there = Context(project_with(context.project, values), catalog)
    there.share(context)
    return Simulator(there, resolve(there, core))


def _module_with(module: Part, capacity: float, resistance: float) -> Part:
    figures = dict(module.figures)
    for column, change in (
        ("capacity_ah", capacity),
        ("capacity_1h_ah", capacity),
        ("resistance_dc_mohm", resistance),
        ("resistance_ac_mohm", resistance),
    ):
        value = figures.get(column)
        if isinstance(value, int | float) and not isinstance(value, bool):
            figures[column] = value * (1 + change)
    return module.model_copy(update={"figures": figures})


def more_12v_w(project: Project, values: Values) -> int:
    """Watts that the donor's own 12 V load is above what the project says."""
    return round(project.donor.load_12v_w * values.get("load_12v", 0.0))


def couplers_with(couplers: Couplers, more_w: int) -> Couplers:
    """The plan's couplers where the donor's 12 V load is ``more_w`` watts higher."""
    return couplers.model_copy(update={"mean_12v_w": max(0, couplers.mean_12v_w + more_w)})


def latin_hypercube(
    inputs: Sequence[UncertainInput], draws: int, seed: int
) -> npt.NDArray[np.float64]:
    """Draws by inputs, each column evenly spread between minus and plus its half width."""
    from scipy.stats import qmc

    if not inputs:
        return np.zeros((draws, 0))
    points = qmc.LatinHypercube(len(inputs), rng=np.random.default_rng(seed)).random(draws)
    halves = np.array([one.half for one in inputs])
    return np.asarray((2.0 * points - 1.0) * halves, dtype=np.float64)


def other_cars(car: Simulator) -> tuple[tuple[Simulator, int], ...]:
    """The same core in ``CARS`` fixed draws of the uncertain figures, and its 12 V load in watts.

    The load is what the donor's own draws more than the project says. Made once per car.
    """
    if car.others is None:
        project = car.context.project
        inputs = uncertain_inputs(project)
        found = []
        for row in latin_hypercube(inputs, CARS, _CARS_SEED):
            off = {one.name: float(value) for one, value in zip(inputs, row, strict=True)}
            other = car_with(car.context, car.drive.core, off)
            found.append((other, more_12v_w(project, off)))
        for target in project.targets.range:
            if target.confidence is not None:
                prepare_tables(other.profile_table(target) for other, _ in found)
        car.others = tuple(found)
    return car.others
