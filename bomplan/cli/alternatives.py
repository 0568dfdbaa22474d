"""``bomplan alternatives``: the best plans that differ, and whether the choice is firm."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import click

from bomplan.cli.keeping import keep_answer, keep_option
from bomplan.cli.options import CONTEXT
from bomplan.cli.study import (
    Asked,
    Flags,
    cheapest,
    json_of,
    run_study,
    status_of_study,
    study_flags,
)

# The same words as in outlook.alternatives, which help must not load.
_DIFFER: Final = ("motor-or-module", "motor", "module", "chemistry")


@click.command("alternatives", context_settings=CONTEXT)
@study_flags
@click.option(
    "--most",
    type=click.IntRange(1, 50),
    default=3,
    show_default=True,
    help="How many further plans.",
)
@click.option(
    "--within",
    type=click.FloatRange(0, 1000),
    metavar="PERCENT",
    help="None dearer than so many percent above the cheapest.",
)
@click.option(
    "--differ",
    type=click.Choice(_DIFFER),
    default="motor-or-module",
    show_default=True,
    help="In what each plan must differ from all before it.",
)
@click.option(
    "--prices-move",
    type=click.FloatRange(0, 90),
    default=15.0,
    show_default=True,
    metavar="PERCENT",
    help="How far prices may turn out otherwise, to test the choice.",
)
@keep_option
def COMMAND(  # noqa: N802
    flags: Flags,
    most: int,
    within: float | None,
    differ: str,
    prices_move: float,
    keep: Path | None,
) -> int:
    """Show the best plans that differ from the cheapest in motor, module or chemistry.

    Prices are guesses until they are quoted: --within 5 gives every plan for about the same
    money, each with what it does better and worse.

    \b
    Exit status: 0 an answer, 1 the project has no plan, 2 an input cannot be
    used, 4 stopped early.

    \b
    Example:
      bomplan alternatives my-pickup --within 20
    """
    from bomplan.design.studies import Alternatives
    from bomplan.outlook import alternatives
    from bomplan.report.studies import alternative_rows

    def study(asked: Asked) -> Alternatives:
        return alternatives(
            asked.project,
            cheapest(asked),
            asked.solver,
            most=most,
            within=None if within is None else within / 100,
            differ=differ,  # type: ignore[arg-type]
            prices_move=prices_move / 100,
        )

    found = run_study(
        flags,
        study,
        lambda found, show: alternative_rows("Plans that differ", found, show),
        json_of,
    )
    if found is not None:
        from bomplan.report.kept_studies import ALTERNATIVES_FILE

        keep_answer(keep, ALTERNATIVES_FILE, json_of(found))
    return status_of_study(found)
