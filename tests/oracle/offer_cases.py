"""Small cars with two suppliers whose terms decide: freight, tax, least orders, stock, splits."""

from __future__ import annotations

from random import Random

from oracle.small_cases import KINDS, LATER, Case, make_case

from bomplan.catalog.records import Offer, Supplier
from bomplan.project.records import Project

# Families of which several pieces are bought, so that they can be shared.
SHARED = ("module", "contactor", "link", "monitor", "lug", "cable", "branch_fuse", "vent_fan")
SELLERS = ("harbour", "north")


def make_offer_case(seed: int) -> Case:
    """A loose small case with one row a family beside its core, and offers of its own."""
    random = Random(f"offers around a car {seed}")
    case = make_case(len(KINDS) * seed)
    families = {
        family: rows
        if family in ("motor", "controller", "module")
        else dict(list(rows.items())[: 2 if family in random.sample(SHARED, 1) else 1])
        for family, rows in case.catalog.families.items()
        if family not in LATER
    } | {
        family: case.catalog.families[family] for family in LATER if family in case.catalog.families
    }
    suppliers = {
        name: Supplier(
            id=name,
            currency="EUR",
            shipping_flat=random.choice((0, 6_000, 15_000)),
            shipping_per_kg=random.choice((0, 150, 400)),
            free_above=random.choice((None, 60_000, 200_000)),
            minimum_order=random.choice((0, 0, 40_000)),
            duty_percent=random.choice(("0", "6.5")),
            tax_percent=random.choice(("0", "19")),
            lead_days=random.choice((7, 21)),
        )
        for name in SELLERS
    }
    offers: list[Offer] = []
    shared = random.sample([name for name in SHARED if name in families], 2)
    for family in [*shared, *random.sample(sorted(set(families) - {*shared, *LATER}), 4)]:
        for part in families[family].values():
            names = SELLERS if family in shared else (random.choice(SELLERS),)
            for name in names:
                price = max(1, part.price * random.randrange(70, 104) // 100)
                pack = random.choice((1, 1, 2, 4)) if family in shared else 1
                stock = random.choice((None, None, 3, 8)) if len(names) > 1 else None
                offers.append(
                    Offer(
                        part=part.id, supplier=name, pack_size=pack, unit_price=price, stock=stock
                    )
                )
                if random.random() < 0.5:
                    offers.append(
                        Offer(
                            part=part.id,
                            supplier=name,
                            pack_size=pack,
                            quantity_from=random.choice((4, 8)),
                            unit_price=max(1, price * random.randrange(75, 100) // 100),
                            stock=stock,
                        )
                    )
    fields = case.project.model_dump()
    spares = [{"family": shared[0], "pieces": 1}, {"family": "fuse", "one_per": 2}]
    fields["buying"] = {
        "split": True,
        "deadline_days": random.choice((None, None, 14)),
        "suppliers_max": random.choice((None, None, 1)),
        "spares": spares if random.random() < 0.5 else [],
    }
    catalog = case.catalog.model_copy(
        update={"families": families, "suppliers": suppliers, "offers": tuple(offers)}
    )
    return Case(seed, "offers", Project.model_validate(fields), catalog)
