"""Why no core worked: what turned most of them away, and how near the nearest came."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from bomplan.buying.prices import Source
from bomplan.catalog.records import Part
from bomplan.design.context import Context
from bomplan.design.records import Check
from bomplan.planner.screen import named_refusals
from bomplan.planner.walk import Walked
from bomplan.weighing import AxleLoads, Mass, axle_loads_exact

GIVEN_UP: Final = {
    "seat": "a seat given up",
    "towing": "towing given up",
    "luggage": "luggage left behind",
}


def reasons(context: Context, walked: Walked) -> Iterator[str]:
    """Sentences for the builder: refusals of what is fixed first, then the counts."""
    for check in named_refusals(context):
        yield f"{_told(check)} [{check.id}]"
    seen = walked.screened
    if not seen.cores:
        if not context.catalog.family("motor"):
            yield "the catalogue has no motor at all"
        else:
            yield "no motor, controller and module of the catalogue are left to choose from"
    for name in sorted(seen.rejected):
        family = name.removeprefix("part.").removesuffix(" (none listed)")
        if name == f"part.{family} (none listed)" and not context.catalog.family(family):
            yield f"the catalogue has no {family} at all, and plans that came so far need one"
    for name, number in sorted(seen.rejected.items(), key=lambda item: (-item[1], item[0])):
        nearest = seen.examples.get(name)
        told = f"{number} {'choice' if number == 1 else 'choices'} failed {name}"
        if nearest is not None:
            told += f"; the nearest: {_told(nearest)}"
        yield told
    if any("supplier" in name for name in seen.rejected):
        yield from _who_may_not_sell(context)
    if any(_of_mass(name) for name in seen.rejected):
        yield from _what_could_be_given_up(context)


def refused_checks(context: Context, walked: Walked) -> tuple[Check, ...]:
    """The failed checks by name: of what the builder fixed, and of parts and bays that would
    have been dangerous.

    Of those only what a fixed part fails, or what turned away most cores that came so far: a
    danger that some other part avoids is none of this project's. A core's own danger counts
    where it turned away at least half of everything.
    """
    found = list(named_refusals(context))
    if not walked.complete:
        return tuple(found)  # what most cores fail is not known yet
    found += _of_cores(walked)
    seen, fixed = walked.screened, context.project.choices.parts
    counts = {
        name: number
        for name, number in seen.rejected.items()
        if name.startswith(("part.", "bay.gas", "bay.crush"))
    }
    most = sum(counts.values()) / 2
    for name, number in sorted(counts.items(), key=lambda item: (-item[1], item[0])):
        nearest = seen.examples.get(name)
        if nearest is None or not nearest.caution:
            continue
        if number >= most or name.split(" ")[0].removeprefix("part.") in fixed:
            found.append(nearest)
    return tuple({check.id: check for check in found}.values())


def _of_cores(walked: Walked) -> Iterator[Check]:
    """Checks with a caution that kept out most cores, whatever parts were left to choose."""
    seen = walked.screened
    half = sum(seen.rejected.values()) / 2
    for name, number in sorted(seen.rejected.items(), key=lambda item: (-item[1], item[0])):
        nearest = seen.examples.get(name)
        if nearest is not None and nearest.caution and nearest.id == name and number >= half:
            yield nearest


def _who_may_not_sell(context: Context) -> Iterator[str]:
    """What the wishes on buying leave without a seller, and whom they shut out."""
    buying, only = context.project.buying, context.project.choices.suppliers
    shut = []
    for supplier in sorted(context.catalog.suppliers.values(), key=lambda row: row.id):
        late = buying.deadline_days is not None and supplier.lead_days > buying.deadline_days
        if supplier.id in buying.excluded:
            shut.append(f"{supplier.id} (buying.excluded)")
        elif only and supplier.id not in only:
            shut.append(f"{supplier.id} (not among choices.suppliers)")
        elif late:
            shut.append(
                f"{supplier.id} ({supplier.lead_days} days, buying.deadline_days is"
                f" {buying.deadline_days})"
            )
    unsold = sum(not _sellers(context, part) for part in context.catalog.parts())
    if shut and unsold:
        yield f"{unsold} parts are offered only by who may not sell: {', '.join(shut)}"
    if buying.suppliers_max is not None:
        yield f"orders at no more than {buying.suppliers_max} suppliers (buying.suppliers_max)"
    # Of a catalogue with fewer rows, as a study asks, some of what is named may be gone.
    known = {name for rows in context.catalog.families.values() for name in rows}
    for part, name in sorted(buying.supplier_of.items()):
        if part not in known:
            continue
        sources = _sellers(context, context.catalog.part(part))
        if not sources:
            yield f"{name} does not sell {part}, and buying.from lets nobody else"
        elif sources[0].stock is not None:
            yield (
                f"{name} has {sources[0].stock} of {part} in stock, and buying.from lets nobody"
                " else sell it"
            )
    for name, pieces in sorted(context.project.choices.owned.items()):
        if pieces > 0 and name in known and not _sellers(context, context.catalog.part(name)):
            yield (
                f"of {name} there {'is' if pieces == 1 else 'are'} {pieces} at hand"
                " (choices.owned), and nobody who may sell has more"
            )


def _sellers(context: Context, part: Part) -> list[Source]:
    """The ways to buy this part; what is at hand is not bought."""
    return [source for source in context.prices.sources(part) if source.steps]


def _of_mass(name: str) -> bool:
    return name.startswith(("mass", "axle", "tyre", "wheel"))


def _what_could_be_given_up(context: Context) -> Iterator[str]:
    """What the project marks as dispensable, with what each axle would be freed of."""
    for case in context.project.load_cases:
        for item in case.items:
            if item.give_up is None or not item.mass_g:
                continue
            freed = axle_loads_exact(
                [Mass(item.name, item.mass_g, item.x_mm)], context.wheelbase_mm
            )
            yield (
                f"load case {case.name} counts {item.name}: without it"
                f" ({GIVEN_UP[item.give_up]}) the car would carry {_kg(item.mass_g)} less,"
                f" {_of_axles(freed)}"
            )


def _of_axles(freed: AxleLoads) -> str:
    """What that is for each axle; what hangs out beyond one lifts the other."""
    if freed.front_g >= 0 and freed.rear_g >= 0:
        return f"{_kg(freed.front_g)} of it in front and {_kg(freed.rear_g)} at the rear"
    front, rear = (
        f"{_kg(abs(grams))} {'more' if grams < 0 else 'less'}"
        for grams in (freed.front_g, freed.rear_g)
    )
    return f"the front axle {front} and the rear axle {rear}"


def _kg(grams: Fraction | int) -> str:
    return f"{_figure(float(grams) / 1000)} kg"


def _told(check: Check) -> str:
    """A failed check in words, with its figures where it has any."""
    if check.unit == "yes/no":
        return f"{check.words}: this is not so"
    return (
        f"{check.words}: {_figure(check.value)} {check.unit}, {check.sense} {_figure(check.limit)}"
    )


def _figure(value: float) -> str:
    return f"{value:.1f}".rstrip("0").rstrip(".")
