"""``bomplan project migrate``: an older project file rewritten in the newest format."""

from __future__ import annotations

import click

from bomplan.cli.options import CONTEXT, complete_projects, verbose


@click.command("migrate", context_settings=CONTEXT)
@click.argument("project", metavar="PROJECT", shell_complete=complete_projects)
@verbose
def COMMAND(project: str, verbose: bool) -> int:  # noqa: N802
    """Bring a project file to the newest format, keeping comments and order.

    Older files are read as they are, so this is never needed; it is of use before editing
    one by hand with the present documentation beside it.

    \b
    Example:
      bomplan project migrate my-pickup
    """
    del verbose
    from bomplan import api
    from bomplan.cli.project import project_path

    path = project_path(project)
    changed = api.migrate_project(path)
    print(f"written: {path}" if changed else f"{path} has the newest format already")
    return 0
