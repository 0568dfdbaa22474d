"""The lines of the bill as they are bought: each share and each spare asked for has its own row.

For tables and orders. A plan keeps one line for each family; what is bought of several suppliers
or to lie in the garage stands under it as records.
"""

from __future__ import annotations

from bomplan.buying.terms import CHARGES
from bomplan.design.orders import apart
from bomplan.design.purchase_records import Purchase
from bomplan.design.records import Line, Plan

SPARES = "spares"
_NOTHING: dict[str, object] = {
    **dict.fromkeys(("mass_kg", "hours"), 0.0),
    **dict.fromkeys(
        ("quantity", "to_spare", "owned", "moment_gmm", "moment_y_gmm", "moment_xy_gmm2"), 0
    ),
    "standing": None,
}


def line_for_each_purchase(plan: Plan) -> Plan:
    """The plan with further lines for the further purchases of a line, and for its spares.

    The first keeps what is fitted, its mass and its hours; the others are bought only. Spares
    that were asked for stand together as a system of their own, before what orders cost beside
    their goods; they are taken from the last purchases of their line, at their price. Sums over
    the lines stay what they are.
    """
    asked = {one.part: one.asked for one in plan.spares if one.asked}
    if not asked and all(len(line.purchases) < 2 for line in plan.lines):
        return plan
    lines: list[Line] = []
    spares: list[Line] = []
    charges: list[Line] = []
    for line in plan.lines:
        if line.family in CHARGES:
            charges.append(line)
            continue
        kept, spare = apart(line.purchases, asked.get(line.part, 0))
        lines += _rows(line, kept) if spare or len(kept) > 1 else [line]
        spares += [_spare(line, one) for one in spare]
    return plan.model_copy(update={"lines": (*lines, *spares, *charges)})


def bought_only(line: Line) -> bool:
    """Whether this is the further purchase of another line, or its spare."""
    return line.quantity == 0 and line.bought > 0


def is_spare(line: Line) -> bool:
    """Whether this is what lies in the garage because it was asked for."""
    return line.system == SPARES


def _bought(one: Purchase) -> dict[str, object]:
    return {
        "bought": one.bought,
        "supplier": one.supplier,
        "unit_price": one.unit_price,
        "price": one.price,
        "purchases": (one,),
    }


def _rows(line: Line, purchases: tuple[Purchase, ...]) -> list[Line]:
    if not purchases:
        return [line.model_copy(update={"bought": 0, "price": 0, "purchases": ()})]
    rows = [line.model_copy(update=_bought(purchases[0]))]
    whole = sum(one.bought for one in purchases)
    for one in purchases[1:]:
        changes = {**_bought(one), **_NOTHING, "why": f"the rest of the {whole} to buy"}
        rows.append(line.model_copy(update=changes))
    return rows


def _spare(line: Line, one: Purchase) -> Line:
    return line.model_copy(
        update={
            **_bought(one),
            **_NOTHING,
            "description": f"spare: {line.description}",
            "system": SPARES,
            "why": "to lie at home, as [[buying.spares]] asks; not in the car, without mass there",
        }
    )
