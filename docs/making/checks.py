"""The page of checks, read out of the source that makes them.

Every check is made by a call of a few known names with its id and words as the first two
arguments. What such a call fills in while it runs (a name, a figure) is shown as ``…``.
"""

from __future__ import annotations

import ast
import importlib
import inspect
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType

from bomplan.source import KINDS, Source

ROOT = Path(__file__).parents[2]
# Name of the maker: (sense, place of the unit, place of the source) among its arguments.
MAKERS = {
    "at_most": ("at most", 4, 5),
    "at_least": ("at least", 4, 5),
    "same": ("must be so", None, 3),
    "Finding": (None, 4, 6),
    "MassRow": ("at most", None, 9),
}
ROOMS = ("bomplan/requirements", "bomplan/design/bill", "bomplan/sizing", "bomplan/audit")
# The four kinds of target share one call site each; their ids are made from the target's name.
TARGETS = {
    "km": "range.…",
    "km/h": "speed.…",
    "N": "climb.…",
    "s": "acceleration.…",
}

INTRODUCTION = """\
# Checks

Every check that a plan can carry, read out of the program's source. A plan holds those that its
parts and targets call for; `bomplan audit` makes them all anew. A check has an id, a value, a
limit, a unit, the side on which the value must lie, whether it passed, and the source of the
rule. `…` stands for what depends on the plan: the name of a target, a load case, a bay or a
part. How well the source is known stands in a column of its own (key `source_kind` of the plan
file); a check that rests on several sources has the kind of the weakest:

"""
# Makers of a source by name, with the kind that they give.
SOURCES = {
    "recalled": "from memory",
    "practice": "common practice",
    "seen": "seen",
    "computed": "computed",
    "given": "given",
    "published": "as the data say",
}


@dataclass(frozen=True)
class Made:
    """One call that makes a check."""

    id: str
    words: str
    sense: str
    unit: str
    source: str
    kind: str


def page() -> str:
    """Markdown: a table of checks for every module that makes some."""
    kinds = "\n".join(f"- *{kind}*: {words}." for kind, words in KINDS.items())
    parts = [f"{INTRODUCTION}{kinds}\n"]
    for room in ROOMS:
        for path in sorted((ROOT / room).rglob("*.py")):
            tree = ast.parse(path.read_text("utf-8"))
            made = list(dict.fromkeys(_made(tree, _module(path))))
            if not made:
                continue
            title = (ast.get_docstring(tree) or path.stem).splitlines()[0].rstrip(".")
            parts.append(f"## {title}\n")
            parts.append("| check | what is looked at | good | unit | source | how known |")
            parts.append("|---|---|---|---|---|---|")
            parts += [
                f"| `{one.id}` | {one.words} | {one.sense} | {one.unit} | {one.source}"
                f" | {one.kind} |"
                for one in made
            ]
            parts.append("")
    return "\n".join(parts)


def patterns() -> tuple[str, ...]:
    """The ids of all checks, ``…`` standing for anything."""
    return tuple(
        one.id
        for room in ROOMS
        for path in sorted((ROOT / room).rglob("*.py"))
        for one in _made(ast.parse(path.read_text("utf-8")), _module(path))
    )


def _module(path: Path) -> ModuleType:
    name = ".".join(path.relative_to(ROOT).with_suffix("").parts)
    return importlib.import_module(name.removesuffix(".__init__"))


def _made(tree: ast.Module, module: ModuleType) -> Iterator[Made]:
    names = _constants(tree)
    sources = _sources(tree, names)
    calls = [node for node in ast.walk(tree) if isinstance(node, ast.Call)]
    for call in sorted(calls, key=lambda call: (call.lineno, call.col_offset)):
        name = call.func.id if isinstance(call.func, ast.Name) else ""
        if name == "vehicle_check":
            family = _text(call.args[0], names) or "…"
            yield Made(
                f"{family}.vehicle",
                f"the {family} row is made for this kind of vehicle",
                "must be so",
                "",
                "common practice",
                "common practice",
            )
        if name not in MAKERS or len(call.args) < 4:
            continue
        sense, unit_place, source_place = MAKERS[name]
        unit = _argument(call, unit_place, names)
        check_id = _text(call.args[0], names)
        if check_id is None and isinstance(call.args[0], ast.Attribute):
            check_id = TARGETS.get(unit)
        if check_id is None or check_id == "…":
            continue
        if name == "Finding":
            check_id = check_id.replace("-", ".", 1)
            sense = _argument(call, 5, names)
        source, kind = _source(call, source_place, names, sources, module)
        yield Made(
            check_id,
            _cell(_text(call.args[1], names) or "…"),
            sense or "",
            "kg" if name == "MassRow" else unit,
            _cell(source),
            kind,
        )


def _source(
    call: ast.Call,
    place: int | None,
    names: dict[str, str],
    sources: dict[str, tuple[str, str]],
    module: ModuleType,
) -> tuple[str, str]:
    """Words and kind of the source of a check, as far as the code alone tells."""
    if place is None or place >= len(call.args):
        return "…", "…"
    node = call.args[place]
    if isinstance(node, ast.Name) and node.id in sources:
        return sources[node.id]
    made = _made_source(node, names)
    if made is not None:
        return made
    if isinstance(node, ast.Call):
        return _told_by(node, module)
    found: object = module
    for name in ast.unparse(node).split("."):
        found = getattr(found, name, None)
    return (found.words, found.kind) if isinstance(found, Source) else ("…", "…")


def _told_by(call: ast.Call, module: ModuleType) -> tuple[str, str]:
    """The sources that a function of the module chooses from, if all are of one kind."""
    function = getattr(module, ast.unparse(call.func), None)
    if not inspect.isfunction(function):
        return "…", "…"
    names = (
        node.id
        for node in ast.walk(ast.parse(inspect.getsource(function)))
        if isinstance(node, ast.Name)
    )
    found = [one for name in names if isinstance(one := getattr(module, name, None), Source)]
    kinds = {one.kind for one in found}
    words = "; or: ".join(sorted({one.words for one in found}))
    return (words, kinds.pop()) if len(kinds) == 1 else ("…", "…")


def _made_source(node: ast.expr, names: dict[str, str]) -> tuple[str, str] | None:
    maker = node.func.id if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) else ""
    if not isinstance(node, ast.Call) or maker not in SOURCES or not node.args:
        return None
    return _text(node.args[0], names) or "…", SOURCES[maker]


def _sources(tree: ast.Module, names: dict[str, str]) -> dict[str, tuple[str, str]]:
    """Names within functions that stand for a source."""
    return {
        node.targets[0].id: made
        for node in ast.walk(tree)
        if isinstance(node, ast.Assign)
        and isinstance(node.targets[0], ast.Name)
        and (made := _made_source(node.value, names)) is not None
    }


def _argument(call: ast.Call, place: int | None, names: dict[str, str]) -> str:
    if place is None or place >= len(call.args):
        return ""
    return _text(call.args[place], names) or "…"


def _constants(tree: ast.Module) -> dict[str, str]:
    """Names of the module and its functions that stand for a piece of text.

    Not those of a class body: a rule's ``family`` is another rule's argument.
    """
    names: dict[str, str] = {}
    bodies = [node.body for node in ast.walk(tree) if isinstance(node, ast.ClassDef)]
    of_classes = {id(statement) for body in bodies for statement in body}
    for node in ast.walk(tree):
        if id(node) in of_classes:
            continue
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            text = _text(node.value, names)
            if text is not None and text != "…":
                names[node.targets[0].id] = text
    return names


def _text(node: ast.expr, names: dict[str, str]) -> str | None:
    """The text that an expression gives, as far as the source alone tells; else None."""
    if isinstance(node, ast.Constant):
        return node.value if isinstance(node.value, str) else None
    if isinstance(node, ast.Name):
        return names.get(node.id)
    if isinstance(node, ast.JoinedStr):
        pieces = [
            str(part.value) if isinstance(part, ast.Constant) else _text(part.value, names) or "…"
            for part in node.values
            if isinstance(part, (ast.Constant, ast.FormattedValue))
        ]
        return "".join(pieces)
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        left, right = _text(node.left, names), _text(node.right, names)
        return f"{left or '…'}{right or '…'}" if left or right else None
    return None


def _cell(text: str) -> str:
    return text.replace("|", "\\|")
