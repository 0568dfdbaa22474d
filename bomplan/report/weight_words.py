"""The weighing of a plan in sentences: centre of gravity, springs, advice, what was assumed."""

from __future__ import annotations

from collections.abc import Iterator

from bomplan.design.records import Plan
from bomplan.design.weight_records import OVERTURNING, Advice, LoadState, Weights
from bomplan.project.countries import countries
from bomplan.report.text import clean
from bomplan.report.units import Show


def empty_mass_sentence(plan: Plan, show: Show) -> str:
    """What the project's country counts as the empty mass; blank where it has no such count."""
    country = countries().get(str(plan.project_used.get("country", "general")))
    if plan.mass is None or country is None or not country.empty_mass:
        return ""
    empty = show.mass(plan.mass.kerb_kg + country.driver_kg)
    return f"as {country.title} count it empty: {empty} ({country.empty_mass})"


def weight_sentences(weights: Weights, show: Show) -> Iterator[tuple[str, bool]]:
    """Each sentence, and whether it is something to mind."""
    before, after = state(weights, "before"), state(weights, "after")
    if before is not None and after is not None:
        yield (
            show.words(
                f"centre of gravity {after.x_mm:.0f} mm behind the front axle"
                f" (donor {before.x_mm:.0f} mm), front share"
                f" {100 * after.front_share:.1f} % ({100 * before.front_share:.1f} %)"
            ),
            False,
        )
        on_three = any(advice.id == OVERTURNING for advice in weights.advice)
        yield from _height(before, after, show, on_three=on_three)
    for change in weights.changes:
        if change.springs:
            wanted = "springs and dampers" if change.dampers else "springs"
            yield (
                show.words(
                    f"{change.axle} axle {100 * change.change_share:+.1f} % against the donor:"
                    f" stronger {wanted} are usual (common practice)"
                ),
                True,
            )
    for advice in weights.advice:
        if not advice.kept or advice.id == OVERTURNING:
            yield show.words(_told(advice)), not advice.kept
    if weights.in_the_middle:
        yield f"no side is known of: {_some(weights.in_the_middle)}; counted in the middle", False


def state(weights: Weights, stage: str, load_case: str = "") -> LoadState | None:
    """The state of this stage and load case; None where there is none."""
    return next(
        (one for one in weights.states if (one.stage, one.load_case) == (stage, load_case)), None
    )


def _height(
    before: LoadState, after: LoadState, show: Show, *, on_three: bool
) -> Iterator[tuple[str, bool]]:
    if after.z_mm is None or before.z_mm is None:
        return
    text = f"its height about {after.z_mm:.0f} mm (donor {before.z_mm:.0f} mm)"
    if after.rollover_ratio is not None:
        half = (
            "half track towards the single wheel over that"
            if on_three
            else ("track over twice that")
        )
        text += f", {half} {after.rollover_ratio:.2f} (information)"
    yield show.words(text), False


def _told(advice: Advice) -> str:
    def figure(value: float) -> str:
        if advice.id == OVERTURNING:
            return f"{value:.2f}"
        return f"{value:.0f} kg" if "tyre" in advice.id else f"{100 * value:.1f} %"

    return (
        f"{clean(advice.words)}: {figure(advice.value)}, usually {advice.sense}"
        f" {figure(advice.usual)} ({advice.source})"
    )


def _some(names: tuple[str, ...]) -> str:
    shown = ", ".join(clean(name, 30) for name in names[:4])
    return shown if len(names) <= 4 else f"{shown} and {len(names) - 4} more"
