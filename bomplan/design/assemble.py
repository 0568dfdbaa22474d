"""From a core, a placement and one row per family to the bill, its masses and its couplers.

Every figure here is an integer sum, so that the model, the brute-force oracle and the audit
count the same grams, gram-millimetres and cents.
"""

from __future__ import annotations

from dataclasses import dataclass

from bomplan.buying.prices import Lot, Source
from bomplan.catalog.records import Part
from bomplan.design.bill import RULES, DesignCurrents, Rule
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.orders import Orders, charge_lines, spares_of
from bomplan.design.purchase_records import Invoice, Spare
from bomplan.design.records import BayUse, Couplers, Line, Stand
from bomplan.design.series import in_series_order
from bomplan.design.spots import (
    bay_height_moment,
    bay_lateral_moments,
    lateral_moments,
    spot_of,
)
from bomplan.packing import fill_order, moment_table


@dataclass(frozen=True)
class Chosen:
    """The row of one family and where it is bought.

    Without ``lots`` the cheapest at this source; with them exactly these, of any source.
    """

    part: Part
    source: Source
    lots: tuple[Lot, ...] = ()

    def bought(self, needed: int) -> tuple[Lot, ...]:
        """What is bought where so many pieces are needed."""
        if self.lots or needed <= 0 or not self.source.steps:
            return self.lots
        bought, unit_price, _ = self.source.buy(needed)
        cheapest = self.source.cheapest(needed)
        return (cheapest or Lot(self.source, bought, unit_price, 1),)


@dataclass(frozen=True)
class PlacedPart:
    """Pieces of one family that stand together, in a bay or outside of all; moments in g·mm."""

    family: str
    part: str
    bay: str
    pieces: int
    mass_g: int
    moment_gmm: int
    lateral_gmm: int | None
    height_gmm: int | None


@dataclass(frozen=True)
class Bill:
    """A whole bill: ``price`` with shipping; masses and moments of what is fitted."""

    lines: tuple[Line, ...]
    price: int
    added_g: int
    moment_gmm: int
    bay_mass_g: tuple[int, ...]
    couplers: Couplers
    supply_12v_w: int
    lateral_gmm: int = 0
    cross_gmm2: int = 0
    placed: tuple[PlacedPart, ...] = ()
    invoices: tuple[Invoice, ...] = ()
    spares: tuple[Spare, ...] = ()


def needed_rules(context: Context, drive: Drive) -> tuple[Rule, ...]:
    """The rules of the families that this core needs, in their fixed order."""
    return tuple(
        rule
        for rule in RULES
        if rule.family not in context.unknown_families and rule.needed(context, drive)
    )


def fitted_rules(context: Context, drive: Drive, rows: tuple[int, ...]) -> tuple[Rule, ...]:
    """Those of which this placement needs a piece; each has a line in the bill."""
    return tuple(
        rule
        for rule in needed_rules(context, drive)
        if not rule.may_be_none or quantity(context, drive, rule, drive.module, rows)
    )


def place_x_mm(context: Context, rule: Rule) -> int:
    """Where the pieces that stand in no bay sit, behind the front axle."""
    return spot_of(context, rule).x_mm


def bay_moment_gmm(
    context: Context, drive: Drive, rule: Rule, part: Part, bay: int, rows: int
) -> int:
    """Moment about the front axle of this family's pieces in one bay.

    Modules count where the layout puts each of them; everything else at the bay's centre.
    """
    if rows == 0:
        return 0
    if rule.family == "module":
        count = rows * drive.core.parallel
        table = moment_table(context.layout(bay, part))
        return part.mass_g * (count * context.bays[bay].x_mm + table[count])
    return part.mass_g * rule.in_bay(context, drive, part, bay, rows) * context.bay_centre_mm(bay)


def quantity(context: Context, drive: Drive, rule: Rule, part: Part, rows: tuple[int, ...]) -> int:
    """Pieces fitted of this family's row for this placement."""
    return rule.base(context, drive, part) + sum(
        rule.in_bay(context, drive, part, bay, count) for bay, count in enumerate(rows) if count > 0
    )


def owned(context: Context, part: Part) -> int:
    return context.project.choices.owned.get(part.id, 0)


def needed_pieces(context: Context, rule: Rule, part: Part, fitted: int) -> int:
    """Pieces to buy where so many are fitted: spares that are asked for too, less those at hand."""
    spare = context.project.buying.spare_pieces(rule.family, fitted)
    return max(0, fitted + spare - owned(context, part))


def assemble(
    context: Context,
    drive: Drive,
    currents: DesignCurrents,
    rows: tuple[int, ...],
    chosen: dict[str, Chosen],
) -> Bill:
    """The bill of a whole choice.

    ``rows`` gives the series places in each bay; ``chosen`` one row for every family that is
    fitted (motor, controller and module included). KeyError if one is missing.
    """
    lines: list[Line] = []
    added = moment = external = load_12v = supply_12v = 0
    lateral = cross = 0
    placed: list[PlacedPart] = []
    bay_mass = [0] * len(rows)
    orders = Orders(context)
    asked: dict[str, int] = {}
    for rule in fitted_rules(context, drive, rows):
        pick = chosen[rule.family]
        part = pick.part
        base = rule.base(context, drive, part)
        fitted = base
        here = base * part.mass_g * place_x_mm(context, rule)
        spot, outside_g = spot_of(context, rule), base * part.mass_g
        aside, across = lateral_moments(outside_g, spot)
        placed.append(
            PlacedPart(
                rule.family,
                part.id,
                "",
                base,
                outside_g,
                here,
                None if spot.y_mm is None else aside,
                None if spot.z_mm is None else outside_g * spot.z_mm,
            )
        )
        for bay, count in enumerate(rows):
            if count == 0:
                continue
            pieces = rule.in_bay(context, drive, part, bay, count)
            fitted += pieces
            bay_mass[bay] += pieces * part.mass_g
            along = bay_moment_gmm(context, drive, rule, part, bay, count)
            here += along
            in_bay = bay_lateral_moments(context, drive, rule, part, bay, count)
            aside, across = aside + in_bay[0], across + in_bay[1]
            placed.append(
                PlacedPart(
                    rule.family,
                    part.id,
                    context.bays[bay].name,
                    pieces,
                    pieces * part.mass_g,
                    along,
                    None if context.bays[bay].y_mm is None else in_bay[0],
                    bay_height_moment(context, drive, rule, part, bay, count),
                )
            )
        moment += here
        lateral, cross = lateral + aside, cross + across
        at_hand = min(owned(context, part), fitted)
        to_spare = rule.to_spare(context, drive, rows)
        hours = (fitted - to_spare) * part.number_or("hours_to_fit", 0.0)
        spare = context.project.buying.spare_pieces(rule.family, fitted)
        needed = needed_pieces(context, rule, part, fitted)
        asked[rule.family] = spare
        lots = pick.bought(needed)
        purchases = tuple(orders.purchase(part, lot) for lot in lots)
        added += fitted * part.mass_g
        external += fitted * rule.external_uohm(drive, part)
        load_12v += fitted * rule.mean_12v_w(part)
        supply_12v += fitted * rule.supply_12v_w(part)
        lines.append(
            Line(
                family=rule.family,
                part=part.id,
                description=part.description,
                quantity=fitted,
                unit=rule.unit,
                to_spare=to_spare,
                bought=sum(one.bought for one in purchases),
                owned=at_hand,
                supplier=purchases[0].supplier if purchases else pick.source.supplier,
                unit_price=purchases[0].unit_price
                if purchases
                else orders.least_unit_price(pick.source),
                price=sum(one.price for one in purchases),
                unit_mass_kg=part.mass_g / 1000,
                mass_kg=fitted * part.mass_g / 1000,
                moment_gmm=here,
                moment_y_gmm=aside,
                moment_xy_gmm2=across,
                system=rule.system,
                hours=round(hours, 2),
                why=": ".join(
                    words
                    for words in (
                        rule.why(context, drive, currents, part),
                        rule.counted(context, drive, rows),
                    )
                    if words
                ),
                purchases=purchases,
            )
        )
    spares = spares_of(lines, asked)
    invoices = orders.invoices()
    for invoice in invoices:
        lines.extend(charge_lines(invoice))
    donor = context.project.donor
    return Bill(
        lines=tuple(lines),
        price=sum(line.price for line in lines),
        added_g=added,
        moment_gmm=moment,
        bay_mass_g=tuple(bay_mass),
        couplers=Couplers(
            added_g=added,
            external_uohm=external + joints_uohm(context, drive),
            mean_12v_w=load_12v + round(donor.load_12v_w),
        ),
        supply_12v_w=supply_12v,
        lateral_gmm=lateral,
        cross_gmm2=cross,
        placed=tuple(placed),
        invoices=invoices,
        spares=spares,
    )


def joints_uohm(context: Context, drive: Drive) -> int:
    """Bars and joints along the series run, shared by the parallel paths."""
    core = drive.core
    return -(-core.series * context.project.house_rules.joint_uohm // core.parallel)


def placement_records(context: Context, drive: Drive, rows: tuple[int, ...]) -> tuple[BayUse, ...]:
    """The placement as the plan keeps it: corner, number and polarity of every module, links."""
    uses = []
    for bay, count in enumerate(rows):
        if count == 0:
            continue
        modules = count * drive.core.parallel
        found = context.layout(bay, drive.module)
        stands = tuple(
            Stand(
                x_mm=stand.x_mm,
                y_mm=stand.y_mm,
                z_mm=stand.z_mm,
                length_mm=stand.length_mm,
                width_mm=stand.width_mm,
                height_mm=stand.height_mm,
                layer=stand.layer,
                terminals=stand.terminals,
            )
            for stand in (found.positions[index] for index in fill_order(found)[:modules])
        )
        uses.append(
            BayUse(bay=context.bays[bay].name, modules=modules, series=count, stands=stands)
        )
    return in_series_order(context, drive, tuple(uses))
