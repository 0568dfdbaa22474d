"""Packing: how many modules a bay can hold at most, where each stands, how they are joined."""

from bomplan.packing.boxes import BayBox, Block, Layout, ModuleBox, Orientation, Stand
from bomplan.packing.check import check_layout
from bomplan.packing.fit import Fit, best_fit, pieces_at_most
from bomplan.packing.joining import shortest_link_mm
from bomplan.packing.order import centre_x_mm, clamped_rows, fill_order, moment_table
from bomplan.packing.plates import Plate, end_plates
from bomplan.packing.room import at_most, layout
from bomplan.packing.series import Joined, Run, SeriesRuns, series_run
from bomplan.packing.shape import blocked_around, free_spans, obstacles
from bomplan.packing.sideways import height_table, lateral_table
from bomplan.packing.stow import stowed
from bomplan.packing.together import MOST_TOGETHER, best_together

__all__ = [
    "MOST_TOGETHER",
    "BayBox",
    "Block",
    "Fit",
    "Joined",
    "Layout",
    "ModuleBox",
    "Orientation",
    "Plate",
    "Run",
    "SeriesRuns",
    "Stand",
    "at_most",
    "best_fit",
    "best_together",
    "blocked_around",
    "centre_x_mm",
    "check_layout",
    "clamped_rows",
    "end_plates",
    "fill_order",
    "free_spans",
    "height_table",
    "lateral_table",
    "layout",
    "moment_table",
    "obstacles",
    "pieces_at_most",
    "series_run",
    "shortest_link_mm",
    "stowed",
]
