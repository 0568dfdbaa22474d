"""``bomplan new``: a commented project file to start from."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import click

from bomplan.cli.options import CONTEXT, verbose

# As bomplan.project has them; a test holds them against it. Loading it takes too long for help.
EXAMPLES: Final = ("garden-pickup", "courier-motorcycle", "camper-van")
CLASSES: Final = ("small-car", "family-car", "pickup", "van", "motorcycle")


def _complete(
    _context: click.Context, _parameter: click.Parameter, begun: str
) -> list[click.shell_completion.CompletionItem]:
    from click.shell_completion import CompletionItem

    return [
        CompletionItem(name) for name in (*EXAMPLES, *CLASSES, "empty") if name.startswith(begun)
    ]


@click.command("new", context_settings=CONTEXT)
@click.argument("name", required=False, type=click.Path(path_type=Path), metavar="[NAME]")
@click.option(
    "--from",
    "start",
    metavar="START",
    default="empty",
    shell_complete=_complete,
    help="What to start from, see above [default: empty].",
)
@click.option(
    "--set",
    "settings",
    multiple=True,
    metavar="KEY=VALUE",
    help="Put this figure in at once; may be given again.",
)
@verbose
def COMMAND(name: Path | None, start: str, settings: tuple[str, ...], verbose: bool) -> int:  # noqa: N802
    """Write a commented project file; nothing that exists is overwritten.

    NAME is a folder or a .toml file, made when missing. START is

    \b
      an example:  garden-pickup, courier-motorcycle, camper-van
      a class:     small-car, family-car, pickup, van, motorcycle
                   (typical figures, each marked so, with its spread)
      empty:       every figure to be filled in

    \b
    Example:
      bomplan new my-car --from family-car --set donor.weighing.front="731 kg"
    """
    del verbose
    from bomplan.cli.project import read_changes
    from bomplan.project import write_template

    path = name or Path("my-conversion" if start == "empty" else start)
    files = write_template(start, path, read_changes(settings))
    for file in files:
        print(f"written: {file}")
    target = files[0].parent if files[0].name == "project.toml" else files[0]
    quoted = f'"{target}"' if " " in str(target) else str(target)
    print()
    print(f"Next: put your own figures into {files[0]}, then run")
    print(f"  bomplan project check {quoted}    (says what was understood)")
    print(f"  bomplan plan {quoted}")
    return 0
