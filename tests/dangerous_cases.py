"""Projects that would hurt somebody: one sound list of parts, and one thing wrong in each.

Every case names the check that must fail and words of the caution that must be told first.
The sound list is that of a light car with 28 lithium cells in one bay; catalogues hold its own
parts only, so that a planner asked for the same car has nothing better to choose.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from oracle.small_cases import generic

from bomplan.audit.typed_list import TypedPart
from bomplan.catalog.records import Catalog
from bomplan.design.records import Core
from bomplan.project.records import Project

BAY = {"length_mm": 900, "width_mm": 1_100, "height_mm": 330}
FIELDS: dict[str, Any] = {
    "format": 1,
    "name": "dangerous car",
    "as_of": "2026-11-01",
    "currency": "EUR",
    "donor": {
        "kind": "car",
        "wheelbase_mm": 2_050,
        "gross_limit_g": 1_300_000,
        "front_axle_limit_g": 900_000,
        "rear_axle_limit_g": 900_000,
        "drag_area_m2": 0.7,
        "rolling_resistance": 0.012,
        "load_12v_w": 180.0,
        "brake_booster": False,
        "weighing": {"front_g": 330_000, "rear_g": 240_000, "fuel_g": 15_000, "fuel_x_mm": 1_900},
        "driveline": {
            "mounts": ["gearbox"],
            "driven": "rear",
            "gear_ratios": [3.4, 2.0, 1.3],
            "final_ratios": [4.3],
            "shift_speeds_m_s": [6.0, 11.0],
            "wheel_radius_mm": 265,
        },
        "removed": [{"name": "engine", "mass_g": 95_000, "x_mm": 50}],
    },
    "bays": [
        {"name": "bonnet", "x_mm": -420, "cable_run_mm": 700, **BAY},
        {"name": "boot", "x_mm": 1_500, "cable_run_mm": 2_600, **BAY},
    ],
    "places": {
        "motor_x_mm": 120,
        "controller_x_mm": -200,
        "charger_x_mm": 1_700,
        "other_x_mm": 0,
    },
    "load_cases": [
        {"name": "two", "items": [{"name": "people", "mass_g": 150_000, "x_mm": 1_150}]}
    ],
    "conditions": [
        {"name": "mild", "temperature_c": 20.0},
        {"name": "cold", "temperature_c": -5.0, "aged": True},
    ],
    "targets": {
        "range": [
            {
                "name": "round",
                "distance_m": 8_000,
                "profile": "constant 50 km/h",
                "condition": "mild",
                "load_case": "two",
            }
        ],
        "pack_voltage_min_v": 64.0,
        "pack_voltage_max_v": 130.0,
    },
    "charging": {"hours": 16.0},
}
SOUND = {
    "motor": ("motor-pm-96v-38kw-air", 1),
    "controller": ("inverter-96v-500a", 1),
    "module": ("lfp-cell-100", 28),
    "adapter_plate": ("adapter-face-4x150-made", 1),
    "coupler": ("coupler-spline-24-direct", 1),
    "throttle": ("throttle-pedal-dual", 1),
    "cable": ("cable-25mm2-105c", 6),
    "lug": ("lug-25mm2-m8", 18),
    "conduit": ("conduit-orange-16mm", 4),
    "fuse": ("fuse-125v-125a", 1),
    "fuse_holder": ("fuse-holder-bolt-80-s", 1),
    "contactor": ("contactor-120v-200a", 2),
    "service_disconnect": ("service-disconnect-125v-175a", 1),
    "emergency_disconnect": ("emergency-disconnect-150v-300a", 1),
    "precharge_resistor": ("precharge-resistor-10ohm-120j", 1),
    "precharge_relay": ("precharge-relay-200v-10a", 1),
    "discharge_resistor": ("discharge-resistor-22k-10w", 1),
    "shunt": ("shunt-300a", 1),
    "branch_fuse": ("branch-fuse-150v-20a", 2),
    "branch_fuse_holder": ("branch-fuse-holder-150v", 2),
    "branch_cable": ("branch-cable-4mm2-105c", 13),
    "monitor": ("monitor-lithium-16", 2),
    "charger": ("charger-96v-1500w", 1),
    "charge_inlet": ("charge-inlet-230v-16a", 1),
    "dcdc": ("dcdc-72v-300w", 1),
    "battery_12v": ("battery-12v-20ah", 1),
    "branch_lug": ("branch-lug-4mm2-m5", 12),
    "branch_gland": ("branch-gland-m12", 4),
    "fuse_box_12v": ("fuse-box-12v-4", 1),
    "wire_12v": ("wire-12v-2-5mm2-105c", 16),
    "feed_fuse": ("feed-fuse-strip-40a", 2),
    "feed_wire": ("feed-wire-10mm2-105c", 6),
    "feed_lug": ("feed-lug-10mm2-m8", 10),
    "box": ("box-vented-60kg", 1),
    "hold_down": ("hold-down-steel", 59),
    "link": ("link-bar-200a", 27),
    "gland": ("gland-m20", 6),
    "fasteners": ("fasteners-car", 1),
    "junction_box": ("junction-box-small", 1),
    "inertia_switch": ("inertia-switch-basic", 1),
    "gauge": ("gauge-state-of-charge", 1),
    "labels": ("labels-car", 1),
    "consumables": ("consumables-car", 1),
    "safety_kit": ("safety-kit-basic", 1),
}


@dataclass
class Car:
    """A project, its list and its catalogue's figures, to be spoilt."""

    fields: dict[str, Any]
    parts: dict[str, tuple[str, int]]
    figures: dict[str, dict[str, Any]] = field(default_factory=dict)
    placement: dict[str, int] = field(default_factory=dict)

    def project(self, **choices: Any) -> Project:
        return Project.model_validate(self.fields | {"choices": choices})

    def catalog(self) -> Catalog:
        """The list's own rows and no others, with the figures that were changed."""
        shipped = generic()
        families = {}
        for family, (part_id, _) in self.parts.items():
            part = shipped.families[family][part_id]
            changed = {**part.figures, **self.figures.get(family, {})}
            families[family] = {part_id: part.model_copy(update={"figures": changed})}
        # A cable's lug is sold with every hole.
        own = families["lug"][self.parts["lug"][0]]
        families["lug"] |= {
            row.id: row
            for row in shipped.families["lug"].values()
            if row.number("area_mm2") == own.number("area_mm2") and row.id != own.id
        }
        return shipped.model_copy(update={"families": families})

    def typed(self) -> dict[str, TypedPart]:
        return {
            family: TypedPart(family, part, "", quantity)
            for family, (part, quantity) in self.parts.items()
        }


# The core of the car with nothing wrong.
CORE = Core(
    motor="motor-pm-96v-38kw-air",
    controller="inverter-96v-500a",
    final_ratio=4.3,
    module="lfp-cell-100",
    series=28,
    parallel=1,
    topology="groups",
)


def sound() -> Car:
    """The car with nothing wrong."""
    fields = {**FIELDS, "bays": [dict(bay) for bay in FIELDS["bays"]]}
    return Car(fields, dict(SOUND), placement={"bonnet": 28})


@dataclass(frozen=True)
class Danger:
    """What is wrong, the check that must fail and what must be told first.

    ``planned`` is the check by which a planner refuses where it has another name; ``choices``
    what the builder insists on.
    """

    name: str
    check: str
    caution: str
    spoil: Callable[[Car], None]
    planned: str = ""
    choices: dict[str, Any] = field(default_factory=dict)


def _blocks(car: Car) -> None:
    car.parts["module"] = ("lfp-block-12-8v-100", 7)
    car.placement = {"bonnet": 7}


def _weak(car: Car) -> None:
    """Cells with two and a half times the resistance, as tired ones have."""
    car.figures["module"] = {"resistance_dc_mohm": 2.5}


def _one_board(car: Car) -> None:
    """28 channels would do for 28 cells, were there no disconnect in their middle."""
    car.parts["monitor"] = ("monitor-lithium-16", 1)
    car.figures["monitor"] = {"channels": 28, "banks_max": 1, "temperature_channels": 4}


def _magnets(car: Car) -> None:
    car.figures["motor"] = {"emf_v_per_krpm": 25.0}


def _no_breaking(car: Car) -> None:
    car.figures["fuse"] = {"breaking_ka": 2.0}


def _gas(car: Car) -> None:
    car.figures["module"] = {"gassing_a_per_100ah": 1.0}
    car.parts["vent_fan"] = ("vent-fan-25m3h", 1)
    for bay in car.fields["bays"]:
        bay["inside_cabin"] = True


def _charger(car: Car) -> None:
    car.figures["charger"] = {"v_out_min": 110.0, "v_out_max": 180.0}


def _crush(car: Car) -> None:
    car.fields["country"] = "un-r100-m1-n1"
    car.fields["donor"] = {
        **car.fields["donor"],
        "front_overhang_mm": 700,
        "rear_overhang_mm": 600,
    }
    for bay, x_mm in zip(car.fields["bays"], (-420, 1_600), strict=True):
        bay["x_mm"] = x_mm


def _precharge(car: Car) -> None:
    car.figures["precharge_resistor"] = {"pulse_j": 20.0}


def _stays_charged(car: Car) -> None:
    car.figures["discharge_resistor"] = {"ohm": 470_000.0}


def _cold(car: Car) -> None:
    """A board whose output the charger does not take: nothing stops it in the frost."""
    car.figures["monitor"] = {"charge_stop": "signal"}
    car.figures["charger"] = {"stop_input": False}


def _no_sensor(car: Car) -> None:
    car.figures["monitor"] = {"temperature_channels": 0}


LAMPS = {
    "name": "lamps and blower", "power_w": 150.0, "peak_w": 150.0, "day": 0.2, "night": 1.0,
    "rain": 1.0, "winter": 1.0, "reserve": 1.0, "title": "lamps, blower", "source": "the project",
}  # fmt: skip


def _with_loads(car: Car) -> None:
    car.fields["donor"] = {**car.fields["donor"], "load_12v_w": 60.0, "loads_12v": [dict(LAMPS)]}


def _small_converter(car: Car) -> None:
    """It carries the mean by day and sags on a winter's night: four fifths of 12 A at 13.8 V."""
    _with_loads(car)
    car.figures["dcdc"] = {"output_a": 12.0}


def _dark(car: Car) -> None:
    """A motorcycle's battery under a car's lamps."""
    _with_loads(car)
    car.figures["battery_12v"] = {"capacity_ah": 7.0}


def _hard_pedal(car: Car) -> None:
    car.fields["donor"] = {**car.fields["donor"], "brake_booster": True}
    car.parts["vacuum_set"] = ("vacuum-set-diaphragm", 1)
    car.figures["vacuum_set"] = {"reservoir_l": 0.1}


def _missed_gear(car: Car) -> None:
    """Third gear at 90 km/h, and second by mistake turns the motor at 7,750 rpm."""
    car.fields["house_rules"] = {"missed_downshift": "forbid"}
    road = {"name": "road", "speed_m_s": 25.0, "hold_s": 20.0, "condition": "mild"}
    car.fields["targets"] = {**car.fields["targets"], "top_speed": [{**road, "load_case": "two"}]}
    car.figures["motor"] = {"burst_speed_rpm": 7_000.0, "max_speed_rpm": 5_500.0}


DANGERS = (
    Danger(
        "a converter that sags on a winter's night",
        "dcdc.loads",
        "lamps dim, and contactors drop out while driving",
        _small_converter,
    ),
    Danger(
        "a 12 V battery that goes dark with its converter",
        "battery12.reserve",
        "a car that goes dark at night",
        _dark,
    ),
    Danger(
        "a vacuum reservoir that holds no third press",
        "vacuum.presses",
        "leaves a pedal as hard as stone",
        _hard_pedal,
    ),
    Danger(
        "a gear that is taken by mistake and bursts the motor",
        "motor.missed-downshift",
        "a rotor that is turned too fast bursts or loses its magnets",
        _missed_gear,
        choices={"motor": "motor-pm-96v-38kw-air", "controller": "inverter-96v-500a"},
    ),
    Danger(
        "a charger that nothing stops in the cold",
        "charging.cold-stop",
        "lithium cells that are charged below freezing plate and may burn weeks later",
        _cold,
    ),
    Danger(
        "cells whose temperature nobody reads",
        "monitor.temperatures",
        "a cell that is hot or frozen where nobody measures is charged all the same",
        _no_sensor,
    ),
    Danger(
        "a controller whose capacitors stay charged",
        "discharge.time",
        "capacitors that stay charged can kill long after the key is off",
        _stays_charged,
    ),
    Danger(
        "blocks with built-in protection, seven in series",
        "module.max-series",
        "built-in protection switches break at one block's voltage",
        _blocks,
        choices={"module": "lfp-block-12-8v-100", "series": 7},
    ),
    Danger(
        "a weak cold pack that cannot blow its fuse",
        "fuse.least-fault",
        "a weak cold pack behind a big fuse burns instead of blowing it",
        _weak,
    ),
    Danger(
        "a monitoring board across the service disconnect",
        "list.quantity.monitor",
        "a board across a fuse, a disconnect or two boxes",
        _one_board,
        planned="monitor.boards",
    ),
    Danger(
        "magnets whose voltage at top speed the inverter does not stand",
        "motor.emf-over-speed",
        "opening the contactor at speed would destroy the inverter",
        _magnets,
        choices={"motor": "motor-pm-96v-38kw-air", "controller": "inverter-96v-500a"},
    ),
    Danger(
        "a fuse without the breaking capacity",
        "fuse.breaking",
        "a fuse that cannot break the fault explodes or arcs on",
        _no_breaking,
    ),
    Danger(
        "cells that gas inside the cabin",
        "bay.gas.bonnet",
        "hydrogen in the cabin: one spark is enough",
        _gas,
    ),
    Danger(
        "a charger for a higher pack",
        "charger.over-voltage",
        "a charger for a higher pack drives every cell over its voltage",
        _charger,
    ),
    Danger(
        "a bay in the crush zone at the front",
        "crush.bonnet.front",
        "cells in the crush zone are hit first in a crash",
        _crush,
    ),
    Danger(
        "a pre-charge resistor that is too small",
        "precharge.pulse",
        "a pre-charge resistor that is too small burns open",
        _precharge,
    ),
)
