"""The records of a plan and what follows from them."""

from bomplan.design.planfile import parse_plan, plan_bytes, read_plan
from bomplan.design.records import Check, Core, Line, Plan

__all__ = ["Check", "Core", "Line", "Plan", "parse_plan", "plan_bytes", "read_plan"]
