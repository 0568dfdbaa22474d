"""Catalogues of any size, grown from the generic one, seeded.

Every new row is a generic row whose size is drawn anew and whose price follows size with noise.
"""

from __future__ import annotations

import numpy as np

from bomplan.catalog.records import Catalog, Pair, Part

SPREAD = 0.25  # of size, log-normal; prices follow size and spread by half of it again
# Figures that grow with a module's size, and those that fall.
GROWS = (
    "capacity_ah", "capacity_1h_ah", "discharge_continuous_a", "discharge_10s_a",
    "charge_continuous_a", "charge_10s_a",
)  # fmt: skip
FALLS = ("resistance_dc_mohm", "resistance_ac_mohm")


def grown(catalog: Catalog, rows: int, seed: int, others: int = 0, of_modules: int = 0) -> Catalog:
    """The catalogue with so many rows in each main family, pairs grown alike.

    ``others`` rows in every other family, where its own are fewer; their figures stay, so that
    what suits what stays too. ``of_modules`` rows of modules, where that is more than ``rows``.
    """
    rng = np.random.default_rng(seed)
    families = {name: dict(parts) for name, parts in catalog.families.items()}
    modules = list(catalog.family("module").values())
    for number in range(max(0, rows - len(modules), of_modules - len(modules))):
        base = modules[int(rng.integers(len(modules)))]
        size = float(np.exp(SPREAD * rng.standard_normal()))
        figures: dict[str, float | int | str | bool] = dict(base.figures)
        for column in GROWS:
            if base.has(column):
                figures[column] = round(base.number(column) * size, 3)
        for column in FALLS:
            figures[column] = round(base.number(column) / size, 5)
        _add(families["module"], base, f"{base.id}-grown-{number}", size, figures, rng)
    _grow_by_price(catalog, families, ("motor", "controller"), rows, rng)
    small = tuple(name for name in families if name not in ("motor", "controller", "module"))
    _grow_by_price(catalog, families, small, others, rng)
    pairs = _grow_pairs(catalog, families, rng)
    return catalog.model_copy(update={"families": families, "pairs": pairs})


def only(catalog: Catalog, names: list[str]) -> Catalog:
    """The catalogue with just these rows in each family that has any of them."""
    families = {
        family: {name: part for name, part in rows.items() if name in names}
        if any(name in rows for name in names)
        else rows
        for family, rows in catalog.families.items()
    }
    return catalog.model_copy(update={"families": families})


def _add(
    family: dict[str, Part],
    base: Part,
    name: str,
    size: float,
    figures: dict[str, float | int | str | bool],
    rng: np.random.Generator,
) -> None:
    price = base.price * size * float(np.exp(0.5 * SPREAD * rng.standard_normal()))
    update = {
        "id": name,
        "mass_g": max(1, round(base.mass_g * size)),
        "price": max(1, round(price)),
        "figures": figures,
    }
    family[name] = base.model_copy(update=update)


def _grow_by_price(
    catalog: Catalog,
    families: dict[str, dict[str, Part]],
    names: tuple[str, ...],
    rows: int,
    rng: np.random.Generator,
) -> None:
    """Only mass and price are drawn anew, so that pairs still hold."""
    for name in names:
        bases = list(catalog.family(name).values())
        for number in range(max(0, rows - len(bases)) if bases else 0):
            base = bases[int(rng.integers(len(bases)))]
            size = float(np.exp(SPREAD * rng.standard_normal()))
            _add(families[name], base, f"{base.id}-grown-{number}", size, dict(base.figures), rng)


def _grow_pairs(
    catalog: Catalog, families: dict[str, dict[str, Part]], rng: np.random.Generator
) -> tuple[Pair, ...]:
    """Each grown motor goes with one row of every kind of controller that its base goes with."""
    alike: dict[str, list[str]] = {}
    for part_id in families["controller"]:
        alike.setdefault(part_id.split("-grown-")[0], []).append(part_id)
    of_motor: dict[str, list[Pair]] = {}
    for pair in catalog.pairs:
        of_motor.setdefault(pair.motor, []).append(pair)
    pairs = list(catalog.pairs)
    for motor in families["motor"]:
        base = motor.split("-grown-")[0]
        if base == motor:
            continue
        for pair in of_motor.get(base, []):
            some = alike[pair.controller]
            update = {"motor": motor, "controller": some[int(rng.integers(len(some)))]}
            pairs.append(pair.model_copy(update=update))
    return tuple(pairs)
