"""A commented project file to start from; nothing that exists is ever overwritten."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Final

from bomplan.errors import Fault, InputError
from bomplan.project.classes import CLASSES, class_project
from bomplan.project.edit import Value, edit_text
from bomplan.project.load import LoadedProject, read_project

# Template name = the files it consists of, the project first.
TEMPLATES: Final[dict[str, tuple[str, ...]]] = {
    "garden-pickup": ("garden-pickup.toml", "garden-round.csv"),
    "courier-motorcycle": ("courier-motorcycle.toml",),
    "camper-van": ("camper-van.toml",),
    "empty": ("empty.toml",),
}


def write_template(
    kind: str, path: Path | str, changes: Mapping[str, Value] | None = None
) -> tuple[Path, ...]:
    """Write the template ``kind`` to ``path`` and its route files beside it.

    ``kind`` is an example, ``"empty"`` or a class of vehicles. ``path`` is the project file,
    or a folder, which then gets ``project.toml``; folders are made as needed. ``changes``
    (key = value, as in :func:`bomplan.project.edit.edit_project`) are made in the project
    before it is written. Returns the files written, the project first. Raises InputError if
    the template or a key is unknown, or if a file to be written exists; then nothing is
    written.
    """
    _known(kind)
    target = Path(path)
    if target.is_dir() or not target.suffix:
        target = target / "project.toml"
    texts = {target: _text(kind).encode("utf-8")}
    for name in TEMPLATES.get(kind, ())[1:]:
        texts[target.parent / name] = (_source() / name).read_bytes()
    if changes:
        edited = edit_text(texts[target].decode("utf-8"), target.name, changes)
        texts[target] = edited.encode("utf-8")
    existing = [
        Fault("new.exists", "exists already, and is left as it is", file=str(file),
              hint="choose another name or folder")
        for file in texts if file.exists()
    ]  # fmt: skip
    if existing:
        raise InputError(existing)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        for file, text in texts.items():
            with file.open("xb") as stream:
                stream.write(text)
    except OSError as error:
        message = f"cannot be written: {error.strerror}"
        raise InputError([Fault("new.unwritable", message, file=str(target))]) from None
    return tuple(texts)


def load_template(kind: str) -> LoadedProject:
    """The project of the template ``kind``, read where it is shipped: nothing is written.

    Raises InputError if the template is unknown.
    """
    _known(kind)
    with resources.as_file(_source()) as folder:
        return read_project(_text(kind), folder / "project.toml")


def _source() -> Traversable:
    return resources.files("bomplan.project") / "templates"


def _text(kind: str) -> str:
    if kind in CLASSES:
        return class_project(kind)
    return (_source() / TEMPLATES[kind][0]).read_text("utf-8")


def _known(kind: str) -> None:
    known = (*TEMPLATES, *CLASSES)
    if kind not in known:
        near = difflib.get_close_matches(kind, known, n=1, cutoff=0.4)
        raise InputError(
            [
                Fault(
                    "new.unknown-template",
                    "there is no such example or class",
                    value=kind,
                    allowed=f"{', '.join(TEMPLATES)}; by class: {', '.join(CLASSES)}",
                    hint=f'did you mean "{near[0]}"?' if near else None,
                )
            ]
        )
