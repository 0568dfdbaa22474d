"""What each gear can push against what the road asks, and what the motor's shaft can turn."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from bomplan.design.curve_records import Curves
from bomplan.report.page.blocks import Head, Picture, Row, Table
from bomplan.report.page.canvas import Canvas, style
from bomplan.report.page.palette import INK, QUIET, SERIES
from bomplan.report.units import Show


def thrust(curves: Curves, show: Show) -> Picture:
    """Force at the wheels against speed, one line for each gear, over the road's own."""
    factor, unit = show.scale("km/h")
    radius = curves.wheel_radius_mm / 1000

    def turning(force_n: ArrayLike) -> ArrayLike:
        return np.asarray(force_n) * radius

    def pushing(torque_nm: ArrayLike) -> ArrayLike:
        return np.asarray(torque_nm) / radius

    with style():
        canvas = Canvas(show, 330, wide=True)
        axes = canvas.axes(left=58, top=44, right=64, bottom=40)
        for gear in curves.thrust:
            one = SERIES[(gear.gear - 1) % len(SERIES)]
            speed = [value * factor for value in gear.speed_kmh]
            axes.plot(speed, gear.minute_n, color=one.colour, marker=one.marker, markevery=6,
                      markersize=5, label=_name(gear.gear, curves))  # fmt: skip
            axes.plot(speed, gear.half_hour_n, color=one.colour, linestyle="--", linewidth=1.0,
                      marker=one.marker, markevery=6, markersize=3)  # fmt: skip
        edge = max(1.0, *curves.road[0].speed_kmh) * factor
        for need in curves.road:
            axes.plot([value * factor for value in need.speed_kmh], need.force_n, color=QUIET,
                      linewidth=1.2, linestyle=":")  # fmt: skip
            axes.annotate(
                "flat" if need.grade == 0 else _grade(need.grade, show),
                (edge, need.force_n[-1]),
                xytext=(-4, 2),
                textcoords="offset points",
                ha="right",
                va="bottom",
                fontsize=9,
                color=INK,
            )
        most = max(1.0, *(max(gear.minute_n) for gear in curves.thrust))
        axes.set_xlim(0, edge)
        axes.set_ylim(0, 1.05 * most)
        canvas.marked(axes.xaxis)
        canvas.marked(axes.yaxis)
        axes.set_xlabel(f"speed, {unit}")
        axes.set_ylabel("force at the wheels, N")
        axes.legend(loc="lower left", bbox_to_anchor=(-0.09, 1.0), ncols=7, borderaxespad=0.2,
                    columnspacing=1.2, handlelength=2.2)  # fmt: skip
        torque = axes.secondary_yaxis("right", functions=(turning, pushing))
        torque.spines["right"].set_visible(True)
        canvas.marked(torque.yaxis)
        torque.set_ylabel("torque at the wheels, N m")
        return canvas.picture(
            "chart-thrust",
            "Force at the wheels in each gear against what the road asks",
            "Where a gear's line lies above the road's, speed is gained; where they cross is"
            " the speed that it holds. Lowest gear up to"
            f" {max(curves.thrust[0].minute_n):.0f} N.",
            "Full lines: for a minute; dashed: for half an hour; dotted: what the road asks on"
            " the flat and on grades. A gear holds a grade where its line lies above the grade's.",
            _thrust_table(curves, show),
        )


def _name(gear: int, curves: Curves) -> str:
    """A gear by its number; a drive that has but one has no gears to name."""
    return f"gear {gear}" if len(curves.thrust) > 1 else "the drive"


def _grade(grade: float, show: Show) -> str:
    return show.number(f"{100 * grade:g} %")


def _thrust_table(curves: Curves, show: Show) -> Table:
    rows = [
        Row(
            (
                _name(gear.gear, curves),
                show.speed(speed),
                f"{minute:.0f} N",
                f"{half_hour:.0f} N",
            )
        )
        for gear in curves.thrust
        for speed, minute, half_hour in zip(
            gear.speed_kmh, gear.minute_n, gear.half_hour_n, strict=True
        )
    ]
    rows += [
        Row((f"road, {_grade(need.grade, show)}", show.speed(speed), f"{force:.0f} N", "the same"))
        for need in curves.road
        for speed, force in zip(need.speed_kmh, need.force_n, strict=True)
    ]
    heads = (
        Head("Line"),
        Head("Speed", number=True),
        Head("For a minute", number=True),
        Head("For half an hour", number=True),
    )
    return Table("Force at the wheels", heads, tuple(rows), folded=True)


def shaft(curves: Curves, show: Show) -> Picture:
    """The motor's own torque against its speed."""
    found = curves.shaft
    blue, red = SERIES[0], SERIES[1]
    with style():
        canvas = Canvas(show, 230)
        axes = canvas.axes(left=52, top=34, right=16, bottom=40)
        axes.plot(found.rpm, found.minute_nm, color=blue.colour, marker=blue.marker, markevery=6,
                  markersize=4, label="for a minute")  # fmt: skip
        axes.plot(found.rpm, found.half_hour_nm, color=red.colour, linestyle="--",
                  marker=red.marker, markevery=6, markersize=4,
                  label="for half an hour")  # fmt: skip
        axes.set_xlim(left=0)
        axes.set_ylim(bottom=0)
        canvas.marked(axes.xaxis)
        canvas.marked(axes.yaxis)
        axes.set_xlabel("motor speed, rpm")
        axes.set_ylabel("torque at the shaft, N m")
        axes.legend(loc="lower left", bbox_to_anchor=(-0.05, 1.0), ncols=2, borderaxespad=0.2)
        table = Table(
            "Torque at the motor's shaft",
            (Head("Speed"), Head("For a minute", number=True), Head("Half an hour", number=True)),
            tuple(
                Row(
                    (f"{rpm:.0f} rpm", *(show.number(f"{one:.1f} N m") for one in held)),
                    at=rpm,
                )
                for rpm, *held in zip(found.rpm, found.minute_nm, found.half_hour_nm, strict=True)
            ),
            folded=True,
        )
        return canvas.picture(
            "chart-shaft",
            "Torque at the motor's shaft against its speed",
            f"Up to {show.number(f'{max(found.minute_nm):.0f} N m')} for a minute and"
            f" {show.number(f'{max(found.half_hour_nm):.0f} N m')} for half an hour, up to"
            f" {max(found.rpm):.0f} rpm.",
            "With this controller and this pack, at the state of charge at which speed and climbs"
            " are asked for; gearbox and grip apart.",
            table,
            canvas.reach(axes),
        )
