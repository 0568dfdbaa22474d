"""What a project may say of buying: when all must be there, from whom, and from how many."""

from __future__ import annotations

from pydantic import Field

from bomplan.project.record import Record


class Buying(Record):
    """How the bill may be bought; ``choices.suppliers`` says from whom alone."""

    deadline_days: int | None = Field(
        None,
        ge=0,
        description="no supplier that takes longer; parts without an offer are not bound by it",
    )
    suppliers_max: int | None = Field(
        None, ge=0, description="orders at no more suppliers than this; list prices are no order"
    )
    excluded: tuple[str, ...] = Field((), description="supplier ids never to be bought from")
    supplier_of: dict[str, str] = Field(
        {}, alias="from", description="part id = the only supplier it may come from"
    )
    split: bool = Field(
        True, description="one line may be bought from several suppliers where that is cheaper"
    )
