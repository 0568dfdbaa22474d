"""A line that is bought from several suppliers as one row for each of them, for tables."""

from __future__ import annotations

from bomplan.design.records import Line, Plan


def line_for_each_purchase(plan: Plan) -> Plan:
    """The plan with further lines for the further purchases of a line.

    The first keeps what is fitted, its mass and its hours; the others are bought only. Sums
    over the lines stay what they are.
    """
    if all(len(line.purchases) < 2 for line in plan.lines):
        return plan
    lines = [row for line in plan.lines for row in _rows(line)]
    return plan.model_copy(update={"lines": tuple(lines)})


def bought_only(line: Line) -> bool:
    """Whether this is the further purchase of another line."""
    return line.quantity == 0 and line.bought > 0


def _rows(line: Line) -> list[Line]:
    if len(line.purchases) < 2:
        return [line]
    rows = []
    for number, one in enumerate(line.purchases):
        changes = {
            "bought": one.bought,
            "supplier": one.supplier,
            "unit_price": one.unit_price,
            "price": one.price,
            "purchases": (one,),
        }
        if number:
            nothing = dict.fromkeys(("mass_kg", "hours"), 0.0)
            nothing |= dict.fromkeys(
                ("quantity", "owned", "moment_gmm", "moment_y_gmm", "moment_xy_gmm2"), 0
            )
            changes |= {**nothing, "standing": None, "why": f"the rest of the {line.bought} to buy"}
        rows.append(line.model_copy(update=changes))
    return rows
