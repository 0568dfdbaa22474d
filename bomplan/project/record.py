"""What every record of a project file is built on."""

from __future__ import annotations

from typing import Annotated, Any, ClassVar

from pydantic import BaseModel, ConfigDict, Field, model_validator

Name = Annotated[str, Field(min_length=1, max_length=80)]


class Record(BaseModel):
    """Frozen, and strict about unknown keys.

    ``retired`` are keys that older files may hold and that nothing reads: they are passed
    over, by alias (files) and by name (saved plans).
    """

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)
    retired: ClassVar[frozenset[str]] = frozenset()

    @model_validator(mode="before")
    @classmethod
    def _pass_over(cls, data: Any) -> Any:
        if cls.retired and isinstance(data, dict):
            return {key: value for key, value in data.items() if key not in cls.retired}
        return data
