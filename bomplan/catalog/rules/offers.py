"""Rules on prices, dates, sources and offers."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from itertools import pairwise
from typing import Final

from bomplan.catalog.records import Catalog, Offer
from bomplan.catalog.rules.finding import Finding, about

# Prices of cells moved by a third within a year (common practice), so a year is old.
OLD_AFTER_DAYS: Final = 365


def old_price(catalog: Catalog, as_of: dt.date) -> Iterator[Finding]:
    """A price was seen at most a year before ``as_of``."""
    for part in catalog.parts():
        days = (as_of - dt.date.fromisoformat(part.price_date)).days
        if days > OLD_AFTER_DAYS:
            yield about(part, "old-price", "price_date", f"the price is {days} days old")


def price_from_the_future(catalog: Catalog, as_of: dt.date) -> Iterator[Finding]:
    """No price was seen after ``as_of``."""
    for part in catalog.parts():
        days = (dt.date.fromisoformat(part.price_date) - as_of).days
        if days > 0:
            message = f"the price was seen {days} days after the day of this check"
            yield about(part, "price-from-the-future", "price_date", message)


def missing_source(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """Every row says where its figures come from."""
    for part in catalog.parts():
        if not part.source.strip():
            yield about(part, "missing-source", "source", "no source is given")
    for pair in catalog.pairs:
        if not pair.source.strip():
            row = f"{pair.motor}/{pair.controller}"
            yield Finding("missing-source", "pairs", row, "source", "no source is given")


def no_price(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """Nothing is for nothing: a price of zero makes a part win every comparison."""
    for part in catalog.parts():
        if part.price == 0:
            yield about(part, "no-price", "price", "the price is zero")


def offer_steps(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """A higher price step costs no more apiece, and is reached by whole packs."""
    for key, offers in offers_by_part(catalog).items():
        row = "/".join(key)
        for low, high in pairwise(offers):
            if high.unit_price > low.unit_price:
                message = f"from {high.quantity_from} on it costs more than before"
                yield Finding("offer-steps", "offers", row, "unit_price", message)
            if high.pack_size != low.pack_size:
                message = "the pack size differs between price steps"
                yield Finding("offer-steps", "offers", row, "pack_size", message)


def lapsed_offer(catalog: Catalog, as_of: dt.date) -> Iterator[Finding]:
    """An offer whose last day is past does not count; ask for a new one or take it out."""
    for offer in catalog.offers:
        if offer.valid_until and offer.valid_until < as_of.isoformat():
            row = f"{offer.part}/{offer.supplier}"
            message = f"ended on {offer.valid_until}; it does not count any more"
            yield Finding("lapsed-offer", "offers", row, "valid_until", message)


def offer_stock(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """All price steps of one offer draw on the same stock, and a step beyond it is empty."""
    for key, offers in offers_by_part(catalog).items():
        named = {offer.stock for offer in offers if offer.stock is not None}
        row = "/".join(key)
        if len(named) > 1:
            message = f"steps name different stocks; the greatest ({max(named)}) counts"
            yield Finding("offer-stock", "offers", row, "stock", message)
        for offer in offers:
            if named and offer.quantity_from > max(named):
                message = f"the step from {offer.quantity_from} on is more than the stock"
                yield Finding("offer-stock", "offers", row, "quantity_from", message)


def offer_against_price(catalog: Catalog, _as_of: dt.date) -> Iterator[Finding]:
    """An offer in the part's currency is within half and one and a half of its price."""
    for (part_id, supplier_id), offers in offers_by_part(catalog).items():
        supplier = catalog.suppliers.get(supplier_id)
        try:
            part = catalog.part(part_id)
        except KeyError:
            continue
        if supplier is None or supplier.currency != part.currency:
            continue
        for offer in offers:
            if not 0.5 * part.price <= offer.unit_price <= 1.5 * part.price:
                row = f"{part_id}/{supplier_id}"
                message = "far from the part's own price: a slip, or a pack price per piece?"
                yield Finding("offer-against-price", "offers", row, "unit_price", message)


def offers_by_part(catalog: Catalog) -> dict[tuple[str, str], list[Offer]]:
    """Price steps by part and supplier, smallest quantity first."""
    found: dict[tuple[str, str], list[Offer]] = {}
    ordered = sorted(catalog.offers, key=lambda o: (o.part, o.supplier, o.quantity_from))
    for offer in ordered:
        found.setdefault((offer.part, offer.supplier), []).append(offer)
    return found
