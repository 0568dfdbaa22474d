"""In words how close a line's row is to its limit, and what else would do in its place."""

from __future__ import annotations

from bomplan.design.line_records import Standing
from bomplan.report.lines import exact_money
from bomplan.report.text import clean
from bomplan.report.units import Show

_NOTHING = {
    "core": "part of the drive: another one is another drive",
    "fixed": "fixed by the project",
    "none suits": "nothing else while the other lines stay as they are",
}


def slack_words(standing: Standing, show: Show) -> str:
    """The tightest limit with its figure, and the room that is left as a share of the limit."""
    slack = standing.slack
    if slack is None:
        return "no figure limits it"
    value = show.judged(slack.value, slack.unit, slack.sense)
    limit = show.figure(slack.limit, slack.unit)
    room = show.number(f"{100 * slack.share:.1f} %")
    return f"{room} room: {show.words(clean(slack.words))}: {value}, {slack.sense} {limit}"


def instead_words(standing: Standing, currency: str, show: Show) -> str:
    """The next best row and what the whole bill would come to, more or less."""
    other = standing.instead
    if other is None:
        return _NOTHING.get(standing.nothing_because, "")
    price = show.number(exact_money(other.price, currency))
    price = f"+{price}" if other.price > 0 else price if other.price else "same price"
    mass = "same mass"
    if other.mass_kg:
        mass = show.figure(abs(other.mass_kg), "kg") + (" more" if other.mass_kg > 0 else " less")
    source = f" from {clean(other.supplier, 40)}" if other.supplier else ""
    return f"{clean(other.part, 60)}{source}: {price}, {mass}"
