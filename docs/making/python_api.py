"""The page of the Python interface, made from its signatures and docstrings."""

from __future__ import annotations

import inspect
from typing import Any

from bomplan import api

INTRODUCTION = """\
# From Python

The whole job in five lines:

```python
from bomplan import api

project = api.load_project("example:garden-pickup")
plan = api.plan(project)
print(api.summary(plan))
api.write_outputs(plan, "pickup-out")
```

Everything is typed. What stands here is public: a name or an argument goes away only after one
minor version in which using it warns. Records and their fields: [the plan file](plan-file.md).
"""


def page() -> str:
    """Markdown: each public function with its signature and what it says of itself."""
    parts = [INTRODUCTION]
    for name in api.__all__:
        made = getattr(api, name)
        if not callable(made):
            continue
        parts.append(f"## `api.{name}`\n\n```python\n{_signature(name, made)}\n```\n")
        parts.append(_plain(inspect.getdoc(made) or "") + "\n")
    return "\n".join(parts)


def _signature(name: str, made: Any) -> str:
    """``name(arguments) -> result``, one argument a line when it is long."""
    signature = inspect.signature(made)
    parts: list[str] = []
    for parameter in signature.parameters.values():
        if parameter.kind is parameter.KEYWORD_ONLY and "*" not in parts:
            parts.append("*")
        default = "" if parameter.default is parameter.empty else f" = {parameter.default!r}"
        parts.append(f"{parameter.name}: {parameter.annotation}{default}")
    result = f" -> {signature.return_annotation}"
    line = f"{name}({', '.join(parts)}){result}"
    if len(line) <= 88:
        return line
    return "\n".join([f"{name}(", *(f"    {part}," for part in parts), f"){result}"])


def _plain(text: str) -> str:
    """Docstring marks as Markdown."""
    return text.replace(":func:", "").replace("``", "`")
