"""Where a project and a catalogue meet: every id and name that one takes from the other.

A lock on a part that nobody sells would otherwise end in "no plan", which is true and of no
help. All faults are collected, each with the nearest name that exists.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from bomplan.catalog.columns import schema
from bomplan.catalog.records import Catalog
from bomplan.design.bill import RULES
from bomplan.design.buying_order import GATE_IDS
from bomplan.design.pack_life import energy_price
from bomplan.design.roads import road
from bomplan.design.tyres import tyres_of
from bomplan.errors import Fault, InputError
from bomplan.project.records import Project

IN_BAYS = frozenset(
    {
        "module", "box", "hold_down", "link", "link_cable", "link_lug", "fasteners",
        "vent_fan", "monitor", "fuse", "fuse_holder",
    }
)  # fmt: skip
"""Families whose pieces all stand in the bays that hold modules."""


def check_references(project: Project, catalog: Catalog, file: str | None = None) -> None:
    """Raises InputError with every mention that leads nowhere and every rate that lacks.

    ``file`` is how messages call the project's file.
    """
    faults = [*_locked(project, catalog), *_named(project, catalog), *_rates(project, catalog)]
    faults += [*_placed(project), *_budget(project, catalog), *_goal(project)]
    try:
        tyres_of(project)
    except InputError as error:
        faults += error.faults
    driven = {(name, None) for name in project.routes} | {
        (target.profile, target.speed_cap_m_s)
        for target in project.targets.range
        if target.profile in project.routes
    }
    for name, speed_cap_m_s in sorted(driven, key=lambda one: (one[0], one[1] or 0.0)):
        try:
            road(name, project.routes[name], speed_cap_m_s)
        except InputError as error:
            faults += error.faults
    if faults:
        raise InputError(replace(fault, file=file) for fault in faults)


def _goal(project: Project) -> Iterator[Fault]:
    """Energy over the years has a price, or the sum would be one of the packs alone."""
    if project.goal.aim == "least-lifetime-cost" and energy_price(project) is None:
        yield Fault(
            "references.goal-energy",
            "counts the energy over the years, and nobody says what it costs",
            where="goal.aim",
            value=project.goal.aim,
            hint=f"give use.electricity_price, in {project.currency} for a kilowatt-hour",
        )


def _locked(project: Project, catalog: Catalog) -> Iterator[Fault]:
    choices = project.choices
    home = {part.id: part.family for part in catalog.parts()}
    for family in ("motor", "controller", "module"):
        name = getattr(choices, family)
        if name is not None:
            yield from _of_family(f"choices.{family}", family, name, catalog, home)
    families = {name for name, table in schema().items() if not table.is_table}
    for family, name in sorted(choices.parts.items()):
        if family in ("motor", "controller", "module"):
            yield Fault(
                "references.lock-place",
                f"a {family} is locked by a key of its own",
                where=f"choices.parts.{family}",
                value=name,
                hint=f'write {family} = "{name}" under [choices]',
            )
        elif family not in families:
            yield _unknown(
                "family", f"choices.parts.{family}", family, families, "is no family of parts"
            )
        else:
            yield from _of_family(f"choices.parts.{family}", family, name, catalog, home)


def _of_family(
    where: str, family: str, name: str, catalog: Catalog, home: dict[str, str]
) -> Iterator[Fault]:
    rows = catalog.family(family)
    if name in rows:
        return
    if name in home:
        message = f"is a {home[name]}, not a {family}"
        yield _unknown("part-family", where, name, rows, message)
    else:
        message = f"is no {family} of the catalogue"
        yield _unknown("part", where, name, rows, message, home)


def _named(project: Project, catalog: Catalog) -> Iterator[Fault]:
    choices = project.choices
    home = {part.id for part in catalog.parts()}
    for key, names in (("excluded", choices.excluded), ("owned", choices.owned)):
        for name in names:
            if name not in home:
                where = f"choices.{key}"
                yield _unknown("part", where, name, home, "is no part of the catalogue")
    family_of = {part.id: part.family for part in catalog.parts()}
    for key, table in (("requires", choices.requires), ("forbids", choices.forbids)):
        for part, others in table.items():
            where = f"choices.{key}.{part}"
            for name in (part, *others):
                if name not in home:
                    yield _unknown("part", where, name, home, "is no part of the catalogue")
            taken = {family_of.get(part): part}
            for name in others if key == "requires" else ():
                family = family_of.get(name)
                if family is not None and taken.setdefault(family, name) != name:
                    yield Fault(
                        "references.rule",
                        f"cannot go with {taken[family]}: a plan has one row of each family, and"
                        f" both are of {family}",
                        where=where,
                        value=name,
                        hint="to fix a row of a family, name it under [choices] or [choices.parts]",
                    )
    for name in choices.suppliers:
        if name not in catalog.suppliers:
            yield _unknown(
                "supplier",
                "choices.suppliers",
                name,
                catalog.suppliers,
                "is no supplier of the catalogue",
            )
    yield from _bought(project, catalog, home)
    known = {part.text("chemistry") for part in catalog.family("module").values()}
    for name in choices.chemistries:
        if name not in known:
            yield _unknown(
                "chemistry", "choices.chemistries", name, known, "is no chemistry on offer"
            )
    for key, count in choices.owned.items():
        if count < 0:
            yield Fault(
                "references.owned",
                "cannot be fewer than none",
                where=f"choices.owned.{key}",
                value=str(count),
                allowed="0 or more",
            )


def _budget(project: Project, catalog: Catalog) -> Iterator[Fault]:
    """Rows at hand and gates that there are, each with days that it can take."""
    budget = project.budget
    for name in budget.at_hand:
        if name not in catalog.extras:
            message = "is no row of the catalogue's table extras"
            yield _unknown("extra", "budget.at_hand", name, catalog.extras, message)
    for key, names in (("passed", budget.passed), ("gate_days", tuple(budget.gate_days))):
        for name in names:
            if name not in GATE_IDS:
                yield _unknown("gate", f"budget.{key}", name, GATE_IDS, "is no gate of the buying")
    for name, days in budget.gate_days.items():
        if not 0 <= days <= 1000:
            yield Fault(
                "references.gate-days",
                "is no number of days",
                where=f"budget.gate_days.{name}",
                value=str(days),
                allowed="a whole number from 0 to 1000",
            )


def _bought(project: Project, catalog: Catalog, home: set[str]) -> Iterator[Fault]:
    """Suppliers, parts and families that the project names under buying."""
    buying = project.buying
    named = [("buying.excluded", name) for name in buying.excluded]
    named += [(f"buying.from.{part}", name) for part, name in buying.supplier_of.items()]
    for where, name in named:
        if name not in catalog.suppliers:
            yield _unknown(
                "supplier", where, name, catalog.suppliers, "is no supplier of the catalogue"
            )
    for name in buying.supplier_of:
        if name not in home:
            yield _unknown("part", "buying.from", name, home, "is no part of the catalogue")
    families = {rule.family for rule in RULES}
    for rule in buying.spares:
        if rule.family not in families:
            yield _unknown(
                "family",
                "buying.spares",
                rule.family,
                families,
                "is no family of parts that a conversion needs",
            )


def _placed(project: Project) -> Iterator[Fault]:
    """Places of their own for families that there are."""
    families = {rule.family for rule in RULES}
    for family in (name for place in project.places.parts for name in place.families):
        if family in IN_BAYS:
            yield Fault(
                "references.place-in-bays",
                "stands in the bays, so it has no place of its own",
                where="places.parts",
                value=family,
                allowed="families that stand outside of all bays, such as charger",
                hint="[[bays]] say where modules and what holds them stand; take the entry out",
            )
        elif family not in families:
            yield _unknown(
                "family",
                "places.parts",
                family,
                families,
                "is no family of parts that a conversion needs",
            )


def _rates(project: Project, catalog: Catalog) -> Iterator[Fault]:
    """Currencies that will have to be counted and that the project gives no rate for."""
    allowed = project.choices.suppliers
    used: dict[str, str] = {}
    for supplier in sorted(catalog.suppliers.values(), key=lambda row: row.id):
        if not allowed or supplier.id in allowed:
            used.setdefault(supplier.currency, f"supplier {supplier.id}")
    offered = {offer.part for offer in catalog.offers}
    for part in catalog.parts():
        if part.id not in offered:
            used.setdefault(part.currency, f"{part.family} {part.id}")
    for currency, example in sorted(used.items()):
        if currency != project.currency and currency not in project.rates:
            yield Fault(
                "references.rate",
                f"the catalogue has prices in {currency} (such as {example}), the project"
                f" counts in {project.currency}, and no rate is given",
                where="rates",
                allowed=f"what one {currency} costs in {project.currency}",
                hint=f"add {currency} = such a number under [rates], and its day as rates_as_of",
            )


def _unknown(
    code: str,
    where: str,
    name: str,
    known: Iterable[str],
    message: str,
    home: Mapping[str, str] | None = None,
) -> Fault:
    """Nothing ``known`` has this name. ``home``: every part with its family.

    What is alike in the family that is asked goes before what is in another one, which is named.
    """
    names = sorted(name for name in known if name)
    near = difflib.get_close_matches(name, names, n=1, cutoff=0.5)
    allowed = ", ".join(names) if 0 < len(names) <= 12 else None
    hint = f"did you mean {near[0]}?" if near else "bomplan catalog list shows what there is"
    if not near and home:
        near = difflib.get_close_matches(name, sorted(home), n=1, cutoff=0.75)
        hint = f"{near[0]} is alike, a row of {home[near[0]]}" if near else hint
    return Fault(f"references.{code}", message, None, where, name, allowed, hint)
