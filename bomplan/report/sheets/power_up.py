"""The second check sheet: first power and commissioning, step by step, with points to hold at."""

from __future__ import annotations

from bomplan.report.sheets.building import BONDING_RULE, isolation_rule
from bomplan.report.sheets.rows import MEASURE, NO_BREAK, Making, Stage, Step
from bomplan.report.sheets.settings import COLD_RULE, charging_span, first_spin_a, settings
from bomplan.sizing.isolation import CLASS_A_DC_V

PRECHARGE_RULE = "charging of a capacitor through a resistor (computed)"
LEAST_12V_V = 12.0
FAULT_RULE = "two and a half times the planned time: look for a load left on (common practice)"
ROAD_RULE = "the plan's steady-speed table: in the air it takes less than on the road"


def power_up(make: Making) -> tuple[Stage, ...]:
    """From everything open to the first drive on the road."""
    return (
        _everything_open(make),
        _low_side_alone(make),
        _pack_closed(make),
        _pre_charge(make),
        _contactors(make),
        settings(make),
        _spin(make),
        _charge(make),
        _yard(make),
        _road(make),
    )


def _everything_open(make: Making) -> Stage:
    figures = make.figures
    wanted = make.at_least(figures.isolation.wanted_kohm, "kΩ")
    steps = [
        Step("Driver's disconnect, service disconnect and key off; fuses in", tick=True),
        Step("Volts between bus plus and bus minus", make.at_most(CLASS_A_DC_V, "V")),
        Step("The ohmmeter goes on only where that has gone to nothing", tick=True),
        Step("Ohms from bus plus to chassis, controller side", wanted, isolation_rule(make)),
        Step("Ohms from bus minus to chassis, controller side", wanted, isolation_rule(make)),
        Step("Extinguisher, gloves, insulated tools and a second person are there", tick=True),
    ]
    if make.vehicle == "car":
        steps.append(
            Step(
                "Wheels on the ground chocked both ways, driven wheels in the air; handbrake off if"
                " it holds them",
                tick=True,
            )
        )
    else:
        steps.append(Step("On the stand, strapped, driven wheel off the ground", tick=True))
    return Stage(
        "0  Everything open",
        tuple(steps),
        cautions=(*make.dangers["cells"], *make.dangers["lifting"]),
        hold="No volts on the bus and no path to the chassis.",
    )


def _low_side_alone(make: Making) -> Stage:
    steps = [
        Step("Key on with the pack open: the contactors do not close on an empty bus", tick=True),
        Step("Key off, chain opened at each of its switches: no coil has 12 V", tick=True),
        Step("Throttle pressed with the key going on: the controller refuses", tick=True),
        Step("Lamps, wipers, horn, brake lamps and indicators work", tick=True),
        Step(
            "12 V battery with all of it on",
            make.at_least(LEAST_12V_V, "V"),
            "below it contactors drop out (common practice)",
        ),
    ]
    if make.vehicle == "motorcycle":
        steps.append(Step("Side stand down, if it has a switch: the controller refuses", tick=True))
    if make.has("vacuum_set"):
        steps.append(Step("Vacuum pump starts, stops, and warns when it is pulled off", tick=True))
    if make.has("cooling_set"):
        steps.append(Step("Coolant in, no air left in it, pump runs, nothing drips", tick=True))
    return Stage("1  12 V alone", tuple(steps), hold="The chain opens everywhere it should.")


def _pack_closed(make: Making) -> Stage:
    figures = make.figures
    cuts = [
        words
        for kind, words in (
            ("disconnect", "service disconnect in"),
            ("driver disconnect", "driver's disconnect in"),
        )
        if figures.found.of(kind)
    ]
    steps = (
        [Step(", then ".join(cuts).capitalize() + "; the key stays off", tick=True)] if cuts else []
    )
    steps += [
        Step(
            f"Box {make.name(box.bay)}: volts at its poles",
            make.at_most(box.full_v, "V"),
            "cells in series times their charge voltage",
        )
        for box in figures.found.boxes
    ]
    steps.append(
        Step("Plus is plus at every box and in the junction box: sign on the meter", tick=True)
    )
    steps.append(
        Step(
            "Whole pack, pack side of the contactors",
            make.span(figures.rest_empty_v, figures.rest_full_v, "V"),
            "catalogue curve, bottom to top of the usable window",
        )
    )
    for pole in ("plus", "minus"):
        steps.append(
            Step(f"Volts from pack {pole} to chassis, at once and after a minute", MEASURE)
        )
    wanted = make.at_least(figures.isolation.wanted_kohm, "kΩ")
    steps.append(
        Step(
            "Isolation of the closed pack (two readings, see the first page)",
            wanted,
            isolation_rule(make),
        )
    )
    if figures.monitored:
        steps.append(Step("Every cell monitor reports, and no cell is out of line", tick=True))
    return Stage(
        "2  Pack closed, contactors open",
        tuple(steps),
        cautions=make.dangers["first power"],
        hold="Volts add up box by box, and neither pole leans on the chassis.",
    )


def _pre_charge(make: Making) -> Stage:
    planned = make.figures.pre_charge
    if planned is None:
        own = (
            Step("Seconds from the key until the contactor closes", MEASURE),
            Step("Volts across the main contactor just before it closes", MEASURE),
        )
        return Stage("3  Pre-charge by the controller", own)
    share = make.figure(100 * planned.share, "%")
    first = make.figures.found.of("contactor")
    alone = f"Main contactor {first[0].tag}" if first else "The main contactor"
    steps = (
        Step(
            "Resistor, out of circuit",
            make.near(planned.ohm, "Ω"),
            "bill of materials",
        ),
        Step(f"{alone} unplugged at its coil: only the pre-charge feeds the bus", tick=True),
        Step(
            f"Seconds until the bus has {share} of the pack's volts",
            make.near(planned.seconds, "s"),
            PRECHARGE_RULE,
        ),
        Step(
            "If it takes longer than this: key off, wait, find out why",
            make.at_most(planned.time_out_s, "s"),
            FAULT_RULE,
        ),
        Step(
            f"{alone} plugged in again: volts across it just before it closes, pack full",
            make.at_most(planned.gap_v, "V"),
            PRECHARGE_RULE,
        ),
    )
    lead = (
        f"At most {planned.retries} tries,"
        f" {make.figure(planned.pause_s, 's')} apart: the resistor has to cool."
    )
    if planned.seconds < 1:
        lead += " Too quick for a watch: read the controller's log, or a meter that keeps a trace."
    return Stage(
        "3  Pre-charge",
        steps,
        lead=make.show.words(lead),
        hold="The bus fills in its time and not at once.",
    )


def _contactors(make: Making) -> Stage:
    idle, figures = make.figures.idle, make.figures
    steps = [
        Step("Contactors closed: bus volts against pack volts", "the same", tick=False),
        Step(
            "Amperes from the pack, key on, standing: 12 V loads off, then those of an ordinary"
            " drive",
            f"{make.near(idle.least_a, 'A')}, then {make.near(idle.most_a, 'A')} in the mean",
            "controller's own loss, and the plan's mean 12 V load through the converter; lamps,"
            " blower and pumps all at once take more",
        ),
        Step("Throttle not touched: the motor does not move", tick=True),
    ]
    if "dcdc" in figures.parts:
        volts = figures.parts["dcdc"].number("output_v")
        steps.append(
            Step("12 V battery while the converter runs", make.near(volts, "V"), "its data sheet")
        )
    if make.has("heater"):
        steps.append(
            Step(
                "Heater: warms, goes off with the key, and its thermal cut-out opens with the"
                " blower stopped",
                tick=True,
            )
        )
    steps.append(
        Step(
            "Driver's disconnect pulled with the key on: the volts of the bus fall away", tick=True
        )
    )
    steps.append(
        Step(
            f"Key off: seconds until the bus is below {make.figure(CLASS_A_DC_V, 'V')}"
            if not figures.touchable
            else "Key off: seconds until the bus is below a third of the pack",
            MEASURE if figures.discharge is None else make.at_most(figures.discharge.seconds, "s"),
            "" if figures.discharge is None else figures.discharge.source,
        )
    )
    return Stage(
        "4  Contactors closed",
        tuple(steps),
        hold="It goes off by the key and by the disconnect, each alone.",
    )


def _spin(make: Making) -> Stage:
    figures, row = make.figures, make.figures.first_spin
    motor = figures.drive.motor
    set_a = make.figure(figures.drive.battery_limit_a, "A")
    steps = [
        Step(
            f"Controller's battery current limit for now; back to {set_a} at the end",
            make.at_most(first_spin_a(make), "A"),
            "fifty amperes, or a quarter of the plan's limit (common practice)",
        )
    ]
    if figures.series_motor:
        joined = (
            "In gear, clutch up (or none), driven wheels in the air: never in neutral"
            if len(figures.gears) > 1
            else "Chain or shafts on, driven wheels in the air: this motor never spins alone"
        )
        steps.append(Step(joined, tick=True))
    if row is None:
        steps.append(Step("Speedometer in the first spin, throttle barely open", MEASURE))
    else:
        gear = f"gear {row.gear}, " if len(figures.gears) > 1 else ""
        steps += [
            Step(
                f"Speedometer, {gear}throttle barely open",
                make.at_most(row.speed_kmh, "km/h"),
                "slowest speed of the plan's table",
            ),
            Step("Motor speed there", make.near(row.motor_rpm, "rpm"), "gear and final drive"),
        ]
        if row.battery_a is not None:
            steps.append(
                Step(
                    "Amperes from the pack there",
                    f"below {make.figure(row.battery_a, 'A')}",
                    ROAD_RULE,
                )
            )
    steps.append(
        Step(
            "Motor speed that is never reached",
            make.at_most(motor.number("max_speed_rpm"), "rpm"),
            "the motor's row",
        )
    )
    steps.append(Step("Turns the right way; throttle let go: it slows at once", tick=True))
    if figures.regenerates:
        steps.append(Step("Regeneration: lifts the amperes below zero, does not jerk", tick=True))
    if motor.flag("reversible"):
        words = "Reverse: turns backwards, no faster than walking"
        if make.vehicle == "motorcycle":
            words = "Reverse: off in the controller's settings; if kept, no faster than walking"
        steps.append(Step(words, tick=True))
    steps.append(Step("Battery current limit set back, and read again", set_a))
    return Stage(
        "6  First spin",
        tuple(steps),
        cautions=(*make.dangers["spin"], *make.dangers["lifting"]),
        hold="Right way, slows when let go, stops by the disconnect.",
    )


def _charge(make: Making) -> Stage:
    planned, figures = make.figures.charge, make.figures
    if planned is None:
        return Stage("7  First charge", (Step("Charger of your own: volts and amperes", MEASURE),))
    steps = [
        Step(
            "Plug out: ohms from the earth pin of the inlet to the chassis",
            make.at_most(figures.isolation.bonding_ohm, "Ω"),
            BONDING_RULE,
        ),
        Step("The outlet's residual-current device trips by its own button", tick=True),
        Step("Charger set to", make.figure(planned.set_v, "V"), "cells times charge voltage"),
        Step(
            "Amperes into the pack, once it runs",
            make.at_most(planned.set_a, "A"),
            "least of charger, outlet and modules",
        ),
        Step(
            "Temperature of the coldest and of the warmest cell",
            make.span(planned.least_c, planned.most_c, "°C"),
            "the module's row",
        ),
        Step(
            "Highest cell as it ends",
            make.at_most(planned.cell_v, "V"),
            "charge voltage of the module's row",
        ),
        Step("Pack as it ends", make.at_most(planned.set_v, "V"), "the same, in series"),
    ]
    if planned.hours is not None:
        steps.append(
            Step(
                "Hours from empty to full",
                f"about {make.show.number(f'{planned.hours:.1f}')}{NO_BREAK}h",
                "the plan's outlet",
            )
        )
    if figures.gas is not None:
        fan = figures.gas.fan_m3_h
        steps.append(
            Step(
                "Fan of each box runs before the first ampere flows, and air comes out",
                make.figure(figures.gas.wanted_m3_h if fan is None else fan, "m³/h"),
                "IEC 62485-3",
            )
        )
    if figures.monitored:
        steps.append(Step("A monitor unplugged stops the charger", tick=True))
    if figures.wet_cells:
        steps.append(Step("Density of the acid after an hour's rest: lowest, highest", MEASURE))
    steps.append(
        Step(
            "While it is plugged in it cannot drive; the plug pulled in the middle draws no spark",
            tick=True,
        )
    )
    return Stage(
        "7  First charge, somebody beside it",
        tuple(steps),
        cautions=make.dangers["charging"],
        hold="It stops by itself, and no cell went above its volts.",
    )


def _yard(make: Making) -> Stage:
    steps = [
        Step("Brakes: full stop from walking pace, pack off", tick=True),
        Step("Throttle let go: no creep, no surge", tick=True),
        Step(
            "Throttle let go at walking pace, then the disconnect pulled: drive gone, steering and"
            " brakes stay",
            tick=True,
        ),
        Step("Lowest cell or block under the first hard pull", MEASURE),
    ]
    if make.vehicle == "car":
        steps.insert(1, Step("Handbrake holds on a slope", tick=True))
    if make.figures.regenerates:
        least, most = charging_span(make)
        steps.insert(
            0,
            Step(
                "Coldest and warmest cell: outside these no regeneration",
                f"{least} to {most}",
                COLD_RULE,
            ),
        )
    return Stage(
        "8  First metres on private ground", tuple(steps), cautions=make.dangers["driving"]
    )


def _road(make: Making) -> Stage:
    figures = make.figures
    steps = [
        Step("Every joint after the first drive: warmest against air", MEASURE),
        Step("Torque of every joint again: moved by", MEASURE),
        Step("The same after about 100 km, and after 1,000 km", tick=True),
        Step(
            "Isolation again, warm",
            make.at_least(figures.isolation.wanted_kohm, "kΩ"),
            isolation_rule(make),
        ),
        Step("Weighed by axle, and read against the plan with bomplan weigh", tick=True),
        Step("Amperes at two steady speeds against the driver's card", MEASURE),
    ]
    return Stage(
        "9  After the first short drive",
        tuple(steps),
        hold="Only now comes the inspector's drive.",
    )
