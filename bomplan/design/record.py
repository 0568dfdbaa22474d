"""What every record of a plan is built on."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict


class Record(BaseModel):
    """Frozen, and strict about unknown keys."""

    model_config = ConfigDict(frozen=True, extra="forbid")
