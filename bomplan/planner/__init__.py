"""Choosing: screen, constrain, simulate, certify."""

from bomplan.planner.events import Event, Listener, Stop
from bomplan.planner.find import find_any, find_plan

__all__ = ["Event", "Listener", "Stop", "find_any", "find_plan"]
