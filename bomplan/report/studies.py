"""What many plans tell together, as plain text: what binds, alternatives, fronts, clashes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from bomplan.design.studies import (
    Alternatives,
    Binding,
    Clash,
    FigureNeeded,
    Front,
    Headline,
    Member,
    PartNeeded,
    Step,
)
from bomplan.report.lines import Row, unbroken, whole_money, whole_units, wrapped
from bomplan.report.text import clean
from bomplan.report.units import Show


def binding_rows(
    title: str, currency: str, price: int, bindings: Sequence[Binding], show: Show
) -> Iterator[Row]:
    """Each target and limit with the price of one step more or less of it."""
    yield Row(clean(title, 70), "heading")
    yield from wrapped(
        f"The cheapest plan costs {unbroken(whole_money(price, currency))}. Each line below is"
        " planned anew with that one figure changed."
    )
    binding = [one for one in bindings if matters(one)]
    slack = [one for one in bindings if one not in binding]
    for one in binding:
        yield Row("")
        yield from wrapped(show.words(clean(one.words)) + ": " + _figure(one.amount, one, show))
        yield from _step("easier", one.easier, one, currency, show)
        yield from _step("harder", one.harder, one, currency, show)
    if slack:
        yield Row("")
        yield Row("One step either way changes nothing", "heading")
        for one in slack:
            yield from wrapped(
                show.words(clean(one.words)) + ": " + _figure(one.amount, one, show), "  ", "    "
            )


def matters(one: Binding) -> bool:
    """Whether a step of this target or limit either way changes the plan."""
    return one.binds or _matters(one.harder)


def _matters(step: Step) -> bool:
    return step.outcome in ("none", "unknown") or bool(step.price_change)


def _step(name: str, step: Step, one: Binding, currency: str, show: Show) -> Iterator[Row]:
    if step.outcome == "not asked":
        return
    told = {
        "none": "no plan (proven)",
        "unknown": "not known: the search ended early",
        "plan": _change(step.price_change or 0, currency),
    }[step.outcome]
    yield from wrapped(f"{_figure(step.amount, one, show)}: {told}", f"  {name:<7} ", " " * 10)


def _figure(amount: float, one: Binding | Member, show: Show) -> str:
    return unbroken(show.figure(amount, one.unit))


def _change(change: int, currency: str) -> str:
    if change == 0:
        return "the same price"
    sign = "+" if change > 0 else "-"
    return unbroken(f"{sign}{whole_money(abs(change), currency)}")


def alternative_rows(title: str, found: Alternatives, show: Show) -> Iterator[Row]:
    """The cheapest plan, and the best ones that differ from it, each with what it does better."""
    yield Row(clean(title, 70), "heading")
    yield from _plan("cheapest", found.chosen, found.currency, show)
    for number, one in enumerate(found.others, start=2):
        yield Row("")
        yield from _plan(f"number {number}", one.plan, found.currency, show)
        change = _change(one.price_change, found.currency)
        yield from wrapped(f"against the cheapest: {change}", "    ", "    ")
        if one.better:
            yield from wrapped("better: " + ", ".join(map(unbroken, one.better)), "    ", "    ")
        if one.worse:
            yield from wrapped("worse: " + ", ".join(map(unbroken, one.worse)), "    ", "    ")
        if one.overtakes:
            yield from wrapped(
                f"it would be the cheaper one if what only the cheapest has cost"
                f" {found.prices_move * 100:.0f} % more and what only this one has as much less:"
                " get both quoted before you buy",
                "    ! ",
                "      ",
                "caution",
            )
    yield Row("")
    if not found.others:
        yield from wrapped("No other plan differs as you asked and still does the job (proven).")
    elif found.complete:
        yield from wrapped("There is no further different plan within what was asked (proven).")
    else:
        yield from wrapped("More different plans exist; --most shows more of them.")


def _plan(label: str, one: Headline, currency: str, show: Show) -> Iterator[Row]:
    yield from wrapped(
        f"{unbroken(whole_money(one.price, currency))}: {one.motor}, {one.controller},"
        f" {unbroken(f'{one.series} x {one.parallel}')} {one.module} ({one.chemistry})",
        f"  {label:<10}",
        "    ",
    )
    yield from wrapped(
        show.words(
            f"{show.distance(one.range_km)} on {one.range_target}"
            f" (asked {show.nearest_distance(one.wanted_km)}),"
            f" laden {show.mass(one.laden_kg)},"
            f" {show.room(one.rear_left_kg)} left at the rear,"
            f" {show.speed(one.top_speed_kmh)}, full in {one.charge_hours:.1f} h"
        ),
        "    ",
        "    ",
    )


def front_rows(title: str, found: Front, show: Show) -> Iterator[Row]:
    """Cost against one figure, point by point."""
    yield Row(clean(title, 70), "heading")
    better = "more is better" if found.greater_is_better else "less is better"
    sense = "at least" if found.greater_is_better else "at most"
    yield from wrapped(
        f"Cost in {found.currency} against {clean(found.words)} ({better}). No plan beats any of"
        " these in both."
    )
    before = ""
    for point in found.points:
        one = point.plan
        cells = unbroken(f"{one.series} x {one.parallel}")
        told = parts = f"{one.motor}, {one.controller}, {cells} {one.module}"
        if parts == before:
            told += ", placed or fitted out otherwise:" + show.words(
                f" laden {show.mass(one.laden_kg)},"
                f" {show.room(one.front_left_kg)} left in front,"
                f" {show.room(one.rear_left_kg)} left at the rear"
            )
        before = parts
        yield from wrapped(
            f"{unbroken(show.judged(point.figure, found.unit, sense))}: {told}",
            f"  {whole_units(one.price, found.currency):>10}  ",
            " " * 14,
        )
    more = "the front goes on; --most shows more"
    yield Row(f"  {'the front ends here (proven)' if found.complete else more}")


def clash_rows(title: str, found: Clash, show: Show) -> Iterator[Row]:
    """What clashes, and for each member how far it alone would have to give."""
    yield Row(clean(title, 70), "heading")
    yield from clash_lines(found, show)


def clash_lines(found: Clash, show: Show) -> Iterator[Row]:
    """As :func:`clash_rows`, without the heading."""
    if found.possible:
        yield Row("Nothing clashes: there is a plan.", "good")
        return
    if not found.proven:
        yield from wrapped("The search ended before the clash was found.", tone="caution")
        return
    if not found.members:
        yield from wrapped(
            "No plan, even with every target, limit and choice given up: the catalogue has no"
            " whole set of parts for this car.",
            tone="bad",
        )
        for reason in found.missing_parts:
            yield from wrapped(show.words(clean(reason)), "  - ", "    ")
        yield from _parts(found, show)
        return
    yield from wrapped(
        "These cannot all be had together; without any one of them, and without all that is not"
        " named here, they could (proven):",
        tone="bad",
    )
    for one in found.members:
        asked = "" if one.amount is None else ": " + _figure(one.amount, one, show)
        yield from wrapped(show.words(clean(one.words)) + asked, "  - ", "    ")
    yield Row("")
    yield Row("What one of them alone would have to give, all else as asked", "heading")
    for one in found.members:
        yield from _give(one, found.currency, show)
    yield from _parts(found, show)


def _parts(found: Clash, show: Show) -> Iterator[Row]:
    """Which figures a part would need, and what was tried with such a row."""
    if found.parts_looked_for and not found.parts:
        yield Row("")
        yield from wrapped(
            "No better module, drive or controller was found that would do by itself, up to seven"
            " times what the catalogue has."
        )
    if not found.parts:
        return
    yield Row("")
    rows = [one for one in found.parts if not one.together]
    together = [one for one in found.parts if one.together]
    if together:
        all_of = "These parts together" if len(together) > 1 else "This part"
        yield Row("What the catalogue lacks", "heading")
        for one in together:
            yield from _part(one, show)
        first = together[0]
        if first.sufficient:
            given = "as it stands" if first.as_asked else "with every requirement given up"
            yield from wrapped(
                f"{all_of} would do for the project {given} (planned and proven):"
                f" {clean(first.instead)}.",
                "    ",
                "    ",
            )
        else:
            yield from wrapped(
                f"{all_of} would be needed at least; whether no more is, was not shown.",
                "    ",
                "    ",
                "caution",
            )
    if rows:
        yield Row("Which better part would do by itself", "heading")
        for one in rows:
            yield from _part(one, show)
            given = "all else as asked" if one.as_asked else "every requirement given up"
            yield from wrapped(
                f"with it, {given}, there is a plan (proven): {clean(one.instead)}", "    ", "    "
            )


def _part(one: PartNeeded, show: Show) -> Iterator[Row]:
    figures = "; ".join(_needed(figure, show) for figure in one.figures)
    yield from wrapped(f"{one.title}, like {clean(one.like)} but: {figures}", "  - ", "    ")
    if one.because:
        yield from wrapped(show.words(clean(f"what is missing: {one.because}")), "    ", "    ")


def _needed(one: FigureNeeded, show: Show) -> str:
    if isinstance(one.needed, str) or isinstance(one.has, str):
        return f"{clean(one.words)}: {clean(str(one.needed))} (it has {clean(str(one.has))})"
    needed, has = (
        show.words(f"{show.number(f'{value:g}')} {one.unit}".strip())
        for value in (one.needed, one.has)
    )
    return f"{clean(one.words)}: {one.sense} {unbroken(needed)} (it has {unbroken(has)})"


def _give(one: Member, currency: str, show: Show) -> Iterator[Row]:
    words = show.words(clean(one.words))
    if not one.helps:
        far = "" if one.farthest is None else f", even at {_figure(one.farthest, one, show)}"
        yield from wrapped(f"{words}: alone it cannot help{far}", "  - ", "    ")
        return
    price = "" if one.price is None else f" for {unbroken(whole_money(one.price, currency))}"
    if one.eased is None:
        yield from wrapped(f"{words}: given up, there is a plan{price}", "  - ", "    ")
    else:
        yield from wrapped(
            f"{words}: {_figure(one.eased, one, show)} instead of"
            f" {_figure(one.amount or 0.0, one, show)} gives a plan{price}",
            "  - ",
            "    ",
        )
    if one.instead:
        yield from wrapped(clean(one.instead), "      ", "      ")
