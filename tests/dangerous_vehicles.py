"""The nine dangers that must be named, on any sound vehicle: spoilt by its own figures.

``Car.parts`` of a shipped example are the lines of its plan; whatever is spoilt is scaled from
that vehicle's rows, so that a motorcycle of 80 V and a van of 330 V are hurt alike.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from dangerous_cases import Car
from oracle.small_cases import generic

from bomplan.catalog.records import Catalog, Part
from bomplan.design.planfile import catalog_of
from bomplan.design.records import Plan

BLOCK = "lfp-block-12-8v-100"


@dataclass
class Example(Car):
    """The list of a plan, with the rows that the plan embeds; ``ratio`` where it has no gearbox."""

    rows: Catalog | None = None
    ratio: float | None = None
    parallel: int | None = None
    topology: str | None = None
    battery_a: float | None = None

    def catalog(self) -> Catalog:
        assert self.rows is not None
        shipped = generic()
        families = {}
        for family, (part_id, _) in self.parts.items():
            part = self.rows.family(family).get(part_id) or shipped.family(family)[part_id]
            changed = {**part.figures, **self.figures.get(family, {})}
            families[family] = {part_id: part.model_copy(update={"figures": changed})}
        # Lugs with other holes are sold beside the bill's own row.
        families["lug"] = {**self.rows.family("lug"), **families["lug"]}
        return shipped.model_copy(update={"families": families, "pairs": self.rows.pairs})


def of_plan(plan: Plan) -> Example:
    """What the builder of this plan would type, with nothing wrong."""
    assert plan.core is not None
    rows = catalog_of(plan)
    lines = {
        line.family: (line.part, line.quantity)
        for line in plan.lines
        if line.family in rows.families and line.part in rows.family(line.family)
    }
    fields = dict(plan.project_used)
    fields["bays"] = [dict(bay) for bay in fields["bays"]]
    fields["donor"] = dict(fields["donor"])
    fields["buying"] = {}
    return Example(
        fields,
        lines,
        placement={use.bay: use.series for use in plan.placement if use.series},
        rows=rows,
        ratio=plan.core.final_ratio,
        parallel=plan.core.parallel,
        topology=plan.core.topology,
        battery_a=plan.core.battery_a,
    )


def row(car: Car, family: str) -> Part:
    (found,) = car.catalog().family(family).values()
    return found


def charge_v(car: Car) -> float:
    module = row(car, "module")
    cells = sum(car.placement.values()) * module.number("cells_series")
    return cells * module.number("cell_v_charge")


def first_bay(car: Car) -> dict[str, Any]:
    name = next(iter(car.placement))
    found: dict[str, Any] = next(bay for bay in car.fields["bays"] if bay["name"] == name)
    return found


@dataclass(frozen=True)
class Named:
    """A danger, the check that names it, its caution, and on which vehicles it can be."""

    name: str
    id: str
    caution: str
    spoil: Callable[[Car], None]
    can_be: Callable[[Car], bool] = bool

    def check(self, car: Car) -> str:
        """The check's id with the bay that the first modules stand in."""
        return self.id.format(bay=first_bay(car)["name"])


def _blocks(car: Car) -> None:
    """Drop-in blocks with protection of their own, as many as give this pack's voltage."""
    count = max(5, round(charge_v(car) / 14.6))
    if isinstance(car, Example):
        car.parallel = 1
    first_bay(car).update(length_mm=1_400, width_mm=1_400, height_mm=400)
    car.parts["module"] = (BLOCK, count)
    car.placement = {first_bay(car)["name"]: count}
    for family in ("link_cable", "link_lug"):  # blocks lie where the bars do not reach
        if family in car.parts:
            part, quantity = car.parts[family]
            car.parts[family] = part, quantity + 100


def _weak(car: Car) -> None:
    own = row(car, "module").number("resistance_dc_mohm")
    car.figures["module"] = {"resistance_dc_mohm": 6 * own}


def _one_board(car: Car) -> None:
    """One board with a channel for every cell, were there no fuse, box or disconnect between."""
    cells = sum(car.placement.values()) * int(row(car, "module").number("cells_series"))
    channels = cells * (car.parallel or 1 if isinstance(car, Example) else 1)
    car.parts["monitor"] = (car.parts["monitor"][0], 1)
    car.figures["monitor"] = {
        "channels": min(channels, 200), "banks_max": 1, "temperature_channels": -(-channels // 8),
    }  # fmt: skip


def _magnets(car: Car) -> None:
    fastest = row(car, "motor").number("max_speed_rpm")
    most = row(car, "controller").number("v_max_abs")
    car.figures["motor"] = {"emf_v_per_krpm": 1.5 * most / fastest * 1000}


def _no_breaking(car: Car) -> None:
    car.figures["fuse"] = {"breaking_ka": 0.5}


def _gas(car: Car) -> None:
    car.figures["module"] = {"gassing_a_per_100ah": 1.0}
    car.parts["vent_fan"] = ("vent-fan-60m3h", len(car.placement))
    for bay in car.fields["bays"]:
        bay["inside_cabin"] = True
        bay["vented"] = False


def _charger(car: Car) -> None:
    volts = charge_v(car)
    car.figures["charger"] = {"v_out_min": 1.1 * volts, "v_out_max": 1.8 * volts}


def _crush(car: Car) -> None:
    """The car ends 200 mm ahead of the foremost cell."""
    car.fields["country"] = "un-r100-m1-n1"
    front = -first_bay(car)["x_mm"] + 200
    car.fields["donor"] = {**car.fields["donor"], "front_overhang_mm": max(front, 1)}


def _precharge(car: Car) -> None:
    car.figures["precharge_resistor"] = {"pulse_j": 0.5}


NAMED = (
    Named(
        "blocks with built-in protection strung too long",
        "module.max-series",
        "built-in protection switches break at one block's voltage",
        _blocks,
    ),
    Named(
        "a weak cold pack that cannot blow its fuse",
        "fuse.least-fault",
        "a weak cold pack behind a big fuse burns instead of blowing it",
        _weak,
    ),
    Named(
        "a monitoring board across a disconnect",
        "list.quantity.monitor",
        "a board across a fuse, a disconnect or two boxes",
        _one_board,
    ),
    Named(
        "magnets whose voltage at top speed the inverter does not stand",
        "motor.emf-over-speed",
        "opening the contactor at speed would destroy the inverter",
        _magnets,
        lambda car: row(car, "motor").text("kind") == "permanent_magnet",
    ),
    Named(
        "a fuse without breaking capacity",
        "fuse.breaking",
        "a fuse that cannot break the fault explodes or arcs on",
        _no_breaking,
    ),
    Named(
        "cells that gas inside the cabin",
        "bay.gas.{bay}",
        "hydrogen in the cabin: one spark is enough",
        _gas,
    ),
    Named(
        "a charger over the pack's voltage",
        "charger.over-voltage",
        "a charger for a higher pack drives every cell over its voltage",
        _charger,
    ),
    Named(
        "a bay in the crush zone",
        "crush.{bay}.front",
        "cells in the crush zone are hit first in a crash",
        _crush,
        lambda car: car.fields["donor"]["kind"] == "car" and first_bay(car)["x_mm"] < 0,
    ),
    Named(
        "an undersized pre-charge",
        "precharge.pulse",
        "a pre-charge resistor that is too small burns open",
        _precharge,
        lambda car: "precharge_resistor" in car.parts,
    ),
)
