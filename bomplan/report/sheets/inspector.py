"""The inspector's folder: what was planned and is to be measured, for whoever judges the car."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from bomplan.design.bill.brakes import presses
from bomplan.design.circuit_records import Block
from bomplan.design.weight_records import LoadState
from bomplan.design.weights import DRIVER_G, RUNNING_ORDER
from bomplan.report.drawings.circuit import draw
from bomplan.report.drawings.circuit_key import key_rows
from bomplan.report.drawings.rescue import rescue_svg
from bomplan.report.sheets.building import BONDING_RULE, isolation_rule
from bomplan.report.sheets.rows import MEASURE, Making, Step
from bomplan.report.supply_words import load_words, notes, sums
from bomplan.report.text import clean
from bomplan.report.weight_words import state, weight_sentences
from bomplan.requirements.cautions import at_rescue
from bomplan.sizing import restraint
from bomplan.sizing.isolation import CLASS_A_DC_V
from bomplan.sizing.vacuum import (
    VACUUM_LEAST_KPA,
    VACUUM_LOST_KPA,
    VACUUM_ON_KPA,
    VACUUM_WARNING_KPA,
)
from bomplan.sizing.ventilation import CHARGE_LIMIT_G

CHEMISTRIES: Final = {
    "flooded": "lead-acid, wet cells",
    "agm": "lead-acid, sealed, acid in glass mat",
    "gel": "lead-acid, sealed, acid as a gel",
    "lfp": "lithium, iron phosphate",
    "nmc": "lithium, nickel manganese cobalt",
    "lto": "lithium, titanate",
    "sodium": "sodium-ion",
}
NO_FIGURE: Final = "no figure"
_NOBODY: Final = "nobody in it"


@dataclass(frozen=True)
class Weighed:
    """One axle (or the whole) in one state: planned before and after, its limit; blank unknown."""

    state: str
    axle: str
    before: str
    after: str
    limit: str


@dataclass(frozen=True)
class TyreRow:
    """The tyres of one axle, and what they carry together at most."""

    axle: str
    written: str
    pieces: int
    carries: str


@dataclass(frozen=True)
class Held:
    """What holds one box: forces at the guideline accelerations, bolts of each size."""

    bay: str
    mass: str
    forces: tuple[str, str, str, str]
    bolts: tuple[str, ...]


@dataclass(frozen=True)
class SupplyRow:
    """One load of the 12 V side: while it is on, its worst mean, with the converter failed."""

    words: str
    on: str
    worst: str
    failed: str
    source: str


@dataclass(frozen=True)
class Folder:
    """All that the folder shows; drawings are SVG text made by us."""

    facts: tuple[tuple[str, str], ...]
    weighed: tuple[Weighed, ...]
    wheels: tuple[tuple[str, str], ...]
    tyres: tuple[TyreRow, ...]
    weight_notes: tuple[str, ...]
    accelerations: tuple[str, str, str, str]
    restraint_source: str
    held: tuple[Held, ...]
    crush: tuple[Step, ...]
    circuit: str
    key: tuple[tuple[str, str, str], ...]
    supply: tuple[SupplyRow, ...]
    supply_notes: tuple[str, ...]
    isolation: tuple[Step, ...]
    ventilation: tuple[str, ...]
    ventilated: tuple[Step, ...]
    brakes: tuple[str, ...]
    braked: tuple[Step, ...]
    photographs: tuple[str, ...]
    rescue: tuple[tuple[str, str], ...]
    switches: tuple[tuple[str, str], ...]
    live: tuple[str, ...]
    from_above: str


def folder(make: Making) -> Folder:
    """The folder of a plan."""
    source = make.figures.held_at
    return Folder(
        facts=tuple(_facts(make)),
        weighed=tuple(_weighed(make)),
        wheels=tuple(_wheels(make)),
        tyres=tuple(_tyres(make)),
        weight_notes=tuple(_weight_notes(make)),
        accelerations=tuple(
            make.figure(value, "g") if value else NO_FIGURE
            for value in (source.forward_g, source.side_g, source.rearward_g, source.up_g)
        ),  # type: ignore[arg-type]
        restraint_source=make.show.words(source.source),
        held=tuple(_held(make)),
        crush=_crush(make),
        circuit=draw(make.figures.found, make.plan.project, key=False),
        key=tuple(
            (tags, make.name(part), make.name(words))
            for tags, part, words in key_rows(make.figures.found)
        ),
        supply=tuple(_supply(make)),
        supply_notes=tuple(_supply_notes(make)),
        isolation=tuple(_isolation(make)),
        ventilation=tuple(_ventilation(make)),
        ventilated=tuple(_ventilated(make)),
        brakes=tuple(_brakes(make)),
        braked=_braked(make),
        photographs=tuple(_photographs(make)),
        rescue=tuple(_rescue(make)),
        switches=tuple(_switches(make)),
        live=at_rescue(make.figures.drive),
        from_above=rescue_svg(make.figures.project, make.figures.bays, _disconnect(make)),
    )


def _facts(make: Making) -> Iterator[tuple[str, str]]:
    figures, drive = make.figures, make.figures.drive
    pack, core = drive.figures, drive.core
    yield "Vehicle", clean(figures.project.donor.description, 200) or figures.project.donor.kind
    yield "Motor", _described(make, "motor", core.motor)
    yield "Controller", _described(make, "controller", core.controller)
    yield (
        "Pack",
        f"{core.series} in series, {core.parallel} side by side of {make.name(core.module)};"
        f" {CHEMISTRIES.get(drive.module.text('chemistry'), drive.module.text('chemistry'))}",
    )
    yield (
        "Voltage",
        f"{make.figure(pack.nominal_v, 'V')} nominal, {make.figure(pack.charge_v, 'V')} at most;"
        f" class {figures.isolation.voltage_class} (ISO 6469-3, UN R100; from memory)",
    )
    yield "Energy", make.figure(pack.nominal_wh / 1000, "kWh")
    if make.plan.performance is not None:
        yield "Speed, as planned", make.show.speed(make.plan.performance.top_speed_kmh)
        yield "Greatest current of the pack", make.figure(make.plan.performance.design_peak_a, "A")


def _described(make: Making, family: str, part: str) -> str:
    line = next((one for one in make.plan.lines if (one.family, one.part) == (family, part)), None)
    return clean(part if line is None else line.description, 200)


# -- weights ---------------------------------------------------------------------------


def _weighed(make: Making) -> Iterator[Weighed]:
    mass = make.plan.mass
    if mass is None:
        return
    donor = make.figures.project.donor
    limits = {
        "front": donor.front_axle_limit_g / 1000,
        "rear": donor.rear_axle_limit_g / 1000,
        "together": donor.gross_limit_g / 1000,
    }
    weights = mass.weights
    cases = ["", *(one.name for one in mass.load_cases)]
    for case in cases:
        before = None if weights is None else state(weights, "before", case)
        after: dict[str, float] = {}
        if weights is not None and (found := state(weights, "after", case)) is not None:
            after = _axles(found)
        elif weights is None and case:
            old = next(one for one in mass.load_cases if one.name == case)
            after = {"front": old.front_kg, "rear": old.rear_kg, "together": old.laden_kg}
        for axle, limit in limits.items():
            yield Weighed(
                state=make.name(case) or _NOBODY,
                axle=axle,
                before="" if before is None else make.figure(_axles(before)[axle], "kg"),
                after=make.figure(after[axle], "kg") if after else "",
                limit=make.figure(limit, "kg"),
            )


def _axles(one: LoadState) -> dict[str, float]:
    return {"front": one.front_kg, "rear": one.rear_kg, "together": one.mass_kg}


def _wheels(make: Making) -> Iterator[tuple[str, str]]:
    weights = None if make.plan.mass is None else make.plan.mass.weights
    found = None if weights is None else state(weights, "after")
    if found is None or found.wheels is None:
        return
    for key, value in found.wheels.model_dump().items():
        yield str(key).removesuffix("_kg").replace("_", " "), make.figure(value, "kg")


def _tyres(make: Making) -> Iterator[TyreRow]:
    project = make.figures.project
    written = {"front": project.donor.tyres.front, "rear": project.donor.tyres.rear}
    counts = dict(zip(written, project.donor.tyre_counts, strict=True))
    for axle, designation in written.items():
        limits = [check.limit for check in make.plan.checks if check.id.startswith(f"tyre.{axle}.")]
        yield TyreRow(
            axle=axle,
            written="" if designation is None else make.name(designation),
            pieces=counts[axle],
            carries=make.figure(max(limits), "kg") if limits else "",
        )


def _weight_notes(make: Making) -> Iterator[str]:
    weights = None if make.plan.mass is None else make.plan.mass.weights
    if weights is None:
        return
    order, spread = (
        make.figure(value, "kg") for value in (weights.running_order_kg, weights.spread_kg)
    )
    driver = make.figure(DRIVER_G / 1000, "kg")
    yield f"In running order, a driver of {driver} aboard: {order}, {RUNNING_ORDER}."
    yield f"One reading of an axle of the donor may be off by {spread}."
    for words, mind in weight_sentences(weights, make.show):
        if mind:
            yield words[:1].upper() + words[1:] + "."


# -- restraint -------------------------------------------------------------------------


def _held(make: Making) -> Iterator[Held]:
    for one in make.figures.restraints:
        forces = (one.forward_n, one.side_n, one.rearward_n, one.up_n)
        yield Held(
            bay=make.name(one.bay) + (" (modules alone)" if one.modules_only else ""),
            mass=make.figure(one.mass_kg, "kg"),
            forces=tuple(
                make.figure(force / 1000, "kN") if force else NO_FIGURE for force in forces
            ),  # type: ignore[arg-type]
            bolts=tuple(
                f"{count} × M{size}, {make.figure(torque, 'N m')}"
                for size, count, torque in one.bolts
            ),
        )


def _crush(make: Making) -> tuple[Step, ...]:
    if make.vehicle == "motorcycle":
        return ()
    rule = "UN R100.02, mounting in place of the crush test"
    return (
        Step(
            "From the front edge of the car to the foremost cell",
            make.at_least(restraint.CRUSH_FRONT_MM, "mm"),
            rule,
        ),
        Step(
            "From the rearmost cell to the rear edge of the car",
            make.at_least(restraint.CRUSH_REAR_MM, "mm"),
            rule,
        ),
    )


# -- what is measured ------------------------------------------------------------------


def _isolation(make: Making) -> Iterator[Step]:
    figures = make.figures
    wanted, rule = make.at_least(figures.isolation.wanted_kohm, "kΩ"), isolation_rule(make)
    for words in ("pack side, plus to chassis", "pack side, minus to chassis"):
        yield Step(f"Isolation, {words} (two readings, as above)", wanted, rule)
    yield Step(
        "Isolation, controller side, contactors open, no volts on it: by ohmmeter", wanted, rule
    )
    for block in _metal(make):
        yield Step(
            f"Bonding, {block} to chassis",
            make.at_most(figures.isolation.bonding_ohm, "Ω"),
            BONDING_RULE,
        )
    if figures.touchable:
        return
    yield Step(
        f"Key off: seconds until the controller's side is below {make.figure(CLASS_A_DC_V, 'V')}",
        MEASURE if figures.discharge is None else make.at_most(figures.discharge.seconds, "s"),
        "" if figures.discharge is None else figures.discharge.source,
    )


def _metal(make: Making) -> Iterator[str]:
    """Everything whose cover a hand may touch."""
    for box in make.figures.found.boxes:
        yield f"box {make.name(box.bay)}"
    for kind in ("chopper", "inverter", "series motor", "three-phase motor", "charger",
                 "converter", "cabin heater"):  # fmt: skip
        for block in make.figures.found.blocks.values():
            if kind in (block.kind, block.words):
                yield f"{block.tag} {block.words}"


def _supply(make: Making) -> Iterator[SupplyRow]:
    told = make.plan.supply_12v
    for load in () if told is None else told.loads:
        yield SupplyRow(
            make.show.words(load_words(load)),
            make.figure(load.power_w, "W"),
            make.figure(load.worst_w, "W"),
            make.figure(load.power_w * load.reserve, "W") if load.reserve else "",
            make.show.words(clean(load.source, 120)),
        )


def _supply_notes(make: Making) -> Iterator[str]:
    told = make.plan.supply_12v
    if told is None:
        return
    yield from map(make.show.words, notes(told))
    told_sums = "; ".join(f"{words} {make.figure(watts, 'W')}" for words, watts in sums(told))
    yield f"{told_sums[:1].upper()}{told_sums[1:]}."
    if told.reserve_minutes is not None:
        yield (
            f"With the converter failed the battery of {make.figure(told.battery_ah, 'Ah')} feeds"
            f" {make.figure(told.reserve_a, 'A')} for {make.figure(told.reserve_minutes, 'min')}"
            f" from half its capacity at {make.figure(told.coldest_c, '°C')}."
        )


def _ventilation(make: Making) -> Iterator[str]:
    gas = make.figures.gas
    if gas is None:
        yield "The cells give off no gas in normal use; no air flow is asked for."
        for bay in make.figures.bays:
            if bay.inside_cabin:
                yield (
                    f"Box {make.name(bay.name)} stands inside the cabin: sealed against it, with a"
                    " way out for smoke to the outside (common practice)."
                )
        return
    yield (
        f"On charge the cells give off hydrogen: {make.at_least(gas.wanted_m3_h, 'm³/h')} of air"
        " keep it below 4 % with a safety of five (IEC 62485-3)."
    )
    yield (
        f"At the gassing current of {make.figure(gas.current_a, 'A')} that is"
        f" {make.figure(gas.hydrogen_l_h, 'l/h')}, {make.figure(gas.hydrogen_g_h, 'g/h')} of"
        f" hydrogen; a vehicle with open cells may give {make.figure(CHARGE_LIMIT_G, 'g')} in a"
        " charge of five hours, measured (UN working paper EVS-05-19e)."
    )
    if gas.fan_m3_h is not None:
        yield f"Each box has a fan of {make.figure(gas.fan_m3_h, 'm³/h')}, vented to the outside."
    yield (
        f"Openings for natural draught would be {make.figure(gas.opening_cm2, 'cm²')} in and as"
        " much out (EN 50272-3)."
    )


def _ventilated(make: Making) -> Iterator[Step]:
    if make.figures.gas is None:
        return
    for bay in make.figures.bays:
        inside = ", inside the cabin: sealed against it" if bay.inside_cabin else ""
        yield Step(
            f"Box {make.name(bay.name)}{inside}: air comes out of the vent outside", tick=True
        )
    yield Step("The charger does not start with the fan unplugged", tick=True)


def _brakes(make: Making) -> Iterator[str]:
    mass, donor = make.plan.mass, make.figures.project.donor
    if mass is not None:
        weights = mass.weights
        before = None if weights is None else state(weights, "before")
        was = "" if before is None else f", before {make.figure(before.mass_kg, 'kg')}"
        yield (
            f"Empty mass {make.figure(mass.kerb_kg, 'kg')}{was}; the donor's gross limit of"
            f" {make.figure(donor.gross_limit_g / 1000, 'kg')} is kept."
        )
        for motion in () if weights is None else weights.motion:
            if motion.acceleration_m_s2 < 0:
                yield (
                    f"{make.show.words(make.name(motion.words)).capitalize()},"
                    f" {make.name(motion.load_case)}: front {make.figure(motion.front_kg, 'kg')},"
                    f" rear {make.figure(motion.rear_kg, 'kg')} (computed)."
                )
    yield "The plan changes nothing at the brakes themselves; write down whatever was changed."
    if make.has("vacuum_set"):
        yield (
            "The booster gets its vacuum from an electric pump with a reservoir; a lamp warns"
            f" below {make.figure(VACUUM_WARNING_KPA, 'kPa')} (common practice)."
        )
        left = _presses(make)
        if left is not None:
            yield (
                f"With the pump off {left} full presses are left before help is lost at"
                f" {make.figure(VACUUM_LOST_KPA, 'kPa')}, counted from"
                f" {make.figure(VACUUM_ON_KPA, 'kPa')} (computed)."
            )
    elif donor.brake_booster:
        yield "The booster has lost the engine's vacuum: show what feeds it now."
    yield (
        "The motor brakes as well; the friction brakes alone must still stop it, for a full pack"
        " takes nothing back."
        if make.figures.regenerates
        else "The motor does not brake."
    )


def _presses(make: Making) -> int | None:
    """Presses that are left without the pump; None where its reservoir is not known."""
    part = make.figures.parts.get("vacuum_set")
    if part is None or not part.has("reservoir_l"):
        return None
    return presses(make.figures.project.donor, part.number("reservoir_l"))


def _braked(make: Making) -> tuple[Step, ...]:
    steps = []
    if make.has("vacuum_set"):
        steps += [
            Step(
                "Vacuum before the test, below air",
                make.at_least(VACUUM_LEAST_KPA, "kPa"),
                "for the booster's full help",
            ),
            Step(
                "Full presses with the pump off before help is lost",
                make.at_least(make.figures.project.house_rules.brake_presses, "presses"),
                "common practice",
            ),
        ]
    if make.vehicle == "car":
        steps.append(Step("Handbrake: holds on a slope of", MEASURE))
    steps.append(Step("Stopping distance, laden, and from which speed", MEASURE))
    return tuple(steps)


def _photographs(make: Making) -> Iterator[str]:
    yield "The vehicle from four sides, and its plate with the limits"
    yield "Scale readings before and after, with the vehicle on the scales"
    for box in make.figures.found.boxes:
        bay = make.name(box.bay)
        yield f"Box {bay}: open, every joint to be seen; closed; bolts and plates from below"
    yield "Every fuse with its print to be read, every contactor's plate"
    yield "Cables where they pass through metal, and their clips; orange cover; distance to brakes"
    if make.figures.found.of("driver disconnect"):
        yield "The driver's disconnect, from the seat, with a hand on it"
    yield "Service disconnect, inertia switch, labels on every cover"
    yield "Meter on the isolation reading, and on a bonding reading"
    yield "Charge inlet, charger's plate and how it is fixed"
    yield "Motor's mount" + (
        " and adapter plate, coupler before it is closed" if make.has("adapter_plate") else ""
    )
    if make.has("vacuum_set"):
        yield "Vacuum pump, reservoir, warning lamp lit"
    if make.figures.gas is not None:
        yield "Fans, hoses, and where the vent ends outside"
    if make.figures.project.donor.kind == "motorcycle":
        yield "Chain guard, stand, and clearance of steering from lock to lock"


# -- the card for rescuers -------------------------------------------------------------


def _rescue(make: Making) -> Iterator[tuple[str, str]]:
    pack, core = make.figures.drive.figures, make.figures.drive.core
    chemistry = make.figures.drive.module.text("chemistry")
    module_kg = core.modules * make.figures.drive.module.mass_g / 1000
    yield "Battery", CHEMISTRIES.get(chemistry, chemistry)
    yield (
        "Volts",
        f"{make.figure(pack.charge_v, 'V')} direct; class {make.figures.isolation.voltage_class}",
    )
    yield (
        "Energy, mass of cells",
        f"{make.figure(pack.nominal_wh / 1000, 'kWh')}, {make.figure(module_kg, 'kg')}",
    )
    yield "Boxes", str(len(make.figures.found.boxes))


def _switches(make: Making) -> Iterator[tuple[str, str]]:
    """What takes the volts off, and words for where it is, to be written in."""
    found = make.figures.found
    yield "1. Key off, and take it away", ""
    number = 2
    for kind, words in (("driver disconnect", "Driver's disconnect"),
                        ("disconnect", "Service disconnect")):  # fmt: skip
        tags = _tags(found.of(kind))
        if tags:
            yield f"{number}. {words} ({tags})", ""
            number += 1
    contactors = _tags(found.of("contactor"))
    if contactors:
        yield f"{number}. Cut the loop: a 12 V wire to the contactors ({contactors}); they open", ""
        number += 1
    yield f"{number}. 12 V battery, minus off", ""


def _tags(blocks: tuple[Block, ...]) -> str:
    return ", ".join(block.tag for block in blocks)


def _disconnect(make: Making) -> tuple[int, int] | None:
    """Where the driver's disconnect is, if the builder gave its own place and side."""
    place = make.figures.project.places.own("emergency_disconnect")
    return None if place is None or place.y_mm is None else (place.x_mm, place.y_mm)
