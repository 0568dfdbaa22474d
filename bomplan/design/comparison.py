"""The records of plans side by side: what each is, does, and costs over the years of use.

Money is an integer number of smallest units of the comparison's currency, distances are in
kilometres, masses in kilograms to the gram, as in the plan itself.
"""

from __future__ import annotations

from typing import Literal

from bomplan.design.record import Record
from bomplan.design.studies import Clash, Headline


class BaySpace(Record):
    """How full one bay is: ``share`` of its room that modules take up."""

    bay: str
    modules: int
    share: float


class LifeCost(Record):
    """What a plan costs over the years of use, and how its pack wears.

    ``depth`` is the share of its capacity that the pack gives from one charge to the next,
    ``cycles`` how many such discharges it lasts, ``pack_years`` how many years (by cycles or
    by calendar), ``packs`` how many packs must be bought after the first. Energy is null, and
    no part of the total, where the price of a kilowatt-hour is not known; packs after the
    first have no price where nobody sells the modules.
    """

    depth: float
    cycles_depth: float
    cycles: int
    cycle_years: float
    calendar_years: float
    pack_years: float
    ended_by: Literal["cycles", "calendar"]
    packs: int
    pack_price: int
    purchase: int
    energy: int | None
    replacements: int
    total: int
    per_100_km: int
    wall_wh_per_km: float


class MostThatFits(Record):
    """The most of one module that room and mass leave, by themselves, all in one series.

    ``pack_kwh`` is from full to empty as bought, ``spare_kg`` what all parts together may
    weigh by the gross limit.
    """

    module: str
    modules: int
    nominal_v: float
    pack_kwh: float
    mass_kg: float
    spare_kg: float


class Compared(Record):
    """One row: the cheapest plan under one restriction, or why there is none.

    ``adopt`` is what the project would have to say to get this plan by itself. Ranges are on
    the usual target's road and load in its own weather with a new and a worn pack, and at
    -10 °C with a new one. ``pack_kwh`` is from full to empty as bought. ``cautions`` are
    those that not every row has; ``most`` is for a row without a plan.
    """

    label: str
    adopt: str = ""
    outcome: Literal["plan", "none", "unknown"]
    plan: Headline | None = None
    bays: tuple[BaySpace, ...] = ()
    room_share: float | None = None
    pack_kwh: float | None = None
    asked_km: float | None = None
    range_new_km: float | None = None
    range_worn_km: float | None = None
    range_cold_km: float | None = None
    life: LifeCost | None = None
    cautions: tuple[str, ...] = ()
    reasons: tuple[str, ...] = ()
    most: MostThatFits | None = None
    clash: Clash | None = None


class YearsOfUse(Record):
    """What was taken for the years of use; ``assumed`` names what the project does not say."""

    distance_a_year_km: float
    years: float
    between_charges_km: float
    target: str
    asked_km: float
    least_nominal_v: float = 0.0
    electricity: str
    assumed: tuple[str, ...] = ()


class Comparison(Record):
    """Plans side by side, in the order in which they were asked for.

    ``cautions`` hold for every row that has a plan; ``notes`` say what was set aside.
    """

    currency: str
    by: str
    words: str
    rows: tuple[Compared, ...]
    use: YearsOfUse
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
