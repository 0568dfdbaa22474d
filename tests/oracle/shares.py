"""What one row brings to a bill, and every choice of one row a family with its sums.

Sums are made family after family: a family with one row is added once and stands under every
choice of the others.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

from oracle.buying_ways import Way

from bomplan.catalog.records import Part

Point = tuple[int, int, int]
# Per supplier: lines, price of the goods, mass.
Order = tuple[int, int, int]
_FIXED = 10


@dataclass(frozen=True)
class Share:
    """What one row from one source brings to a bill at one placement."""

    family: str
    part: Part
    sellers: tuple[str, ...]
    order: int
    way: Way
    fitted: int
    bought: int
    price: int
    mass_g: int
    moment_gmm: int
    bay_g: tuple[int, ...]
    external_uohm: int
    load_w: int
    supply_w: int
    dearer_than_needed: bool
    points: tuple[Point, ...] = ()


@dataclass(frozen=True)
class Sums:
    """Totals over one row a family; ``levers`` are sums over single pieces, where they are known:
    mass times distance to the rear axle and to the front axle, and both times the place aside."""

    price: int
    mass_g: int
    moment_gmm: int
    external_uohm: int
    load_w: int
    supply_w: int
    levers: tuple[int, int, int, int]
    bay_g: tuple[int, ...]
    orders: tuple[Order, ...]


def every_choice(
    shares: Sequence[Sequence[Share]], sellers: Sequence[str], wheelbase_mm: int
) -> Iterator[tuple[Sums, tuple[Share, ...]]]:
    """One of each family in every way, the last family's soonest, with their totals."""
    if not all(shares):
        return
    numbers = [[_numbers(share, sellers, wheelbase_mm) for share in family] for family in shares]
    bays = len(shares[0][0].bay_g)
    single = [family[0] for family in numbers if len(family) == 1]
    under = [sum(column) for column in zip(*single, strict=True)] if single else None
    open_ = [n for n, family in enumerate(shares) if len(family) > 1]
    picks = [family[0] for family in shares]
    for taken in product(*(range(len(shares[n])) for n in open_)):
        rows = [numbers[n][k] for n, k in zip(open_, taken, strict=True)]
        for n, k in zip(open_, taken, strict=True):
            picks[n] = shares[n][k]
        total = [sum(column) for column in zip(*([under] if under else []), *rows, strict=True)]
        orders = total[_FIXED + bays :]
        yield (
            Sums(
                *total[: _FIXED - 4],
                levers=(total[6], total[7], total[8], total[9]),
                bay_g=tuple(total[_FIXED : _FIXED + bays]),
                orders=tuple(zip(orders[::3], orders[1::3], orders[2::3], strict=True)),
            ),
            tuple(picks),
        )


def _numbers(share: Share, sellers: Sequence[str], wheelbase_mm: int) -> list[int]:
    """All that is summed, in one row: ``_FIXED`` figures, bays, three figures a supplier."""
    levers = lever_sums(share.points, wheelbase_mm)
    numbers = [share.price, share.mass_g, share.moment_gmm]
    numbers += [share.external_uohm, share.load_w, share.supply_w, *levers, *share.bay_g]
    for seller in sellers:
        pieces, each = share.way.get(seller, (0, 0))
        numbers += [int(seller in share.way), pieces * each, pieces * share.part.mass_g]
    return numbers


def lever_sums(points: Sequence[Point], wheelbase_mm: int) -> tuple[int, int, int, int]:
    """See :class:`Sums`."""
    return (
        sum(mass * (wheelbase_mm - x) for mass, x, _ in points),
        sum(mass * x for mass, x, _ in points),
        sum(mass * (wheelbase_mm - x) * y for mass, x, y in points),
        sum(mass * x * y for mass, x, y in points),
    )
