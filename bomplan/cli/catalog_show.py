"""``bomplan catalog show``: one part in full."""

from __future__ import annotations

import difflib
import json
from typing import TYPE_CHECKING

import click

from bomplan.cli.options import CONTEXT, as_json, catalogs, verbose

if TYPE_CHECKING:
    from bomplan.catalog import Catalog, Part


@click.command("show", context_settings=CONTEXT)
@click.argument("part_id", metavar="PART")
@catalogs
@as_json
@verbose
def COMMAND(part_id: str, catalogs: tuple[str, ...], as_json: bool, verbose: bool) -> int:  # noqa: N802
    """Show one part: every figure, what its column means, who sells it, what it pairs with.

    \b
    Example:
      bomplan catalog show lfp-cell-100
    """
    del verbose
    from bomplan import api
    from bomplan.errors import Fault, InputError

    loaded = api.load_catalog(catalogs or ("generic",))
    try:
        part = loaded.part(part_id)
    except KeyError:
        near = difflib.get_close_matches(part_id, [one.id for one in loaded.parts()], n=3)
        raise InputError(
            [
                Fault(
                    "catalog.no-such-part",
                    "the catalogue has no such part",
                    value=part_id,
                    hint=f"did you mean {' or '.join(near)}?"
                    if near
                    else f"bomplan catalog list --find {part_id}",
                )
            ]
        ) from None
    if as_json:
        offers = [one.model_dump() for one in loaded.offers if one.part == part.id]
        print(json.dumps({**part.model_dump(), "offers": offers}, indent=1, ensure_ascii=False))
    else:
        _show(loaded, part)
    return 0


def _show(loaded: Catalog, part: Part) -> None:
    from bomplan.catalog.columns import schema
    from bomplan.catalog.query import shown_value, value_of
    from bomplan.money import format_money
    from bomplan.report.text import clean

    family = schema()[part.family]
    print(f"{part.id}: {clean(part.description)} ({family.title})\n")
    names = [*family.columns, *(name for name in part.figures if name not in family.columns)]
    rows = []
    for name in names:
        value = value_of(part, name)
        if value is not None and name not in ("id", "description"):
            column = family.columns.get(name)
            words = column.description if column else "a column of your own"
            rows.append((clean(name, 60), clean(shown_value(value), 60), clean(words, 120)))
    wide = [max(len(row[place]) for row in rows) for place in (0, 1)]
    for name, shown, words in rows:
        print(f"  {name:<{wide[0]}}  {shown:<{wide[1]}}  {words}")
    offers = [one for one in loaded.offers if one.part == part.id]
    if offers:
        print("\nsold by")
    for offer in offers:
        price = format_money(offer.unit_price, loaded.suppliers[offer.supplier].currency)
        pack = f", in packs of {offer.pack_size}" if offer.pack_size > 1 else ""
        print(f"  {offer.supplier}: {price} each from {offer.quantity_from}{pack}")
    pairs = [one for one in loaded.pairs if part.id in (one.motor, one.controller)]
    if pairs:
        print("\npairs with")
    for pair in pairs:
        other = pair.controller if pair.motor == part.id else pair.motor
        peak = f", {pair.peak_kw:g} kW peak" if pair.peak_kw is not None else ""
        print(f"  {other}: {pair.v_min:g} to {pair.v_max:g} V{peak}")
