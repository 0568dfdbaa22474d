"""The explanation of every table and column, made from the schema: page and column help."""

from __future__ import annotations

from collections.abc import Iterator

from bomplan.catalog.columns import Column, part_families, schema


def column_help(family: str, column: str) -> str:
    """One sentence on ``column`` of ``family``; KeyError if the schema has neither."""
    found = schema()[family].columns[column]
    return f"{found.description} (needed: {_need(found)}; {found.allowed()})"


def columns_page() -> str:
    """Markdown: the columns that all part families share, then each table's own."""
    return "\n".join(_lines()) + "\n"


def _lines() -> Iterator[str]:
    shared = _shared()
    yield "## Columns of every part family"
    yield ""
    yield from _table(list(shared.values()))
    system = ""
    for family in schema().values():
        if family.system != system:
            system = family.system
            yield f"## {system[:1].upper()}{system[1:]}"
            yield ""
        yield f"### `{family.name}.csv`: {family.title}"
        yield ""
        if family.per == "metre":
            yield "Mass, price and hours are per metre."
            yield ""
        # a table shares nothing; a family shows what is its own or narrower than usual
        known = {} if family.is_table else shared
        yield from _table([c for c in family.columns.values() if known.get(c.name) != c])


def _shared() -> dict[str, Column]:
    """The columns that every family has, as most families have them."""
    families = part_families()
    shared: dict[str, Column] = {}
    for name in families[0].columns:
        variants = [family.columns[name] for family in families if name in family.columns]
        if len(variants) == len(families):
            shared[name] = max(variants, key=variants.count)
    return shared


def _table(columns: list[Column]) -> Iterator[str]:
    yield "| column | what it is | needed | allowed |"
    yield "|---|---|---|---|"
    for column in columns:
        text = column.description.replace("|", "\\|")
        yield f"| `{column.name}` | {text} | {_need(column)} | {column.allowed()} |"
    yield ""


def _need(column: Column) -> str:
    if column.required:
        return "yes"
    if column.needed_when is None:
        return "no"
    name, values = column.needed_when
    return f"if {name} is {' or '.join(values)}"
