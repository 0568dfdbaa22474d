"""Gross and axle limits as exact integer rows over the plan's added mass and moment.

Front load x wheelbase = sum of m (L - x); rear load x wheelbase = sum of m x. Each row reads
``per_gram x added + per_gmm x moment + constant <= limit`` with added in grams and moment in
gram-millimetres, so that nothing is rounded between model, audit and report.
"""

from __future__ import annotations

from dataclasses import dataclass

from bomplan.design.context import Context, Load


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
    source: str

    def value(self, added_g: int, moment_gmm: int) -> int:
        return self.per_gram * added_g + self.per_gmm * moment_gmm + self.constant


def mass_rows(context: Context) -> tuple[MassRow, ...]:
    """Every mass limit of the project, for every load case."""
    rows: list[MassRow] = []
    for load in context.loads:
        rows += _rows_of(context, load)
    return tuple(rows)


def _rows_of(context: Context, load: Load) -> list[MassRow]:
    length = context.wheelbase_mm
    mass = context.base.mass_g + load.mass_g
    moment = context.base.moment_gmm + load.moment_gmm
    limits, donor = context.limits, context.project.donor
    margins = "plate limit less the project's margin"
    rows = [
        MassRow(
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
        ),
        MassRow(
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
        ),
        MassRow(
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
        ),
    ]
    share = context.project.house_rules.minimum_front_share
    if share is not None:
        # share x L x m <= m L - moment, in thousandths so that it stays whole.
        permille = round(share * 1000)
        rows.append(
            MassRow(
                f"share.front.{load.name}",
                f"front share of the mass, {load.name}",
                load.name,
                (permille - 1000) * length,
                1000,
                (permille - 1000) * length * mass + 1000 * moment,
                0,
                1000 * length,
                0,
                "house rule; common practice",
            )
        )
    return rows
