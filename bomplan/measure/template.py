"""A readings file to start from, with the names that this plan knows."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from bomplan.buying.terms import CHARGES
from bomplan.design.records import Plan


def readings_template(plan: Plan) -> str:
    """Commented TOML for the plan's car; every line that asks for a figure is a remark."""
    project = plan.project_used
    donor = project.get("donor", {})
    removed = [str(item["name"]) for item in donor.get("removed", ())]
    kept = [str(item["name"]) for item in donor.get("kept", ())]
    added = [str(item["name"]) for item in donor.get("added", ())]
    cases = [str(case["name"]) for case in project.get("load_cases", ())]
    families = [line.family for line in plan.lines if line.family not in CHARGES]
    weights = plan.mass.weights if plan.mass is not None else None
    places = [
        f"{item.what} in {item.bay}"
        for item in (weights.items if weights is not None else ())
        if item.what == "module" and item.bay
    ]
    lines = [
        "# Scale readings of this conversion, for bomplan weigh. One [[weighing]] for each time",
        "# on the scales; the last one decides. Level ground, tyres at pressure, nobody leaning.",
        "# Prop a lifted car on rated stands; nobody goes under a car that stands on scales.",
        "format = 1",
        "",
        "[[weighing]]",
        'name = "first weighing"',
        *_scales(donor),
        'spread = "10 kg"   # how far one axle reading may be off: weighbridge 20, wheel scales 5',
        "# How far the build is: all, none, or a list of names.",
        'removed = "all"    # ' + _names(removed),
        'fitted = "all"     # ' + _names(places),
        *_wrapped("of the bill:", families),
    ]
    if added:
        lines.append('added = "all"      # ' + _names(added))
    if kept:
        lines.append("without = []       # kept, but not in it this time: " + _names(kept))
    lines += [
        'fuel = "0 kg"      # still in the tank; then also ' + _fuel_place(donor),
        "# Who and what was in it: a load case of the project, or a list.",
        f"# load_case = {_quoted(cases[0]) if cases else 'none'}   # {_names(cases)}",
        f"# aboard = [{_somebody(project)}]",
    ]
    return "\n".join(lines) + "\n"


def _scales(donor: Mapping[str, Any]) -> Iterator[str]:
    """Axles, and corners where each axle has two sides."""
    tyres = donor.get("tyres") or {}
    usual = 1 if donor.get("kind") == "motorcycle" else 2
    sided = all((tyres.get(f"{axle}_count") or usual) > 1 for axle in ("front", "rear"))
    yield (
        "# Fill in both axles"
        + (", or all four corners," if sided else "")
        + " and take the # away."
    )
    yield '# front = "412 kg"'
    yield '# rear = "388 kg"'
    if sided:
        yield '# front_left = "206 kg"'
        yield '# front_right = "206 kg"'
        yield '# rear_left = "194 kg"'
        yield '# rear_right = "194 kg"'


def _fuel_place(donor: Mapping[str, Any]) -> str:
    """The tank's place as the project has it."""
    x_mm = (donor.get("weighing") or {}).get("fuel_x_mm")
    if x_mm is None:
        return "fuel_x, the tank's distance behind the front axle"
    return f'fuel_x = "{x_mm} mm"'


def _somebody(project: Mapping[str, Any]) -> str:
    """One person or thing aboard, as the project's first load case has it."""
    for case in project.get("load_cases", ()):
        for item in case.get("items", ()):
            side = "" if item.get("y_mm") is None else f', y = "{item["y_mm"]} mm"'
            return (
                f'{{ name = {_quoted(str(item["name"]))}, mass = "{item["mass_g"] / 1000:g} kg",'
                f' x = "{item["x_mm"]} mm"{side} }}'
            )
    return '{ name = "…", mass = "… kg", x = "… mm" }'


def _names(names: list[str]) -> str:
    return ", ".join(_quoted(name) for name in names) or "nothing to name"


def _quoted(name: str) -> str:
    plain = " ".join(name.split()).replace("\\", "\\\\").replace('"', '\\"')
    return f'"{plain}"'


def _wrapped(first: str, names: list[str]) -> list[str]:
    import textwrap

    text = f"{first} {_names(names)}"
    return textwrap.wrap(
        text, 96, initial_indent="#   ", subsequent_indent="#   ", break_on_hyphens=False
    )
