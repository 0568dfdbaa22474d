"""Mass limits as exact integer rows over the plan's added mass and its moments.

Front load x wheelbase = sum of m (L - x); rear load x wheelbase = sum of m x; with track t a
right wheel at the front carries sum of m (L - x)(t + 2 y) / (2 L t). Each row reads
``per_gram x added + per_gmm x moment + per_lateral x lateral + per_cross x cross + constant <=
limit`` in grams, gram-millimetres and g·mm², so that nothing is rounded between model, audit
and report.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from bomplan.design.context import Context, Load
from bomplan.source import Source, given, practice, recalled
from bomplan.weighing import CornerSums, Tyre, axle_tyre_load_g

TYRE_SOURCE = recalled("load index of the tyres; ISO 4000-1 table (from memory)")
TWIN_SOURCE = recalled(
    "load index of the tyres; ISO 4000-1 table; without a twin index each of four must carry 0.27"
    " of the axle: EU 458/2011, annex II (all from memory)"
)


def tyre_source(tyre: Tyre, count: int) -> Source:
    """Where the load of an axle's tyres comes from."""
    return TWIN_SOURCE if count > 2 and tyre.twin_load_kg is None else TYRE_SOURCE


@dataclass(frozen=True)
class MassRow:
    """One limit on mass. ``divisor`` turns the row's value into grams."""

    id: str
    words: str
    load_case: str
    per_gram: int
    per_gmm: int
    constant: int
    limit: int
    divisor: int
    plate_g: int
    source: Source
    per_lateral: int = 0
    per_cross: int = 0

    @property
    def sideways(self) -> bool:
        """Whether the row reads where masses stand across the car."""
        return self.per_lateral != 0 or self.per_cross != 0

    def value(
        self, added_g: int, moment_gmm: int, lateral_gmm: int = 0, cross_gmm2: int = 0
    ) -> int:
        """The row's left side: ``lateral_gmm`` is the sum of m y, ``cross_gmm2`` of m x y."""
        return (
            self.per_gram * added_g
            + self.per_gmm * moment_gmm
            + self.per_lateral * lateral_gmm
            + self.per_cross * cross_gmm2
            + self.constant
        )

    def worsens_at(self, x_mm: int, y_mm: int) -> bool:
        """Whether a gram more at this place never makes the row's value smaller."""
        effect = self.per_gram + self.per_gmm * x_mm
        return effect + self.per_lateral * y_mm + self.per_cross * x_mm * y_mm >= 0


def mass_rows(context: Context) -> tuple[MassRow, ...]:
    """Every mass limit of the project, for every load case."""
    rows: list[MassRow] = []
    for load in context.loads:
        rows += _axle_rows(context, load)
        rows += _tyre_rows(context, load)
        rows += _share_rows(context, load)
        rows += _own_rows(context, load)
        sums = _laden(context, load)
        if sums is not None:
            rows += _wheel_rows(context, load, sums)
            rows += _side_rows(context, load, sums)
    return tuple(rows)


def _laden(context: Context, load: Load) -> CornerSums | None:
    base = context.base_corners
    return None if base is None or load.sums is None else base.plus(load.sums)


def _axle_rows(context: Context, load: Load) -> Iterator[MassRow]:
    length = context.wheelbase_mm
    mass = context.base.mass_g + load.mass_g
    moment = context.base.moment_gmm + load.moment_gmm
    limits, donor = context.limits, context.project.donor
    margins = given("plate limit less the project's margin")
    yield MassRow(
        f"mass.gross.{load.name}",
        f"gross mass, {load.name}",
        load.name,
        1,
        0,
        mass,
        limits.gross_g,
        1,
        donor.gross_limit_g,
        margins,
    )
    yield MassRow(
        f"axle.front.{load.name}",
        f"front axle, {load.name}",
        load.name,
        length,
        -1,
        mass * length - moment,
        limits.front_g * length,
        length,
        donor.front_axle_limit_g,
        margins,
    )
    yield MassRow(
        f"axle.rear.{load.name}",
        f"rear axle, {load.name}",
        load.name,
        0,
        1,
        moment,
        limits.rear_g * length,
        length,
        donor.rear_axle_limit_g,
        margins,
    )


def _tyre_rows(context: Context, load: Load) -> Iterator[MassRow]:
    """All tyres of an axle together against what their load index lets them carry."""
    length = context.wheelbase_mm
    mass = context.base.mass_g + load.mass_g
    moment = context.base.moment_gmm + load.moment_gmm
    front, rear = context.tyres
    front_count, rear_count = context.tyre_counts
    if front is not None:
        yield MassRow(
            f"tyre.front.{load.name}",
            f"load on the front tyres, {load.name}",
            load.name,
            length,
            -1,
            mass * length - moment,
            axle_tyre_load_g(front, front_count) * length,
            length,
            0,
            tyre_source(front, front_count),
        )
    if rear is not None:
        yield MassRow(
            f"tyre.rear.{load.name}",
            f"load on the rear tyres, {load.name}",
            load.name,
            0,
            1,
            moment,
            axle_tyre_load_g(rear, rear_count) * length,
            length,
            0,
            tyre_source(rear, rear_count),
        )


def _own_rows(context: Context, load: Load) -> Iterator[MassRow]:
    """Limits of the builder's own, below the plate's: they size no conductor."""
    length, targets = context.wheelbase_mm, context.project.targets
    mass = context.base.mass_g + load.mass_g
    moment = context.base.moment_gmm + load.moment_gmm
    for name, words, limit_g, per_gram, per_gmm, constant, divisor in (
        ("mass", "laden mass", targets.laden_mass_max_g, 1, 0, mass, 1),
        (
            "axle-front",
            "front axle",
            targets.front_axle_max_g,
            length,
            -1,
            mass * length - moment,
            length,
        ),
        ("axle-rear", "rear axle", targets.rear_axle_max_g, 0, 1, moment, length),
    ):
        if limit_g is not None:
            yield MassRow(
                f"own.{name}.{load.name}",
                f"{words} against the limit of your own, {load.name}",
                load.name,
                per_gram,
                per_gmm,
                constant,
                limit_g * divisor,
                divisor,
                0,
                given("project"),
            )


def _share_rows(context: Context, load: Load) -> Iterator[MassRow]:
    """Least and greatest front share, in thousandths so that it stays whole."""
    length = context.wheelbase_mm
    mass = context.base.mass_g + load.mass_g
    moment = context.base.moment_gmm + load.moment_gmm
    rules = context.project.house_rules
    if rules.minimum_front_share is not None:
        # share x L x m <= m L - moment
        permille = round(rules.minimum_front_share * 1000)
        yield MassRow(
            f"share.front.{load.name}",
            f"front share of the mass, {load.name}",
            load.name,
            (permille - 1000) * length,
            1000,
            (permille - 1000) * length * mass + 1000 * moment,
            0,
            1000 * length,
            0,
            practice("house rule; common practice"),
        )
    if rules.maximum_front_share is not None:
        permille = round(rules.maximum_front_share * 1000)
        yield MassRow(
            f"share.front-most.{load.name}",
            f"greatest front share of the mass, {load.name}",
            load.name,
            (1000 - permille) * length,
            -1000,
            (1000 - permille) * length * mass - 1000 * moment,
            0,
            1000 * length,
            0,
            practice("house rule; common practice"),
        )


def _side_rows(context: Context, load: Load, sums: CornerSums) -> Iterator[MassRow]:
    """Left share by the middle of mass: share = 1/2 - (sum of m y) / (track x mass)."""
    rules, tracks = context.project.house_rules, context.tracks_mm
    assert tracks is not None
    track = min(tracks)
    if rules.minimum_left_share is not None:
        slack = 1000 - 2 * round(rules.minimum_left_share * 1000)
        yield MassRow(
            f"share.left.{load.name}",
            f"left share of the mass, {load.name}",
            load.name,
            -slack * track,
            0,
            1000 * sums.lateral_gmm - slack * track * sums.mass_g,
            0,
            2000 * track,
            0,
            practice("house rule; common practice"),
            per_lateral=2000,
        )
    if rules.maximum_left_share is not None:
        slack = 2 * round(rules.maximum_left_share * 1000) - 1000
        yield MassRow(
            f"share.left-most.{load.name}",
            f"greatest left share of the mass, {load.name}",
            load.name,
            -slack * track,
            0,
            -1000 * sums.lateral_gmm - slack * track * sums.mass_g,
            0,
            2000 * track,
            0,
            practice("house rule; common practice"),
            per_lateral=-2000,
        )


def _wheel_rows(context: Context, load: Load, sums: CornerSums) -> Iterator[MassRow]:
    """What one side of an axle may carry, where the project limits it."""
    donor, length, tracks = context.project.donor, context.wheelbase_mm, context.tracks_mm
    assert tracks is not None
    for side, sign in (("left", -1), ("right", 1)):
        track, limit_g = tracks[0], donor.front_wheel_limit_g
        if limit_g is not None:
            # 2 L t x load = sum of m (L - x)(t + 2 y)
            yield MassRow(
                f"wheel.front-{side}.{load.name}",
                f"front {side} wheel, {load.name}",
                load.name,
                length * track,
                -track,
                length * track * sums.mass_g
                - track * sums.moment_gmm
                + sign * (length * sums.lateral_gmm - sums.cross_gmm2),
                2 * length * track * limit_g,
                2 * length * track,
                limit_g,
                given("the project's limit of one wheel"),
                per_lateral=sign * 2 * length,
                per_cross=sign * -2,
            )
        track, limit_g = tracks[1], donor.rear_wheel_limit_g
        if limit_g is not None:
            # 2 L t x load = sum of m x (t + 2 y)
            yield MassRow(
                f"wheel.rear-{side}.{load.name}",
                f"rear {side} wheel, {load.name}",
                load.name,
                0,
                track,
                track * sums.moment_gmm + sign * sums.cross_gmm2,
                2 * length * track * limit_g,
                2 * length * track,
                limit_g,
                given("the project's limit of one wheel"),
                per_cross=sign * 2,
            )
