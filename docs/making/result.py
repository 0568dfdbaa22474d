"""The result that the front page shows: a table drawn from a real plan."""

from __future__ import annotations

from collections.abc import Iterator

from bomplan import api
from bomplan.design.records import AxleLoad, Line, Mass, Plan
from bomplan.money import currency_decimals
from bomplan.report.reading import tightest

BEGIN = "<!-- result of example:garden-pickup; made by docs/regenerate.py -->\n"
END = "<!-- end of the result -->\n"
EXAMPLE = "example:garden-pickup"


def refreshed(page: str) -> str:
    """The page with the table between the marks made anew."""
    head, rest = page.split(BEGIN)
    _, tail = rest.split(END)
    return f"{head}{BEGIN}{table(api.plan(EXAMPLE))}{END}{tail}"


def table(plan: Plan) -> str:
    """Markdown: what was chosen, what it costs, weighs and does, and how it was proven."""
    assert plan.core is not None
    assert plan.performance is not None
    assert plan.mass is not None
    return "\n".join(
        ["", "| | |", "|---|---|", *(f"| {a} | {b} |" for a, b in _rows(plan)), "", ""]
    )


def _rows(plan: Plan) -> Iterator[tuple[str, str]]:
    core, does, mass = plan.core, plan.performance, plan.mass
    assert core is not None
    assert does is not None
    assert mass is not None
    yield (
        "asked for",
        "; ".join(
            f"{one.wanted_km:.0f} km of its own round {one.load_case}, {one.condition}"
            for one in does.ranges
        ),
    )
    yield "motor", _described(plan, "motor")
    yield "controller", _described(plan, "controller")
    where = " and ".join(f"{use.modules} in the {use.bay}" for use in plan.placement)
    yield (
        "battery",
        f"{core.modules} × {_described(plan, 'module')} ({core.series} in series, {core.parallel}"
        f" in parallel): {does.nominal_v:.0f} V, {does.nominal_kwh:.1f} kWh; {where}",
    )
    priced = sorted(plan.lines, key=lambda line: -line.price)
    yield (
        "bill",
        f"**{_money(plan, plan.objective.value or 0)}** in {len(plan.lines)} lines; the dearest: "
        + ", ".join(
            f"{line.family.replace('_', ' ')} {_money(plan, line.price)}" for line in priced[:4]
        ),
    )
    yield (
        "range",
        "; ".join(
            f"**{int(one.range_km)} km** {one.condition}, {one.load_case}"
            f" ({one.wall_wh_per_km:.0f} Wh/km from the wall)"
            for one in does.ranges
        ),
    )
    yield (
        "mass",
        f"{mass.kerb_kg:.0f} kg empty, {mass.laden_kg:.0f} kg laden; "
        + ", ".join(_axle(axle) for axle in _worst(mass)),
    )
    yield "tightest", "; ".join(_tightest(plan))
    passed = sum(check.passed for check in plan.checks)
    counts = plan.search
    proven = plan.status == "optimal" and plan.objective.value == plan.objective.bound
    how = (
        f"{_whole(counts.screened)} combinations screened, {_whole(counts.solved)} bills solved,"
        f" {_whole(counts.simulated)} drives simulated"
    )
    said = "proven: nothing in the catalogue does it for less" if proven else "NOT proven"
    yield "proof", f"{how}; {said}; {passed} of {len(plan.checks)} checks pass"


def _described(plan: Plan, family: str) -> str:
    return _line(plan, family).description


def _line(plan: Plan, family: str) -> Line:
    return next(line for line in plan.lines if line.family == family)


def _money(plan: Plan, amount: int) -> str:
    """The amount without its decimals, rounded half up, thousands apart."""
    unit = 10 ** currency_decimals(plan.currency)
    return f"{_whole((amount + unit // 2) // unit)} {plan.currency}"


def _whole(number: int) -> str:
    return f"{number:,}".replace(",", " ")


def _worst(mass: Mass) -> list[AxleLoad]:
    names = sorted({axle.name for axle in mass.axles})
    return [
        max((axle for axle in mass.axles if axle.name == name), key=lambda axle: axle.load_kg)
        for name in names
    ]


def _axle(axle: AxleLoad) -> str:
    return (
        f"{axle.name} axle {axle.load_kg:.0f} kg of {axle.allowed_kg:.0f} kg allowed"
        f" (plate {axle.limit_kg:.0f} kg)"
    )


def _tightest(plan: Plan) -> list[str]:
    return [
        f"{check.words} {check.value:.4g} {check.unit}, {check.sense} {check.limit:.4g}"
        for check in tightest(plan, 3)
    ]
