"""What a conversion costs beside its parts: tools, work, chassis parts and fees, as a table.

A row says when it is needed and of what there must be one each; the prices are typical ones
with a low and a high end. The planner reads none of it: these sums do not choose parts.
"""

from __future__ import annotations

from typing import Literal, get_args

from pydantic import BaseModel, ConfigDict

ExtraKind = Literal["tool", "work", "chassis", "fee"]
# When a row is needed; each is judged on the plan by bomplan.design.whole_sum.
Need = Literal[
    "always",
    "over_60v",
    "lithium",
    "lead",
    "lugs",
    "heavy_lift",
    "springs",
    "dampers",
    "brakes",
    "tyres",
]
Per = Literal["conversion", "box", "axle"]
KINDS: tuple[str, ...] = get_args(ExtraKind)


class Extra(BaseModel):
    """One row. Prices are in smallest units of ``currency``, low <= typical <= high.

    ``v_dc`` is the direct voltage that a tool is made for, None where nobody says.
    ``covered_by`` are ids of parts that bring this with them: where one is on the bill the
    row is not needed.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    id: str
    description: str
    kind: ExtraKind
    needed: Need
    per: Per = "conversion"
    vehicle: Literal["car", "motorcycle", "any"] = "any"
    price: int
    price_low: int
    price_high: int
    currency: str
    price_date: str
    source: str
    hours: float = 0.0
    lead_days: int = 0
    v_dc: float | None = None
    covered_by: tuple[str, ...] = ()
