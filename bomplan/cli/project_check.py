"""``bomplan project check``: every figure as it was understood."""

from __future__ import annotations

import json
import sys

import click

from bomplan.cli.options import CONTEXT, as_json, catalogs, complete_projects, verbose


@click.command("check", context_settings=CONTEXT)
@click.argument("project", metavar="PROJECT", shell_complete=complete_projects)
@catalogs
@as_json
@verbose
def COMMAND(project: str, catalogs: tuple[str, ...], as_json: bool, verbose: bool) -> int:  # noqa: N802
    """Read a project and say in words what it asks for; plan nothing.

    Every id that it names is looked up in its catalogues. With --verbose each figure is
    listed as it was written and as it was read.

    \b
    Example:
      bomplan project check my-pickup --verbose
    """
    from bomplan import api
    from bomplan.project import echo

    loaded = api.open_project(project)
    api.check_references(loaded, list(catalogs) or None)
    if as_json:
        answer = {
            "format": "bomplan-project-check",
            "version": 1,
            "name": loaded.project.name,
            "digest": loaded.digest,
            "figures": [
                {"key": one.key, "written": one.written, "understood": one.understood}
                for one in loaded.figures
            ],
            "cautions": [caution.text() for caution in loaded.cautions],
        }
        print(json.dumps(answer, indent=1, ensure_ascii=False))
        return 0
    for line in echo(loaded.project):
        print(line)
    if verbose:
        print()
        for line in loaded.echo:
            print(line)
    for caution in loaded.cautions:
        print(f"mind: {caution.text()}", file=sys.stderr)
    return 0
