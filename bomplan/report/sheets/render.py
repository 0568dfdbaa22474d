"""The sheets of a plan as self-contained HTML files, made to be printed on A4 or Letter."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any, Final, Literal

from bomplan.design.commissioning import commissioning
from bomplan.design.records import Plan
from bomplan.report.reading import cautions, failed, verdict
from bomplan.report.sheets.building import building
from bomplan.report.sheets.card import card
from bomplan.report.sheets.in_use import care, start_up_stage
from bomplan.report.sheets.inspector import folder
from bomplan.report.sheets.power_up import power_up
from bomplan.report.sheets.rows import MEASURE, Making
from bomplan.report.text import clean
from bomplan.report.units import Show
from bomplan.requirements.cautions import DEFER, at_work, to_settle

if TYPE_CHECKING:
    from jinja2 import Environment

CHECK_SHEETS: Final = "check-sheets.html"
DRIVERS_CARD: Final = "drivers-card.html"
INSPECTORS_FOLDER: Final = "inspectors-folder.html"
_KINDS: Final[tuple[Literal["car", "motorcycle"], ...]] = ("car", "motorcycle")


def sheets(plan: Plan, show: Show | None = None) -> dict[str, str]:
    """File name and HTML of every sheet; empty for a plan without a core.

    Units and decimal mark as the plan's project says, unless ``show`` says otherwise. Raises
    InputError where the rows that the plan embeds are not whole.
    """
    if plan.core is None:
        return {}
    figures = commissioning(plan)
    wished = figures.project.show
    make = Making.of(
        plan, figures, show or Show(wished.units or "metric", bool(wished.decimal_comma))
    )
    common: dict[str, Any] = {
        "name": make.name(plan.project),
        "description": clean(figures.project.donor.description, 200),
        "vehicle": make.vehicle,
        "as_of": plan.as_of,
        "defer": DEFER,
        "measure": MEASURE,
        "verdict": verdict(plan),
        "identity": plan.inputs.get("project", "")[:12],
    }
    parts = (
        ("Building", "Fill in while the pack and its wiring are built.", building(make)),
        ("First power and first drive", "One step after the other; hold where it says so.",
         power_up(make)),
        ("At the wheel", "Learn it with somebody beside you.", (start_up_stage(make),)),
        ("Every year", "A copy of this page for each year.", care(make)),
    )  # fmt: skip
    told = {
        one
        for kind in _KINDS
        for found in at_work(figures.drive, kind, regenerates=figures.regenerates).values()
        for one in found
    }
    # What stands beside its own work further down is not said twice.
    left = tuple(one for one in cautions(plan) if one != DEFER and one not in told)
    warnings = tuple(make.show.words(one) for one in left if not to_settle(one))
    notes = tuple(make.show.words(one) for one in left if to_settle(one))
    return {
        CHECK_SHEETS: _render(
            "check-sheets.html", parts=parts, warnings=warnings, notes=notes, **common
        ),
        DRIVERS_CARD: _render("drivers-card.html", card=card(make), **common),
        INSPECTORS_FOLDER: _render(
            "inspectors-folder.html",
            folder=folder(make),
            dangers=make.dangers["first power"],
            failed=tuple(
                f"{one.words}: {make.show.judged(one.value, one.unit, one.sense)}"
                for one in failed(plan)
            ),
            **common,
        ),
    }


def _render(template: str, **values: Any) -> str:
    text = _environment().get_template(template).render(**values)
    # Inside HTML the name space of a drawing is known, and an address looks like a fetch.
    return text.replace(' xmlns="http://www.w3.org/2000/svg"', "")


@cache
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader("bomplan.report.sheets"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
