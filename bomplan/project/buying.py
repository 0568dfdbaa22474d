"""What a project may say of buying: when all must be there, from whom, and from how many."""

from __future__ import annotations

from pydantic import Field, field_validator

from bomplan.project.record import Name, Record


class SpareRule(Record):
    """Pieces of a family that are bought to lie in the garage: paid for, and not in the car."""

    family: Name = Field(description="a family of the catalogue, such as fuse or module")
    pieces: int = Field(0, ge=0, description="so many, whatever is fitted")
    one_per: int | None = Field(
        None, ge=1, description="one for every so many fitted, the last of them begun"
    )

    def of(self, fitted: int) -> int:
        """Spare pieces where so many are fitted; none of what is not."""
        if fitted <= 0:
            return 0
        return self.pieces + (0 if self.one_per is None else -(-fitted // self.one_per))


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
        True, description="one line from several suppliers where that is cheaper; false: never"
    )
    spares: tuple[SpareRule, ...] = ()

    @field_validator("split", mode="before")
    @classmethod
    def _left_open(cls, value: object) -> object:
        """A plan may hold nothing here, where its project said nothing."""
        return True if value is None else value

    def spare_pieces(self, family: str, fitted: int) -> int:
        """What all rules ask of this family where so many are fitted."""
        return sum(rule.of(fitted) for rule in self.spares if rule.family == family)
