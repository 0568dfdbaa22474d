"""What changed between two catalogues: dearer, cheaper, new, retired, other figures."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal

from pydantic import BaseModel

from bomplan.catalog.extras import Extra
from bomplan.catalog.records import Catalog, Part
from bomplan.money import format_amount, format_money

Kind = Literal["dearer", "cheaper", "new", "retired", "changed"]
KINDS: Final[tuple[Kind, ...]] = ("dearer", "cheaper", "new", "retired", "changed")


@dataclass(frozen=True)
class Change:
    """One difference. ``id`` is the part, or for a table the ids of its row with a slash.

    ``before`` and ``after`` are text as it stands in a catalogue, empty where there is
    nothing; ``share`` is the rise of a price over the earlier one.
    """

    kind: Kind
    table: str
    id: str
    column: str = ""
    before: str = ""
    after: str = ""
    share: float | None = None

    def text(self) -> str:
        """The change as one line."""
        name = f"{self.table}, {self.id}"
        if self.kind in ("new", "retired"):
            tail = self.after or self.before
            return f"{name}: {tail}" if tail else name
        words = f"{name}, {self.column}: {self.before or '(blank)'} -> {self.after or '(blank)'}"
        return words if self.share is None else f"{words} ({self.share * 100:+.1f} %)"


def compare(old: Catalog, new: Catalog) -> tuple[Change, ...]:
    """Every difference from ``old`` to ``new``, by kind, then table and id.

    A part counts as retired when its row is gone, or when the new one says what replaces
    it. Prices are compared where both stand in one currency; else the price has changed.
    """
    found = [*_parts(old, new), *_offers(old, new), *_tables(old, new)]
    return tuple(sorted(found, key=lambda c: (KINDS.index(c.kind), c.table, c.id, c.column)))


def _parts(old: Catalog, new: Catalog) -> Iterator[Change]:
    before = {(part.family, part.id): part for part in old.parts()}
    after = {(part.family, part.id): part for part in new.parts()}
    for key, part in before.items():
        if key not in after:
            yield Change("retired", part.family, part.id, before=part.description)
    for key, part in after.items():
        known = before.get(key)
        if known is None:
            price = format_money(part.price, part.currency)
            yield Change("new", part.family, part.id, after=f"{part.description}, {price}")
        else:
            yield from _part(known, part)


def _part(old: Part, new: Part) -> Iterator[Change]:
    if new.has("replaced_by") and not old.has("replaced_by"):
        words = f"replaced by {new.text('replaced_by')}"
        yield Change("retired", new.family, new.id, after=words)
    if old.currency == new.currency:
        yield from _price(
            new.family, new.id, "price", old.price, new.price, old.currency, new.currency
        )
    before, after = _cells(old), _cells(new)
    for column in dict.fromkeys([*before, *after]):
        a, b = before.get(column, ""), after.get(column, "")
        if column == "price" and old.currency == new.currency:
            continue
        if a != b:
            yield Change("changed", new.family, new.id, column, a, b)


def _cells(part: Part) -> dict[str, str]:
    cells = {
        "description": part.description,
        "mass_kg": _plain(Fraction(part.mass_g, 1000)),
        "length_mm": _plain(part.length_mm),
        "width_mm": _plain(part.width_mm),
        "height_mm": _plain(part.height_mm),
        "price": format_amount(part.price, part.currency),
        "currency": part.currency,
        "price_date": part.price_date,
        "source": part.source,
    }
    return cells | {name: _plain(value) for name, value in part.figures.items()}


def _price(
    table: str, name: str, column: str, old: int, new: int, currency: str, new_currency: str
) -> Iterator[Change]:
    if old == new and currency == new_currency:
        return
    before, after = format_money(old, currency), format_money(new, new_currency)
    if currency != new_currency:
        yield Change("changed", table, name, column, before, after)
        return
    share = (new - old) / old if old else None
    kind: Kind = "dearer" if new > old else "cheaper"
    yield Change(kind, table, name, column, before, after, share)


def _offers(old: Catalog, new: Catalog) -> Iterator[Change]:
    before = {(o.part, o.supplier, o.quantity_from): o for o in old.offers}
    after = {(o.part, o.supplier, o.quantity_from): o for o in new.offers}
    for key in dict.fromkeys([*before, *after]):
        name = f"{key[0]}/{key[1]}/from {key[2]}"
        a, b = before.get(key), after.get(key)
        if a is not None and b is not None:
            currencies = old.suppliers[key[1]].currency, new.suppliers[key[1]].currency
            yield from _price("offers", name, "unit_price", a.unit_price, b.unit_price, *currencies)
            if a.pack_size != b.pack_size:
                sizes = str(a.pack_size), str(b.pack_size)
                yield Change("changed", "offers", name, "pack_size", *sizes)
        elif a is not None:
            price = format_money(a.unit_price, old.suppliers[key[1]].currency)
            yield Change("retired", "offers", name, before=price)
        elif b is not None:
            price = format_money(b.unit_price, new.suppliers[key[1]].currency)
            yield Change("new", "offers", name, after=price)


def _tables(old: Catalog, new: Catalog) -> Iterator[Change]:
    for table, keys in (
        ("pairs", ("motor", "controller")),
        ("curves", ("curve", "state_of_charge")),
        ("temperatures", ("chemistry", "temperature_c")),
    ):
        before, after = _keyed(getattr(old, table), keys), _keyed(getattr(new, table), keys)
        yield from _rows(table, before, after)
    yield from _rows("suppliers", old.suppliers, new.suppliers)
    yield from _extras(old.extras, new.extras)


def _extras(before: Mapping[str, Extra], after: Mapping[str, Extra]) -> Iterator[Change]:
    prices = ("price", "price_low", "price_high")
    for name in dict.fromkeys([*before, *after]):
        a, b = before.get(name), after.get(name)
        if a is None or b is None:
            yield from _rows(
                "extras", {} if a is None else {name: a}, {} if b is None else {name: b}
            )
            continue
        for column in prices:
            amounts = getattr(a, column), getattr(b, column)
            yield from _price("extras", name, column, *amounts, a.currency, b.currency)
        for column, value in a.model_dump(exclude={*prices, "currency"}).items():
            new = getattr(b, column)
            if value != new:
                yield Change("changed", "extras", name, column, _plain(value), _plain(new))


def _keyed(rows: Iterable[BaseModel], keys: tuple[str, ...]) -> dict[str, BaseModel]:
    return {"/".join(_plain(getattr(row, key)) for key in keys): row for row in rows}


def _rows(
    table: str, before: Mapping[str, BaseModel], after: Mapping[str, BaseModel]
) -> Iterator[Change]:
    for name in dict.fromkeys([*before, *after]):
        if name not in after:
            yield Change("retired", table, name)
        elif name not in before:
            yield Change("new", table, name)
        else:
            old, new = before[name].model_dump(), after[name].model_dump()
            for column in old:
                if old[column] != new[column]:
                    a, b = _plain(old[column]), _plain(new[column])
                    yield Change("changed", table, name, column, a, b)


def _plain(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return "|".join(str(one) for one in value)
    if isinstance(value, (int, float, Fraction)):
        return f"{float(value):.10g}"
    return str(value)
