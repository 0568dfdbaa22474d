"""The orders in which the modules of a box may be joined: lane by lane, like a plough."""

from __future__ import annotations

from bomplan.packing.boxes import Stand
from bomplan.packing.poles import Point, along_walls, middle


class Plough:
    """The sixteen orders of the rule over the first so many of some stands.

    Lanes and layers are found once for all orders of one number.
    """

    def __init__(self, stands: tuple[Stand, ...]) -> None:
        self._stands = stands
        self._middles = [middle(stand) for stand in stands]
        self._ends = [
            (2 * (one.x_mm + one.length_mm), 2 * (one.y_mm + one.width_mm)) for one in stands
        ]
        # indices by the coordinate across a lane along x, and along y
        self._waiting = tuple(
            sorted(
                range(len(stands)),
                key=lambda n, axis=axis: (  # type: ignore[misc]
                    self._middles[n][1 - axis],
                    self._middles[n][axis],
                    n,
                ),
            )
            for axis in (0, 1)
        )

    def orders(
        self, count: int, widths: tuple[int, ...], from_rear: bool
    ) -> list[tuple[bool, tuple[int, ...]]]:
        """Every run of the rule, and whether it begins away from the wall of the cables."""
        by_layer: dict[int, list[int]] = {}
        for index in range(count):
            by_layer.setdefault(self._stands[index].layer, []).append(index)
        layers = [_Layer(self, by_layer[layer], layer) for layer in sorted(by_layer)]
        found: dict[tuple[int, ...], bool] = {}
        for wide in widths:
            for axis in (0, 1):
                for along in (False, True):
                    for across in (False, True):
                        order: list[int] = []
                        for layer in layers:
                            order += (
                                layer.from_nearest(axis, wide, self._middles[order[-1]])
                                if order
                                else layer.ploughed(axis, wide, along, across)
                            )
                        away = (along if axis == 0 else across) != from_rear
                        found.setdefault(tuple(order), away)
        return [(away, order) for order, away in found.items()]

    def sorted_across(self, here: set[int], axis: int) -> list[int]:
        """These stands by the coordinate across lanes that run along ``axis``."""
        return [index for index in self._waiting[axis] if index in here]

    def lanes(self, waiting: list[int], axis: int) -> list[list[int]]:
        """Modules side by side along ``axis``: a lane takes every middle within its first."""
        across = 1 - axis
        lanes: list[list[int]] = []
        edge = -1
        for index in waiting:
            if lanes and self._middles[index][across] < edge:
                lanes[-1].append(index)
                continue
            edge = self._ends[index][across]
            lanes.append([index])
        for lane in lanes:
            lane.sort(key=lambda n: (self._middles[n][axis], n))
        return lanes

    def middle(self, index: int) -> Point:
        return self._middles[index]


class _Layer:
    """The modules of one layer, in every way that they may be ploughed."""

    def __init__(self, plough: Plough, here: list[int], number: int) -> None:
        self.number = number
        self._plough = plough
        self._here = set(here)
        self._lanes: dict[int, list[list[int]]] = {}
        self._runs: dict[tuple[int, int, bool, bool], list[int]] = {}

    def ploughed(
        self, axis: int, wide: int, backward_along: bool, backward_across: bool
    ) -> list[int]:
        """Lanes along ``axis``, ``wide`` of them at a time, each the other way round."""
        key = (axis, wide, backward_along, backward_across)
        known = self._runs.get(key)
        if known is None:
            known = self._runs[key] = self._ploughed(*key)
        return known

    def from_nearest(self, axis: int, wide: int, end: Point) -> list[int]:
        """The run that begins at the corner nearest to the end of the layer below."""
        runs = [
            self.ploughed(axis, wide, along, across)
            for along in (False, True)
            for across in (False, True)
        ]
        return min(runs, key=lambda run: along_walls(self._plough.middle(run[0]), end))

    def _ploughed(
        self, axis: int, wide: int, backward_along: bool, backward_across: bool
    ) -> list[int]:
        plough = self._plough
        if axis not in self._lanes:
            self._lanes[axis] = plough.lanes(plough.sorted_across(self._here, axis), axis)
        lanes = self._lanes[axis]
        if backward_across:
            lanes = lanes[::-1]
        order: list[int] = []
        turned = backward_along
        for start in range(0, len(lanes), wide):
            if wide == 1:
                order += reversed(lanes[start]) if turned else lanes[start]
            else:
                band = {index for lane in lanes[start : start + wide] for index in lane}
                rungs = plough.lanes(plough.sorted_across(band, 1 - axis), 1 - axis)
                if turned:
                    rungs.reverse()
                for rung in rungs:
                    order += reversed(rung) if backward_across else rung
            turned = not turned
        return order
