"""Plans side by side, as a table of plain text and as CSV."""

from __future__ import annotations

import csv
import io
import re
import textwrap
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from bomplan.design.comparison import Compared, Comparison, MostThatFits
from bomplan.design.studies import Headline
from bomplan.money import format_amount
from bomplan.report.lines import WIDTH, Row, spaced, unbroken, whole_units, wrapped
from bomplan.report.studies import clash_lines
from bomplan.report.text import clean
from bomplan.report.units import Show

_LABEL: Final = 27
_COLUMN: Final = 10
_COLUMNS: Final = 5
_REASONS: Final = 3
_NUMBER: Final = re.compile(r"\d+(\.\d+)?")


@dataclass(frozen=True)
class Figure:
    """One line of the table: words and unit, what a row has, how it is written, what is best.

    ``better`` is 1 where more is better, -1 where less is, 0 where neither.
    """

    words: str
    unit: str
    of: Callable[[Compared], float | None]
    text: Callable[[float], str]
    better: int = 0


def comparison_rows(title: str, found: Comparison, show: Show) -> Iterator[Row]:
    """The table, what has no plan and why, what was taken for the years, and cautions."""
    yield Row(clean(title, 70), "heading")
    yield from wrapped(f"{found.words[:1].upper()}{found.words[1:]}; each is planned and proven.")
    for note in found.notes:
        yield from wrapped(clean(note), "mind: ", "      ", "caution")
    planned = [one for one in found.rows if one.plan is not None]
    if planned:
        yield Row("")
        yield from _who(planned)
        for start in range(0, len(planned), _COLUMNS):
            yield Row("")
            yield from _table(planned[start : start + _COLUMNS], planned, found, show)
        yield Row("")
        yield from _years(found, show)
    refused = [one for one in found.rows if one.plan is None]
    for one in refused:
        yield Row("")
        yield from _refusal(one, found, show)
    yield from _cautions(found, planned)


def _who(rows: Sequence[Compared]) -> Iterator[Row]:
    wide = max(len(clean(one.label)) for one in rows)
    for one in rows:
        plan = _plan(one)
        yield from wrapped(
            f"{plan.motor}, {plan.controller}, {unbroken(f'{plan.series} x {plan.parallel}')}"
            f" {plan.module}",
            f"  {clean(one.label):<{wide}}  ",
            " " * (wide + 4),
        )


def _table(
    rows: Sequence[Compared], all_rows: Sequence[Compared], found: Comparison, show: Show
) -> Iterator[Row]:
    wide = _column(all_rows)
    heads = [textwrap.wrap(clean(one.label), wide - 2) or [""] for one in rows]
    for line in range(max(map(len, heads))):
        cells = [f"{head[line] if line < len(head) else ''} ".rjust(wide) for head in heads]
        yield Row(" " * _LABEL + "".join(cells).rstrip(), "heading")
    for figure in figures(found, show):
        if all(figure.of(one) is None for one in all_rows):
            continue
        best = _best(figure, all_rows)
        cells = []
        for one in rows:
            value = figure.of(one)
            mark = "*" if value is not None and value == best else " "
            cells.append(f"{'-' if value is None else figure.text(value)}{mark}".rjust(wide))
        words = f"{figure.words}, {figure.unit}" if figure.unit else figure.words
        yield Row(f"  {words:<{_LABEL - 3}} " + "".join(cells).rstrip())


def _column(rows: Sequence[Compared]) -> int:
    """Letters of a column: as its longest word wants where there is room, ten at least."""
    words = [word for one in rows for word in clean(one.label).split()]
    room = (WIDTH - _LABEL) // min(len(rows), _COLUMNS)
    return max(_COLUMN, min(room, max(map(len, words), default=0) + 2))


def _best(figure: Figure, rows: Sequence[Compared]) -> float | None:
    """The best of a line, where there is a better and a worse."""
    values = [value for one in rows if (value := figure.of(one)) is not None]
    if not figure.better or len(set(values)) < 2:
        return None
    return max(values) if figure.better > 0 else min(values)


def _plan(one: Compared) -> Headline:
    assert one.plan is not None
    return one.plan


def _of_plan(name: str) -> Callable[[Compared], float | None]:
    return lambda one: None if one.plan is None else float(getattr(one.plan, name))


def _of_life(name: str) -> Callable[[Compared], float | None]:
    def figure(one: Compared) -> float | None:
        value = None if one.life is None else getattr(one.life, name)
        return None if value is None else float(value)

    return figure


def _of_row(name: str) -> Callable[[Compared], float | None]:
    def figure(one: Compared) -> float | None:
        value = getattr(one, name)
        return None if value is None else float(value)

    return figure


def figures(found: Comparison, show: Show) -> tuple[Figure, ...]:
    """The lines of the table, in the order in which a builder asks for them."""
    money = found.currency
    kg, km = _unit(show.mass(0)), _unit(show.distance(0))

    def whole(value: float) -> str:
        return whole_units(int(value), money)

    def exact(value: float) -> str:
        return show.number(format_amount(int(value), money))

    def mass(value: float) -> str:
        return _bare(show.mass(value))

    def room(value: float) -> str:
        return _bare(show.room(value))

    def distance(value: float) -> str:
        return _bare(show.distance(value))

    def stated(value: float) -> str:
        return _bare(show.nearest_distance(value))

    def share(value: float) -> str:
        return f"{value * 100:.0f}"

    def tenths(value: float) -> str:
        return show.number(f"{value:.1f}")

    def count(value: float) -> str:
        return spaced(int(value))

    return (
        Figure("purchase", money, _of_plan("price"), whole, -1),
        Figure("laden", kg, _of_plan("laden_kg"), mass, -1),
        Figure("left in front", kg, _of_plan("front_left_kg"), room, 1),
        Figure("left at the rear", kg, _of_plan("rear_left_kg"), room, 1),
        Figure("pack, full to empty", "kWh", _of_row("pack_kwh"), tenths),
        Figure("room taken in the bays", "%", _of_row("room_share"), share, -1),
        Figure("range asked", km, _of_row("asked_km"), stated),
        Figure("range, new", km, _of_row("range_new_km"), distance, 1),
        Figure("range, worn pack", km, _of_row("range_worn_km"), distance, 1),
        Figure("range, new, -10 °C", km, _of_row("range_cold_km"), distance, 1),
        Figure("empty to full", "h", _of_plan("charge_hours"), tenths, -1),
        Figure("each discharge", "%", _of_life("depth"), share),
        Figure("cycles at that depth", "", _of_life("cycles"), count, 1),
        Figure("a pack lasts", "years", _of_life("pack_years"), tenths, 1),
        Figure("new packs to buy", "", _of_life("packs"), count, -1),
        Figure("over all the years", money, _of_life("total"), whole, -1),
        Figure("per 100 km", money, _of_life("per_100_km"), exact, -1),
    )


def _bare(text: str) -> str:
    """A figure without its unit."""
    return text.rpartition(" ")[0]


def _unit(text: str) -> str:
    return text.rpartition(" ")[2]


def _years(found: Comparison, show: Show) -> Iterator[Row]:
    use = found.use
    energy = (
        f"energy at {use.electricity} a kWh"
        if use.electricity != "not known"
        else "energy not counted: [use] electricity_price says nothing"
    )
    yield from wrapped(
        show.words(
            f"Over {use.years:g} years at {_far(use.distance_a_year_km, show)} a year on"
            f" {clean(use.target)} (asked {_far(use.asked_km, show)}), charged every"
            f" {_far(use.between_charges_km, show)}; {energy}; whole new packs at today's price,"
            " no rest worth anything at the end. The best of a line has a *."
        ),
        "  ",
        "  ",
    )
    if use.assumed:
        yield from wrapped(
            f"Not said under [use], so taken as usual: {', '.join(use.assumed)}.",
            "  mind: ",
            "        ",
            "caution",
        )
    yield from wrapped(
        "Cycles by constant throughput of charge, whatever the depth; a pack ends with them or"
        " with its calendar years. Both are rules of thumb.",
        "  ",
        "  ",
    )


def _far(km: float, show: Show) -> str:
    """A stated distance to the whole unit, unbroken."""
    text = show.nearest_distance(km)
    return unbroken(f"{spaced(round(float(_bare(text).replace(',', '.'))))} {_unit(text)}")


def _refusal(one: Compared, found: Comparison, show: Show) -> Iterator[Row]:
    label = clean(one.label)
    if one.outcome == "unknown":
        yield from wrapped(f"{label}: the search ended early, nothing is known", tone="caution")
        return
    yield from wrapped(f"{label}: no plan (proven)", tone="bad")
    if one.most is not None:
        for words in most_words(one.most, found, show):
            yield from wrapped(show.words(words), "  - ", "    ")
    if one.clash is not None and one.clash.proven:
        for row in clash_lines(one.clash, show):
            yield Row(f"  {row.text}", row.tone)
        return
    # Those with a figure first; bare counts say least.
    reasons = sorted(one.reasons, key=lambda reason: "nearest" not in reason)
    for reason in reasons[:_REASONS]:
        yield from wrapped(show.words(clean(reason)), "  - ", "    ")


def most_words(most: MostThatFits, found: Comparison, show: Show) -> Iterator[str]:
    """The most that room and mass could hold, where that is less than is asked or needed."""
    if not most.modules:
        left = show.mass(most.spare_kg)
        yield f"not one {most.module} fits the bays and the {left} left for all parts"
        return
    needed = min(
        ((row.pack_kwh, row.label) for row in found.rows if row.pack_kwh is not None),
        default=None,
    )
    too_low = most.nominal_v < found.use.least_nominal_v
    if not too_low and needed is not None and most.pack_kwh >= needed[0]:
        return
    text = (
        f"at most {most.modules} {most.module} fit the bays and the"
        f" {show.mass(most.spare_kg)} left for all parts: {most.pack_kwh:.1f} kWh from full to"
        f" empty in {show.mass(most.mass_kg)}, {most.nominal_v:.0f} V all in series"
    )
    if too_low:
        text += f" where at least {found.use.least_nominal_v:.0f} V is asked"
    yield text
    if needed is not None:
        yield f"the plan of {clean(needed[1])} does it with {needed[0]:.1f} kWh"


def _cautions(found: Comparison, planned: Sequence[Compared]) -> Iterator[Row]:
    """Those of single rows first; what differs in its figures alone stands once."""
    alike: dict[str, list[tuple[str, str]]] = {}
    for one in planned:
        for word in one.cautions:
            alike.setdefault(_NUMBER.sub("", word), []).append((clean(one.label), word))
    if alike or found.cautions:
        yield Row("")
        yield Row("Cautions", "heading")
    for same in alike.values():
        labels = ", ".join(label for label, _ in same)
        others = f" (figures of {same[0][0]})" if len({word for _, word in same}) > 1 else ""
        yield from wrapped(f"{labels}{others}: {same[0][1]}", "  ! ", "    ", "caution")
    for word in found.cautions:
        yield from wrapped(word, "  ! ", "    ", "caution")


# Column of the CSV = what a row has; figures in the units that the column's name says.
_COLUMNS_OF_CSV: Final[tuple[tuple[str, Callable[[Compared, str], object]], ...]] = (
    ("label", lambda one, _: one.label),
    ("outcome", lambda one, _: one.outcome),
    ("motor", lambda one, _: one.plan and one.plan.motor),
    ("controller", lambda one, _: one.plan and one.plan.controller),
    ("final_ratio", lambda one, _: one.plan and one.plan.final_ratio),
    ("module", lambda one, _: one.plan and one.plan.module),
    ("chemistry", lambda one, _: one.plan and one.plan.chemistry),
    ("series", lambda one, _: one.plan and one.plan.series),
    ("parallel", lambda one, _: one.plan and one.plan.parallel),
    ("purchase", lambda one, money: one.plan and format_amount(one.plan.price, money)),
    ("laden_kg", lambda one, _: one.plan and one.plan.laden_kg),
    ("front_left_kg", lambda one, _: one.plan and one.plan.front_left_kg),
    ("rear_left_kg", lambda one, _: one.plan and one.plan.rear_left_kg),
    ("pack_kwh", lambda one, _: one.pack_kwh),
    ("room_share", lambda one, _: one.room_share),
    ("range_asked_km", lambda one, _: one.asked_km),
    ("range_new_km", lambda one, _: one.range_new_km),
    ("range_worn_km", lambda one, _: one.range_worn_km),
    ("range_minus_10_c_km", lambda one, _: one.range_cold_km),
    ("charge_hours", lambda one, _: one.plan and one.plan.charge_hours),
    ("depth_of_discharge", lambda one, _: one.life and one.life.depth),
    ("cycles", lambda one, _: one.life and one.life.cycles),
    ("pack_years", lambda one, _: one.life and one.life.pack_years),
    ("pack_ended_by", lambda one, _: one.life and one.life.ended_by),
    ("new_packs", lambda one, _: one.life and one.life.packs),
    ("energy_cost", lambda one, money: one.life and _money(one.life.energy, money)),
    ("new_packs_cost", lambda one, money: one.life and _money(one.life.replacements, money)),
    ("lifetime_cost", lambda one, money: one.life and _money(one.life.total, money)),
    ("cost_per_100_km", lambda one, money: one.life and _money(one.life.per_100_km, money)),
    ("currency", lambda _, money: money),
    ("reasons", lambda one, _: "; ".join(one.reasons)),
    ("cautions", lambda one, _: " ".join(one.cautions)),
)


def comparison_csv(found: Comparison) -> str:
    """One line for each row, blank where it has no such figure."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([name for name, _ in _COLUMNS_OF_CSV])
    for one in found.rows:
        values = [of(one, found.currency) for _, of in _COLUMNS_OF_CSV]
        writer.writerow(["" if value is None else _cell(value) for value in values])
    return out.getvalue()


def _cell(value: object) -> object:
    """Text that a spreadsheet would take for a formula is kept as text."""
    if isinstance(value, str) and value[:1] in ("=", "+", "-", "@"):
        return f"'{value}"
    return value


def _money(amount: int | None, currency: str) -> str | None:
    return None if amount is None else format_amount(amount, currency)
