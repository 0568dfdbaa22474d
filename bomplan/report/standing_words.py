"""In words how close a line's row is to its limit, and what else would do in its place."""

from __future__ import annotations

from bomplan.design.line_records import OtherDrive, Standing
from bomplan.report.lines import exact_money
from bomplan.report.text import clean
from bomplan.report.units import Show

_NOTHING = {
    "core": "part of the drive: another one is another drive, which bomplan plan --other-drives"
    " looks for",
    "fixed": "fixed by the project",
    "none suits": "nothing else while the other lines stay as they are",
    "none beside": "nothing else beside the rest of the drive, whatever the other lines are",
    "not settled": "not told: the search for another drive was stopped, or came to no proof",
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
    words = f"{clean(other.part, 60)}{source}"
    if other.drive is None:
        return f"{words}: {price}, {mass}"
    return f"{words} with {_beside(other.drive, other.part)}: {price}, {mass}" + _by_goal(
        other.drive, currency, show
    )


def _beside(drive: OtherDrive, part: str) -> str:
    """What stands beside the other row: the controller of another motor, and the pack."""
    pack = f"{drive.series} x {drive.parallel} {clean(drive.module, 60)}"
    if part == drive.module:
        pack = f"{drive.series} in series, {drive.parallel} in parallel"
    return f"{clean(drive.controller, 60)} and {pack}" if part == drive.motor else pack


def _by_goal(drive: OtherDrive, currency: str, show: Show) -> str:
    """What the other drive comes to by a goal other than price and mass; whether it is proven."""
    words = "" if drive.proven else ", not proven the best"
    if drive.by_goal is None or drive.goal_unit == "g":
        return words
    if drive.goal_unit == "money":
        more = show.number(exact_money(drive.by_goal, currency))
        return f", {'+' if drive.by_goal > 0 else ''}{more} by the goal" + words
    range_km = show.distance(abs(drive.by_goal) / 1000)
    return f", goes {range_km} {'farther' if drive.by_goal > 0 else 'less'}" + words
