"""Outputs on disk: written whole or not at all, and never over a person's own work.

Beside the outputs lies a small record (``.bomplan-outputs.json``) of the SHA-256 of what was
written last. A file that no longer matches it was changed by somebody; it is kept beside
under a free name before ours takes its place. A lock in the same folder makes two runs take
turns, so that the set of files and the record are always those of one run.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import json
import os
import secrets
import shutil
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Final

from bomplan.errors import Fault, InputError

RECORD_NAME: Final = ".bomplan-outputs.json"
LOCK_NAME: Final = ".bomplan-outputs.lock"
LOCK_PATIENCE_S: Final = 30.0
_PART_SUFFIX: Final = ".bomplan-part"
# Parts of this process that may not have taken their place yet.
_LIVE: Final[set[Path]] = set()


@dataclass(frozen=True)
class Written:
    """One output: where it is, and where the changed file that stood there was kept."""

    path: Path
    kept: Path | None = None


def write_outputs(
    folder: Path, files: Mapping[str, bytes], renewed: str = ""
) -> tuple[Written, ...]:
    """Write ``files`` (name: content) into ``folder``, which is made when missing.

    ``renewed`` names a folder in it (``drawings``) of which this is the whole new set: what we
    wrote there before and is not among ``files`` goes, unless somebody changed it.

    A name is plain, or one folder and a plain name with a stroke between (``drawings/car.svg``).

    All contents are on disk under temporary names before the first one takes its place, so
    a full disk leaves the old outputs as they were. Raises InputError (``output.*``) when
    the folder or a file in it cannot be written.
    """
    for name in files:
        if not _is_output_name(name):
            raise ValueError(f"not a plain output name: {name!r}")
    folder = Path(folder)
    with _in_words(folder):
        places = list(dict.fromkeys((folder, *((folder / name).parent for name in files))))
        for place in places:
            _make_folder(place)
        with _turn(folder) as alone:
            if alone:
                for place in places:
                    _sweep(place)
            return _write_set(folder, files, renewed)


def replace_files(files: Mapping[Path, bytes]) -> None:
    """Put each content in the place of its file, which a person asked us to change.

    All contents are on disk under temporary names before the first takes its place; a file
    that is a link keeps being one, permissions stay. Raises InputError (``output.*``); then
    at most files that were already in place have changed, each whole.
    """
    parts: dict[Path, Path] = {}
    with _in_words(next(iter(files), Path()).parent):
        try:
            for path, content in files.items():
                target = path.resolve() if path.is_symlink() else path
                target.parent.mkdir(parents=True, exist_ok=True)
                parts[target] = _write_part(target.parent, target.name, content)
                if target.exists():
                    shutil.copymode(target, parts[target])
            for target, part in list(parts.items()):
                part.replace(target)
                del parts[target]
                _sync_folder(target.parent)
        finally:
            for part in parts.values():
                with contextlib.suppress(OSError):
                    part.unlink()


def keep_beside(path: Path) -> Path:
    """A copy of a file beside it under a free name (``ledger.kept-1.csv``), before it changes.

    Raises InputError (``output.*``).
    """
    with _in_words(path.parent):
        for number in range(1, 100_000):
            kept = path.with_name(f"{path.stem}.kept-{number}{path.suffix}")
            try:
                with path.open("rb") as source, kept.open("xb") as copy:
                    shutil.copyfileobj(source, copy)
                    copy.flush()
                    os.fsync(copy.fileno())
            except FileExistsError:
                continue
            return kept
        raise OSError(errno.EEXIST, "too many kept files", str(path))


def as_written(path: Path) -> bool:
    """Whether the file is, to the byte, what we wrote there last."""
    try:
        return digest(path.read_bytes()) in _read_record(path.parent).get(path.name, ())
    except OSError:
        return False


def digest(content: bytes) -> str:
    """SHA-256 of ``content`` as hex digits."""
    return hashlib.sha256(content).hexdigest()


def _write_set(folder: Path, files: Mapping[str, bytes], renewed: str) -> tuple[Written, ...]:
    record = _read_record(folder)
    parts: dict[str, Path] = {}
    kept: dict[str, Path | None] = {}
    try:
        for name, content in files.items():
            target = folder / name
            parts[name] = _write_part(target.parent, target.name, content)
        # Noted before and after: a run that dies in between leaves no file that the next
        # run would take for somebody's own work.
        ours = {name: (*record.get(name, ()), digest(content)) for name, content in files.items()}
        _save_record(folder, {**record, **ours})
        # A workbook that is open in an office program cannot be replaced on some systems: it
        # goes first, so that then the whole earlier set stays.
        for name in sorted(files, key=lambda name: not name.endswith(".xlsx")):
            target = folder / name
            kept[name] = _keep_changed(target, ours[name])
            parts[name].replace(target)
            del parts[name]
        if renewed:
            gone = [name for name in record if name.startswith(f"{renewed}/")]
            for name in (name for name in gone if name not in files):
                if _remove_ours(folder / name, record[name]):
                    del record[name]
        done = {name: (digest(content),) for name, content in files.items()}
        _save_record(folder, {**record, **done})
        for place in dict.fromkeys((folder / name).parent for name in files):
            _sync_folder(place)
    finally:
        for part in parts.values():
            with contextlib.suppress(OSError):
                part.unlink()
        _LIVE.difference_update(parts.values())
    return tuple(Written(folder / name, kept[name]) for name in files)


def _remove_ours(target: Path, ours: tuple[str, ...]) -> bool:
    """Remove a file that is, to the byte, what we wrote; False where it stays."""
    if target.is_symlink() or not target.is_file():
        return not target.exists()
    if digest(target.read_bytes()) not in ours:
        return False
    target.unlink()
    return True


def _is_output_name(name: str) -> bool:
    """Whether it stays in the folder: one plain name, or a folder and one."""
    steps = name.split("/")
    plain = all(step and Path(step).name == step and step != ".." for step in steps)
    return plain and len(steps) <= 2 and name not in (RECORD_NAME, LOCK_NAME)


def _make_folder(folder: Path) -> None:
    if folder.exists() and not folder.is_dir():
        raise InputError(
            [
                Fault(
                    code="output.not-a-folder",
                    message="the outputs need a folder, and this is a file",
                    file=str(folder),
                    hint="name another folder with --out",
                )
            ]
        )
    folder.mkdir(parents=True, exist_ok=True)


def _write_part(folder: Path, name: str, content: bytes) -> Path:
    """The content, safely on disk, under a name that no other run uses."""
    part = folder / f".{name}.{os.getpid()}-{secrets.token_hex(6)}{_PART_SUFFIX}"
    _LIVE.add(part)
    # O_EXCL and 0o666: a new file with the permissions that the person's umask gives.
    handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
    except BaseException:
        with contextlib.suppress(OSError):
            part.unlink()
        raise
    return part


def _keep_changed(target: Path, ours: tuple[str, ...]) -> Path | None:
    """Keep what stands at ``target`` beside it, unless it is exactly what we wrote."""
    if target.is_dir():
        raise IsADirectoryError(errno.EISDIR, "is a folder", str(target))
    if not target.exists() and not target.is_symlink():
        return None
    if target.is_file() and not target.is_symlink() and digest(target.read_bytes()) in ours:
        return None
    for number in range(1, 100_000):
        kept = target.with_name(f"{target.stem}.kept-{number}{target.suffix}")
        try:
            _copy_aside(target, kept)
        except FileExistsError:
            continue
        return kept
    raise OSError(errno.EEXIST, "too many kept files", str(target))


def _copy_aside(target: Path, kept: Path) -> None:
    """Give ``target`` a second name, at once where the file system can, else as a copy."""
    if target.is_symlink():
        kept.symlink_to(target.readlink())
        return
    try:
        os.link(target, kept)
        return
    except FileExistsError:
        raise
    except OSError:
        pass
    with target.open("rb") as source, kept.open("xb") as copy:
        shutil.copyfileobj(source, copy)
        copy.flush()
        os.fsync(copy.fileno())


def _read_record(folder: Path) -> dict[str, tuple[str, ...]]:
    """What was written last; empty when there is no readable record (then all is kept)."""
    try:
        data = json.loads((folder / RECORD_NAME).read_text("utf-8"))
        files = data["files"]
        return {str(name): tuple(str(one) for one in sums) for name, sums in files.items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return {}


def _save_record(folder: Path, record: Mapping[str, tuple[str, ...]]) -> None:
    data = {
        "format": "bomplan-outputs",
        "version": 1,
        "files": {name: list(record[name]) for name in sorted(record)},
    }
    text = json.dumps(data, indent=1, ensure_ascii=False) + "\n"
    part = _write_part(folder, RECORD_NAME.lstrip("."), text.encode("utf-8"))
    part.replace(folder / RECORD_NAME)


def discard_parts() -> None:
    """Remove what this process has begun to write and not put in place: it is about to end."""
    for part in list(_LIVE):
        with contextlib.suppress(OSError):
            part.unlink()


def _sweep(folder: Path) -> None:
    """Remove what a run that was killed has left; only called while we hold the lock."""
    for part in folder.glob(f".*{_PART_SUFFIX}"):
        with contextlib.suppress(OSError):
            part.unlink()


def _sync_folder(folder: Path) -> None:
    if os.name != "posix":
        return
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


@contextlib.contextmanager
def _turn(folder: Path) -> Iterator[bool]:
    """Wait for our turn in the folder; False where the file system knows no locks."""
    with (folder / LOCK_NAME).open("a+b") as stream:
        deadline = time.monotonic() + LOCK_PATIENCE_S
        while True:
            state = _try_lock(stream)
            if state != "taken":
                break
            if time.monotonic() > deadline:
                raise InputError(
                    [
                        Fault(
                            code="output.busy",
                            message="another run has been writing here for "
                            f"{LOCK_PATIENCE_S:.0f} seconds",
                            file=str(folder),
                            hint="wait for it to end, or name another folder with --out",
                        )
                    ]
                )
            time.sleep(0.02)
        # The system lets go of the lock when the file is closed, also when we are killed.
        yield state == "ours"


def _try_lock(stream: IO[bytes]) -> str:
    """ "ours", "taken" (by another run) or "none" (this file system has no locks)."""
    try:
        if os.name == "nt":  # pragma: no cover
            import msvcrt

            stream.seek(0)
            msvcrt.locking(stream.fileno(), msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined]
        else:
            import fcntl

            fcntl.flock(stream.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        if error.errno in (errno.EAGAIN, errno.EACCES, errno.EWOULDBLOCK, errno.EDEADLK):
            return "taken"
        return "none"
    return "ours"


@contextlib.contextmanager
def _in_words(folder: Path) -> Iterator[None]:
    """Turn what the system says about a file into a sentence."""
    try:
        yield
    except OSError as error:
        place = str(error.filename or folder)
        raise InputError([_fault(error, place)]) from error


def _fault(error: OSError, place: str) -> Fault:
    elsewhere = "name another folder with --out"
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return Fault(
            code="output.read-only",
            message="writing is not allowed here, or the file is open in another program",
            file=place,
            hint=f"close the file there, or {elsewhere}",
        )
    if error.errno in (errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC), errno.EFBIG):
        return Fault(
            code="output.full",
            message="there is no room left on this disk; the earlier outputs are as they were",
            file=place,
            hint=f"make room, or {elsewhere}",
        )
    if error.errno == errno.ENAMETOOLONG:
        return Fault(
            code="output.name-too-long",
            message="the name is too long for this file system",
            file=place,
            hint=elsewhere,
        )
    if error.errno in (errno.EISDIR, errno.ENOTDIR, errno.EEXIST):
        return Fault(
            code="output.in-the-way",
            message="something of another kind (a folder or a file) is in the way",
            file=place,
            hint=f"move it away, or {elsewhere}",
        )
    return Fault(
        code="output.failed",
        message=f"writing failed: {error.strerror or error}",
        file=place,
        hint=elsewhere,
    )
