"""The whole sum of a conversion: what the project says of money and hours around the parts.

Nothing here chooses parts. Amounts are whole smallest units of the project's currency.
"""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from bomplan.project.record import Name, Record
from bomplan.project.units import Fraction, Hours, MoneyText

Heading = Literal["tool", "work", "chassis", "fee", "other"]


class BudgetItem(Record):
    """A sum of one's own, or a quote in place of a row of the catalogue's table extras.

    A ``name`` that is the id of such a row replaces it.
    """

    name: Name = Field(description="in plain words, or the id of a row of extras to replace it")
    kind: Heading = Field("other", description="under which heading it is counted")
    amount: MoneyText
    low: MoneyText | None = Field(None, description="low end; left out: the amount")
    high: MoneyText | None = Field(None, description="high end; left out: the amount")
    hours: Hours = Field(0.0, ge=0, le=2000)


class Sale(Record):
    """A part taken out that is to be sold. What is not sold yet counts nothing at the high end."""

    name: Name
    amount: MoneyText = Field(description="what it should bring")
    low: MoneyText | None = Field(None, description="left out: nothing, it may find no buyer")
    high: MoneyText | None = Field(None, description="left out: the amount")


class Budget(Record):
    """Money and hours around the parts. All of it has defaults that are common practice."""

    limit: MoneyText | None = Field(
        None,
        description="what the whole sum may come to; compared with it, nothing is planned by it"
        " (targets.budget limits the bill of parts with shipping, and the plan keeps to it)",
    )
    contingency: Fraction = Field(
        0.10, ge=0, le=1, description="for what nobody foresaw, on everything but credits"
    )
    prices_fall: Fraction = Field(
        0.10, ge=0, le=1, description="how far the bill may come out lower; common practice"
    )
    prices_rise: Fraction = Field(
        0.20, ge=0, le=3, description="how far the bill may come out higher; common practice"
    )
    hours_fall: Fraction = Field(
        0.20, ge=0, le=1, description="how far the hours may come out lower; common practice"
    )
    hours_rise: Fraction = Field(
        1.0, ge=0, le=5, description="how far the hours may come out higher; common practice"
    )
    workshop_share: Fraction = Field(
        1.0, ge=0, le=1, description="share of the hours that is paid at house_rules.workshop_rate"
    )
    extras: bool = Field(
        True, description="false: only the items below, nothing of the catalogue's table extras"
    )
    at_hand: tuple[str, ...] = Field(
        (), description="ids of extras that you have or need not pay: they cost nothing"
    )
    items: tuple[BudgetItem, ...] = ()
    sold: tuple[Sale, ...] = Field((), description="parts taken out that are to be sold")
    passed: tuple[str, ...] = Field(
        (), description="gates of the buying order that are behind you, such as approval"
    )
    gate_days: dict[str, int] = Field(
        {}, description="gate = days that it takes, in place of the usual ones"
    )
