"""What a goal needs of the rest of the project."""

from __future__ import annotations

import difflib
from collections.abc import Iterator
from typing import Any

from bomplan.errors import Fault
from bomplan.project.lines import KeyPath
from bomplan.project.records import Project


def named_target(raw: dict[str, Any], section: str) -> Iterator[tuple[KeyPath, Fault]]:
    """A range target named in a section that the project does not have."""
    table, targets = raw.get(section), raw.get("targets")
    if not isinstance(table, dict) or not isinstance(targets, dict):
        return
    name, listed = table.get("target"), targets.get("range")
    if not isinstance(name, str) or not isinstance(listed, list):
        return
    known = [str(item.get("name")) for item in listed if isinstance(item, dict)]
    if name in known:
        return
    near = difflib.get_close_matches(name, known, n=1, cutoff=0.5)
    yield (section, "target"), Fault(
        "project.no-such-name", "names a range target that the project does not have",
        value=name, allowed=", ".join(f'"{one}"' for one in known) or "none is defined",
        hint=f'did you mean "{near[0]}"?' if near else "add it as [[targets.range]]",
    )  # fmt: skip


def goal_figures(project: Project) -> Iterator[tuple[KeyPath, Fault]]:
    """The most range is bought with money: without a budget there is no end to it."""
    if project.goal.aim == "most-range" and project.targets.budget is None:
        yield ("goal", "aim"), Fault(
            "project.goal-budget", "asks for the most range without saying what it may cost",
            value="most-range", allowed="with targets.budget",
            hint=f'write budget = "9000 {project.currency}" under [targets]',
        )  # fmt: skip
