"""What a bay can hold, box or not: the two questions that the rest of the house asks."""

from __future__ import annotations

from functools import lru_cache

from bomplan.packing import layers
from bomplan.packing.boxes import BayBox, Layout, ModuleBox
from bomplan.packing.layers import DEFAULT_PROOF_EFFORT
from bomplan.packing.rectangle import DEFAULT_STEPS
from bomplan.packing.shape import obstacles
from bomplan.packing.shaped_bounds import shaped_at_most


def at_most(bay: BayBox, module: ModuleBox) -> int:
    """A proven upper bound on how many of the module stand in the bay; cheap.

    In a plain box each layer holds modules of one attitude; elsewhere any arrangement counts.
    """
    if not obstacles(bay):
        return layers.at_most(_plain(bay), module)
    return _shaped_at_most(bay, module)


def layout(
    bay: BayBox,
    module: ModuleBox,
    *,
    proof_effort: float = DEFAULT_PROOF_EFFORT,
    steps: int = DEFAULT_STEPS,
) -> Layout:
    """The greatest number of the module that was found to fit, each with its place.

    Never more than :func:`at_most`; see :func:`bomplan.packing.layers.layout` for the limits
    of the work, which hold for bays of any shape. ``exact`` is False where a higher count was
    neither found nor excluded, as is common in bays that are no boxes.
    """
    if not obstacles(bay):
        return layers.layout(_plain(bay), module, proof_effort=proof_effort, steps=steps)
    return _shaped_layout(bay, module, proof_effort, steps)


def _plain(bay: BayBox) -> BayBox:
    """The bay without blocked pieces, for a bay in which they take nothing."""
    if not bay.blocked:
        return bay
    return BayBox(bay.length_mm, bay.width_mm, bay.height_mm, bay.wall_mm, bay.shelf_mm)


@lru_cache(maxsize=4096)
def _shaped_at_most(bay: BayBox, module: ModuleBox) -> int:
    return shaped_at_most(bay, module)


@lru_cache(maxsize=1024)
def _shaped_layout(bay: BayBox, module: ModuleBox, proof_effort: float, steps: int) -> Layout:
    from bomplan.packing.shaped import shaped_layout

    return shaped_layout(bay, module, at_most(bay, module), proof_effort, steps)
