"""Charging, the 12 V side, monitoring and cabin heat."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil, gcd

from bomplan.catalog.records import Part
from bomplan.design.bill.rule import DesignCurrents, Rule, at_least, at_most, from_finding, same
from bomplan.design.bill.supply_12v import battery_checks, converter_checks
from bomplan.design.context import Context
from bomplan.design.drive import Drive, charge_return, rest_v
from bomplan.design.records import Check
from bomplan.design.sections import unbroken_runs
from bomplan.physics import wall_wh_per_km
from bomplan.project.countries import countries
from bomplan.sizing import charging as charge_formulas
from bomplan.sizing.low_voltage import LOADING
from bomplan.source import COMMON, given, practice, published, seen

CELLS_PER_SENSOR = 8


def set_current_a(context: Context, drive: Drive, charger: Part) -> float:
    """The current that the charger is set to: charger, outlet and modules, the least of them."""
    charging = context.project.charging
    return charge_formulas.charge_current_a(
        output_a=charger.number("output_a"),
        output_w=charger.number("output_w"),
        efficiency=charger.number("efficiency"),
        supply_v=charging.supply_v,
        supply_a=charge_formulas.usable_supply_a(charging.supply_a, charging.supply_rule),
        pack_v=drive.figures.charge_v,
        acceptance_a=drive.figures.charge_continuous_a,
    )


def charge_hours(context: Context, drive: Drive, charger: Part) -> float:
    """Hours from empty to full on the declared outlet with this charger."""
    module = drive.module
    cells = charge_formulas.CELLS[module.text("chemistry")]
    window = module.number("soc_max") - module.number("soc_min")
    return charge_formulas.charge_hours(
        used_ah=drive.figures.capacity_ah * window,
        current_a=set_current_a(context, drive, charger),
        returned=cells.returned,
        absorb_h=cells.absorb_h,
    )


def charge_wall_kwh(drive: Drive, charger: Part) -> float:
    """Energy from the wall from empty to full, in kWh."""
    module = drive.module
    window = module.number("soc_max") - module.number("soc_min")
    put_in = drive.figures.capacity_ah * window * drive.figures.nominal_v
    return wall_wh_per_km(put_in, charger.number("efficiency"), charge_return(drive)) / 1000


def refill_hours(context: Context, drive: Drive, charger: Part, used_wh: float) -> float:
    """Hours to put so much energy back, never more than from empty, with this charger."""
    cells = charge_formulas.CELLS[drive.module.text("chemistry")]
    hours = charge_formulas.charge_hours(
        used_ah=used_wh / drive.figures.nominal_v,
        current_a=set_current_a(context, drive, charger),
        returned=cells.returned,
        absorb_h=cells.absorb_h,
    )
    return min(hours, charge_hours(context, drive, charger))


CHARGER_CAUTIONS = {
    "charger-over-voltage": "a charger for a higher pack drives every cell over its voltage:"
    " lithium cells burn, lead-acid cells boil and gas",
    "charger-starts-empty": "a charger whose window starts above the pack cannot be set to it",
    "charger-current": "cells that are charged faster than they may be plate, gas or burn",
}


def monitored(drive: Drive) -> bool:
    """Whether cells or blocks are watched by monitoring boards."""
    module = drive.module
    return module.text("monitoring") != "none" and not module.flag("built_in_protection")


def cold_stop(drive: Drive, stopped: bool, by: str) -> Check:
    """Whether something keeps the charger off while the cells are too cold."""
    return same(
        "charging.cold-stop",
        f"something stops the charger below {drive.module.number('charge_min_c'):.0f} °C of the"
        f" cells: {by}",
        stopped,
        seen("a maker's manual: no charge of lithium under 0 °C (seen); module's own limit"),
        "lithium cells that are charged below freezing plate and may burn weeks later",
    )


def monitor_beside_charger(drive: Drive, monitor: Part, charger: Part) -> Iterator[Check]:
    """Whether the monitoring boards can stop the charger, cold or full."""
    if not drive.lithium_or_sodium:
        return
    stops = monitor.text("charge_stop") == "relay" or (
        monitor.text("charge_stop") == "signal" and charger.flag("stop_input")
    )
    yield cold_stop(
        drive,
        (stops and monitor.number_or("temperature_channels", 0) > 0) or charger.flag("cold_stop"),
        "the monitor's temperature channels and its output, or the charger's own sensor",
    )
    yield same(
        "charging.cell-stop",
        "the monitor stops the charger when the first cell is full, by a relay or by a signal"
        " that the charger takes",
        stops,
        COMMON,
        "a charger that sees the pack alone drives its fullest cell over its voltage: it burns",
    )


def monitor_cuts_drive(drive: Drive, monitor: Part) -> Iterator[Check]:
    """The drive's power goes before the contactor opens. Nothing is said of lead-acid."""
    if not drive.lithium_or_sodium:
        return
    limits = monitor.text("drive_stop") == "relay" or (
        monitor.text("drive_stop") == "signal" and drive.controller.flag("cut_input")
    )
    yield same(
        "monitor.cuts-drive",
        "the monitor takes the drive's power away before the contactor opens, by a relay or by a"
        " signal that the controller takes",
        limits,
        practice("throttle cut before contactor (common practice)"),
        "a contactor that opens under full current arcs and may weld",
    )


class Charger(Rule):
    family = "charger"
    side = "pack"
    system = "charging"
    place = "charger"

    def suits(
        self,
        context: Context,
        drive: Drive,
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        figures, charging = drive.figures, context.project.charging
        # Most chargers fall by their window, before anything is asked that no two packs share.
        for finding in charge_formulas.check_charger_window(
            v_out_min=part.number("v_out_min"),
            v_out_max=part.number("v_out_max"),
            pack_empty_v=rest_v(context, drive, drive.module.number("soc_min")),
            pack_full_v=figures.charge_v,
        ):
            yield from_finding(finding, CHARGER_CAUTIONS.get(finding.id, ""))
        for finding in charge_formulas.check_charger_current(
            output_a=set_current_a(context, drive, part),
            charge_limit_a=figures.charge_continuous_a,
            hours=charge_hours(context, drive, part),
            hours_limit=charging.hours,
        ):
            yield from_finding(finding, CHARGER_CAUTIONS.get(finding.id, ""))
        yield same(
            "charger.isolated",
            "the charger isolates the pack from the supply",
            part.flag("isolated"),
            practice(
                "no pole of a class B circuit joins the chassis, nor the mains that is bonded to"
                " it: UN R100 5.1.3 (seen); common practice"
            ),
            "a charger that does not isolate puts the pack on the mains: a touch of either pole"
            " kills while it is plugged in",
        )
        if drive.lithium_or_sodium and not monitored(drive):
            yield cold_stop(
                drive,
                drive.module.flag("built_in_protection") or part.flag("cold_stop"),
                "the modules' built-in protection or the charger's own sensor",
            )
        country = countries()[context.project.country]
        if country.supply_rule:
            yield same(
                "charger.supply-rule",
                f"{country.title}: a charger takes the circuit as {country.supply_rule} allows for"
                " hours",
                charging.supply_rule in (country.supply_rule, "continuous-80"),
                published(country.supply_source, country.supply_seen),
                "a circuit that carries its full rating for hours overheats in the wall",
            )
        yield at_most(
            "charger.supply-low",
            "the charger accepts the declared outlet's voltage (least)",
            part.number("supply_v_min"),
            charging.supply_v,
            "V",
            COMMON,
        )
        yield at_least(
            "charger.supply-high",
            "the charger accepts the declared outlet's voltage (greatest)",
            part.number("supply_v_max"),
            charging.supply_v,
            "V",
            COMMON,
        )

    def may_suit(self, context: Context, drive: Drive, part: Part) -> bool:
        return charge_hours(context, drive, part) <= context.project.charging.hours

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return f"refills the pack in {charge_hours(context, drive, part):.1f} h on the outlet"


class ChargeInlet(Rule):
    family = "charge_inlet"
    side = "pack"
    system = "charging"
    place = "charger"

    def suits(
        self,
        context: Context,
        drive: Drive,  # noqa: ARG002
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        charging = context.project.charging
        yield at_least(
            "inlet.voltage",
            "the inlet is rated for the outlet's voltage",
            part.number("supply_v"),
            charging.supply_v,
            "V",
            COMMON,
        )
        if part.has("pilot"):
            yield from inlet_checks(context, part)


def inlet_checks(context: Context, inlet: Part) -> Iterator[Check]:
    """What the standard of the inlet lets through, and whether the country takes its kind."""
    charging = context.project.charging
    pilot = inlet.flag("pilot")
    usable = charge_formulas.usable_supply_a(charging.supply_a, charging.supply_rule)
    yield at_most(
        "inlet.standard",
        "current that the outlet gives for hours through this inlet against what its kind may"
        f" carry ({'with' if pilot else 'without'} a pilot contact)",
        min(inlet.number("supply_a"), usable),
        charge_formulas.inlet_limit_a(charging.supply_v, pilot),
        "A",
        charge_formulas.INLET_SOURCE,
        "a plug above its standard's current melts in the inlet",
    )
    country = countries()[context.project.country]
    yield same(
        "inlet.mode-1",
        f"{country.title}: cars are charged without a pilot contact there, or the inlet has one",
        pilot or country.mode_1,
        seen(
            "IEC 61851-1 mode 1: not allowed in the United States, the United Kingdom and Israel"
            " (seen in reproduction)"
        ),
        "without a pilot the plug is live before anybody knows that the car is earthed",
    )


class DcDc(Rule):
    family = "dcdc"
    side = "pack"
    system = "12 V side"
    place = "charger"

    def suits(
        self,
        context: Context,
        drive: Drive,
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        figures, rules = drive.figures, context.project.house_rules
        yield at_most(
            "dcdc.voltage-low",
            "the converter still works on the sagging pack",
            part.number("v_in_min"),
            figures.least_v,
            "V",
            COMMON,
        )
        yield at_least(
            "dcdc.voltage-high",
            "the converter stands the pack's charge voltage",
            part.number("v_in_max"),
            figures.charge_v,
            "V",
            COMMON,
        )
        yield same(
            "dcdc.isolated",
            "the converter is isolated",
            part.flag("isolated"),
            practice("UN R100 (isolation of the traction circuit); common practice"),
        )
        yield at_least(
            "dcdc.efficiency",
            "the converter is as efficient as the range figures assume",
            part.number("efficiency"),
            rules.dcdc_efficiency,
            "of 1",
            given("house rule"),
        )
        yield from converter_checks(context, self.supply_12v_w(part))

    def supply_12v_w(self, part: Part) -> int:
        """Four fifths of the rating: common practice for a converter that runs all day."""
        return int(part.number("output_a") * part.number("output_v") * LOADING)

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        donor = context.project.donor
        worst = f", {donor.worst_12v_w} W on a wet winter's night" if donor.loads_12v else ""
        return f"keeps the 12 V side alive: {donor.load_12v_w:.0f} W mean load{worst}"


class Battery12V(Rule):
    family = "battery_12v"
    side = "pack"
    system = "12 V side"

    def suits(
        self,
        context: Context,
        drive: Drive,  # noqa: ARG002
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        yield from battery_checks(context, part)


class Monitor(Rule):
    """Boards of cell monitoring; a board never bridges two boxes, a fuse or a disconnect."""

    family = "monitor"
    side = "pack"
    system = "pack"
    table_by_part = True
    too_few = (
        "a board across a fuse, a disconnect or two boxes has the whole pack between two taps"
        " when that opens, and burns"
    )

    def needed(self, context: Context, drive: Drive) -> bool:  # noqa: ARG002
        return monitored(drive)

    def base(self, context: Context, drive: Drive, part: Part) -> int:  # noqa: ARG002
        return 0

    def in_bay(self, context: Context, drive: Drive, part: Part, bay: int, rows: int) -> int:
        """Boards for one box: every series cell of every string has a channel of its own.

        In groups of single cells the parallel cells share one channel; modules of several
        cells keep their own, for their inner taps are not joined. Box walls with their fuses
        and the service disconnect end a board's run of cells.
        """
        return self.in_bay_from(context, drive, part, bay, range(rows, rows + 1))[0]

    def in_bay_from(
        self,
        context: Context,  # noqa: ARG002
        drive: Drive,
        part: Part,
        bay: int,  # noqa: ARG002
        rows: range,
    ) -> list[int]:
        cells, channels = self._taps(drive), int(part.number("channels"))
        strings, series = self._strings(drive), drive.core.series
        return [
            strings * sum([-(-run * cells // channels) for run in unbroken_runs(count, series)])
            for count in rows
        ]

    def least_in_all(self, context: Context, drive: Drive, part: Part) -> int:  # noqa: ARG002
        """As if one board could bridge boxes, fuses and the service disconnect."""
        taps = drive.core.series * self._taps(drive)
        return self._strings(drive) * -(-taps // int(part.number("channels")))

    @staticmethod
    def _taps(drive: Drive) -> int:
        """Channels for one module: one for each cell; lead blocks are watched as blocks."""
        return int(drive.module.number("cells_series")) if drive.lithium_or_sodium else 1

    def boards_at_most(self, context: Context, drive: Drive, part: Part) -> int:
        """No placement asks for more: every run may end with a board that is not full."""
        cells, channels = self._taps(drive), int(part.number("channels"))
        series = drive.core.series
        runs = min(series, len(context.bays) + 1)
        unfilled = runs * (channels - gcd(cells, channels))
        return self._strings(drive) * ((series * cells + unfilled) // channels)

    @staticmethod
    def _strings(drive: Drive) -> int:
        """How many times over the series run is watched."""
        single = drive.module.number("cells_series") == 1
        return 1 if drive.core.topology == "groups" and single else drive.core.parallel

    def suits(
        self,
        context: Context,
        drive: Drive,
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        kind = "lithium" if drive.lithium_or_sodium else "lead"
        yield same(
            "monitor.chemistry",
            "the monitor is made for this chemistry",
            part.text("chemistry_set") in (kind, "any"),
            COMMON,
        )
        if drive.lithium_or_sodium:
            yield at_least(
                "monitor.cell-high",
                "the monitor measures up to the charge voltage of a cell",
                part.number("cell_v_max"),
                drive.module.number("cell_v_charge"),
                "V",
                COMMON,
            )
            yield at_most(
                "monitor.cell-low",
                "the monitor measures down to the cut-off of a cell",
                part.number("cell_v_min"),
                drive.module.number("cell_v_min"),
                "V",
                COMMON,
            )
            yield at_least(
                "monitor.temperatures",
                f"temperature channels of a board: one for {CELLS_PER_SENSOR} cells or fewer",
                part.number_or("temperature_channels", 0),
                -(-int(part.number("channels")) // CELLS_PER_SENSOR),
                "channels",
                practice("one for four to eight cells (common practice)"),
                "a cell that is hot or frozen where nobody measures is charged all the same",
            )
            if part.has("tap_fuse"):
                yield same(
                    "monitor.tap-fuse",
                    f"each tap of {part.id} has a fuse of its own, or a resistor that opens",
                    part.flag("tap_fuse"),
                    practice("a tap is a thin wire straight on a cell (common practice)"),
                    "a pinched tap without a fuse burns along the harness",
                )
            yield same(
                "monitor.opens-contactor",
                "the monitor can hold the contactors open",
                part.flag("opens_contactor"),
                COMMON,
                "a cell below its cut-off is driven on until it reverses",
            )
        if part.has("banks_max"):
            yield at_most(
                "monitor.boards",
                "boards on one line of communication in the placement that asks for most, none"
                " across two boxes, a fuse or the service disconnect",
                self.boards_at_most(context, drive, part),
                part.number("banks_max"),
                "boards",
                practice("monitor's own figure; a board ends at every break (common practice)"),
                self.too_few,
            )

    def mean_12v_w(self, part: Part) -> int:
        return ceil(part.number_or("load_12v_w", 0))

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return (
            f"watches {drive.figures.cells_series} cells in series; no board bridges two boxes,"
            " a fuse or the service disconnect"
        )


def _heat_wanted_w(context: Context) -> float:
    return max(condition.heater_w for condition in context.project.conditions)


class Heater(Rule):
    family = "heater"
    side = "pack"
    system = "cabin"

    def needed(self, context: Context, drive: Drive) -> bool:  # noqa: ARG002
        return _heat_wanted_w(context) > 0

    def suits(
        self,
        context: Context,
        drive: Drive,
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        yield at_least(
            "heater.power",
            "the heater gives the heat that the conditions ask for",
            part.number("power_w"),
            _heat_wanted_w(context),
            "W",
            COMMON,
        )
        yield at_most(
            "heater.voltage-low",
            "the heater works at the pack's voltage",
            part.number("v_min"),
            drive.figures.nominal_v,
            "V",
            COMMON,
        )
        yield at_least(
            "heater.voltage-high",
            "the heater stands the pack's charge voltage",
            part.number("v_max"),
            drive.figures.charge_v,
            "V",
            COMMON,
        )

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return f"the conditions ask for {_heat_wanted_w(context):.0f} W of cabin heat"


class HeaterRelay(Rule):
    family = "heater_relay"
    side = "pack"
    system = "cabin"

    def needed(self, context: Context, drive: Drive) -> bool:  # noqa: ARG002
        return _heat_wanted_w(context) > 0

    def suits(
        self,
        context: Context,
        drive: Drive,
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,
    ) -> Iterator[Check]:
        yield at_least(
            "heater-relay.voltage",
            "the heater relay breaks the pack's charge voltage",
            part.number("v_dc"),
            drive.figures.charge_v,
            "V",
            COMMON,
        )
        yield at_least(
            "heater-relay.current",
            "the heater relay carries the heater's current",
            part.number("rated_a"),
            _heat_wanted_w(context) / drive.figures.nominal_v,
            "A",
            COMMON,
        )


RULES: tuple[Rule, ...] = (
    Monitor(),
    Charger(),
    ChargeInlet(),
    DcDc(),
    Battery12V(),
    Heater(),
    HeaterRelay(),
)
