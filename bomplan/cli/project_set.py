"""``bomplan project set``: figures changed in place."""

from __future__ import annotations

import click

from bomplan.cli.options import CONTEXT, complete_projects, verbose


@click.command("set", context_settings=CONTEXT)
@click.argument("project", metavar="PROJECT", shell_complete=complete_projects)
@click.argument("changes", nargs=-1, required=True, metavar="KEY=VALUE...")
@verbose
def COMMAND(project: str, changes: tuple[str, ...], verbose: bool) -> int:  # noqa: N802
    """Change figures of a project file; its comments and its order stay.

    A key is written as messages write it: donor.gross_limit, bays[bed].length,
    choices.parts.throttle. Nothing after the = takes the key out. The project is checked
    as a whole first: if anything would be wrong, nothing is written.

    \b
    Example:
      bomplan project set my-pickup donor.weighing.front="592 kg"
    """
    del verbose
    from bomplan import api
    from bomplan.cli.project import project_path, read_changes

    path = project_path(project)
    wanted = read_changes(changes)
    loaded = api.change_project(path, wanted)
    figures = {figure.key: figure for figure in loaded.figures}
    for key, value in wanted.items():
        if value is None:
            print(f"{key}: taken out")
        else:
            print(figures[key].text() if key in figures else f"{key}: {value}")
    print(f"written: {path}")
    return 0
