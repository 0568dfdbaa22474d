"""What a reader asks of a plan first: how sure it is, which checks are tight, who costs what.

The terminal summary and the workbook both show these, so they are worked out here once.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from bomplan.buying.terms import CHARGES
from bomplan.design.records import AxleLoad, Check, Line, Mass, Plan, RangeResult
from bomplan.money import currency_decimals
from bomplan.report.goal_words import best_words, gap_share, proven_words
from bomplan.requirements.cautions import DEFER
from bomplan.requirements.cliffs import hangs_at_a_hill

YES_NO: Final = "yes/no"
# Under every list of what was turned away, and how often.
COUNTED_AT_EACH_STEP: Final = (
    "counted at the step where each fell: motors and packs by themselves, before they are put"
    " together, then combinations of both; so these do not add up to the combinations"
)
ASK_FOR_THE_CLASH: Final = (
    "bomplan clash says which of your requirements cannot be had together, how far each alone"
    " would have to give, and, where the catalogue is the cause, which figures a part would need."
)
SHIPPING_FAMILY: Final = "shipping"
# What orders cost beside their goods stands in lines of these families.
CHARGE_FAMILIES: Final = CHARGES
# First words of the ids of what is asked of the whole plan.
_ASKED: Final = (
    "range.",
    "speed.",
    "climb.",
    "acceleration.",
    "mass.",
    "axle.",
    "tyre.",
    "wheel.",
    "own.",
    "bay.room",
    "bay.mass",
    "money.budget",
    "current.",
    "power.",
    "voltage.",
    "charger.hours",
)
_SET_BY_THE_PLAN: Final = "current.setting-"
_COUNTED: Final = "bay.room"


@dataclass(frozen=True)
class SystemSum:
    """What one system of the car comes to. Money in smallest units, mass in grams."""

    system: str
    lines: tuple[Line, ...]
    price: int
    mass_g: int
    hours: float


def failed(plan: Plan) -> tuple[Check, ...]:
    """The checks that did not pass, in the plan's order."""
    return tuple(check for check in plan.checks if not check.passed)


def verdict(plan: Plan) -> tuple[str, str]:
    """A short status in capitals and one sentence that says exactly how far it reaches."""
    objective = plan.objective
    if plan.status == "none":
        return (
            "NO PLAN (PROVEN)",
            "Nothing in this catalogue meets every target within every limit.",
        )
    if plan.core is None or objective.value is None:
        return ("NO PLAN YET", "The search ended before a plan was found or ruled out.")
    wrong = len(failed(plan))
    if wrong:
        some = "1 check fails" if wrong == 1 else f"{wrong} checks fail"
        return ("NOT SOUND", f"{some}; do not buy from this list.")
    if plan.status == "optimal":
        return (f"PROVEN {best_words(plan).upper()}", proven_words(plan))
    gap = gap_share(plan)
    far = (
        "how far it is from the best is not known"
        if gap is None
        else f"the best possible is at most {math.ceil(gap * 1000) / 10:.1f} %"
        + (" higher" if objective.goal is not None and objective.goal.unit == "m" else " lower")
    )
    why = (
        "Either the search was stopped, or a denser layout of a bay is not ruled out (bays that"
        " are no plain box seldom allow a proof), or the solver gave up on a case."
    )
    return ("BEST FOUND, NOT PROVEN", f"It meets every target; {far}. {why}")


def cautions(plan: Plan) -> tuple[str, ...]:
    """What to tell whoever builds this, the statement of who decides always among it."""
    told = dict.fromkeys(plan.cautions)
    if plan.core is not None:
        told.setdefault(DEFER)
    return tuple(told)


def worst_axles(mass: Mass) -> tuple[AxleLoad, ...]:
    """Each axle in the load case that leaves it the least, in the plan's order."""
    worst: dict[str, AxleLoad] = {}
    for axle in mass.axles:
        known = worst.get(axle.name)
        if known is None or axle.limit_kg - axle.load_kg < known.limit_kg - known.load_kg:
            worst[axle.name] = axle
    return tuple(worst.values())


def tightest(plan: Plan, count: int) -> tuple[Check, ...]:
    """The passed checks with the least room in proportion to their limit, tightest first.

    Only what the car, the pack and the targets ask for: how closely the cheapest fitting
    row of a small part fits says nothing about what the plan costs. What the plan itself sets
    to its limit (the controller's battery current) leaves no room by design and is not among
    them; bays filled to the last module come after every measured figure.
    """
    ranked = [
        (room, place, check)
        for place, check in enumerate(plan.checks)
        if check.passed
        and check.id.startswith(_ASKED)
        and not check.id.startswith(_SET_BY_THE_PLAN)
        and (room := relative_margin(check)) is not None
    ]
    ranked.sort(key=lambda entry: (entry[2].id.startswith(_COUNTED), *entry[:2]))
    return tuple(check for _, _, check in ranked[:count])


def relative_margin(check: Check) -> float | None:
    """The margin as a share of the limit; None where that says nothing (yes or no, limit 0)."""
    if check.unit == YES_NO or check.limit == 0 or not math.isfinite(check.margin):
        return None
    return check.margin / abs(check.limit)


def ranges_worst_first(plan: Plan) -> tuple[RangeResult, ...]:
    """The range results, the shortest distance first."""
    if plan.performance is None:
        return ()
    results = enumerate(plan.performance.ranges)
    return tuple(one for _, one in sorted(results, key=lambda pair: (pair[1].range_km, pair[0])))


def counted_on(plan: Plan) -> RangeResult | None:
    """The shortest range; None where the plan itself says that it is not to be leaned on."""
    for worst in ranges_worst_first(plan)[:1]:
        if not hangs_at_a_hill(plan.cautions, worst.target):
            return worst
    return None


def by_system(plan: Plan) -> tuple[SystemSum, ...]:
    """The bill system by system, in the order in which systems first appear in it."""
    groups: dict[str, list[Line]] = {}
    for line in plan.lines:
        groups.setdefault(line.system, []).append(line)
    return tuple(
        SystemSum(
            system=name,
            lines=tuple(lines),
            price=sum(line.price for line in lines),
            mass_g=sum(grams(line.mass_kg) for line in lines),
            hours=sum(line.hours for line in lines),
        )
        for name, lines in groups.items()
    )


def grams(kg: float) -> int:
    """A mass of the plan file as whole grams again."""
    return round(kg * 1000)


def money_value(amount: int, currency: str) -> float:
    """Smallest units as a spreadsheet number: the float nearest to the decimal amount."""
    return float(amount / 10 ** currency_decimals(currency))


def core_line(plan: Plan, family: str, part: str) -> Line | None:
    """The bill's line of a part of the core."""
    return next((one for one in plan.lines if one.family == family and one.part == part), None)


def zero_margins(plan: Plan) -> tuple[str, ...]:
    """The margins that the project has set to nothing, by name (shown on every plan so made)."""
    margins: Any = plan.project_used.get("margins", {})
    if not isinstance(margins, Mapping):
        return ()
    asked = ("range", "axle", "continuous", "voltage", "fault_current")
    return tuple(name for name in asked if name in margins and not margins[name])


def source_words(check: Check) -> str:
    """The source with how it is known, unless its own words say that already."""
    kind = check.source_kind
    said = not kind or kind in ("computed", "given") or kind in check.source
    return check.source if said else f"{check.source} ({kind})"
