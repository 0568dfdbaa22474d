"""What is done once it drives: the order at the wheel, and the care of every year."""

from __future__ import annotations

from math import ceil

from bomplan.report.sheets.building import isolation_rule
from bomplan.report.sheets.rows import BY_MAKER, MEASURE, Making, Stage, Step
from bomplan.sizing.isolation import CLASS_A_DC_V
from bomplan.sizing.vacuum import VACUUM_LEAST_KPA


def start_up(make: Making) -> tuple[str, ...]:
    """Sentences in the order in which they are done, from walking up to driving off."""
    figures = make.figures
    car = make.vehicle == "car"
    steps = ["Lead unplugged and stowed; look under it, round it, at the tyres."]
    steps.append(
        "Driver's disconnect in." if figures.found.of("driver disconnect") else "Covers on."
    )
    steps.append("Handbrake on." if car else "Side stand up, brake held.")
    if figures.series_motor and len(figures.gears) > 1:
        steps.append("Choose the gear first: this motor never runs without load.")
    elif len(figures.gears) > 1:
        steps.append("Foot off the throttle, gear in neutral." if car else "Hand off the throttle.")
    else:
        steps.append("Foot off the throttle." if car else "Hand off the throttle.")
    planned = figures.pre_charge
    wait = "wait until the contactors click"
    if planned is not None and planned.seconds <= 1:
        wait = "the contactors click within a second"
    elif planned is not None:
        wait += f", about {make.figure(ceil(planned.seconds), 's')}"
    steps.append(f"Key on; {wait}.")
    steps.append("Read the volts and what is left in the pack; no warning lamp.")
    if make.has("vacuum_set"):
        steps.append("Wait for the vacuum pump to stop; the brake pedal is firm.")
    if len(figures.gears) > 1 and not figures.series_motor:
        steps.append("Gear in.")
    steps.append("Release the handbrake, drive off gently." if car else "Drive off gently.")
    steps.append("When you leave it: key off" + (", handbrake on." if car else ", on its stand."))
    return tuple(steps)


def emergency(make: Making) -> str:
    """How to stop when the drive does not let go."""
    pull = "pull the disconnect" if make.figures.found.of("driver disconnect") else "key off"
    return f"It does not let go: brake, and {pull} at once." + (
        " Clutch down only after it." if _clutch(make) else ""
    )


def _clutch(make: Making) -> bool:
    coupler = make.figures.parts.get("coupler")
    return make.figures.series_motor and coupler is not None and coupler.flag("clutch")


def start_up_stage(make: Making) -> Stage:
    """The order at the wheel as a list to tick when it is learnt."""
    steps = tuple(Step(words, tick=True) for words in (*start_up(make), emergency(make)))
    return Stage("Start-up, in this order", steps, cautions=make.dangers["driving"])


def care(make: Making) -> tuple[Stage, ...]:
    """What is looked at every year, and what a long rest asks for."""
    return (_pack(make), _running_gear(make), _rest(make))


def _pack(make: Making) -> Stage:
    figures = make.figures
    steps = [
        Step(
            "Isolation of the closed pack",
            make.at_least(figures.isolation.wanted_kohm, "kΩ"),
            isolation_rule(make),
        ),
        Step("Bonding of every box and cover", make.at_most(figures.isolation.bonding_ohm, "Ω")),
        Step("Joints of the pack: torque", BY_MAKER),
        Step("Warmest joint after half an hour's drive, against air", MEASURE),
    ]
    if figures.monitored:
        steps.append(Step("Cells full and rested: highest less lowest", MEASURE))
        steps.append(Step("Every monitor still stops charger and drive", tick=True))
    else:
        steps.append(Step("Volts of every block under the same pull: lowest, highest", MEASURE))
    if figures.wet_cells:
        steps.append(Step("Acid level topped with distilled water after a full charge", tick=True))
        steps.append(Step("Density of the acid in every cell: lowest, highest", MEASURE))
    if figures.gas is not None:
        steps.append(Step("Vent hoses clear, fan moves air", tick=True))
    if figures.discharge is not None:
        steps.append(
            Step(
                f"Key off: seconds until the bus is below {make.figure(CLASS_A_DC_V, 'V')}",
                make.at_most(figures.discharge.seconds, "s"),
                figures.discharge.source,
            )
        )
    if make.has("inertia_switch"):
        steps.append(Step("Inertia switch and disconnects open the bus", tick=True))
    steps.append(Step("Capacity: ampere-hours from full to the first cell empty", MEASURE))
    return Stage("Pack and wiring", tuple(steps), cautions=make.dangers["cells"])


def _running_gear(make: Making) -> Stage:
    figures = make.figures
    steps = [
        Step("Hold-down bolts of every box at their torque", tick=True),
        Step("Tyre pressures", _pressure(make)),
        Step("Brakes: even, free when let go, fluid not older than its maker says", tick=True),
    ]
    if make.has("vacuum_set"):
        steps.append(
            Step(
                "Vacuum with the pump warm",
                make.at_least(VACUUM_LEAST_KPA, "kPa") + " below air",
                "for the booster's full help",
            )
        )
    if figures.series_motor:
        steps.append(Step("Brushes: length left, and they slide", BY_MAKER))
        steps.append(Step("Commutator even and brown, dust blown out", tick=True))
    if make.has("cooling_set"):
        steps.append(Step("Coolant up, pump runs, radiator clean", tick=True))
    if make.vehicle == "motorcycle":
        steps.append(Step("Chain: slack, oil, sprockets", BY_MAKER))
    elif figures.drive.motor.text("mount") == "gearbox":
        steps.append(Step("Gearbox oil, boots of the half-shafts or joints", tick=True))
    return Stage(f"The {make.vehicle} around it", tuple(steps), cautions=make.dangers["lifting"])


def _pressure(make: Making) -> str:
    bar = make.figures.project.donor.tyre_pressure_bar
    return make.figure(bar, "bar") if bar is not None else "the maker's for this load: write here"


def _rest(make: Making) -> Stage:
    figures = make.figures
    steps = []
    if figures.drive.lithium_or_sodium:
        half = next(
            (
                one.rest_v
                for one in (make.plan.driving.voltages if make.plan.driving else ())
                if one.state == "half"
            ),
            None,
        )
        steps.append(
            Step(
                "Left for months: about half charged, at rest",
                MEASURE if half is None else make.near(half, "V"),
                "the plan's voltage at half",
            )
        )
    else:
        steps.append(
            Step(
                "Left for weeks: charged full, and again every month",
                make.near(figures.rest_full_v, "V") + " at rest",
                "catalogue curve",
            )
        )
    steps.append(
        Step("Service disconnect out, key away, 12 V battery off or on a keeper", tick=True)
    )
    return Stage("A long rest", tuple(steps), cautions=make.dangers["charging"])
