"""Older formats of the project file brought up to date, step by step.

A step takes a file of one format to the next one; it works on plain tables as well as on a
document that keeps its comments, so that a file can be opened as it is and also be rewritten
on request. A step is never changed once released, and never removed.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

from bomplan.errors import Fault, InputError

# The newest format that this program writes and reads.
FORMAT: Final = 1

Step = Callable[[Any], None]
# From this format to the next; filled with the first release that changes the format.
STEPS: Final[Mapping[int, Step]] = {}


def upgrade(
    raw: Any, file: str, *, steps: Mapping[int, Step] = STEPS, newest: int = FORMAT
) -> int | None:
    """Bring ``raw`` (a file as parsed) to the newest format, in place.

    Returns the format that it had, None where it names none that can be read (the checks of
    the whole file say so). Raises InputError for a file of a newer program.
    """
    found = raw.get("format")
    if not isinstance(found, int) or isinstance(found, bool):
        return None
    if found > newest:
        raise InputError(
            [
                Fault(
                    "project.format-newer",
                    "was written for a newer bomplan",
                    file,
                    "format",
                    str(found),
                    f"up to {newest}",
                    "install the newest bomplan; this one cannot know what has changed",
                )
            ]
        )
    if found < 1:
        return None
    for number in range(found, newest):
        steps[number](raw)
        raw["format"] = number + 1
    return int(found)


def editable(text: str, file: str) -> Any:
    """The text as a document that keeps its comments and order. Raises InputError."""
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    try:
        return tomlkit.parse(text.replace("\r\n", "\n"))
    except TOMLKitError as error:
        # A key that is given twice is another error of the library than a slip of syntax.
        fault = Fault("project.syntax", f"is no valid TOML: {str(error).lower()}", file)
    except (RecursionError, ValueError):
        # A number of thousands of digits, or lists nested without end.
        fault = Fault("project.syntax", "holds something that no project file needs", file)
    raise InputError([fault])


def upgrade_text(
    text: str, file: str, *, steps: Mapping[int, Step] = STEPS, newest: int = FORMAT
) -> str:
    """A project file's text in the newest format, comments and order kept.

    Raises InputError for a file of a newer program.
    """
    import tomlkit

    windows = "\r\n" in text
    document = editable(text, file)
    upgrade(document, file, steps=steps, newest=newest)
    changed = tomlkit.dumps(document)
    return changed.replace("\n", "\r\n") if windows else changed
