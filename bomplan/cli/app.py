"""The commands put together. Imports nothing heavy: help and version answer at once."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from bomplan import __version__
from bomplan.cli import audit, catalog, new, plan


def command() -> Any:
    """The whole command line as one object that can be run."""
    return typer.main.get_command(_app())


def _app() -> typer.Typer:
    app = typer.Typer(
        name="bomplan",
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
        context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
    )
    app.callback()(_bomplan)
    app.command("new", short_help="Write a commented project file.")(new.new)
    app.command("plan", short_help="Find the cheapest plan that works.")(plan.plan)
    app.command("audit", short_help="Check a saved plan again.")(audit.audit)
    catalogs = typer.Typer(rich_markup_mode=None, short_help="Look after catalogues.")
    catalogs.callback()(catalog.catalog)
    catalogs.command("check", short_help="Say what looks wrong in one.")(catalog.check)
    app.add_typer(catalogs, name="catalog")
    return app


def _show_version(asked: bool) -> None:
    if asked:
        print(f"bomplan {__version__}")
        raise typer.Exit


def _bomplan(
    version: Annotated[
        bool,
        typer.Option(
            "--version", callback=_show_version, is_eager=True, help="Print the version and end."
        ),
    ] = False,
) -> None:
    """Plan an electric conversion before buying anything.

    From a donor vehicle, what it must do and a catalogue of parts: the cheapest list of parts
    that provably works, with masses, axle loads, range and a spreadsheet to shop from.

    \b
    Example:
      bomplan new my-pickup --from garden-pickup
      bomplan plan my-pickup
    """
