"""``bomplan completion``: the script that makes a shell complete commands and names."""

from __future__ import annotations

import click

from bomplan.cli.options import CONTEXT

VARIABLE = "_BOMPLAN_COMPLETE"


@click.command("completion", context_settings=CONTEXT)
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
def COMMAND(shell: str) -> int:  # noqa: N802
    """Print the script that makes a shell complete commands, flags and names.

    \b
    Put one of these lines into the file that your shell reads at its start:
      bash (~/.bashrc):   eval "$(bomplan completion bash)"
      zsh (~/.zshrc):     eval "$(bomplan completion zsh)"
      fish (config.fish): bomplan completion fish | source

    \b
    Example:
      bomplan completion bash
    """
    from click.shell_completion import get_completion_class

    from bomplan.cli.app import command

    found = get_completion_class(shell)
    assert found is not None
    if shell == "bash":
        # The library asks the shell for its version here, which may not be installed.
        found._check_version = staticmethod(lambda: None)  # type: ignore[attr-defined]
    print(found(command, {}, "bomplan", VARIABLE).source())
    return 0
