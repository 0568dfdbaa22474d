"""``bomplan settings``: the settings that hold and where each comes from."""

from __future__ import annotations

import click

from bomplan.cli.options import CONTEXT, complete_projects, verbose


@click.command("settings", context_settings=CONTEXT)
@click.argument("project", required=False, metavar="[PROJECT]", shell_complete=complete_projects)
@verbose
def COMMAND(project: str | None, verbose: bool) -> int:  # noqa: N802
    """Print every setting, its value and where it comes from.

    A flag beats the project, the project beats the user's own file, that beats the default.

    \b
    Example:
      bomplan settings my-pickup
    """
    del verbose
    from bomplan import api
    from bomplan.cli.settings import SETTINGS, resolve, settings_path

    found = resolve(project=api.load_project(project) if project else None)
    for setting in SETTINGS:
        value = found.values[setting.key]
        shown = str(value).lower() if isinstance(value, bool) else str(value)
        print(f"{setting.key} = {shown}  ({found.homes[setting.key]}; {setting.words})")
    path = settings_path()
    print(f"\nuser file: {path}" + ("" if path.exists() else " (there is none)"))
    return 0
