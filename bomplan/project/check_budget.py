"""What the sums of a project's budget must be to each other."""

from __future__ import annotations

from collections.abc import Iterator

from bomplan.errors import Fault
from bomplan.money import format_money
from bomplan.project.budget import BudgetItem, Sale
from bomplan.project.lines import KeyPath
from bomplan.project.records import Project

Finding = tuple[KeyPath, Fault]


def budget_figures(project: Project) -> Iterator[Finding]:
    """Ends that do not lie about their amount, and names that stand twice."""
    budget = project.budget
    groups: tuple[tuple[str, tuple[BudgetItem | Sale, ...]], ...] = (
        ("items", budget.items),
        ("sold", budget.sold),
    )
    for group, rows in groups:
        seen: set[str] = set()
        for i, row in enumerate(rows):
            amount = format_money(row.amount, project.currency)
            if row.low is not None and row.low > row.amount:
                low = format_money(row.low, project.currency)
                yield (
                    ("budget", group, i, "low"),
                    Fault(
                        "project.order",
                        "is above the amount",
                        value=low,
                        allowed=f"at most {amount}",
                    ),
                )
            if row.high is not None and row.high < row.amount:
                high = format_money(row.high, project.currency)
                yield (
                    ("budget", group, i, "high"),
                    Fault(
                        "project.order",
                        "is below the amount",
                        value=high,
                        allowed=f"{amount} or more",
                    ),
                )
            if row.name in seen:
                yield ("budget", group, i, "name"), Fault(
                    "project.name-twice", "stands already", value=row.name,
                    allowed="a name of its own for each",
                )  # fmt: skip
            seen.add(row.name)
