"""The 12 V side of a circuit: feed, blade fuses, and the chain that lets the contactors close."""

from __future__ import annotations

from dataclasses import replace

from bomplan.design.bill.low_side import (
    CHAIN,
    CONTROLLER,
    COOLING,
    FANS,
    GAUGE,
    HEATER,
    PUMP,
    box_feed_mm,
    circuits_12v,
    feed_mm,
)
from bomplan.design.circuit_maker import Maker
from bomplan.sizing.wiring_12v import BLADES_A, Circuit12V, blade_a

# The device of a circuit by its name: kind of block where it is drawn already, else the letter
# and the family of a block of its own.
_DRAWN = {CONTROLLER: ("inverter", "chopper"), HEATER: ("heater relay",)}
_OWN = {
    GAUGE: ("P", "gauge"),
    PUMP: ("M", "vacuum_set"),
    COOLING: ("M", "cooling_set"),
    FANS: ("M", "vent_fan"),
}


def low_side(make: Maker, boards: int) -> tuple[str, ...]:
    """The 12 V side; the tags of the chain from the key on. ``boards``: of cell monitors."""
    battery = box = ""
    if make.has("battery_12v"):
        battery = make.block("G", "12 V battery", "12 V battery", "battery_12v", side="12 V")
    converter = _tag(make, "converter")
    feeds = ("", "")
    if make.has("feed_fuse"):
        feeds = tuple(
            make.block("F", "feed fuse", f"12 V feed: {words}", "feed_fuse", side="12 V")
            for words in ("converter", "fuse box")
        )  # type: ignore[assignment]
    if make.has("fuse_box_12v"):
        box = make.block("F", "12 V fuse box", "12 V fuse box", "fuse_box_12v", side="12 V")
    earth = make.block("X", "earth point", "earth point, 12 V minus", side="12 V", lines=())
    _feed(make, converter, battery, box, feeds, earth)
    chain = [make.block("S", "key", "key switch, the donor's own", side="12 V", lines=())]
    if make.has("inertia_switch"):
        chain.append(make.block("S", "inertia", "inertia switch", "inertia_switch", side="12 V"))
    told: list[tuple[str, str]] = []
    if make.has("monitor"):
        watch, told = _permission(make, boards)
        chain.append(watch)
    supply = box or "12 V fuse"
    if make.has("wire_12v") and box:
        for one in circuits_12v(make.context, make.drive):
            fuse = _circuit(make, one, box, tuple(chain), earth)
            if one.name == GAUGE:
                supply = fuse
    else:
        before = box or battery
        for tag in chain:
            if before:
                _unsized(make, (before, "out"), (tag, "in"), box)
            before = tag
    for terminal, tag in told:
        make.wire((chain[-1], terminal), (tag, terminal), "signal", supply, "signal wire", None)
    return tuple(chain)


def _tag(make: Maker, *kinds: str) -> str:
    return next((one.tag for one in make.blocks.values() if one.kind in kinds), "")


def _unsized(make: Maker, start: tuple[str, str], end: tuple[str, str], box: str) -> None:
    """A wire of plans that are older than the 12 V side in the bill."""
    make.wire(start, end, "12 V", box or "12 V fuse", "12 V wire", None)


def _feed(
    make: Maker, converter: str, battery: str, box: str, feeds: tuple[str, str], earth: str
) -> None:
    """Converter to battery, both poles, and on to the fuse box; fuses at the battery."""
    if not (make.has("feed_wire") and all(feeds)):
        for start, end in ((converter, battery), (battery, box)):
            if start and end:
                _unsized(make, (start, "12 V"), (end, "+"), box)
        return
    size = f"{make.parts['feed_wire'].number('area_mm2'):g} mm²"
    for fuse in feeds:
        if battery:
            make.wire((battery, "+"), (fuse, "1"), "bolted 12 V", fuse, "bolted")
    if converter:
        make.wire(
            (converter, "12 V"), (feeds[0], "2"), "feed", feeds[0], size, feed_mm(make.context)
        )
        make.wire((converter, "0 V"), (earth, "1"), "feed", feeds[0], size, feed_mm(make.context))
    if box:
        make.wire((feeds[1], "2"), (box, "+"), "feed", feeds[1], size, box_feed_mm(make.context))
    if battery:
        make.wire((battery, "-"), (earth, "1"), "bolted 12 V", feeds[0], "donor's own")


def _circuit(make: Maker, one: Circuit12V, box: str, chain: tuple[str, ...], earth: str) -> str:
    """A blade fuse, its wires out and back, and the device at their end; the fuse's tag."""
    amps = blade_a(one.amps) or BLADES_A[-1]
    fuse = make.block(
        "F", "blade fuse", f"blade fuse: {one.name}", side="12 V", lines=(f"{amps:g} A",)
    )
    make.wire((box, "out"), (fuse, "1"), "bolted 12 V", fuse, "in the box")
    size = f"{make.parts['wire_12v'].number('area_mm2'):g} mm²"
    stops: list[tuple[str, str, str]] = []  # block, terminal in, terminal out
    if one.name == CHAIN:
        stops = [(tag, "in", "out") for tag in chain]
        stops.append((_tag(make, "contactor"), "A1", "A2"))
    elif one.name in _DRAWN:
        stops = [(_tag(make, *_DRAWN[one.name]), "12 V", "0 V")]
    else:
        letter, family = _OWN[one.name]
        kind = "gauge" if family == "gauge" else "12 V load"
        stops = [
            (make.block(letter, kind, one.name.removeprefix("the "), family, side="12 V"),
             "12 V", "0 V")
        ]  # fmt: skip
    before = (fuse, "2")
    for length, (tag, into, out) in zip(one.legs_mm, [*stops, (earth, "1", "")], strict=True):
        if tag:
            make.wire(before, (tag, into), "12 V", fuse, size, length)
            before = (tag, out)
    return fuse


def _permission(make: Maker, boards: int) -> tuple[str, list[tuple[str, str]]]:
    """The monitors' contact in the chain, and what else it has a say in."""
    part = make.parts["monitor"]
    told = []
    lines = []
    for column, family, terminal in (
        ("charge_stop", "charger", "stop"),
        ("drive_stop", "controller", "limit"),
    ):
        at = next((one.tag for one in make.blocks.values() if one.family == family), "")
        if at and part.text(column) in ("signal", "relay"):
            told.append((terminal, at))
            lines.append(f"{terminal} {at}: {part.text(column)}")
    sensors = boards * int(part.number_or("temperature_channels", 0))
    if sensors:
        lines.append(f"{sensors} temperatures")
    words = "permission of the cell monitors"
    tag = make.block("A", "monitor contact", words, side="12 V", lines=tuple(lines))
    make.blocks[tag] = replace(make.blocks[tag], family="monitor", part=make.lines["monitor"].part)
    make.drawn["monitor"] = boards
    return tag, told
