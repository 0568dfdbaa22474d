"""The command line. Each command is a module that reads arguments, calls once and shows."""

from bomplan.cli.main import main

__all__ = ["main"]
