"""The driver's card: what the gauges should read, when to stop, on one page."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from bomplan.design.context import Context
from bomplan.design.driving import SteadySpeed
from bomplan.design.held_gears import best_gears
from bomplan.design.planfile import catalog_of
from bomplan.report.reading import ranges_worst_first
from bomplan.report.sheets.in_use import emergency, start_up
from bomplan.report.sheets.rows import NO_BREAK, Making
from bomplan.report.text import clean
from bomplan.requirements.cliffs import hangs_at_a_hill
from bomplan.requirements.overspeed import never_above, what_then
from bomplan.sizing.isolation import CLASS_A_DC_V

# The hill of the steady table, rise over run.
HILL = 0.05
TOO_MUCH = "too fast"
# Beside a motor current that it does not bear for an hour.
MARK = " *"
# The card has one page; the shortest ranges are what a driver must know.
MOST_RANGES = 5


@dataclass(frozen=True)
class Held:
    """One speed held, on the flat and on the hill; a blank cell was not worked out."""

    speed: str
    flat_gear: str
    flat_pack: str
    flat_motor: str
    hill_gear: str
    hill_pack: str
    hill_motor: str


@dataclass(frozen=True)
class Volts:
    """Pack volts in one state of charge."""

    state: str
    rest: str
    pull: str
    amps: str


@dataclass(frozen=True)
class Card:
    """All that the card shows. ``motor`` and ``gears`` tell which columns stand."""

    made_for: str
    hour: str
    gears: bool
    motor: bool
    held: tuple[Held, ...]
    gear_tops: tuple[str, ...]
    top_rpm: str
    missed: str
    hill: str
    volts: tuple[Volts, ...]
    far: tuple[tuple[str, str], ...]
    stop: tuple[str, ...]
    never: tuple[str, ...]
    start: tuple[str, ...]
    lost: tuple[str, ...]


def card(make: Making) -> Card:
    """The card of a plan; without a driving record its tables are empty, to be written in."""
    driving, figures = make.plan.driving, make.figures
    several = len(figures.gears) > 1
    return Card(
        made_for=""
        if driving is None
        else f"{clean(driving.condition, 40)}; {clean(driving.load_case, 40)}; pack full",
        hour=_hour(make),
        gears=several,
        motor=figures.series_motor,
        held=tuple(_held(make)),
        gear_tops=tuple(
            f"gear {gear.number}: {make.show.speed(gear.most_kmh)}" for gear in figures.gears
        )
        if several
        else (),
        top_rpm=make.figure(figures.drive.motor.number("max_speed_rpm"), "rpm"),
        missed=_missed(make),
        hill=make.figure(100 * HILL, "%"),
        volts=tuple(
            Volts(
                state=one.state,
                rest=_volts(make, one.rest_v),
                pull=_volts(make, one.pull_v),
                amps=_amperes(make, one.pull_a),
            )
            for one in (() if driving is None else driving.voltages)
        ),
        far=tuple(
            (
                clean(f"{one.target} ({one.condition})", 80)
                + (
                    ": less, if it falls short at a hill"
                    if hangs_at_a_hill(make.plan.cautions, one.target)
                    else ""
                ),
                "without end" if one.end_cause == "endless" else make.show.distance(one.range_km),
            )
            for one in ranges_worst_first(make.plan)[:MOST_RANGES]
        ),
        stop=tuple(_stop(make)),
        never=tuple(_never(make)),
        start=start_up(make),
        lost=tuple(_lost(make)),
    )


def _held(make: Making) -> Iterator[Held]:
    driving = make.plan.driving
    flat = {row.speed_kmh: row for row in best_gears(driving, 0.0)}
    hill = {row.speed_kmh: row for row in best_gears(driving, HILL)}
    for speed in sorted({*flat, *hill}):
        low, high = flat.get(speed), hill.get(speed)
        yield Held(make.figure(speed, "km/h"), *_cells(make, low), *_cells(make, high))


def _cells(make: Making, row: SteadySpeed | None) -> tuple[str, str, str]:
    """Gear, amperes of the pack and of the motor; what cannot be held says so."""
    if row is None or row.battery_a is None:
        return "", "", ""
    if not row.possible:
        return "", TOO_MUCH, ""
    motor = _amperes(make, row.motor_a)
    if _beyond_an_hour(make, row.motor_a):
        motor += MARK
    return str(row.gear), _amperes(make, row.battery_a), motor


def _beyond_an_hour(make: Making, motor_a: float) -> bool:
    """Whether a series motor bears this current for less than an hour, as the card shows it."""
    figures = make.figures
    return figures.series_motor and round(motor_a) > round(figures.drive.motor.number("hour_a"))


def _hour(make: Making) -> str:
    """What the mark beside a motor current means; blank where no speed has one."""
    rows = [*best_gears(make.plan.driving, 0.0), *best_gears(make.plan.driving, HILL)]
    if not any(row.possible and _beyond_an_hour(make, row.motor_a) for row in rows):
        return ""
    hour = _amperes(make, make.figures.drive.motor.number("hour_a"))
    return f"above {hour}, what the motor bears for an hour: no longer than you must"


def _amperes(make: Making, value: float) -> str:
    """Whole ones: a needle shows no more."""
    return make.show.number(f"{value:.0f}{NO_BREAK}A")


def _volts(make: Making, value: float) -> str:
    return make.show.number(f"{value:.1f}{NO_BREAK}V")


def _stop(make: Making) -> Iterator[str]:
    figures, pack = make.figures, make.figures.drive.figures
    yield emergency(make)
    yield f"Under {_volts(make, figures.rest_empty_v)} at rest: empty. Charge before you drive on."
    yield f"Under {_volts(make, pack.least_v)} while it pulls: let go at once."
    if make.has("isolation_monitor"):
        yield "Isolation lamp: park, get out, call whoever built it."
    if figures.monitored:
        yield "Cell lamp or buzzer: slow down, stop where it is safe."
    if make.has("vacuum_set"):
        yield "Vacuum lamp: the brake works, with far more force. Stop."
    if figures.series_motor:
        hour = figures.drive.motor.number("hour_a")
        yield (
            f"Motor above {_amperes(make, hour)}, what it bears for an hour: change down, slow"
            " down, before it is hot."
        )
    most = figures.drive.module.number("discharge_max_c")
    yield f"Pack above {make.figure(most, '°C')}, smell, smoke, or a noise that is new: stop, out."


def _missed(make: Making) -> str:
    """What a gear taken by mistake does, with the speeds of the plan's caution; blank if nothing.

    Another limit than the highest speed of a gear, which is the motor's own top speed.
    """
    drive, project = make.figures.drive, make.figures.project
    found = never_above(
        Context(project, catalog_of(make.plan)), drive.motor, drive.core.final_ratio
    )
    if not found:
        return ""
    words = f"A gear taken by mistake {what_then(drive.motor)}: never {', '.join(found)}."
    return make.show.words(words)


def _never(make: Making) -> Iterator[str]:
    """What hurts whoever charges it or looks under a cover."""
    figures = make.figures
    if figures.drive.lithium_or_sodium:
        least = make.figure(figures.drive.module.number("charge_min_c"), "°C")
        brakes = ", nor brake by the motor (regeneration)" if figures.regenerates else ""
        yield f"Never charge with a cell below {least}{brakes}: it may burn later."
    if not figures.touchable:
        volts = make.figure(figures.drive.figures.charge_v, "V")
        limit = make.figure(CLASS_A_DC_V, "V")
        yield (
            f"Never under a cover: up to {volts}, over {limit}, a touch can kill; the cells stay"
            " live with the key off."
        )


def _lost(make: Making) -> Iterator[str]:
    bar = make.figures.project.donor.tyre_pressure_bar
    yield "Tyre pressure" + ("" if bar is None else f": {make.figure(bar, 'bar')}") + ", cold."
    yield "A brake that drags: a hub hot to the hand after a drive with little braking."
    yield "Amperes at one steady speed against this card, both ways on the same road."
    heat = ", heater" if make.has("heater") else ""
    yield f"Cold pack, headwind, wet road{heat}, load: the card knows none of them."
    if make.vehicle == "motorcycle":
        yield "Chain dry or too tight."
    else:
        yield "Wheels out of line; roof rack or windows open."
    yield (
        "One weak cell: its volts fall first under a hard pull."
        if make.figures.monitored
        else "One weak block: measure each under the same pull."
    )
