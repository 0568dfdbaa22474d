"""Whether a plan's purchases keep to what the builder and the suppliers allow."""

from __future__ import annotations

from collections.abc import Iterator

from bomplan.buying.terms import CHARGES
from bomplan.design.assemble import Bill
from bomplan.design.context import Context
from bomplan.design.records import Line, Plan


def too_few(context: Context, bill: Bill) -> Iterator[str]:
    """Lines of which less is bought, as counted again, than is fitted and wanted to spare."""
    choices, buying = context.project.choices, context.project.buying
    for line in bill.lines:
        wanted = line.quantity + buying.spare_pieces(line.family, line.quantity)
        short = wanted - choices.owned.get(line.part, 0) - line.bought
        if short > 0:
            yield f"{short} more of {line.part}, as many as are needed and wanted to spare"


def broken_buying(context: Context, plan: Plan) -> Iterator[str]:
    """Everything about buying that the plan does not keep to, in words."""
    choices, buying = context.project.choices, context.project.buying
    goods: dict[str, int] = {}
    for line in plan.lines:
        if line.family in CHARGES:
            continue
        only = buying.supplier_of.get(line.part)
        for supplier, bought, price in _bought(line):
            if only and supplier != only:
                yield f"{line.part} from {only} only"
            if not supplier:
                continue
            goods[supplier] = goods.get(supplier, 0) + price
            if choices.suppliers and supplier not in choices.suppliers:
                yield f"not from {supplier}"
            if supplier in buying.excluded:
                yield f"nothing from {supplier}"
            source = next(
                (
                    one
                    for one in context.prices.sources(context.catalog.part(line.part))
                    if one.supplier == supplier
                ),
                None,
            )
            if source is not None and source.stock is not None and bought > source.stock:
                yield f"{bought} of {line.part}, where {supplier} has {source.stock}"
        if not buying.split and len(line.purchases) > 1:
            yield f"{line.part} from one supplier only"
    # What costs nothing is no order.
    goods = {supplier: value for supplier, value in goods.items() if value}
    if buying.suppliers_max is not None and len(goods) > buying.suppliers_max:
        yield f"orders at {buying.suppliers_max} suppliers at most"
    for supplier, value in sorted(goods.items()):
        row = context.catalog.suppliers.get(supplier)
        if row is None:
            continue
        if buying.deadline_days is not None and row.lead_days > buying.deadline_days:
            yield f"{supplier} takes {row.lead_days} days of {buying.deadline_days}"
        if value < row.minimum_order:
            yield f"an order at {supplier} below what it asks at least"


def _bought(line: Line) -> Iterator[tuple[str, int, int]]:
    """Supplier, pieces and price in the supplier's money of everything bought of a line."""
    for one in line.purchases:
        yield one.supplier, one.bought, one.bought * one.asked
    if not line.purchases and line.bought:
        # A plan older than purchases knows the price in its own money only; nothing that it
        # was made from asked for a least order.
        yield line.supplier, line.bought, line.price
