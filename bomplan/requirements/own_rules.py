"""The builder's own rules between parts: one that asks for others, one that shuts others out."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from bomplan.design.bill.rule import same
from bomplan.design.records import Check
from bomplan.project.records import Choices
from bomplan.source import given


def own_rules(choices: Choices, parts: Collection[str]) -> Iterator[Check]:
    """The rules that bear on these chosen parts; none for a part that was not chosen."""
    for part, wanted in sorted(choices.requires.items()):
        if part in parts:
            yield same(
                f"own.requires.{part}",
                f"with {part} goes, by a rule of your own: {', '.join(wanted)}",
                all(other in parts for other in wanted),
                given("project"),
            )
    for part, barred in sorted(choices.forbids.items()):
        if part in parts:
            yield same(
                f"own.forbids.{part}",
                f"with {part} goes, by a rule of your own, none of: {', '.join(barred)}",
                not any(other in parts for other in barred),
                given("project"),
            )


def impossible(
    choices: Choices,
    offered: dict[str, Collection[str]],
    optional: Collection[str] = (),
) -> tuple[str, Check] | None:
    """A family that the rules leave no row of these, with the rule that took the last one.

    ``offered`` names the rows of each family, of which a plan takes exactly one; of a family that
    is ``optional`` it may need no piece. Found by following what must be and what cannot be; None
    says nothing of whether the rules can be kept.
    """
    left = {family: set(rows) for family, rows in offered.items()}
    family_of = {part: family for family, rows in offered.items() for part in rows}
    changed = True
    while changed:
        changed = False
        for part, other, together in _pairs(choices):
            mine, theirs = family_of.get(part), family_of.get(other)
            if mine is None or part not in left[mine]:
                continue
            there = theirs is not None and other in left[theirs]
            sure = theirs is not None and left[theirs] == {other} and theirs not in optional
            out: list[tuple[str, str]] = []
            if (together and not there) or (not together and sure):
                out = [(mine, part)]
            elif left[mine] == {part} and theirs is not None and mine not in optional:
                out = [(theirs, row) for row in left[theirs] if (row == other) != together]
            for family, row in out:
                left[family].discard(row)
                changed = True
            empty = next(
                (family for family, _ in out if not left[family] and family not in optional), None
            )
            if empty is not None:
                broken = {part} if together else {part, other}
                name = f"own.{'requires' if together else 'forbids'}.{part}"
                check = next(one for one in own_rules(choices, broken) if one.id == name)
                return empty, check
    return None


def _pairs(choices: Choices) -> Iterator[tuple[str, str, bool]]:
    """Every rule as (part, other part, whether they go together or not)."""
    for table, together in ((choices.requires, True), (choices.forbids, False)):
        for part, others in sorted(table.items()):
            for other in others:
                yield part, other, together
