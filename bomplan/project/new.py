"""A commented project file to start from; nothing that exists is ever overwritten."""

from __future__ import annotations

import difflib
from importlib import resources
from pathlib import Path
from typing import Final

from bomplan.errors import Fault, InputError

# Template name = the files it consists of, the project first.
TEMPLATES: Final[dict[str, tuple[str, ...]]] = {
    "garden-pickup": ("garden-pickup.toml", "garden-round.csv"),
    "courier-motorcycle": ("courier-motorcycle.toml",),
    "camper-van": ("camper-van.toml",),
    "empty": ("empty.toml",),
}


def write_template(kind: str, path: Path | str) -> tuple[Path, ...]:
    """Write the template ``kind`` to ``path`` and its route files beside it.

    ``path`` is the project file, or a folder, which then gets ``project.toml``; folders are
    made as needed. Returns the files written, the project first. Raises InputError if the
    template is unknown, or if a file to be written exists; then nothing is written.
    """
    if kind not in TEMPLATES:
        near = difflib.get_close_matches(kind, TEMPLATES, n=1, cutoff=0.4)
        raise InputError(
            [
                Fault(
                    "new.unknown-template",
                    "there is no such example",
                    value=kind,
                    allowed=", ".join(TEMPLATES),
                    hint=f'did you mean "{near[0]}"?' if near else None,
                )
            ]
        )
    target = Path(path)
    if target.is_dir() or not target.suffix:
        target = target / "project.toml"
    source = resources.files("bomplan.project") / "templates"
    first, *beside = TEMPLATES[kind]
    texts = {target: (source / first).read_bytes()}
    texts.update({target.parent / name: (source / name).read_bytes() for name in beside})
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
