"""Small catalogues and projects by seed, each made so that something in it decides.

Parts are rows of the generic catalogue with changed figures. A case is made loose first; its
best plan shows where a limit has to stand to bind, and the limit is set near there, a little
below it or far below, so that about half of the cases have a plan and half have none.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from itertools import product
from random import Random
from typing import Any

from lanes import FULL
from oracle.cores import placements
from oracle.known_cores import Cores, known_cores, plan_with
from oracle.matching import lead_with_matching
from oracle.studs import screw, without_studs
from oracle.tightening import TIGHTEN

from bomplan.catalog import load_catalog
from bomplan.catalog.records import Catalog, Offer, Part, Supplier
from bomplan.design.adapter import Simulator
from bomplan.design.assemble import Chosen, assemble
from bomplan.design.bill import RULES, DesignCurrents
from bomplan.design.bill.fits import row_checks
from bomplan.design.context import Context
from bomplan.design.currents import design_currents
from bomplan.design.drive import Drive, pack_figures, resolve
from bomplan.design.records import Core, Couplers
from bomplan.project.records import (
    Project,
)
from bomplan.requirements.core import core_checks
from bomplan.requirements.evaluate import fitted_checks, part_checks, supply_and_budget
from bomplan.requirements.simulated import simulated_checks
from bomplan.requirements.sustained import sustained_checks

MOTORS = (
    "motor-series-170mm",
    "motor-series-185mm",
    "motor-induction-72v-20kw",
    "motor-pm-96v-38kw-air",
)
MODULES = (
    "lfp-module-8s-50",
    "lfp-module-4s-100",
    "nmc-hybrid-12s-26",
    "nmc-hybrid-12s-37",
    "nmc-hybrid-12s-50",
    "nmc-pouch-block-8s2p-64",
    "nmc-pouch-block-10s-40",
    "lead-agm-12v-55",
    "lead-agm-12v-75",
    "nmc-box-12s1p-94",
)
# How often each limit is set to bind, in the order of the seeds.
KINDS = (
    "loose",
    *("axle", "gross", "range", "performance", "bay", "budget", "twelve-volt") * 2,
    *("axle", "performance", "twelve-volt", "twelve-volt"),
    "two at once",
    "gas",
)
# Families whose rows are doubled to give a choice; a cable brings its lug along.
CHOICES = (
    "cable",
    "fuse",
    "contactor",
    "charger",
    "dcdc",
    "box",
    "shunt",
    "gauge",
    "vacuum_set",
    "emergency_disconnect",
    "adapter_plate",
    "link",
    "hold_down",
)
PROFILES = ("ece-15",) * 5 + ("constant 50 km/h",) * 3 + ("route down.csv",)
# An open route that ends lower than it starts: more mass may carry the car further.
DOWN = [
    {"distance_m": 0.0, "speed_limit_m_s": 14.0, "elevation_m": 60.0},
    {"distance_m": 900.0, "speed_limit_m_s": 14.0, "elevation_m": 20.0},
    {"distance_m": 1_600.0, "speed_limit_m_s": 11.0, "elevation_m": 35.0},
    {"distance_m": 2_400.0, "speed_limit_m_s": 14.0, "elevation_m": 0.0},
]
CORE = ("motor", "controller", "module")
# They draw from a stream of their own, so that every seed stays the case that it was.
LATER = (
    "branch_cable",
    "discharge_resistor",
    "branch_lug",
    "branch_gland",
    "wire_12v",
    "feed_fuse",
    "feed_wire",
    "feed_lug",
    "link_cable",
    "link_lug",
)
MOST_COMBINATIONS = 24
DRAWS = 12


@dataclass(frozen=True)
class Case:
    """One project with its catalogue; ``kind`` says which limit was set to bind."""

    seed: int
    kind: str
    project: Project
    catalog: Catalog


@cache
def generic() -> Catalog:
    """The shipped rows at list prices, read as if they were in the project's money."""
    shipped = load_catalog(["generic"])
    families = {
        family: {part.id: part.model_copy(update={"currency": "EUR"}) for part in rows.values()}
        for family, rows in shipped.families.items()
    }
    return shipped.model_copy(update={"families": families, "offers": (), "suppliers": {}})


@cache
def gassing_catalog() -> Catalog:
    """The same with modules that all give off gas as lead-acid ones do.

    Lead itself needs packs too large for small cases.
    """
    catalog = generic()
    modules = {
        part.id: part.model_copy(update={"figures": {**part.figures, "gassing_a_per_100ah": 1.0}})
        for part in catalog.family("module").values()
    }
    return catalog.model_copy(update={"families": {**catalog.families, "module": modules}})


def make_case(seed: int) -> Case:
    """The case of this seed: always the same one."""
    return drawn(seed, () if FULL else known_cores().get(seed, ()))[0]


def drawn(seed: int, known: Cores) -> tuple[Case, Cores]:
    """The case, and the core of the best plan of each car that was drawn for it.

    ``known`` are taken as those, where they have a plan.
    """
    left = iter(known)
    random = Random(f"small case {seed}")
    kind = KINDS[seed % len(KINDS)]
    loose = None
    found: list[Core | None] = []
    # Now and then a case stays that has no plan even with every limit out of reach.
    while loose is None:
        fields = project_fields(random)
        if kind == "gas":
            # The boot is nearer to the controller, so that every plan would like to use it.
            fields["bays"][0]["cable_run_mm"] = 3_000
            boot = {"inside_cabin": True, "vented": random.random() < 0.3, "cable_run_mm": 500}
            fields["bays"][1] |= boot
        catalog = small_catalog(random, fields, kind)
        if catalog is None:
            continue
        loose = plan_with(Project.model_validate(fields), catalog, left)
        found.append(None if loose is None else loose.core)
        if loose is None and random.random() < 0.1:
            break
    assert catalog is not None
    if loose is not None:
        kinds = random.sample(sorted(TIGHTEN), 2) if kind == "two at once" else [kind]
        for one in kinds:
            if one in TIGHTEN:
                TIGHTEN[one](random, fields, catalog, loose)
    return Case(seed, kind, Project.model_validate(fields), catalog), tuple(found)


# -- the project -----------------------------------------------------------------------------


def project_fields(random: Random) -> dict[str, Any]:
    """A light car with two bays and a short closed round; every limit is out of reach."""
    strict = random.random() < 0.5
    heater = random.choice((0.0, 0.0, 500.0))
    conditions: list[dict[str, Any]] = [
        {"name": "mild", "temperature_c": 20.0, "heater_w": 0.0},
        {"name": "cold", "temperature_c": -5.0, "aged": True, "heater_w": heater},
    ]
    ratios = [3.9, 4.6] if random.random() < 0.2 else [random.choice((3.9, 4.3))]
    return {
        "format": 1,
        "name": "small case",
        "as_of": "2026-11-01",
        "currency": "EUR",
        "donor": {
            "kind": "car",
            "wheelbase_mm": random.choice((2000, 2047, 2300)),
            "gross_limit_g": 1_300_000,
            "front_axle_limit_g": 900_000,
            "rear_axle_limit_g": 900_000,
            "drag_area_m2": 0.7,
            "rolling_resistance": 0.012,
            "load_12v_w": float(random.choice((120, 180, 230))),
            "brake_booster": random.random() < 0.5,
            "weighing": {
                "front_g": random.randrange(300_000, 380_000),
                "rear_g": random.randrange(230_000, 300_000),
                "fuel_g": 15_000,
                "fuel_x_mm": 1_900,
            },
            "driveline": {
                "mounts": ["gearbox"],
                "driven": random.choice(("front", "rear")),
                "gear_ratios": [3.4, 2.0, 1.3],
                "final_ratios": ratios,
                "shift_speeds_m_s": [6.0, 11.0],
                "wheel_radius_mm": 265,
            },
            "removed": [{"name": "engine", "mass_g": 95_000, "x_mm": 50}],
        },
        "bays": _bays(random),
        "places": {
            "motor_x_mm": 120,
            "controller_x_mm": -200,
            "charger_x_mm": random.choice((-300, 1_700)),
            "other_x_mm": 0,
        },
        "load_cases": [
            {"name": "two", "items": [{"name": "people", "mass_g": 150_000, "x_mm": 1_150}]},
            {
                "name": "laden",
                "items": [
                    {"name": "people", "mass_g": 150_000, "x_mm": 1_150},
                    {"name": "goods", "mass_g": 60_000, "x_mm": 1_950},
                ],
            },
        ],
        "conditions": conditions,
        "targets": {
            "range": [
                {
                    "name": "round",
                    "distance_m": 8_000,
                    "profile": random.choice(PROFILES),
                    "condition": random.choice(("mild", "cold")),
                    "load_case": random.choice(("two", "laden")),
                }
            ],
            "pack_voltage_min_v": 64.0,
            "pack_voltage_max_v": 130.0,
        },
        "charging": {"hours": 16.0},
        "margins": {"axle": 0.0, "axle_g": 0, "range": 0.0} if strict else {},
        "choices": {"parallel_max": random.choice((1, 2, 2))},
        # Splits are tried in cases of their own: here they would multiply the plans to count.
        "buying": {"split": False},
        "house_rules": {"minimum_front_share": 0.45} if random.random() < 0.1 else {},
        "routes": {"route down.csv": DOWN},
    }


def _bays(random: Random) -> list[dict[str, Any]]:
    """One ahead and one behind; sometimes at the same distance from the controller."""
    runs = random.choice(((700, 2_600), (1_500, 1_500), (900, 2_400), (0, 1_800)))
    sizes = [
        {
            "length_mm": random.randrange(360, 720),
            "width_mm": random.randrange(420, 900),
            "height_mm": random.randrange(200, 330),
        }
        for _ in range(2)
    ]
    boot: dict[str, Any] = {"name": "boot", "x_mm": random.choice((1_500, 1_900))}
    boot |= {"inside_cabin": random.random() < 0.3, "vented": random.random() < 0.3}
    return [
        {"name": "bonnet", "x_mm": -420, "cable_run_mm": runs[0], **sizes[0]},
        {**boot, "cable_run_mm": runs[1], **sizes[1]},
    ]


# -- the catalogue ---------------------------------------------------------------------------


def small_catalog(random: Random, fields: dict[str, Any], kind: str = "loose") -> Catalog | None:
    """One or two motors, controllers and one to three modules, with what they need.

    None for a car in which too many draws found no plan.
    """
    project = Project.model_validate(fields)
    catalog = without_studs(gassing_catalog() if kind == "gas" else generic())
    found = _base(random, Context(project, catalog))
    if found is None:
        return None
    base, kit = found
    motors, controllers = {base.motor}, {base.controller}
    partners = [p.controller for p in catalog.pairs if p.motor == base.motor]
    if random.random() < 0.5:
        controllers.add(random.choice(partners))
    if random.random() < 0.4:
        motors.add(random.choice(MOTORS))
    modules: set[str] = {base.module, *random.sample(MODULES, random.choice((0, 1, 1, 2)))}
    rows: dict[str, list[Part]] = {
        "motor": [catalog.family("motor")[name] for name in sorted(motors)],
        "controller": [catalog.family("controller")[name] for name in sorted(controllers)],
        "module": [catalog.family("module")[name] for name in sorted(modules)],
    }
    combinations = 1
    # A second row that does more than the first, where a limit asks for it.
    strong = _stronger(random, kit, kind)
    # Either many rows to choose from, or many sources.
    chosen = [*strong, *random.sample(CHOICES, random.choice((1, 4)))]
    for family in sorted(kit, key=lambda name: name not in strong):
        parts = kit[family]
        kept = parts[:1]
        if family in chosen and combinations * 2 <= MOST_COMBINATIONS:
            more = [strong[family]] if family in strong else _more_rows(random, parts)
            kept = kept + more
            combinations *= len(kept)
        rows[family] = kept
    _fit_lugs(rows, kit)
    families = {
        family: {part.id: part for part in sorted(_varied(stream, parts), key=lambda p: p.id)}
        for family, parts in sorted(rows.items())
        for stream in (Random(family) if family in LATER else random,)
    }
    if random.random() < 0.15:
        # A twin under another name: the same price and mass from two cores.
        twin = families["module"][base.module].model_copy(update={"id": f"a-{base.module}"})
        families["module"] = {twin.id: twin, **families["module"]}
    screw(families)
    suppliers, offers = _offers(random, families, MOST_COMBINATIONS // combinations)
    _wishes(random, fields, families, base)
    return Catalog(
        name="small",
        families=families,
        pairs=catalog.pairs,
        curves=catalog.curves,
        temperatures=catalog.temperatures,
        suppliers=suppliers,
        offers=offers,
    )


def _base(random: Random, context: Context) -> tuple[Core, dict[str, list[Part]]] | None:
    """A core that has a plan, with what it needs; another is drawn if it has not."""
    project = context.project
    for _ in range(DRAWS):
        motor, module = random.choice(MOTORS), random.choice(MODULES)
        pairs = [pair for pair in context.catalog.pairs if pair.motor == motor]
        volts = pack_figures(context.catalog.family("module")[module], 1, 1).nominal_v
        parallel = random.choice((1, 1, project.choices.parallel_max))
        least = math.ceil(project.targets.pack_voltage_min_v / volts)
        core = Core(
            motor=motor,
            controller=random.choice(pairs).controller,
            final_ratio=project.donor.driveline.final_ratios[0],
            module=module,
            series=random.choice((least, least, least + 1)),
            parallel=parallel,
            topology=random.choice(("groups", "strings")) if parallel > 1 else "groups",
        )
        drive = resolve(context, core)
        passed = all(check.passed for check in core_checks(context, drive))
        if passed and next(placements(context, drive), None) is not None:
            kit = _kit(context, core)
            if kit is not None:
                return core, kit
    return None


def _kit(context: Context, core: Core) -> dict[str, list[Part]] | None:
    """For every family the rows that suit this core, those of one whole plan in front.

    Also for families that only another core may need (pre-charge, fan, monitor, cooling).
    None if the catalogue has no plan with this core.
    """
    drive = resolve(context, core)
    simulator = Simulator(context, drive)
    currents = design_currents(context, drive, simulator)
    kit: dict[str, list[Part]] = {}
    for rule in RULES:
        if rule.family in CORE:
            continue
        rows = sorted(
            context.catalog.family(rule.family).values(), key=lambda part: (part.price, part.id)
        )
        suited = [
            part
            for part in rows
            if not rule.needed(context, drive)
            or all(check.passed for check in row_checks(context, drive, currents, rule, part))
        ]
        if not suited:
            return None
        kit[rule.family] = suited
    if not lead_with_matching(context, drive, currents, kit):
        return None
    return kit if _passes(context, drive, currents, simulator, kit) else None


def _passes(
    context: Context,
    drive: Drive,
    currents: DesignCurrents,
    simulator: Simulator,
    kit: dict[str, list[Part]],
) -> bool:
    """Whether the kit's first rows make a plan at some placement, after a stronger converter."""
    core = {"motor": drive.motor, "controller": drive.controller, "module": drive.module}
    driven: dict[Couplers, bool] = {}
    for dcdc, box in product(_few(kit["dcdc"]), _few(kit["box"])):
        first = {family: parts[0] for family, parts in kit.items()} | core
        first |= {"dcdc": dcdc, "box": box}
        chosen = {
            family: Chosen(part, context.prices.sources(part)[0]) for family, part in first.items()
        }
        beside = [
            *core_checks(context, drive),
            *sustained_checks(context, drive, currents),
            *part_checks(context, drive, currents, chosen),
        ]
        if not all(check.passed for check in beside):
            continue
        for rows in placements(context, drive):
            bill = assemble(context, drive, currents, rows, chosen)
            whole = [
                *fitted_checks(context, drive, rows, chosen, bill),
                *supply_and_budget(context, bill),
            ]
            if not all(check.passed for check in whole):
                continue
            if bill.couplers not in driven:
                checks = simulated_checks(simulator, bill.couplers)
                driven[bill.couplers] = all(check.passed for check in checks)
            if driven[bill.couplers]:
                for family, part in (("dcdc", dcdc), ("box", box)):
                    kit[family] = [part, *(other for other in kit[family] if other != part)]
                return True
    return False


def _stronger(random: Random, kit: dict[str, list[Part]], kind: str) -> dict[str, Part]:
    """A converter of more power for the 12 V cases, a box that holds more for most others."""
    more_power = kind == "twelve-volt" and random.random() < 0.6
    wanted = [("dcdc", "output_a")] if more_power else []
    wanted += [("box", "max_mass_kg")] if random.random() < 0.6 else []
    found = {}
    for family, column in wanted:
        first = kit[family][0].number(column)
        more = [part for part in kit[family] if part.number(column) > first]
        if more:
            found[family] = more[0]
    return found


def _few(parts: list[Part]) -> list[Part]:
    """The cheapest, one in the middle and the dearest: enough to find a strong one."""
    return [parts[0], parts[len(parts) // 2], parts[-1]]


def _more_rows(random: Random, parts: list[Part]) -> list[Part]:
    """A second row: the next suitable one, or a copy that differs in price or mass alone."""
    how = random.randrange(5)
    if how == 0 and len(parts) > 1:
        return [random.choice(parts[1:4])]
    first = parts[0]
    changes: dict[str, Any] = {"id": f"{first.id}-x"}
    if how == 1:
        changes["price"] = first.price + random.choice((0, 1, 500, 4_000))
        changes["mass_g"] = max(1, first.mass_g * random.randrange(50, 90) // 100)
    elif how == 2:
        changes["price"] = max(1, first.price - random.choice((0, 1, 700)))
        changes["mass_g"] = first.mass_g + random.randrange(1, 3_000)
    elif how == 3:
        changes["mass_g"] = max(1, first.mass_g + random.choice((-1, 0, 1)))
    else:
        changes["id"] = f"a-{first.id}"
    return [first.model_copy(update=changes)]


def _fit_lugs(rows: dict[str, list[Part]], kit: dict[str, list[Part]]) -> None:
    """Every cable that may be chosen finds its lug."""
    areas = {part.number("area_mm2") for part in rows["cable"]}
    for area in sorted(areas - {part.number("area_mm2") for part in rows["lug"]}):
        rows["lug"] = [
            *rows["lug"],
            *[part for part in kit["lug"] if part.number("area_mm2") == area][:1],
        ]


def _varied(random: Random, parts: list[Part]) -> list[Part]:
    """Prices in the project's money and a little moved, so that no two cases are alike."""
    shift = random.randrange(80, 125)
    return [
        part.model_copy(
            update={
                "price": max(1, part.price * shift // 100),
                "mass_g": max(
                    1, part.mass_g * (random.randrange(90, 111) if varies else 100) // 100
                ),
            }
        )
        for part in parts
        for varies in (part.family in ("motor", "controller", "module"),)
    ]


def _offers(
    random: Random, families: dict[str, dict[str, Part]], sources: int
) -> tuple[dict[str, Supplier], tuple[Offer, ...]]:
    """Two suppliers with shipping; some rows only from one, few from both, with a step."""
    suppliers = {
        name: Supplier(
            id=name,
            currency="EUR",
            shipping_flat=random.randrange(0, 20) * 1_000,
            free_above=random.choice((None, 150_000, 400_000)),
        )
        for name in ("harbour", "north")
    }
    offers: list[Offer] = []
    main = random.choice(("harbour", "north"))
    loyal = random.random() < 0.7  # what only one of them sells is then the same one's
    product = 1
    for family in ["module", *random.sample(sorted(set(families) - {"module", *LATER}), 10)]:
        for part in families[family].values():
            both = product * 2 <= sources and random.random() < 0.7
            single = main if loyal else random.choice(("harbour", "north"))
            names = ["harbour", "north"] if both else [single]
            for name in names:
                price = max(1, part.price * random.randrange(85, 106) // 100)
                pack = random.choice((1, 1, 1, 2))
                offers.append(Offer(part=part.id, supplier=name, pack_size=pack, unit_price=price))
                if random.random() < 0.6:
                    offers.append(
                        Offer(
                            part=part.id,
                            supplier=name,
                            pack_size=pack,
                            quantity_from=random.choice((2, 4, 6, 10)),
                            unit_price=max(1, price * random.randrange(70, 100) // 100),
                        )
                    )
            if both:
                product *= 2
    unique = {(o.part, o.supplier, o.quantity_from): o for o in offers}
    return suppliers, tuple(unique.values())


def _wishes(
    random: Random, fields: dict[str, Any], families: dict[str, dict[str, Part]], base: Core
) -> None:
    """What some builders have decided already: parts at hand, locked, excluded, few bays."""
    choices = fields["choices"]
    names = sorted(set(families) - set(LATER))
    if random.random() < 0.25:
        for family in random.sample(names, random.choice((1, 2, 4))):
            part = random.choice(sorted(families[family]))
            choices.setdefault("owned", {})[part] = random.choice((1, 1, 2, 5, 40))
    if random.random() < 0.05:
        choices["excluded"] = [random.choice(sorted(families[random.choice(CHOICES)]))]
    if random.random() < 0.1:
        family = random.choice([name for name in CHOICES if name in families])
        choices["parts"] = {family: random.choice(sorted(families[family]))}
    if random.random() < 0.1:
        choices["bays_max"] = 1
    if random.random() < 0.1:
        choices["module"] = base.module
    if base.parallel > 1 and random.random() < 0.7:
        choices["parallel"] = base.parallel
        if random.random() < 0.7:
            choices["topology"] = base.topology
    if random.random() < 0.05:
        choices["series"] = base.series
    if random.random() < 0.05:
        choices["suppliers"] = ["north"]
    if random.random() < 0.05:
        choices["regeneration"] = random.choice((True, False))


__all__ = ["Case", "generic", "make_case", "project_fields", "small_catalog"]
