"""``bomplan catalog list``: what there is to choose from."""

from __future__ import annotations

import difflib
import json
from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from bomplan.cli.options import CONTEXT, as_json, catalogs, complete_families, verbose

if TYPE_CHECKING:
    from bomplan.catalog import Catalog, Part


@click.command("list", context_settings=CONTEXT)
@click.argument("family", required=False, metavar="[FAMILY]", shell_complete=complete_families)
@catalogs
@click.option(
    "--where",
    "wheres",
    multiple=True,
    metavar="CONDITION",
    help="Only parts such as 'capacity_ah>=100'; again for more.",
)
@click.option("--find", default="", metavar="TEXT", help="Only parts that hold this text.")
@as_json
@verbose
def COMMAND(  # noqa: N802
    family: str | None,
    catalogs: tuple[str, ...],
    wheres: tuple[str, ...],
    find: str,
    as_json: bool,
    verbose: bool,
) -> int:
    """List the families of a catalogue, or the parts of one family.

    A condition is a column, one of = != < <= > >= ~ (contains) and a value, in quotes.

    \b
    Example:
      bomplan catalog list module --where 'chemistry=lfp' --where 'price<100'
    """
    del verbose
    from bomplan import api
    from bomplan.catalog.query import conditions

    loaded = api.load_catalog(catalogs or ("generic",))
    if family is None and not wheres and not find:
        _families(loaded, as_json=as_json)
        return 0
    names = [_known(loaded, family)] if family else list(loaded.families)
    wanted = conditions(wheres, names)
    text = find.lower()
    parts = [
        part
        for name in names
        for part in loaded.family(name).values()
        if all(one.holds(part) for one in wanted)
        and (not text or text in f"{part.id} {part.description}".lower())
    ]
    if as_json:
        print(json.dumps([part.model_dump() for part in parts], indent=1, ensure_ascii=False))
    else:
        _parts(parts, columns=[one.column for one in wanted], several=family is None)
    return 0


def _known(loaded: Catalog, family: str) -> str:
    from bomplan.errors import Fault, InputError

    if family in loaded.families:
        return family
    near = difflib.get_close_matches(family, loaded.families, n=1)
    raise InputError(
        [
            Fault(
                "catalog.no-such-family",
                "the catalogue has no such family",
                value=family,
                allowed=", ".join(loaded.families),
                hint=f"did you mean {near[0]}?" if near else None,
            )
        ]
    )


def _families(loaded: Catalog, *, as_json: bool) -> None:
    from bomplan.catalog.columns import schema

    counts = {name: len(parts) for name, parts in loaded.families.items()}
    if as_json:
        print(json.dumps(counts, indent=1))
        return
    width = max(len(name) for name in counts) if counts else 0
    for name, count in counts.items():
        print(f"{name:<{width}}  {count:4d}  {schema()[name].title}")
    print(f"\n{sum(counts.values())} parts, {len(loaded.pairs)} pairs of motor and controller")


def _parts(parts: Sequence[Part], *, columns: Sequence[str], several: bool) -> None:
    from bomplan.catalog.query import shown_value, value_of
    from bomplan.money import format_money
    from bomplan.report.text import clean

    more = [name for name in dict.fromkeys(columns) if name not in ("id", "price", "description")]
    rows = []
    for part in parts:
        found = [value_of(part, name) for name in more]
        told = [
            f"{name} {shown_value(value)}"
            for name, value in zip(more, found, strict=True)
            if value is not None
        ]
        head = f"{part.family}  {part.id}" if several else part.id
        price = format_money(part.price, part.currency)
        rows.append((head, price, ", ".join([clean(part.description, 100), *told])))
    wide = [max((len(row[place]) for row in rows), default=0) for place in (0, 1)]
    for name, price, words in rows:
        print(f"{name:<{wide[0]}}  {price:>{wide[1]}}  {words}")
    print(f"\n{len(rows)} part{'s' * (len(rows) != 1)}")
