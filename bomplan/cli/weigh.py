"""``bomplan weigh``: scale readings of the real car against the plan."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bomplan.cli.options import CONTEXT, as_json, shown, verbose
from bomplan.cli.plan_file import plan_file
from bomplan.cli.status import Status

if TYPE_CHECKING:
    from collections.abc import Sequence

    from bomplan.measure import WeighIn


@click.command("weigh", context_settings=CONTEXT)
@click.argument("plan", type=click.Path(path_type=Path), metavar="PLAN")
@click.argument(
    "readings", type=click.Path(path_type=Path), metavar="READINGS", required=False, default=None
)
@click.option(
    "--template",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Write a readings file for this plan to start from, and end.",
)
@shown
@as_json
@verbose
def COMMAND(  # noqa: N802
    plan: Path,
    readings: Path | None,
    template: Path | None,
    units: str | None,
    decimal_comma: bool | None,
    as_json: bool,
    verbose: bool,
) -> int:
    """Hold scale readings against a plan: what is more, where it sits, which limits hold.

    PLAN is a plan.json or the folder that it is in. READINGS is a TOML file with one
    [[weighing]] for each time on the scales, axle by axle or corner by corner, in any state
    of the build: it says what is out, what is in, who sat in it and the fuel. The last
    weighing decides; every mass limit of the finished car is made anew with what was found.

    \b
    Exit status: 0 every limit holds, 1 one fails, 2 an input cannot be used.

    \b
    Example:
      bomplan weigh out-garden-pickup --template readings.toml
      bomplan weigh out-garden-pickup readings.toml
    """
    del verbose
    from bomplan import api
    from bomplan.cli.settings import resolve
    from bomplan.cli.show import show
    from bomplan.design.planfile import held_together

    if (readings is None) == (template is None):
        raise click.UsageError("give READINGS, or --template FILE to write one")
    file = plan_file(plan, api.PLAN_FILE)
    saved = api.read_plan(file)
    if template is not None:
        with held_together(file):
            text = api.weigh_template(saved)
        _write_template(template, text)
        return int(Status.SOUND)
    assert readings is not None
    with held_together(file):
        found = api.weigh(saved, readings)
    if as_json:
        _as_json(found)
    else:
        from bomplan.report.weigh_in import weigh_in_rows

        settings = resolve({"units": units, "decimal_comma": decimal_comma})
        show(weigh_in_rows(found, settings.show()), colour=settings.values["colour"])
    passed = all(check.passed for check in found[-1].checks)
    return int(Status.SOUND if passed else Status.NO_PLAN)


def _write_template(path: Path, text: str) -> None:
    from bomplan.errors import Fault, InputError

    try:
        with path.open("x", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
    except FileExistsError:
        raise InputError(
            [Fault("readings.exists", "is there already, and is not written over", str(path),
                   hint="name another file")]
        ) from None  # fmt: skip
    except OSError as error:
        raise InputError(
            [Fault("readings.unwritable", f"cannot be written: {error.strerror}", str(path))]
        ) from None
    print(f"written: {path}", file=sys.stderr)


def _as_json(found: Sequence[WeighIn]) -> None:
    weighings = []
    for one in found:
        corners = one.expected_corners
        weighings.append(
            {
                "name": one.name,
                "spread_kg": one.spread_g / 1000,
                "expected_front_kg": one.expected_front_g / 1000,
                "expected_rear_kg": one.expected_rear_g / 1000,
                "read_front_kg": one.read_front_g / 1000,
                "read_rear_kg": one.read_rear_g / 1000,
                "expected_corners_kg": None
                if corners is None
                else [
                    round(float(load) / 1000, 3)
                    for load in (
                        corners.front_left_g, corners.front_right_g,
                        corners.rear_left_g, corners.rear_right_g,
                    )
                ],
                "read_corners_kg": None
                if one.read_corners_g is None
                else [load / 1000 for load in one.read_corners_g],
                "extra_kg": one.extra_g / 1000,
                "extra_x_mm": one.extra_x_mm,
                "extra_y_mm": one.extra_y_mm,
                "agrees": one.agrees,
                "suspects": [
                    {"words": s.words, "mass_kg": s.mass_g / 1000, "x_mm": s.x_mm}
                    for s in one.suspects
                ],
                "checks": [{**c.model_dump(), "margin": c.margin} for c in one.checks],
            }
        )  # fmt: skip
    answer = {
        "format": "bomplan-weighing",
        "version": 1,
        "passed": all(check.passed for check in found[-1].checks),
        "weighings": weighings,
    }
    print(json.dumps(answer, indent=1, ensure_ascii=False))
