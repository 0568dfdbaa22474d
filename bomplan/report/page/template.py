"""Templates into pages: everything escaped, and a policy that lets nothing in or out.

The page carries its own style and, if any, script; a Content-Security-Policy names them by
digest and forbids all else: no network, no frame, no form, no other script or style.
"""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from jinja2 import Environment

FOLDER: Final = Path(__file__).parent / "templates"


def page_bytes(template: str, *, script: str = "readout.js", **values: Any) -> bytes:
    """The page as UTF-8 bytes. ``script`` is the name of our script, blank for none."""
    from bomplan.report.page import palette

    colours = {
        name.lower(): value for name, value in vars(palette).items() if isinstance(value, str)
    }
    style = _text("style.css")
    for name, value in colours.items():
        style = style.replace(f"--{name};", value + ";")
    code = _text(script) if script else ""
    text = (
        _environment()
        .get_template(template)
        .render(
            style=style,
            script=code,
            policy=policy(style, code),
            **values,
        )
    )
    return text.encode("utf-8")


def policy(style: str, script: str) -> str:
    """The Content-Security-Policy of a page with this style and script."""
    rules = ["default-src 'none'", f"style-src {_digest(style)}"]
    if script:
        rules.append(f"script-src {_digest(script)}")
    return "; ".join([*rules, "base-uri 'none'", "form-action 'none'"])


def _digest(text: str) -> str:
    found = base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")
    return f"'sha256-{found}'"


@cache
def _text(name: str) -> str:
    return (FOLDER / name).read_text("utf-8")


@cache
def _environment() -> Environment:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    return Environment(
        loader=FileSystemLoader(FOLDER),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
