"""What the rows of a catalogue say of one another: nothing may point into the void."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator, Mapping

from bomplan.catalog.columns import part_families
from bomplan.catalog.rows import Row
from bomplan.errors import Fault

Tables = Mapping[str, Mapping[tuple[str, ...], Row]]

_ENVELOPE = (
    "reference_v",
    "peak_torque_nm",
    "base_speed_rpm",
    "peak_kw",
    "peak_s",
    "hour_kw",
    "continuous_kw",
)


def check_links(tables: Tables, *, dangling: bool = True) -> list[Fault]:
    """Faults between rows of the stacked ``tables``.

    One id in two families, pairs of the wrong kind or without an envelope, curves that do
    not span the state of charge. With ``dangling`` also every mention of a motor,
    controller, part, supplier or curve that does not exist.
    """
    faults = list(_twice(tables))
    faults.extend(_pairs(tables))
    faults.extend(_spans(tables))
    if dangling:
        faults.extend(_dangling(tables))
    return faults


def _twice(tables: Tables) -> Iterator[Fault]:
    home: dict[str, Row] = {}
    for family in part_families():
        for row in tables.get(family.name, {}).values():
            part_id = row.key[0]
            if part_id in home:
                other = home[part_id]
                yield row.fault(
                    "duplicate-id",
                    f"{part_id} stands already in {other.file} row {other.line}",
                    "id",
                    "an id once in the whole catalogue",
                )
            else:
                home[part_id] = row


def _pairs(tables: Tables) -> Iterator[Fault]:
    motors = tables.get("motor", {})
    controllers = tables.get("controller", {})
    for row in tables.get("pairs", {}).values():
        motor = motors.get(row.key[:1])
        if motor is None:
            continue
        kind = motor.text("kind")
        if kind not in ("", "series_dc"):
            for column in _ENVELOPE:
                if column not in row.cells:
                    yield row.fault(
                        "missing-value",
                        f"the cell is blank, a pair with a motor of kind {kind} needs it",
                        column,
                    )
        controller = controllers.get(row.key[1:])
        if controller is not None and kind:
            wanted = "chopper" if kind == "series_dc" else "inverter"
            if controller.text("kind") not in ("", wanted):
                yield row.fault(
                    "pair-kind",
                    f"a motor of kind {kind} cannot run on a {controller.text('kind')}",
                    "controller",
                    f"a controller of kind {wanted}",
                )


def _spans(tables: Tables) -> Iterator[Fault]:
    points: dict[str, list[Row]] = {}
    for row in tables.get("curves", {}).values():
        if "state_of_charge" in row.cells:
            points.setdefault(row.key[0], []).append(row)
    for name, rows in points.items():
        levels = sorted(float(row.cells["state_of_charge"].value) for row in rows)
        if levels[0] != 0.0 or levels[-1] != 1.0:
            yield rows[0].fault(
                "curve-span",
                f"the curve {name} goes from {levels[0]:g} to {levels[-1]:g}",
                "state_of_charge",
                "points at 0 and at 1, and between them",
            )


def _dangling(tables: Tables) -> Iterator[Fault]:
    parts = [key[0] for family in part_families() for key in tables.get(family.name, {})]
    chemistries = {key[0] for key in tables.get("temperatures", {})}
    known: dict[str, list[str]] = {
        "motor": _ids(tables, "motor"),
        "controller": _ids(tables, "controller"),
        "part": parts,
        "supplier": _ids(tables, "suppliers"),
        "curve": sorted({key[0] for key in tables.get("curves", {})}),
    }
    for table, columns in (
        ("pairs", ("motor", "controller")),
        ("offers", ("part", "supplier")),
        ("module", ("curve",)),
    ):
        for row in tables.get(table, {}).values():
            for column in columns:
                yield from _lookup(row, column, known[column])
    everything = set(parts)
    for row in tables.get("module", {}).values():
        chemistry = row.text("chemistry")
        if chemistry and chemistry not in chemistries:
            yield row.fault(
                "unknown-temperatures",
                f"temperatures.csv has no rows for {chemistry}",
                "chemistry",
                ", ".join(sorted(chemistries)) or None,
            )
    for family in part_families():
        for row in tables.get(family.name, {}).values():
            if "replaced_by" in row.cells and row.text("replaced_by") not in everything:
                yield from _lookup(row, "replaced_by", parts)


def _lookup(row: Row, column: str, known: Iterable[str]) -> Iterator[Fault]:
    name = row.text(column)
    names = list(known)
    if not name or name in set(names):
        return
    near = difflib.get_close_matches(name, names, n=1)
    yield row.fault(
        f"unknown-{column.replace('_', '-')}",
        f"nothing in the catalogue has this {'name' if column == 'curve' else 'id'}",
        column,
        hint=f"did you mean {near[0]}?" if near else None,
    )


def _ids(tables: Tables, table: str) -> list[str]:
    return [key[0] for key in tables.get(table, {})]
