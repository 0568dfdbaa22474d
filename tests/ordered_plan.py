"""Plans whose orders are counted anew by the program, after prices, terms or sellers changed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from random import Random
from typing import Any

from bomplan.buying.prices import PriceBook
from bomplan.buying.terms import CHARGES, Terms
from bomplan.design.orders import charge_lines
from bomplan.design.planfile import catalog_of
from bomplan.design.purchase_records import Invoice, Purchase
from bomplan.design.records import Line, Plan

RATES = {"USD": 0.9137, "JPY": 0.00584, "KWD": 2.7924, "EUR": 1.0}
DUTY_BASES = ("goods", "goods+shipping")
TAX_BASES = (*DUTY_BASES, "goods+shipping+duty")


@dataclass(frozen=True)
class Bought:
    """What is bought of one line: who sells it, how many, at what, and what a piece weighs."""

    supplier: str
    bought: int
    asked: int
    mass_g: int


def terms_of(plan: Plan) -> dict[str, Terms]:
    """The program's terms of every supplier that the plan embeds."""
    rates = plan.project_used.get("rates", {})
    return PriceBook(catalog_of(plan), plan.currency, rates).terms


def ordered(plan: Plan, bought: dict[str, Bought]) -> Plan:
    """The plan with its goods bought like this (by part) and its charges by the program."""
    terms = terms_of(plan)
    lines: list[Line] = []
    goods: dict[str, int] = {}
    mass_g: dict[str, int] = {}
    shown: dict[str, int] = {}
    for line in plan.lines:
        if line.family in CHARGES:
            continue
        how = bought[line.part]
        seller = terms[how.supplier]
        unit_price = seller.unit_price(how.asked)
        price = how.bought * unit_price
        purchase = Purchase(
            supplier=how.supplier, bought=how.bought, unit_price=unit_price, price=price,
            currency=seller.currency, asked=how.asked,
        )  # fmt: skip
        lines.append(
            line.model_copy(
                update={
                    "supplier": how.supplier, "bought": how.bought, "unit_price": unit_price,
                    "price": price, "unit_mass_kg": how.mass_g / 1000,
                    "mass_kg": line.quantity * how.mass_g / 1000,
                    "purchases": (purchase,) if how.bought else (),
                }
            )
        )  # fmt: skip
        for sums, amount in (
            (goods, how.bought * how.asked),
            (mass_g, how.bought * how.mass_g),
            (shown, price),
        ):
            sums[how.supplier] = sums.get(how.supplier, 0) + amount
    for name in sorted(goods):
        if name:
            lines.extend(charge_lines(invoice(terms[name], goods[name], mass_g[name], shown[name])))
    return plan.model_copy(update={"lines": tuple(lines)})


def invoice(terms: Terms, goods: int, mass_g: int, shown: int) -> Invoice:
    sums = terms.invoice(goods, mass_g, shown)
    return Invoice(
        supplier=terms.supplier, currency=terms.currency, goods=sums.goods,
        shipping=sums.shipping, duty=sums.duty, tax=sums.tax, rounding=sums.rounding,
        total=sums.total, mass_kg=mass_g / 1000, lead_days=terms.lead_days,
    )  # fmt: skip


def with_terms(plan: Plan, rows: list[dict[str, Any]], rates: dict[str, float]) -> Plan:
    used = {**plan.parts_used, "parts": [], "suppliers": rows}
    project = {**plan.project_used, "rates": rates}
    return plan.model_copy(update={"parts_used": used, "project_used": project})


def some_terms(random: Random, name: str, currency: str) -> dict[str, Any]:
    """Terms whose figures have as many decimals as such figures have."""
    return {
        "id": name,
        "currency": currency,
        "shipping_flat": random.choice((0, random.randrange(1, 30_000))),
        "shipping_per_kg": random.choice((0, random.randrange(1, 900))),
        "free_above": random.choice((None, None, random.randrange(1, 600_000))),
        "minimum_order": random.choice((0, random.randrange(1, 300_000))),
        "duty_percent": random.choice(("0", "2.7", "6.5", "12.25")),
        "duty_on": random.choice(DUTY_BASES),
        "tax_percent": random.choice(("0", "8.1", "19", "20.5")),
        "tax_on": random.choice(TAX_BASES),
        "lead_days": random.randrange(0, 60),
    }


def some_purchases(random: Random, plan: Plan, names: list[str]) -> dict[str, Bought]:
    return {
        line.part: Bought(
            random.choice(names), random.randrange(1, 90), random.randrange(1, 90_000),
            random.randrange(1, 80_000),
        )
        for line in plan.lines
        if line.family not in CHARGES
    }  # fmt: skip


def with_one(all_bought: dict[str, Bought], part: str, **changes: Any) -> dict[str, Bought]:
    return {**all_bought, part: replace(all_bought[part], **changes)}
