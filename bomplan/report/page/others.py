"""Other plans beside this one, as far as a study was kept in the plan's folder."""

from __future__ import annotations

from bomplan.design.comparison import Compared, Comparison
from bomplan.design.records import Plan
from bomplan.design.studies import Alternatives, Headline
from bomplan.report.kept_studies import Studies
from bomplan.report.lines import exact_money, whole_money
from bomplan.report.page.blocks import Block, Head, Part, Row, Section, Table, Words
from bomplan.report.text import clean
from bomplan.report.units import Show

_PLAN = (
    Head("Motor, controller"),
    Head("Pack"),
    Head("Worst range", number=True),
    Head("Rear axle left", number=True),
    Head("Laden", number=True),
    Head("Top speed", number=True),
    Head("Full again in", number=True),
)
_OUTCOMES = {"none": "no plan (proven)", "unknown": "not known"}


def others(plan: Plan, show: Show, studies: Studies) -> Section:
    """The best plans that differ, and plans side by side; where to ask when none was kept."""
    blocks: list[Block | Part] = [Words(clean(note), "caution") for note in studies.notes]
    if studies.alternatives is not None:
        blocks.append(_alternatives(plan, show, studies.alternatives))
    if studies.comparison is not None:
        blocks.append(_comparison(plan, show, studies.comparison))
    open_ones = [
        f"{words}: {command}"
        for kept, words, command in (
            (studies.bindings, "what each target and limit costs", "bomplan binds"),
            (studies.chances, "how sure the plan is", "bomplan chances"),
            (studies.alternatives, "what else could be built", "bomplan alternatives"),
            (studies.comparison, "how chemistries compare", "bomplan compare"),
        )
        if kept is None
    ]
    if open_ones:
        blocks.append(
            Words(
                f"Not asked yet: {'; '.join(open_ones)}. With --keep and this folder, the answer is"
                " kept beside the plan, and the next report shows it."
            )
        )
    return Section("others", "Other plans", "Others", tuple(blocks))


def _alternatives(plan: Plan, show: Show, found: Alternatives) -> Part:
    heads = (
        Head("Plan"),
        Head("Bill", number=True),
        Head("More by", number=True),
        *_PLAN,
        Head("Better"),
        Head("Worse"),
    )
    chosen = (_money(found.chosen.price, plan, show), "", *_told(found.chosen, show), "", "")
    rows = [Row(("this one", *chosen), "good")]
    for number, one in enumerate(found.others, start=2):
        label = f"number {number}" + (" (get both quoted)" if one.overtakes else "")
        rows.append(
            Row(
                (
                    label,
                    _money(one.plan.price, plan, show),
                    _money(one.price_change, plan, show),
                    *_told(one.plan, show),
                    show.words(clean(", ".join(one.better))),
                    show.words(clean(", ".join(one.worse))),
                )
            )
        )
    return Part(
        "The best plans that differ",
        (
            Words("Each planned and proven by itself."),
            Table("Plans that differ", heads, tuple(rows)),
        ),
    )


def _comparison(plan: Plan, show: Show, found: Comparison) -> Part:
    heads = (
        Head("Case"),
        Head("Bill", number=True),
        Head("Over the years", number=True),
        *_PLAN,
        Head("Adopt with"),
        Head("Why not, or mind"),
    )
    return Part(
        "Side by side",
        (
            Words(show.words(f"{clean(found.words)}; over {found.use.years:g} years.")),
            Table(
                "Plans side by side",
                heads,
                tuple(_compared(one, plan, show) for one in found.rows),
            ),
        ),
    )


def _compared(one: Compared, plan: Plan, show: Show) -> Row:
    if one.plan is None:
        empty = ("",) * len(_PLAN)
        why = "; ".join(one.reasons)
        money = (_OUTCOMES.get(one.outcome, clean(one.outcome, 40)), "")
        cells = (clean(one.label, 60), *money, *empty, clean(one.adopt), show.words(clean(why)))
        return Row(cells, "bad")
    life = "" if one.life is None else whole_money(one.life.total, plan.currency)
    why = "; ".join(one.cautions)
    return Row(
        (
            clean(one.label, 60),
            _money(one.plan.price, plan, show),
            life,
            *_told(one.plan, show),
            clean(one.adopt),
            show.words(clean(why)),
        )
    )


def _told(one: Headline, show: Show) -> tuple[str, ...]:
    """The cells of a plan, in the order of its heads."""
    return (
        f"{clean(one.motor, 60)}, {clean(one.controller, 60)}",
        f"{one.series} x {one.parallel} {clean(one.module, 60)} ({clean(one.chemistry, 20)})",
        show.distance(one.range_km),
        show.room(one.rear_left_kg),
        show.mass(one.laden_kg),
        show.speed(one.top_speed_kmh),
        show.number(f"{one.charge_hours:.1f} h"),
    )


def _money(amount: int, plan: Plan, show: Show) -> str:
    return show.number(exact_money(amount, plan.currency))
