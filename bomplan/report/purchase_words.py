"""Orders, split lines, spares and lapsed offers of a plan, in sentences."""

from __future__ import annotations

from collections.abc import Iterator

from bomplan.design.purchase_records import Invoice
from bomplan.design.records import Line, Plan
from bomplan.report.lines import exact_money, unbroken
from bomplan.report.text import clean


def purchase_sentences(plan: Plan) -> Iterator[str]:
    """What each supplier's order comes to and what lies beside it; nothing for older plans."""
    for invoice in plan.invoices:
        yield _invoice(invoice, plan.currency)
    for line in plan.lines:
        if len(line.purchases) > 1:
            yield _split(line)
    for spare in plan.spares:
        price = unbroken(exact_money(spare.price, plan.currency))
        yield f"{spare.pieces} of {clean(spare.part, 60)} to spare ({price}; {spare.why})"
    yield from _lapsed(plan)


def _invoice(invoice: Invoice, currency: str) -> str:
    parts = [
        f"{name} {unbroken(exact_money(amount, currency))}"
        for name, amount in (
            ("goods", invoice.goods),
            ("shipping", invoice.shipping),
            ("duty", invoice.duty),
            ("tax", invoice.tax),
            ("rounding", invoice.rounding),
        )
        if amount
    ]
    total = unbroken(exact_money(invoice.total, currency))
    days = f", {invoice.lead_days} days on its way" if invoice.lead_days else ""
    told = f" ({', '.join(parts)})" if len(parts) > 1 else ""
    return f"order at {clean(invoice.supplier, 60)}: {total}{told}{days}"


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
