"""Orders, split lines, spares and lapsed offers of a plan, in sentences."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from bomplan.design.purchase_records import Invoice
from bomplan.design.records import Line, Plan
from bomplan.project.check_rates import rates_off_by
from bomplan.report.lines import exact_money, unbroken
from bomplan.report.text import clean
from bomplan.report.units import Show


def purchase_sentences(plan: Plan, show: Show) -> Iterator[str]:
    """What each supplier's order comes to and what lies beside it; nothing for older plans."""
    for invoice in plan.invoices:
        yield _invoice(invoice, plan.currency, show)
    yield from _unnamed(plan, show)
    for line in plan.lines:
        if len(line.purchases) > 1:
            yield _split(line)
    for spare in plan.spares:
        price = _money(spare.price, plan.currency, show)
        yield f"{spare.pieces} of {clean(spare.part, 60)} to spare ({price}; {spare.why})"
    yield from _lapsed(plan)
    yield from _stale_rates(plan)


def _invoice(invoice: Invoice, currency: str, show: Show) -> str:
    parts = [
        f"{name} {_money(amount, currency, show)}"
        for name, amount in (
            ("goods", invoice.goods),
            ("shipping", invoice.shipping),
            ("duty", invoice.duty),
            ("tax", invoice.tax),
            ("rounding", invoice.rounding),
        )
        if amount
    ]
    total = _money(invoice.total, currency, show)
    days = f", {invoice.lead_days} days on its way" if invoice.lead_days else ""
    told = f" ({', '.join(parts)})" if len(parts) > 1 else ""
    return f"order at {clean(invoice.supplier, 60)}: {total}{told}{days}"


def _unnamed(plan: Plan, show: Show) -> Iterator[str]:
    """What stands in none of the orders, since nobody is named who sells it."""
    bought = [
        (line.part, one.price)
        for line in plan.lines
        for one in line.purchases
        if not one.supplier and one.bought
    ]
    if plan.invoices and bought:
        parts = len({part for part, _ in bought})
        price = _money(sum(price for _, price in bought), plan.currency, show)
        yield (
            f"in none of these orders: {parts} {'part' if parts == 1 else 'parts'} without a"
            f" supplier, at list price: {price}"
        )


def _money(amount: int, currency: str, show: Show) -> str:
    return unbroken(show.number(exact_money(amount, currency)))


def _split(line: Line) -> str:
    shares = " and ".join(f"{one.bought} from {clean(one.supplier, 60)}" for one in line.purchases)
    return f"{clean(line.part, 60)} is bought in shares: {shares}"


def _lapsed(plan: Plan) -> Iterator[str]:
    for row in plan.parts_used.get("offers", ()):
        until = str(row.get("valid_until", ""))
        if until and until < plan.as_of:
            part, supplier = clean(str(row.get("part")), 60), clean(str(row.get("supplier")), 60)
            yield (
                f"the offer of {supplier} for {part} ended on {clean(until, 10)}, before"
                f" {plan.as_of}, and does not count"
            )


def _stale_rates(plan: Plan) -> Iterator[str]:
    """Rates that were looked up long before, where the bill has prices in other money."""
    told = plan.project_used.get("rates_as_of")
    listed = {str(row.get("currency")) for row in plan.parts_used.get("parts", ())}
    abroad = {one.currency for line in plan.lines for one in line.purchases} | listed
    if not isinstance(told, str) or abroad <= {plan.currency}:
        return
    days = rates_off_by(dt.date.fromisoformat(plan.as_of), dt.date.fromisoformat(told))
    if days:
        side = "before" if days > 0 else "after"
        yield (
            f"the exchange rates are of {told}, {abs(days)} days {side} {plan.as_of}: look them up"
            " anew before you order"
        )
