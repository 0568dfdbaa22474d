"""What a person likes to see, and from which of four places it is taken.

Flag > project > user file > default. The table below is the one definition: it drives
reading, checking, ``bomplan settings`` and the page in ``docs/reference/``.
"""

from __future__ import annotations

import difflib
import os
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from bomplan.errors import Fault, InputError

if TYPE_CHECKING:
    from bomplan.project import Project
    from bomplan.report.units import Show

FILE_NAME: Final = "settings.toml"
FOLDER_VARIABLE: Final = "BOMPLAN_CONFIG_DIR"


@dataclass(frozen=True)
class Setting:
    """One setting: its key in the user's file, its flag, its key in a project."""

    key: str
    words: str
    default: str | bool | int
    choices: tuple[str, ...] = ()
    most: int = 0
    flag: str = ""
    project_key: str = ""

    def allowed(self) -> str:
        if self.choices:
            return ", ".join(f'"{choice}"' for choice in self.choices)
        return "true or false" if isinstance(self.default, bool) else f"1 to {self.most}"

    def fits(self, value: object) -> bool:
        if self.choices:
            return value in self.choices
        if isinstance(self.default, bool):
            return isinstance(value, bool)
        return isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= self.most


SETTINGS: Final[tuple[Setting, ...]] = (
    Setting(
        "units",
        "units on the terminal and in report.html; other files stay metric",
        "metric",
        choices=("metric", "us"),
        flag="--units",
        project_key="show.units",
    ),
    Setting(
        "decimal_comma",
        "1,5 instead of 1.5 on the terminal and in report.html; other files keep the point",
        False,
        flag="--decimal-comma, --decimal-point",
        project_key="show.decimal_comma",
    ),
    Setting(
        "workers",
        "processes that search side by side; the plan is the same with any number",
        1,
        most=64,
        flag="--workers",
    ),
    Setting(
        "colour",
        "colour on a terminal; NO_COLOR in the environment turns it off, too",
        "auto",
        choices=("auto", "never"),
    ),
)


@dataclass(frozen=True)
class Resolved:
    """Every setting's value and where it came from."""

    values: Mapping[str, Any]
    homes: Mapping[str, str]

    @property
    def workers(self) -> int:
        return int(self.values["workers"])

    def show(self) -> Show:
        """How figures are to be written."""
        from bomplan.report.units import Show

        return Show(self.values["units"], bool(self.values["decimal_comma"]))


def settings_path() -> Path:
    """The user's own file, whether it exists or not."""
    folder = os.environ.get(FOLDER_VARIABLE) or click.get_app_dir("bomplan")
    return Path(folder) / FILE_NAME


def resolve(flags: Mapping[str, Any] | None = None, project: Project | None = None) -> Resolved:
    """The settings that hold. ``flags`` by key, None where nothing was asked.

    Raises InputError with everything wrong in the user's file.
    """
    user = _user_file(settings_path())
    values: dict[str, Any] = {}
    homes: dict[str, str] = {}
    for setting in SETTINGS:
        key = setting.key
        asked = (flags or {}).get(key)
        told = getattr(project.show, key, None) if project and setting.project_key else None
        if asked is not None:
            values[key], homes[key] = asked, "flag"
        elif told is not None:
            values[key], homes[key] = told, "project"
        elif key in user:
            values[key], homes[key] = user[key], "user file"
        else:
            values[key], homes[key] = setting.default, "default"
    return Resolved(values, homes)


def _user_file(path: Path) -> dict[str, Any]:
    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        return {}
    except (OSError, UnicodeDecodeError):
        raise InputError(
            [Fault("settings.unreadable", "cannot be read as text in UTF-8", str(path))]
        ) from None
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        said = str(error)
        fault = Fault(
            "settings.syntax", f"is no valid TOML: {said[:1].lower()}{said[1:]}", str(path)
        )
        raise InputError([fault]) from None
    except (RecursionError, ValueError):
        # A number of thousands of digits, or lists nested without end.
        fault = Fault("settings.syntax", "holds something that no setting needs", str(path))
        raise InputError([fault]) from None
    known = {setting.key: setting for setting in SETTINGS}
    faults = []
    for key, value in raw.items():
        if key not in known:
            near = difflib.get_close_matches(key, known, n=1)
            hint = f"did you mean {near[0]}?" if near else None
            allowed = ", ".join(known)
            faults.append(
                Fault("settings.unknown-key", "is no setting", str(path), key, None, allowed, hint)
            )
        elif not known[key].fits(value):
            allowed = known[key].allowed()
            faults.append(Fault("settings.value", "cannot be", str(path), key, str(value), allowed))
    if faults:
        raise InputError(faults)
    return raw


def settings_page() -> str:
    """The page of the documentation, in Markdown."""
    lines = [
        "# Settings",
        "",
        "Each setting is looked for in four places, and the first that says something counts:",
        "**flag > project > user file > default**. This page is made from the program's own",
        "table: `python -m bomplan.cli.settings > docs/reference/settings.md`.",
        "",
        "| setting | what it is | allowed | default | flag | project key |",
        "|---|---|---|---|---|---|",
    ]
    for one in SETTINGS:
        default = str(one.default).lower() if isinstance(one.default, bool) else str(one.default)
        flag = ", ".join(f"`{name}`" for name in one.flag.split(", ")) if one.flag else "none"
        key = f"`{one.project_key}`" if one.project_key else "none"
        lines.append(
            f"| `{one.key}` | {one.words} | {one.allowed()} | `{default}` | {flag} | {key} |"
        )
    return "\n".join(lines) + _NOTES


_NOTES = f"""

**In a project** they stand in a table of their own:

```toml
[show]
units = "us"
decimal_comma = true
```

**The user file** is `{FILE_NAME}` in the folder that the system keeps for such files
(`bomplan settings` prints the whole path: under `~/.config/bomplan` on Linux,
`~/Library/Application Support/bomplan` on macOS, `%APPDATA%\\bomplan` on Windows):

```toml
units = "metric"
decimal_comma = true
workers = 2
colour = "auto"
```

`{FOLDER_VARIABLE}` in the environment names another folder. `NO_COLOR` (any value that is not
empty) turns colour off; so does a terminal that calls itself `dumb`, and there is never any
colour in a file or a pipe.

What a setting changes is only how things are shown, and how many processes work. No setting
changes a plan, a check, a workbook's figures or a file that the program writes: there all is
metric, with a decimal point, and dates are ISO 8601.

Beside these, each command has flags for the single run (`--out`, `--catalog`, `--json`,
`--quiet`, `--verbose`): `bomplan COMMAND --help` lists them. How a project file itself is read
(`decimal_comma = true` at its top) is a property of that file and not a setting.
"""


if __name__ == "__main__":
    print(settings_page(), end="")
