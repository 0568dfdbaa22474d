"""The independent check of any plan."""

from bomplan.audit.check_plan import audit_plan

__all__ = ["audit_plan"]
