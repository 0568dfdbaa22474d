"""Requirements that a core meets or not by its parts alone, before any simulation."""

from __future__ import annotations

from collections.abc import Iterator

from bomplan.catalog.records import Pair, Part
from bomplan.design.bill import at_least, at_most
from bomplan.design.bill.fits import core_fits
from bomplan.design.bill.interlock import cut_checks
from bomplan.design.bill.rule import same
from bomplan.design.context import Context
from bomplan.design.drive import LEAD, Drive, PackFigures
from bomplan.design.records import Check, Topology
from bomplan.requirements.overspeed import burst_checks, wrong_gear_checks
from bomplan.requirements.people import people_checks
from bomplan.source import COMMON, given, practice


def core_checks(context: Context, drive: Drive) -> Iterator[Check]:
    """Every closed-form check of a core, the most telling first."""
    core, figures = drive.core, drive.figures
    yield from module_guards(drive.module, core.series, core.parallel, core.topology, figures)
    yield from pairing(context, drive.motor, drive.controller, drive.pair)
    yield from controller_voltages(context, drive.controller, drive.module, figures)
    if drive.pair is not None:
        yield from pair_voltages(drive.pair, figures)
    yield from project_voltages(context, figures)
    yield from over_speed_voltage(drive.motor, drive.controller)
    yield from burst_checks(context, drive.motor, core.final_ratio)
    yield from wrong_gear_checks(context, drive.motor, core.final_ratio)
    yield from regeneration(context, drive.motor)
    yield from regeneration_controller(context, drive.controller)
    yield from mounting(context, drive.motor)
    yield from core_fits(context, drive.motor, drive.controller)
    yield from battery_setting(context, drive)
    yield from people_checks(context, drive)
    yield from cut_checks(drive.controller)


def module_guards(
    module: Part, series: int, parallel: int, topology: Topology, figures: PackFigures
) -> Iterator[Check]:
    """What a module's own maker allows: numbers together, system voltage, topology."""
    protected = module.flag("built_in_protection")
    caution = (
        "built-in protection switches break at one block's voltage; in a longer string they"
        " see the whole pack and burn"
        if protected
        else ""
    )
    if module.has("max_series"):
        kind = "blocks with built-in protection" if protected else "modules"
        yield at_most(
            "module.max-series",
            f"{kind} of {module.id} in series",
            series,
            module.number("max_series"),
            "modules",
            given("module's own limit"),
            caution,
        )
    if module.has("max_parallel"):
        yield at_most(
            "module.max-parallel",
            f"{module.id} in parallel",
            parallel,
            module.number("max_parallel"),
            "modules",
            given("module's own limit"),
        )
    if module.has("max_system_v"):
        yield at_most(
            "module.system-voltage",
            f"charge voltage of the pack against the system voltage of {module.id}",
            figures.charge_v,
            module.number("max_system_v"),
            "V",
            given("module's own limit"),
            caution,
        )
    if parallel > 1:
        yield same(
            "module.topology",
            "blocks with their own protection and lead-acid go in strings, cells in groups",
            topology == "strings" or not must_be_strings(module),
            COMMON,
        )


def must_be_strings(module: Part) -> bool:
    """Whether these modules may only be put in series first."""
    return module.flag("built_in_protection") or module.text("chemistry") in LEAD


def pairing(context: Context, motor: Part, controller: Part, pair: Pair | None) -> Iterator[Check]:
    """Motors and controllers are not freely paired."""
    forced = context.project.choices.allow_unpaired
    yield same(
        "pair.known",
        f"motor {motor.id} and controller {controller.id} are a known pair",
        pair is not None or (forced and motor.text("kind") == "series_dc"),
        given("pairs table of the catalogue"),
    )
    yield same(
        "pair.kind",
        "a series motor runs on a chopper, every other motor on an inverter",
        (controller.text("kind") == "chopper") == (motor.text("kind") == "series_dc"),
        COMMON,
    )


def controller_voltages(
    context: Context, controller: Part, module: Part, figures: PackFigures
) -> Iterator[Check]:
    """The pack, charged and at rest, within what the controller stands and needs."""
    margin = 1 + context.project.margins.voltage
    yield at_most(
        "voltage.controller-absolute",
        f"charge voltage with its margin against the absolute limit of {controller.id}"
        f" ({figures.cells_series} cells at {module.number('cell_v_charge'):.2f} V"
        f" = {figures.charge_v:.1f} V)",
        figures.charge_v * margin,
        controller.number("v_max_abs"),
        "V",
        practice("common practice (regeneration and equalising lift the voltage further)"),
        "above its absolute limit a controller fails, often shorted",
    )
    yield at_least(
        "voltage.controller-least",
        f"nominal pack voltage against what {controller.id} needs to start",
        figures.nominal_v,
        controller.number("v_min") * margin,
        "V",
        COMMON,
    )


def pair_voltages(pair: Pair, figures: PackFigures) -> Iterator[Check]:
    """The window over which the pair's envelope is known."""
    yield at_most(
        "voltage.pair-high",
        "nominal pack voltage against the pair's window",
        figures.nominal_v,
        pair.v_max,
        "V",
        given("pairs table of the catalogue"),
    )
    yield at_least(
        "voltage.pair-low",
        "nominal pack voltage against the pair's window",
        figures.nominal_v,
        pair.v_min,
        "V",
        given("pairs table of the catalogue"),
    )


def project_voltages(context: Context, figures: PackFigures) -> Iterator[Check]:
    """The voltages between which the builder wants to stay."""
    targets = context.project.targets
    yield at_least(
        "voltage.project-least",
        "nominal pack voltage against the project's least",
        figures.nominal_v,
        targets.pack_voltage_min_v,
        "V",
        given("project"),
    )
    if targets.charged_voltage_min_v > 0:
        yield at_least(
            "voltage.project-charged-least",
            "charge voltage against the project's least",
            figures.charge_v,
            targets.charged_voltage_min_v,
            "V",
            given("project"),
        )
    yield at_most(
        "voltage.project-most",
        "charge voltage against the project's greatest",
        figures.charge_v,
        targets.pack_voltage_max_v,
        "V",
        given("project"),
    )


def battery_setting(context: Context, drive: Drive) -> Iterator[Check]:
    """What the controller is set to take from the pack, within all that bounds it."""
    set_a = drive.battery_limit_a
    yield at_most(
        "current.setting-controller",
        f"battery current that {drive.controller.id} is set to against its own greatest",
        set_a,
        drive.controller.number("battery_a_max"),
        "A",
        given("controller's own figure"),
    )
    yield at_most(
        "current.setting-modules",
        "battery current that the controller is set to against what the modules give for ten"
        " seconds",
        set_a,
        drive.figures.discharge_10s_a,
        "A",
        given("module's own figure"),
        "cells that give more than they may heat up and fail; some vent or burn",
    )
    named = context.project.choices.battery_current_a
    if named:
        yield at_most(
            "current.setting-project",
            "battery current that the controller is set to against the greatest that the project"
            " names",
            set_a,
            max(named),
            "A",
            given("project"),
        )


def over_speed_voltage(motor: Part, controller: Part) -> Iterator[Check]:
    """A permanent-magnet machine feeds back by itself when it spins."""
    if motor.text("kind") != "permanent_magnet" or not motor.has("emf_v_per_krpm"):
        return
    yield at_most(
        "motor.emf-over-speed",
        "the machine's own voltage at top speed against the controller's absolute limit",
        motor.number("emf_v_per_krpm") * motor.number("max_speed_rpm") / 1000,
        controller.number("v_max_abs"),
        "V",
        COMMON,
        "opening the contactor at speed would destroy the inverter",
    )


def regeneration(context: Context, motor: Part) -> Iterator[Check]:
    """Regeneration asked of a motor that cannot give it is refused, not ignored."""
    if context.project.choices.regeneration:
        yield same(
            "regeneration.series-motor",
            f"regeneration is asked for: {motor.id} must not be a series motor, which gives none",
            motor.text("kind") != "series_dc",
            COMMON,
        )


def regeneration_controller(context: Context, controller: Part) -> Iterator[Check]:
    """The controller must allow regeneration where it is asked for."""
    if context.project.choices.regeneration:
        yield same(
            "regeneration.controller",
            f"regeneration is asked for: {controller.id} must allow it",
            controller.flag("regeneration"),
            given("controller's own figure"),
        )


def mounting(context: Context, motor: Part) -> Iterator[Check]:
    """The donor takes motors only on what it has: its gearbox, its chain or its axle."""
    mounts = context.project.donor.driveline.mounts
    yield same(
        "motor.mount",
        f"the donor takes motors on: {', '.join(mounts)}; {motor.id} mounts on"
        f" {motor.text('mount')}",
        motor.text("mount") in mounts,
        given("project"),
    )
