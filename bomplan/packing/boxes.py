"""The records of packing: a module, a bay, where each module stands.

Everything is in whole millimetres. Along the bay's length runs ``x``, across it ``y``,
upwards ``z``; the origin is the corner of the bay (its inner faces, as measured in the
car) at its front, left and bottom.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Orientation = Literal["upright", "upright_or_side", "any"]
Attitude = Literal["upright", "side", "flat"]
Terminals = Literal["up", "x", "y"]


@dataclass(frozen=True)
class ModuleBox:
    """One module as it is bought, with the room that it wants around it.

    ``height_mm`` is the side along which the terminals point. ``gap_mm`` is kept between
    neighbours (air, or growth over life), ``terminal_clearance_mm`` before the terminals.
    ``end_plate_mm`` above zero says that the cells want compression: they then stand in
    rows, wide face to wide face, with a plate of this thickness at both ends of each row.

    ``orientation``: ``upright`` keeps the terminals up; ``upright_or_side`` also lets the
    module lie on its narrow side; ``any`` lets it lie on its wide side too. Terminals
    never point down.
    """

    length_mm: int
    width_mm: int
    height_mm: int
    orientation: Orientation = "upright"
    gap_mm: int = 0
    terminal_clearance_mm: int = 0
    end_plate_mm: int = 0

    def __post_init__(self) -> None:
        if min(self.length_mm, self.width_mm, self.height_mm) <= 0:
            raise ValueError("a module's length, width and height must be above 0 mm")
        if min(self.gap_mm, self.terminal_clearance_mm, self.end_plate_mm) < 0:
            raise ValueError("a module's gap, clearance and end plate cannot be below 0 mm")
        if self.orientation not in ("upright", "upright_or_side", "any"):
            raise ValueError(f"unknown orientation {self.orientation!r}")


@dataclass(frozen=True)
class Block:
    """A box in a bay: its corner at front, left and floor, and its sides along the bay's."""

    x_mm: int
    y_mm: int
    z_mm: int
    length_mm: int
    width_mm: int
    height_mm: int

    def __post_init__(self) -> None:
        if min(self.length_mm, self.width_mm, self.height_mm) <= 0:
            raise ValueError("a block's sides must be above 0 mm")

    @property
    def ends(self) -> tuple[int, int, int, int, int, int]:
        """Lowest x, y, z, then highest x, y, z."""
        return (
            self.x_mm,
            self.y_mm,
            self.z_mm,
            self.x_mm + self.length_mm,
            self.y_mm + self.width_mm,
            self.z_mm + self.height_mm,
        )


@dataclass(frozen=True)
class BayBox:
    """A room for modules, by its inner sizes as measured in the car.

    ``wall_mm`` is taken on every face for the box itself: four walls, floor and lid with
    the hold-down. Every layer above the lowest stands on a shelf of ``shelf_mm``, so that
    no module carries another. ``layers_max`` limits the layers, if given.

    ``blocked`` are pieces of it that are not room (a wheel arch, the ground beside a well);
    they may overlap each other. The box's wall runs around them too.
    """

    length_mm: int
    width_mm: int
    height_mm: int
    wall_mm: int = 10
    shelf_mm: int = 5
    layers_max: int | None = None
    blocked: tuple[Block, ...] = ()

    def __post_init__(self) -> None:
        if min(self.length_mm, self.width_mm, self.height_mm) < 0:
            raise ValueError("a bay's sizes cannot be below 0 mm")
        if self.blocked and self.layers_max is not None:
            raise ValueError("layers are limited in plain bays only")
        if min(self.wall_mm, self.shelf_mm) < 0:
            raise ValueError("a bay's wall and shelf cannot be below 0 mm")

    @property
    def room_mm(self) -> tuple[int, int, int]:
        """Length, width and height inside the walls of the box, at least 0."""
        return (
            max(0, self.length_mm - 2 * self.wall_mm),
            max(0, self.width_mm - 2 * self.wall_mm),
            max(0, self.height_mm - 2 * self.wall_mm),
        )


@dataclass(frozen=True)
class Stand(Block):
    """Where one module stands, and in which layer.

    ``terminals`` is the direction in which they point: ``up``, or towards rising ``x`` or
    ``y`` for a module on its side.
    """

    layer: int
    terminals: Terminals = "up"

    @property
    def centre_x_mm(self) -> int:
        """The middle along the bay, behind its front inner wall, floored to a millimetre."""
        return self.x_mm + self.length_mm // 2


@dataclass(frozen=True)
class Layout:
    """The most modules found in a bay and where they stand.

    ``exact`` says that no layout of the allowed kind holds more: the count meets a proven
    bound, or a solver has shown that one more cannot stand. ``fill`` says from where its
    places are taken when they are not all used.
    """

    positions: tuple[Stand, ...]
    exact: bool
    fill: Literal["front", "middle", "rear"] = "middle"

    @property
    def count(self) -> int:
        """How many modules stand in the bay."""
        return len(self.positions)


@dataclass(frozen=True)
class Footprint:
    """What one module takes of a layer in one attitude.

    ``across_mm`` by ``along_mm`` is the rectangle that it occupies with its terminal
    clearance (but without the gap), ``terminal_mm`` the part of ``along_mm`` that is kept
    clear, ``rise_mm`` the height of a layer (clearance included).
    """

    attitude: Attitude
    along_mm: int
    across_mm: int
    terminal_mm: int
    body_height_mm: int
    rise_mm: int


def footprints(module: ModuleBox) -> tuple[Footprint, ...]:
    """The attitudes that the module may take, upright first.

    Lying cells that want compression must keep their wide faces vertical, because a row is
    clamped along the floor; their flat attitude is left out.
    """
    thick = min(module.length_mm, module.width_mm)
    broad = max(module.length_mm, module.width_mm)
    clear = module.terminal_clearance_mm
    found = [
        Footprint("upright", broad, thick, 0, module.height_mm, module.height_mm + clear),
    ]
    if module.orientation in ("upright_or_side", "any"):
        found.append(Footprint("side", module.height_mm + clear, thick, clear, broad, broad))
    if module.orientation == "any" and module.end_plate_mm == 0:
        found.append(Footprint("flat", module.height_mm + clear, broad, clear, thick, thick))
    return tuple(found)
