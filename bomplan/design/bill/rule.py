"""How one part family follows from the core: when it is needed, how many, which rows suit.

A rule knows nothing of prices and of the solver. A quantity is a base plus one figure per
bay that depends only on how many series places stand there, so that the planner can put it
into a table and the audit can count it again.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from bomplan.catalog.records import Part
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.records import Check
from bomplan.design.rolling import RollingLoad
from bomplan.sizing.finding import Finding
from bomplan.source import COMMON, Source, recalled

Place = Literal["motor", "controller", "charger", "other"]
# What a rule reads of the core: the pack alone, motor and controller alone, or all of it with
# the design currents. The planner judges the first two once per pack and once per drive.
Side = Literal["pack", "drive", "currents"]


@dataclass(frozen=True)
class DesignCurrents:
    """What conductors are sized for, found at the reference mass. Amperes and seconds.

    ``rms_a`` is the worst rolling root-mean-square over ten minutes; ``peak_a`` what the
    controller's battery limit lets through, for ``peak_s``. ``least_fault_a`` is the
    short-circuit current of the pack when empty, cold and aged through the longest cable.
    ``rolling`` holds the worst means by window; ``stall_a`` is the motor current that just
    holds the car on the steepest start asked for (0 if none is).
    """

    rms_a: float
    peak_a: float
    peak_s: float
    motor_rms_a: float
    motor_rms_kw: float
    least_fault_a: float
    at_mass_g: int
    profile: str
    rolling: tuple[RollingLoad, ...] = ()
    stall_a: float = 0.0


class Rule:
    """Base of every family's rule; the defaults are one piece, always, any row."""

    family: str
    system: str
    place: Place = "other"
    side: Side = "currents"
    unit: str = "piece"
    least_ever: int = 1  # no conversion that needs the family needs fewer pieces
    table_by_part: bool = False  # whether in_bay differs between rows of the family
    dear: bool = False  # whether in_bay takes so long that it is only asked for opened cores
    placed: bool = False  # whether in_bay, or its bounds, ask where the modules stand
    may_be_none: bool = False  # whether a plan may need not one piece: then it has no line
    too_few: str = ""  # what happens where fewer pieces are fitted: a caution of the audits

    def needed(self, context: Context, drive: Drive) -> bool:  # noqa: ARG002
        return True

    def base(self, context: Context, drive: Drive, part: Part) -> int:  # noqa: ARG002
        return 1

    def in_bay(self, context: Context, drive: Drive, part: Part, bay: int, rows: int) -> int:  # noqa: ARG002
        """Pieces in this bay when ``rows`` series places (>= 1) stand in it."""
        return 0

    def in_bay_from(
        self, context: Context, drive: Drive, part: Part, bay: int, rows: range
    ) -> list[int]:
        """:meth:`in_bay` for each of these numbers of places, where they are quicker together."""
        return [self.in_bay(context, drive, part, bay, count) for count in rows]

    def least_in_all(self, context: Context, drive: Drive, part: Part) -> int:  # noqa: ARG002
        """Pieces in all bays that no placement undercuts; asked where rows differ in them."""
        return 0

    def least_in_bay(self, context: Context, drive: Drive, part: Part, bay: int, rows: int) -> int:
        """No more than :meth:`in_bay`, and cheap: counts until a core is opened."""
        return self.in_bay(context, drive, part, bay, rows)

    def most_in_bay(self, context: Context, drive: Drive, part: Part, bay: int, rows: int) -> int:
        """No less than :meth:`in_bay`, and cheap; asked only where ``dear``."""
        return self.in_bay(context, drive, part, bay, rows)

    def suits(
        self,
        context: Context,  # noqa: ARG002
        drive: Drive,  # noqa: ARG002
        currents: DesignCurrents,  # noqa: ARG002
        part: Part,  # noqa: ARG002
    ) -> Iterator[Check]:
        """The checks that a row must pass; independent of placement and of other families."""
        return iter(())

    def may_suit(self, context: Context, drive: Drive, part: Part) -> bool:  # noqa: ARG002
        """False only where :meth:`suits` has a check that fails; reads the pack alone.

        For what hardly two packs share, and is asked of thousands of them.
        """
        return True

    def external_uohm(self, drive: Drive, part: Part) -> int:  # noqa: ARG002
        """Series resistance that one fitted piece adds to the traction circuit."""
        return 0

    def mean_12v_w(self, part: Part) -> int:  # noqa: ARG002
        """Mean 12 V load of one fitted piece while driving."""
        return 0

    def supply_12v_w(self, part: Part) -> int:  # noqa: ARG002
        """Mean 12 V power that one fitted piece can give; all loads must stay within it."""
        return 0

    def why(self, context: Context, drive: Drive, currents: DesignCurrents, part: Part) -> str:  # noqa: ARG002
        return "always needed"

    def to_spare(self, context: Context, drive: Drive, rows: tuple[int, ...]) -> int:  # noqa: ARG002
        """Pieces counted for this placement that no place of it takes; nobody fits them."""
        return 0

    def counted(self, context: Context, drive: Drive, rows: tuple[int, ...]) -> str:  # noqa: ARG002
        """What of this placement the quantity is made up of, where that is worth telling."""
        return ""


def highest_v(context: Context, drive: Drive) -> float:
    """The highest voltage that the pack's circuit sees, with the margin that the project keeps."""
    return drive.figures.charge_v * (1 + context.project.margins.voltage)


def voltage_check(context: Context, drive: Drive, family: str, rated_v: float) -> Check:
    """Whether a row of the family is rated for what the pack's circuit sees."""
    return at_least(
        f"{family}.voltage",
        f"the {family.replace('_', ' ')} is rated for the charge voltage with its margin",
        rated_v,
        highest_v(context, drive),
        "V",
        recalled("working voltage: ISO 6469-3 (from memory); common practice"),
        f"{drive.figures.charge_v:.0f} V direct voltage can kill and its arc does not go out",
    )


def vehicle_check(family: str, context: Context, part: Part) -> Check:
    """Whether a row is made for the donor's kind of vehicle."""
    kind = context.project.donor.kind
    return same(
        f"{family}.vehicle",
        f"the {family} row is made for a {kind}",
        part.text("vehicle") in ("", "any", kind),
        COMMON,
    )


def at_most(
    check_id: str,
    words: str,
    value: float,
    limit: float,
    unit: str,
    source: Source,
    caution: str = "",
) -> Check:
    """A check that passes when the value does not exceed the limit."""
    return Check(
        id=check_id,
        words=words,
        value=value,
        limit=limit,
        unit=unit,
        sense="at most",
        passed=bool(value <= limit),
        source=source.words,
        source_kind=source.kind,
        caution=caution,
    )


def at_least(
    check_id: str,
    words: str,
    value: float,
    limit: float,
    unit: str,
    source: Source,
    caution: str = "",
) -> Check:
    """A check that passes when the value reaches the limit."""
    return Check(
        id=check_id,
        words=words,
        value=value,
        limit=limit,
        unit=unit,
        sense="at least",
        passed=bool(value >= limit),
        source=source.words,
        source_kind=source.kind,
        caution=caution,
    )


def same(check_id: str, words: str, fits: bool, source: Source, caution: str = "") -> Check:
    """A check of a yes/no kind: 1 is wanted."""
    return at_least(check_id, words, 1.0 if fits else 0.0, 1.0, "yes/no", source, caution)


def from_finding(finding: Finding, caution: str = "") -> Check:
    """A sizing room's finding as a check of the plan."""
    return Check(
        id=finding.id.replace("-", ".", 1),
        words=finding.words,
        value=_finite(finding.value),
        limit=_finite(finding.limit),
        unit=finding.unit,
        sense=finding.sense,
        passed=finding.passed,
        source=finding.source.words,
        source_kind=finding.source.kind,
        caution=caution,
    )


def _finite(value: float) -> float:
    """JSON knows no infinity; no figure of a car comes near this one."""
    return max(-1e12, min(1e12, value))
