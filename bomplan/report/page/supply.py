"""The 12 V side: what draws on it, in which weather, and what feeds it."""

from __future__ import annotations

from bomplan.design.records import Plan
from bomplan.design.supply_records import Supply12V, SupplyLoad
from bomplan.report.page.blocks import Block, Facts, Head, Part, Row, Section, Table, Words
from bomplan.report.supply_words import load_words, notes, sums
from bomplan.report.text import clean
from bomplan.report.units import Show


def supply(plan: Plan, show: Show) -> Section | None:
    """Sums, the battery alone, and the table of loads; nothing for older plans."""
    told = plan.supply_12v
    if told is None:
        return None
    blocks: list[Block | Part] = [Words(show.words(one)) for one in notes(told)]
    blocks.append(Facts(tuple((words, show.figure(watts, "W")) for words, watts in sums(told))))
    blocks.append(Words(_alone(told, show)))
    heads = (
        Head("Load"),
        Head("While on", number=True),
        Head("By day", number=True),
        Head("At night", number=True),
        Head("In rain", number=True),
        Head("In winter", number=True),
        Head("Worst mean", number=True),
        Head("Converter failed", number=True),
        Head("From"),
    )
    rows = tuple(_row(load, show) for load in told.loads)
    if rows:
        blocks.append(Table("Loads of the 12 V side", heads, rows, wordy=True))
    return Section("supply", "The 12 V side", "12 V", tuple(blocks))


def _alone(told: Supply12V, show: Show) -> str:
    if told.reserve_minutes is None:
        return "Nothing draws on the 12 V battery when the converter has failed."
    return (
        f"When the converter fails, the battery of {show.figure(told.battery_ah, 'Ah')} feeds"
        f" {show.figure(told.reserve_a, 'A')} for {show.figure(told.reserve_minutes, 'min')} from"
        f" half of its capacity at {show.figure(told.coldest_c, '°C')}: stop where it is safe"
        " before then."
    )


def _row(load: SupplyLoad, show: Show) -> Row:
    duties = (load.day, load.night, load.rain, load.winter)
    return Row(
        (
            show.words(load_words(load)),
            show.figure(load.power_w, "W"),
            *(show.figure(100 * duty, "%") for duty in duties),
            show.figure(load.worst_w, "W"),
            show.figure(100 * load.reserve, "%"),
            show.words(clean(load.source, 160)),
        )
    )
