"""The first check sheet: what to measure while the pack and its wiring are built."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from bomplan.design.bill.ends import BEND_SOURCE
from bomplan.design.circuit_records import Block, End, Wire
from bomplan.report.drawings.circuit_key import closing_order, fuse_joints, tag_runs
from bomplan.report.sheets.rows import BY_MAKER, MEASURE, NO_BREAK, Making, Stage, Step
from bomplan.sizing import alignment
from bomplan.sizing.copper import HELD_MM, STRAIGHT_MM
from bomplan.sizing.isolation import STRING_V
from bomplan.sizing.restraint import PLATE_MM, PLATE_SIDE_MM

SECTION_RULE = "sections of at most 60 V while building (common practice)"
ALONE = "one module is above 60 V by itself: gloves, and never two of them bare (common practice)"
TWO_READINGS = "two readings, see the first page; never an ohmmeter on live poles"
MOST_LINKS = 16
JOINING_RULE = "twice the module's resistance times its charge rating (computed)"
TORQUE_RULE = "75 % of the proof load, dry, class 8.8: ISO 898-1:2013, K 0.20"
BONDING_RULE = "UN R100, draft 5.1.2.2"


def building(make: Making) -> tuple[Stage, ...]:
    """Modules, boxes, joints, wiring and 12 V side, in the order of the work."""
    return (
        _arrival(make),
        _sections(make),
        _boxes(make),
        _joints(make),
        *_joined(make),
        _cut(make),
        _wiring(make),
        _low_side(make),
    )


def _arrival(make: Making) -> Stage:
    figures, module = make.figures, make.figures.drive.module
    series = module.number("cells_series")
    core = figures.drive.core
    empty, full = figures.rest_empty_v / core.series, figures.rest_full_v / core.series
    steps = [
        Step(
            f"Volts of every module ({core.modules} of {make.name(module.id)}): the lowest",
            make.at_least(empty, "V"),
            "rest voltage at the bottom of the usable window, catalogue curve",
        ),
        Step(
            "Volts of every module: the highest",
            make.at_most(full, "V"),
            "rest voltage at the top of the usable window, catalogue curve",
        ),
    ]
    if figures.joining_v is not None and core.topology == "groups":
        steps.append(
            Step(
                "Difference between any two modules before they are joined side by side",
                make.at_most(figures.joining_v, "V"),
                JOINING_RULE,
            )
        )
    if series > 1 and figures.monitored:
        steps.append(
            Step(f"Volts of each of the {series:.0f} cells inside, highest less lowest", MEASURE)
        )
    if figures.wet_cells:
        steps.append(Step("Density of the acid in every cell, charged: lowest, highest", MEASURE))
        steps.append(Step("Acid stands above the plates in every cell", tick=True))
    steps.append(Step("No dent, swelling, leak or smell on any module", tick=True))
    return Stage(
        "Modules as they arrive",
        tuple(steps),
        cautions=make.dangers["cells"],
        hold="A module outside these figures stays out of the pack.",
    )


def _sections(make: Making) -> Stage:
    many = make.figures.found.strings > 1
    steps = []
    for one in make.figures.sections:
        string = f", string {one.string}" if many else ""
        modules = "1 module" if one.series == 1 else f"{one.series} modules in series"
        if one.places is not None:
            first, last = one.places
            modules += f", place {first}" if first == last else f", places {first} to {last}"
        steps.append(
            Step(
                f"Box {make.name(one.box)}{string}, section {one.number}: volts of {modules}",
                make.span(one.empty_v, one.full_v, "V"),
                SECTION_RULE if one.full_v <= STRING_V else ALONE,
            )
        )
    return Stage(
        "Sections, before they are linked",
        tuple(steps),
        lead="Measure each section with its links to the neighbours still open; plus and minus"
        " as marked." + _stay_open(make),
        hold="Sections of one size differ by no more than the modules did when they came.",
    )


def _stay_open(make: Making) -> str:
    """The links that join sections, by the numbers of the drawings of the bays."""
    links = make.figures.last_links
    if not links:
        return ""
    more = len(links) - MOST_LINKS
    rest = f" and {more} more, see the drawings of the bays" if more > 0 else ""
    return f" Links fitted last: {', '.join(links[:MOST_LINKS])}{rest}."


def _boxes(make: Making) -> Stage:
    steps: list[Step] = []
    for one in make.figures.restraints:
        bay = make.name(one.bay)
        what = "modules alone" if one.modules_only else "modules, box and what is in it"
        steps.append(
            Step(
                f"Box {bay}: mass on the scale ({what})",
                make.near(one.mass_kg, "kg"),
                "sum of the plan's lines",
            )
        )
        sizes = "; or ".join(
            f"{count} × M{size} at {make.figure(torque, 'N m')}".replace(" ", NO_BREAK)
            for size, count, torque in one.bolts
        )
        steps.append(
            Step(
                f"Box {bay}: hold-down bolts, how many and torque",
                sizes,
                f"{make.show.words(make.figures.held_at.source)}; {TORQUE_RULE}",
            )
        )
        steps.append(
            Step(
                f"Box {bay}: plate under sheet metal at every bolt, or the bolt in a rail",
                f"{make.at_least(PLATE_MM, 'mm')} thick, {PLATE_SIDE_MM[0]}{NO_BREAK}×{NO_BREAK}"
                + make.figure(PLATE_SIDE_MM[1], "mm"),
                "the sheet tears before the bolt (common practice)",
            )
        )
        steps.append(
            Step(
                f"Box {bay}: each section alone, links open: isolation of its poles from the metal"
                f" of the box ({TWO_READINGS}, V the section's volts)",
                make.at_least(make.figures.isolation.wanted_kohm, "kΩ"),
                isolation_rule(make),
            )
        )
        if make.figures.strap_mm2 is not None:
            steps.append(
                Step(
                    f"Box {bay}: bonding strap to the chassis, bare metal under both ends",
                    make.at_least(make.figures.strap_mm2, "mm²"),
                    "outlasts the fuse: I²t <= (k S)², IEC 60364-5-54",
                )
            )
        steps.append(
            Step(
                f"Box {bay}: ohms from the metal of the box to the chassis",
                make.at_most(make.figures.isolation.bonding_ohm, "Ω"),
                BONDING_RULE,
            )
        )
    return Stage(
        "Boxes in the " + make.vehicle,
        tuple(steps),
        cautions=make.dangers["lifting"],
    )


def isolation_rule(make: Making) -> str:
    """The rule by which the ohms are wanted, as the plan's machine asks for it."""
    per_volt = make.figure(make.figures.isolation.per_volt_ohm, "Ω")
    volts = make.figure(make.figures.drive.figures.charge_v, "V")
    kind = "a.c. parts joined to the pack" if not make.figures.series_motor else "d.c."
    return f"{per_volt} for each volt of {volts} ({kind}): UN R100 5.1.3; ISO 6469-3 (from memory)"


def _joints(make: Making) -> Stage:
    steps = []
    parts = make.figures.parts
    spare = make.to_spare("link")
    bars = make.count("link") - spare
    if bars:
        left = f"; {spare} more are to spare" if spare else ""
        steps.append(Step(f"Bars between modules ({bars}{left}): torque of the poles", BY_MAKER))
    if make.has("link_cable"):
        steps.append(
            Step(
                f"Cables between modules, with {make.count('link_lug')} lugs: torque of the poles",
                BY_MAKER,
            )
        )
    for hole in make.figures.holes:
        at = f"{hole.ends} lugs of traction cable, at {tag_runs(sorted_tags(hole.tags))}"
        if hole.stud_mm is None:
            steps.append(Step(f"{at}: the stud, before lugs are ordered", MEASURE))
        else:
            lug = f" ({make.name(hole.lug)})" if hole.lug else ""
            steps.append(Step(f"{at}, M{hole.stud_mm:g}{lug}: torque of each stud", BY_MAKER))
    for fuse, cells in fuse_joints(make.figures.found):
        steps.append(
            Step(
                f"{fuse.tag} to {cells.tag}+ in box {make.name(fuse.box)}: holder fixed beside that"
                " pole, joined by a bar or a short cable with two lugs (not in the bill): torque",
                BY_MAKER,
            )
        )
    for family, words in (
        ("branch_lug", "Ring terminals of the branches"),
        ("feed_lug", "Lugs of the 12 V feed"),
    ):
        if family in parts:
            size = f"M{parts[family].number('stud_mm'):.0f}"
            steps.append(
                Step(f"{words} ({make.count(family)}, {size}): torque of each stud", BY_MAKER)
            )
    steps.append(
        Step("Fuse holders, contactors, disconnects and shunt: torque of their studs", BY_MAKER)
    )
    steps.append(Step("A line of paint across every joint that is done", tick=True))
    return Stage("Joints", tuple(steps), lead="Clean, grease as the maker says, tighten, mark.")


def sorted_tags(tags: tuple[str, ...]) -> list[str]:
    """By letter, then by number."""
    return sorted(tags, key=lambda tag: (tag[0], int(tag[1:])))


def _joined(make: Making) -> tuple[Stage, ...]:
    """How true the motor runs with the gearbox; nothing where a chain or an axle is driven."""
    figures = make.figures
    coupler = figures.parts.get("coupler")
    if figures.drive.motor.text("mount") != "gearbox" or coupler is None:
        return ()
    clutch = coupler.flag("clutch")
    steps = (
        Step(
            "Dial on the motor's shaft end, turned once by hand",
            make.at_most(alignment.SHAFT_MM, "mm"),
            "DIN 42955, shafts of 30 to 50 mm",
        ),
        Step(
            "Dial on the shaft, against the bore of the bell housing",
            make.at_most(alignment.housing_mm(clutch), "mm"),
            "with a clutch between (common practice)" if clutch else "rigid shaft coupling",
        ),
        Step(
            "Faces of the adapter plate: out of parallel over 100 mm",
            make.at_most(alignment.FACE_MM_PER_100, "mm"),
            "common practice",
        ),
        Step("The old dowels are in; turned by hand in every gear it is free", tick=True),
    )
    return (Stage("Motor and gearbox joined", steps, cautions=make.dangers["lifting"]),)


def _labels(make: Making) -> Iterator[Step]:
    """Where a warning label stands, each place once with its number."""
    if make.figures.touchable:
        return
    counts = Counter(make.figures.labels)
    places = ", ".join(f"{n} × {place}" if n > 1 else place for place, n in counts.items())
    yield Step(f"Warning labels ({len(make.figures.labels)}): {places}", tick=True)


def _fuses(make: Making) -> Iterator[Step]:
    for block in make.figures.found.of("fuse"):
        yield Step(
            f"{block.tag}, {_where(make, block)}: read what is printed on it",
            make.show.words(", ".join(block.rating)),
            "bill of materials",
        )


def _where(make: Making, block: Block) -> str:
    if not block.box:
        return block.words
    string = f", string {block.string}" if make.figures.found.strings > 1 else ""
    return f"fuse of box {make.name(block.box)}{string}"


# Kinds of wire that are cut from a reel of the bill, and what the sheet calls them.
REELS = (
    ("cable", "cable", "Traction cable"),
    ("branch", "branch_cable", "Branch cable"),
    ("feed", "feed_wire", "12 V feed"),
)


def _cut(make: Making) -> Stage:
    """Every piece that is cut from a reel, with both its ends, and how it is laid."""
    steps = [step for kind, _, words in REELS for step in _pieces(make, kind, words)]
    for family, words in (
        ("cable", "Traction cable where it lies still"),
        ("branch_cable", "Branch cable"),
        ("link_cable", "Cable between modules"),
    ):
        if family in make.figures.bends:
            still = make.figures.bends[family].still_mm
            steps.append(_bend(make, words, still))
    if "cable" in make.figures.bends:
        moving = make.figures.bends["cable"].moving_mm
        steps.append(_bend(make, "Traction cable to the motor, which moves on its mounts", moving))
    steps.append(
        Step(
            "Straight behind every lug and gland, before the first bend",
            make.at_least(STRAIGHT_MM, "mm"),
            "common practice",
        )
    )
    steps.append(
        Step(
            "From clip to clip along every cable",
            make.span(*HELD_MM, "mm"),
            "common practice",
        )
    )
    steps.append(
        Step(
            "Entries of controller, motor, charger, converter, heater and disconnects: sealed, by"
            " what came with the device or a gland to its thread (not in the bill)",
            tick=True,
        )
    )
    return Stage(
        "Cables, cut and laid",
        tuple(steps),
        lead="Lay a cord along every run before you cut: the plan counts along, across and up, with"
        " its slack. Tags as in drawings/circuit.svg. Cable with a screen bends in six diameters"
        " where it lies still and ten where it moves (common practice).",
    )


def _pieces(make: Making, kind: str, words: str) -> Iterator[Step]:
    """One step for all pieces of a section and length."""
    wires = [wire for wire in make.figures.found.wires if wire.kind == kind and wire.length_mm]
    sizes = dict.fromkeys((wire.section, wire.length_mm) for wire in wires)
    for section, length in sizes:
        same = [wire for wire in wires if (wire.section, wire.length_mm) == (section, length)]
        ends = "; ".join(_ends(make, wire) for wire in same)
        yield Step(
            f"{words} of {make.show.words(section)}, {_number(same)} cut: {ends}",
            f"{make.near((length or 0) / 1000, 'm')}{' each' if len(same) > 1 else ''}",
            "bill of materials, slack in it",
        )


def _number(wires: list[Wire]) -> str:
    return "1 piece" if len(wires) == 1 else f"{len(wires)} pieces"


def _ends(make: Making, wire: Wire) -> str:
    """``W2 from G1- to X3``, never torn."""
    start, end = _end(make, wire.start), _end(make, wire.end)
    return f"{wire.tag} from {start} to {end}".replace(" ", NO_BREAK)


def _end(make: Making, end: End) -> str:
    """A block, with the pole of those whose poles are no numbers."""
    block = make.figures.found.blocks[end.tag]
    if block.kind == "earth point":  # a symbol without a tag on the drawing
        return block.kind
    if end.terminal.isdigit():
        return end.tag
    gap = "" if end.terminal in ("+", "-") else " "
    return f"{end.tag}{gap}{end.terminal}"


def _bend(make: Making, words: str, radius_mm: int) -> Step:
    return Step(
        f"{words}: inner radius of its tightest bend",
        make.at_least(radius_mm, "mm"),
        BEND_SOURCE.words,
    )


def _wiring(make: Making) -> Stage:
    found = make.figures.found
    steps = list(_fuses(make))
    for kind, words in (("cable", "Traction cables"), ("branch", "Branch cables")):
        wires = [wire for wire in found.wires if wire.kind == kind]
        for section in dict.fromkeys(wire.section for wire in wires):
            tags = tag_runs([wire.tag for wire in wires if wire.section == section])
            steps.append(
                Step(
                    f"{words} {tags}: printed section, orange cover, no rubbing edge",
                    make.show.words(section),
                    "bill of materials",
                )
            )
    steps += _labels(make)
    volts = make.at_least(make.figures.drive.figures.charge_v, "V")
    if make.figures.monitored:
        steps.append(
            Step("Every tap of the cell monitors: a fuse where it leaves the cell", tick=True)
        )
    steps.append(
        Step(
            "Gauge's own tap on the pack: a fuse of 1 A at most where it leaves, rated",
            f"{volts} direct",
            "a thin wire on the pack's voltage (common practice)",
        )
    )
    steps.append(Step("Every wire ends where the circuit drawing says, tag by tag", tick=True))
    steps.append(
        Step(
            "Every traction cable, before its lugs are bolted: rings through from end to end, and"
            " to no other cable (continuity by meter, nothing live on it)",
            tick=True,
        )
    )
    return Stage(
        "Traction wiring, disconnects open",
        tuple(steps),
        lead="With drawings/circuit.svg beside you; all fuses out until their line is ticked.",
        hold="The last link and the fuses go in only after this page is whole.",
    )


def _low_side(make: Making) -> Stage:
    parts = make.figures.parts
    steps = []
    chain = " - ".join(
        f"{tag} {make.figures.found.blocks[tag].words}" for tag in make.figures.found.interlock
    )
    if chain:
        steps.append(Step(f"Chain {chain}: every one of them opens it", tick=True))
    order = closing_order(make.figures.found)
    if order:
        steps.append(Step(f"Coils. {make.show.words(order)}", tick=True))
    if "inertia_switch" in parts:
        steps.append(
            Step("Inertia switch: a knock opens the chain, its button closes it", tick=True)
        )
    if "dcdc" in parts:
        steps.append(
            Step(
                "12 V battery, all off, before the converter runs",
                MEASURE,
            )
        )
    steps.append(Step("Throttle: both sensors at rest and pressed", MEASURE))
    if make.has("vacuum_set"):
        steps.append(Step("Pump and reservoir hold their vacuum for ten minutes", MEASURE))
    return Stage(
        "12 V side, pack still open",
        (*_low_wires(make), *steps),
        lead="The battery's minus stays off until the fuses and wires are ticked.",
    )


def _low_wires(make: Making) -> Iterator[Step]:
    """Fuses of the 12 V side and the wire behind each, by the tags of the drawing."""
    found = make.figures.found
    for kind in ("feed fuse", "blade fuse"):
        for block in found.of(kind):
            wires = [one for one in found.wires if one.fuse == block.tag and one.length_mm]
            tags = tag_runs([one.tag for one in wires])
            size = f", {tags} of {wires[0].section.replace(' ', NO_BREAK)}" if wires else ""
            yield Step(
                f"{block.tag}, {block.words}{size}: read what is printed",
                make.show.words(", ".join(block.rating)),
                "bill of materials",
            )
