"""What is entered in controller and cell monitors before anything turns, from the plan's rows."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil

from bomplan.report.sheets.rows import Making, Stage, Step

SIZED = "fuses, cables and modules are sized for it"
MODULE_ROW = "the module's row"
COLD_RULE = "regeneration charges: the module's row, and so the plan drives"
FIRST_SPIN_A = 50.0
"""Battery current limit of the first spins, or a quarter of the plan's; common practice."""


def settings(make: Making) -> Stage:
    """Every limit that the plan counts on and that somebody has to set."""
    steps = [*_controller(make), *_monitors(make)]
    steps.append(Step("Settings saved, key off and on, read again", tick=True))
    return Stage(
        "5  Settings, before anything turns",
        tuple(steps),
        lead="A limit that nobody has set is no limit: cables and fuses of this plan count on"
        " these. Write down what the device shows after it was saved.",
        hold="Every limit reads as it stands here.",
    )


def first_spin_a(make: Making) -> float:
    """Battery current that the controller lets through while the wheels first turn."""
    return min(FIRST_SPIN_A, make.figures.drive.battery_limit_a / 4)


def charging_span(make: Making) -> tuple[str, str]:
    """The temperatures between which the cells may be charged, each with its unit."""
    module = make.figures.drive.module
    least, most = module.number("charge_min_c"), module.number("charge_max_c")
    return make.figure(least, "°C"), make.figure(most, "°C")


def _controller(make: Making) -> Iterator[Step]:
    figures, drive = make.figures, make.figures.drive
    motor = drive.motor
    yield Step(
        "Controller: battery current limit",
        make.at_most(drive.battery_limit_a, "A"),
        SIZED,
    )
    yield from _motor_volts(make)
    yield Step(
        "Controller: motor speed limit, where it has one",
        make.at_most(motor.number("max_speed_rpm"), "rpm"),
        "the motor's row",
    )
    yield Step(
        "Controller: pack voltage below which it takes no more",
        make.at_least(drive.figures.least_v, "V"),
        "cells in series times their least voltage",
    )
    if figures.regenerates:
        yield Step(
            "Controller: pack voltage at which regeneration ends",
            make.at_most(drive.figures.charge_v, "V"),
            "cells in series times their charge voltage",
        )
        least, most = charging_span(make)
        yield Step(
            "Controller: no regeneration below or above, temperature of the cells",
            f"below {least}, above {most}",
            COLD_RULE,
        )
        yield Step(
            "What takes it away there, tried: a signal of the monitors, or a switch at the wheel",
            tick=True,
        )
    yield Step("Throttle: no torque with a wire off, nor with both sensors apart", tick=True)


def _motor_volts(make: Making) -> Iterator[Step]:
    """What the commutator bears, as the simulation has it; nothing for other motors."""
    found = make.figures.commutator
    if found is None:
        return
    over = "the commutator sparks over above it (the motor's row)"
    words = "Controller: motor voltage limit"
    if found.high_v >= found.low_v:
        yield Step(words, make.at_most(found.one_v, "V"), over)
        return
    amps = make.figure(found.high_a, "A")
    yield Step(
        f"{words}, at few amperes of the motor; falling in a line to that of the next row",
        make.at_most(found.low_v, "V"),
        f"{over}; so the plan drives",
    )
    yield Step(f"{words}, at {amps} of the motor and above", make.at_most(found.high_v, "V"), over)
    short = "every speed of the driver's card is still reached"
    if found.beyond:
        speeds = ", ".join(
            f"{make.figure(one.speed_kmh, 'km/h')} in gear {one.gear}"
            + (f" up {make.figure(100 * one.grade, '%')}" if one.grade else "")
            + f" (wants {make.figure(ceil(one.motor_v), 'V')})"
            for one in found.beyond
        )
        short = f"not reached with it, though the driver's card has them: {speeds}"
    yield Step(
        f"{words}, if it knows one figure only",
        make.at_most(found.one_v, "V"),
        "on that line, at the most amperes that the motor gets from the pack's limit (computed);"
        f" {short}",
    )


def _monitors(make: Making) -> Iterator[Step]:
    figures, module = make.figures, make.figures.drive.module
    if not figures.monitored:
        return
    if figures.drive.lithium_or_sodium:
        stopped = "charger and regeneration stop" if figures.regenerates else "the charger stops"
        yield Step(
            f"Monitors: cell at which {stopped}",
            make.at_most(module.number("cell_v_charge"), "V"),
            MODULE_ROW,
        )
        yield Step(
            "Monitors: cell at which the drive is taken back, then cut",
            make.at_least(module.number("cell_v_min"), "V"),
            MODULE_ROW,
        )
    yield Step(
        "Monitors: temperatures of the cells between which they let the charger run",
        make.span(module.number("charge_min_c"), module.number("charge_max_c"), "°C"),
        MODULE_ROW,
    )
    yield Step(
        "Monitors: temperature of a cell at which the drive is taken back",
        make.at_most(module.number("discharge_max_c"), "°C"),
        MODULE_ROW,
    )
