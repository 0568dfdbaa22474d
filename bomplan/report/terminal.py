"""The plan as a page of plain text, eighty columns wide, worst news first.

Every line has a tone, which a terminal may show in colour; the words alone say it all.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

from bomplan.design.purchase_lines import line_for_each_purchase
from bomplan.design.records import AxleLoad, Check, Plan
from bomplan.report.driving_words import driving_lines
from bomplan.report.goal_words import bound_words, reached
from bomplan.report.lines import (
    WIDTH,
    Row,
    Tone,
    labelled,
    spaced,
    unbroken,
    whole_money,
    whole_units,
    wrapped,
)
from bomplan.report.money_words import order_sentences, whole_sum_sentences
from bomplan.report.purchase_words import purchase_sentences
from bomplan.report.reading import (
    ASK_FOR_THE_CLASH,
    COUNTED_AT_EACH_STEP,
    YES_NO,
    by_system,
    cautions,
    core_line,
    counted_on,
    failed,
    ranges_worst_first,
    relative_margin,
    source_words,
    tightest,
    verdict,
    worst_axles,
    zero_margins,
)
from bomplan.report.text import clean, title
from bomplan.report.units import Show, Units, plain
from bomplan.report.weight_words import empty_mass_sentence, weight_sentences

_BAR: Final = 20
_TIGHTEST: Final = 6
_CAUSES: Final = 6


def summary(plan: Plan, show: Show | Units = "metric") -> str:
    """The whole summary as text without colour, with a newline at the end."""
    return "\n".join(row.text for row in summary_rows(plan, show)) + "\n"


def no_plan_text(plan: Plan, show: Show | Units = "metric") -> str:
    """What to tell when there is no plan: proven or not, why, and how far the search went."""
    return "\n".join(row.text for row in _no_plan_rows(plan, _shown(show))) + "\n"


def summary_rows(plan: Plan, show: Show | Units = "metric") -> list[Row]:
    """The summary line by line, each with its tone."""
    show = _shown(show)
    if plan.core is None:
        return list(_no_plan_rows(plan, show))
    rows: list[Row] = []
    for block in (
        _head(plan, show),
        _failures(plan, show),
        _cautions(plan, show),
        _choice(plan, show),
        _range(plan, show),
        _driving(plan, show),
        _money(plan, show),
        _order(plan),
        _masses(plan, show),
        _binding(plan, show),
        _proof(plan, show),
    ):
        lines = list(block)
        if lines:
            rows.extend(lines)
            rows.append(Row(""))
    return rows[:-1]


def check_rows(checks: Iterable[Check], show: Show | Units = "metric") -> list[Row]:
    """Every check on a line or two, the failed ones first; a source that all share is told once."""
    show = _shown(show)
    ordered = sorted(checks, key=lambda check: check.passed)
    sources = {source_words(check) if check.source else "" for check in ordered}
    shared = len(ordered) > 1 and len(sources) == 1
    rows = [row for check in ordered for row in _check(check, show, source=not shared)]
    if shared and (words := sources.pop()):
        rows += wrapped(f"source of all of them: {clean(words)}", "  ", "    ")
    return rows


def _shown(show: Show | Units) -> Show:
    return Show(show) if isinstance(show, str) else show


def _head(plan: Plan, show: Show) -> Iterator[Row]:
    yield from _title(plan)
    status, sentence = verdict(plan)
    value = plan.objective.value
    cost = "" if value is None else f": about {whole_money(value, plan.currency)}"
    tone: Tone = "bad" if failed(plan) else "good" if plan.status == "optimal" else "caution"
    yield Row(status + cost, tone)
    yield from wrapped(show.words(sentence))
    worst = counted_on(plan)
    if worst is not None:
        yield from wrapped(
            f"Count on {show.distance(worst.range_km)}: {clean(worst.target)}, "
            f"{clean(worst.condition)}."
        )
    none = zero_margins(plan)
    if none:
        yield from wrapped(
            f"Made with zero margin on request ({', '.join(none)}): nothing is to spare there.",
            tone="caution",
        )


def _title(plan: Plan) -> Iterator[Row]:
    name = clean(plan.project, 50)
    day = f"as of {clean(plan.as_of, 12)}"
    yield Row(f"{name}{day:>{max(WIDTH - len(name), len(day) + 2)}}", "heading")
    yield Row("=" * WIDTH, "heading")


def _failures(plan: Plan, show: Show) -> Iterator[Row]:
    wrong = failed(plan)
    if wrong:
        yield Row("Failed checks", "heading")
        for check in wrong:
            yield from _check(check, show, source=True)


def _cautions(plan: Plan, show: Show) -> Iterator[Row]:
    told = cautions(plan)
    if told:
        yield Row("Mind", "heading")
    for text in told:
        yield from wrapped(show.words(clean(text)), first="  ! ", rest="    ", tone="caution")


def _choice(plan: Plan, show: Show) -> Iterator[Row]:
    core, performance = plan.core, plan.performance
    if core is None:
        return
    yield Row("What to build", "heading")
    yield from labelled("motor", _named(plan, "motor", core.motor))
    yield from labelled("controller", _named(plan, "controller", core.controller))
    yield from labelled("ratio", f"{show.number(plain(core.final_ratio))} : 1 final drive")
    how = {
        "groups": "cells side by side first, then in series",
        "strings": "each string in series first, then side by side",
    }[core.topology]
    layout = f"{core.series} in series x {core.parallel} in parallel = {core.modules} modules"
    yield from labelled("pack", layout + (f", {how}" if core.parallel > 1 else ""))
    yield from labelled("", _named(plan, "module", core.module))
    if performance is not None:
        yield from labelled(
            "",
            show.words(
                f"{performance.nominal_v:.0f} V nominal, {performance.charge_v:.0f} V charged, "
                f"{performance.capacity_ah:.0f} Ah, {performance.nominal_kwh:.1f} kWh "
                f"({performance.usable_kwh:.1f} kWh usable); full again in "
                f"{performance.charge_hours:.1f} h"
            ),
        )
        if performance.day is not None:
            day = performance.day
            yield from labelled(
                "",
                show.words(
                    f"{performance.charge_wall_kwh:.1f} kWh from the wall when empty; after"
                    f" {show.distance(day.km)} ({clean(day.target, 40)}) {day.wall_kwh:.1f} kWh"
                    f" in {day.hours:.1f} h"
                ),
            )
    for place in plan.placement:
        count = "1 module" if place.modules == 1 else f"{place.modules} modules"
        yield from labelled("in bay", f"{clean(place.bay, 40)}: {count}")


def _range(plan: Plan, show: Show) -> Iterator[Row]:
    performance = plan.performance
    if performance is None:
        return
    yield Row("How far, worst first", "heading")
    for one in ranges_worst_first(plan):
        far = "endless" if one.end_cause == "endless" else show.distance(one.range_km)
        head = f"  {far:>9}  "
        rest = " " * len(head)
        over = one.range_km / one.wanted_km - 1 if one.wanted_km > 0 else 0.0
        words = clean(f"{one.target} ({one.profile}, {one.condition}, {one.load_case})") + (
            f"; asked: {unbroken(show.nearest_distance(one.wanted_km))}"
        )
        if one.end_cause != "endless":
            words += f", {unbroken(f'{over * 100:+.0f} %')}"
        yield from wrapped(words, head, rest)
        figures = (
            f"{show.consumption(one.energy_wh_per_km)} from the pack, "
            f"{show.consumption(one.wall_wh_per_km)} from the wall; down to "
            f"{unbroken(f'{one.min_voltage_v:.0f} V')}, up to "
            f"{unbroken(f'{one.peak_battery_a:.0f} A')}; ends with: {clean(one.end_cause)}"
        )
        yield from wrapped(figures, rest, rest)
    if plan.driving is not None:
        return
    speed = f"holds {show.speed(performance.top_speed_kmh)}"
    if performance.top_speed_cause:
        speed += f" (more is stopped by {clean(performance.top_speed_cause, 60)})"
    slope = unbroken(show.number(f"{performance.gradeability * 100:.1f} %"))
    yield from wrapped(f"{speed}; climbs {slope} from rest", "  ", "  ")


def _driving(plan: Plan, show: Show) -> Iterator[Row]:
    driving = plan.driving
    if driving is None:
        return
    about = f"{clean(driving.condition, 30)}, {clean(driving.load_case, 30)}"
    yield from wrapped(f"How it drives ({about})", tone="heading")
    for label, words in driving_lines(driving, show):
        yield from labelled(label, words)


def _money(plan: Plan, show: Show) -> Iterator[Row]:
    total = sum(line.price for line in plan.lines)
    yield Row(f"What it costs ({plan.currency})", "heading")
    for group in sorted(by_system(line_for_each_purchase(plan)), key=lambda group: -group.price):
        share = group.price / total if total else 0.0
        yield Row(
            f"  {title(group.system)[:26]:<26} {whole_units(group.price, plan.currency):>12}"
            f" {share * 100:4.0f} %  {'=' * round(share * 30)}".rstrip()
        )
    yield Row(f"  {'Total':<26} {whole_units(total, plan.currency):>12}  100 %")
    hours = sum(line.hours for line in plan.lines)
    if hours:
        yield Row(f"  {'Work to fit the parts':<26} {hours:>10.0f} h")
    for sentence in (*purchase_sentences(plan, show), *whole_sum_sentences(plan)):
        yield from wrapped(sentence, "  ", "    ")


def _order(plan: Plan) -> Iterator[Row]:
    sentences = list(order_sentences(plan))
    if sentences:
        yield Row("What to order when (day 0: the day you begin)", "heading")
    for sentence in sentences:
        yield from wrapped(sentence, "  ", "    ")


def _masses(plan: Plan, show: Show) -> Iterator[Row]:
    mass = plan.mass
    if mass is None:
        return
    yield Row("What it weighs (left on an axle: up to its limit, margin not taken off)", "heading")
    yield Row(
        f"  kerb {show.mass(mass.kerb_kg)} ({show.mass(mass.added_kg)} of it new parts), "
        f"laden {show.mass(mass.laden_kg)}"
    )
    empty = empty_mass_sentence(plan, show)
    if empty:
        yield from wrapped(empty, "  ", "  ")
    for axle in worst_axles(mass):
        yield from _axle(axle, show)
    if mass.weights is not None:
        for sentence, minded in weight_sentences(mass.weights, show):
            yield from wrapped(sentence, "  ", "    ", "caution" if minded else "plain")


def _axle(axle: AxleLoad, show: Show) -> Iterator[Row]:
    """A bar of the load: ``|`` is as far as the margin lets it go, ``]`` the axle's limit."""
    filled = min(_BAR, round(_BAR * axle.load_kg / axle.limit_kg)) if axle.limit_kg > 0 else _BAR
    mark = round(_BAR * axle.allowed_kg / axle.limit_kg) if axle.limit_kg > 0 else _BAR
    cells = ["#" if place < filled else "." for place in range(_BAR)]
    if 0 <= mark < _BAR:
        cells[mark] = "|"
    left = axle.limit_kg - axle.load_kg
    over = axle.load_kg > axle.allowed_kg
    words = f"{show.room(left)} left" if left >= 0 else f"{show.mass(-left)} TOO MUCH"
    if left >= 0 and over:
        words += ", within the margin"
    yield Row(
        f"  {clean(axle.name, 10):<10} [{''.join(cells)}] {show.mass(axle.load_kg)}"
        f" of {show.mass(axle.limit_kg)}, {words} ({clean(axle.load_case, 20)})",
        "bad" if over else "plain",
    )


def _binding(plan: Plan, show: Show) -> Iterator[Row]:
    tight = tightest(plan, _TIGHTEST)
    if not tight:
        return
    passed = sum(check.passed for check in plan.checks)
    count = f"{passed} of {len(plan.checks)} checks pass"
    yield Row(f"What binds (least room first; {count})", "heading")
    for check in tight:
        yield from _check(check, show, source=False)


def _check(check: Check, show: Show, *, source: bool) -> Iterator[Row]:
    room = relative_margin(check)
    far = "" if room is None else f"{room * 100:+.1f} %" if abs(room) < 10 else "far off"
    far = show.number(far)
    head = f"  {'ok' if check.passed else 'NO':<3}{far:>9}  "
    value = show.judged(check.value, check.unit, check.sense)
    limit = show.figure(check.limit, check.unit)
    figures = f": {unbroken(value)}, {check.sense} {unbroken(limit)}"
    if check.unit == YES_NO:
        figures = ""
    tone: Tone = "plain" if check.passed else "bad"
    rest = " " * len(head)
    yield from wrapped(show.words(clean(check.words)) + figures, head, rest, tone)
    if source and check.source:
        yield from wrapped(f"source: {clean(source_words(check))}", rest, rest + "  ")
    if check.caution and not check.passed:
        yield from wrapped(f"mind: {clean(check.caution)}", rest, rest + "  ", "caution")


def _proof(plan: Plan, show: Show) -> Iterator[Row]:
    search = plan.search
    yield Row("How it was found", "heading")
    for place, (words, figure, bound) in enumerate(reached(plan, show)):
        proven = f"; proven {bound_words(plan)} {bound}"
        if not bound:
            proven = "" if place else f"; no {bound_words(plan)} proven"
        yield from wrapped(f"{words} {figure}{proven}", "  ", "  ")
    yield from wrapped(
        f"{spaced(search.screened)} combinations screened, {spaced(search.solved)} bills solved, "
        f"{spaced(search.simulated)} drives simulated, {spaced(search.cut)} bills cut off by them",
        "  ",
        "  ",
    )
    if search.certified:
        yield Row("  certified: a second model found nothing better either")
    causes = sorted(search.rejected.items(), key=lambda item: (-item[1], item[0]))
    if causes and not plan.reasons:
        yield from wrapped(f"turned away, {COUNTED_AT_EACH_STEP}:", "  ", "  ")
    for cause, count in [] if plan.reasons else causes[:_CAUSES]:
        yield from wrapped(f"{spaced(count):>9} by {title(cause).lower()}", "  ", " " * 14)
    if plan.status == "feasible":
        yield from wrapped(
            "Not proven: this is the best plan that was found, and a better one may exist.",
            "  ",
            "  ",
            "caution",
        )


def _reasons(plan: Plan, show: Show) -> Iterator[Row]:
    if plan.reasons:
        yield Row("Why", "heading")
    for reason in plan.reasons:
        yield from wrapped(show.words(clean(reason)), "  - ", "    ")
    if plan.reasons and plan.search.rejected:
        yield from wrapped(f"Choices are {COUNTED_AT_EACH_STEP}.", "  ", "  ")


def _no_plan_rows(plan: Plan, show: Show) -> Iterator[Row]:
    yield from _title(plan)
    status, sentence = verdict(plan)
    yield Row(status, "bad")
    yield from wrapped(sentence)
    yield Row("")
    for block in (_cautions(plan, show), _failures(plan, show), _reasons(plan, show)):
        lines = list(block)
        if lines:
            yield from lines
            yield Row("")
    yield from _proof(plan, show)
    if plan.status == "none":
        yield Row("")
        yield from wrapped(
            "Proven for this project and this catalogue: give a target, a limit or a margin "
            "some room, or add parts, and ask again."
        )
        yield from wrapped(ASK_FOR_THE_CLASH)


def _named(plan: Plan, family: str, part: str) -> str:
    line = core_line(plan, family, part)
    return clean(part, 60) if line is None else f"{clean(line.description, 90)} ({clean(part, 60)})"
