"""Every kind of file that a person hands to the program, and the commands that read it."""

from __future__ import annotations

import contextlib
import io
import os
import signal
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from random import Random
from types import FrameType

from fuzz.mutate import spoil_json, spoil_text, spoil_zip

from bomplan.cli import main

# A hang is a fault too. Far above what any of these commands takes on a loaded machine.
LIMIT_S = 90


@dataclass(frozen=True)
class Surface:
    """A file (relative to the folder), how it is spoilt, and one command line for each reader."""

    file: str
    spoil: Callable[[bytes, Random], bytes]
    commands: tuple[tuple[str, ...], ...]
    # What a command may write when it accepts the spoilt file.
    writes: tuple[str, ...] = ()


AUDIT_LIST = (
    *("audit", "list.csv", "--project", "car", "--parallel", "3"),
    *("--placement", "bonnet=1", "--placement", "bed=3"),
)
SURFACES = {
    "project": Surface(
        "car/project.toml",
        spoil_text,
        (("project", "check", "car"), AUDIT_LIST),
    ),
    "catalogue": Surface(
        "car/mine/module.csv",
        spoil_text,
        (("catalog", "check", "car/mine"), ("project", "check", "car", "--verbose")),
    ),
    "offers": Surface(
        "car/mine/offers.csv",
        spoil_text,
        (("catalog", "check", "car/mine"), AUDIT_LIST),
    ),
    "route": Surface("car/garden-round.csv", spoil_text, (("project", "check", "car"),)),
    "plan": Surface("out/plan.json", spoil_json, (("audit", "out"), ("audit", "out", "--json"))),
    "plan to weigh": Surface("out/plan.json", spoil_json, (("weigh", "out", "readings.toml"),)),
    "readings": Surface("readings.toml", spoil_text, (("weigh", "out", "readings.toml"),)),
    "typed list": Surface("list.csv", spoil_text, (AUDIT_LIST,)),
    "ledger": Surface("car/ledger.csv", spoil_text, (("ledger", "show", "car"),)),
    "workbook": Surface(
        "out/bom.xlsx",
        spoil_zip,
        (
            ("ledger", "read", "out/bom.xlsx", "--project", "car"),
            ("catalog", "update", "car/mine", "--from", "out/bom.xlsx"),
        ),
        writes=("car/ledger.csv",),
    ),
    "prices": Surface(
        "prices.csv", spoil_text, (("catalog", "update", "car/mine", "--from", "prices.csv"),)
    ),
    "shop list": Surface(
        "shop.csv",
        spoil_text,
        (("catalog", "import", "shop.csv", "--into", "taken", "--family", "throttle",
          "--map", "Weight=mass_kg [lb]", "--set", "currency=EUR"),),
    ),
    "mapping": Surface(
        "fed/import.toml",
        spoil_text,
        (
            ("catalog", "import", "shop.csv", "--into", "fed"),
            ("catalog", "import", "shop.csv", "--into", "fed", "--as", "pedals", "--family",
             "throttle", "--map", "Name=description", "--set", "currency=EUR", "--yes"),
        ),
        writes=("fed/import.toml", "fed/throttle.csv"),
    ),
    "project to edit": Surface(
        "car/project.toml",
        spoil_text,
        (
            ("project", "set", "car", "donor.gross_limit=1700 kg"),
            ("project", "migrate", "car"),
        ),
        writes=("car/project.toml",),
    ),
    "settings": Surface("settings/settings.toml", spoil_text, (("settings",),)),
}  # fmt: skip


def hold(surface: Surface, seed: int, folder: Path, good: bytes) -> str:
    """Spoil the surface's file by ``seed``, run a command, and return what it said.

    Raises AssertionError when the program crashed, hung, was silent about a refusal, or
    changed a file that it should not have.
    """
    random = Random(seed)
    path = folder / surface.file
    spoilt = surface.spoil(good, random)
    path.write_bytes(spoilt)
    arguments = list(random.choice(surface.commands))
    before = _marks(folder)
    held = {name: (folder / name).read_bytes() for name in surface.writes if name in before}
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err), _limited():
        status = main(arguments)
    said = f"{' '.join(arguments)} -> {status}\n{err.getvalue()[-3000:]}"
    try:
        assert status in (0, 1, 2), said
        assert "Traceback" not in err.getvalue() + out.getvalue(), said
        assert status != 2 or err.getvalue().startswith("error: "), said
        assert len(err.getvalue()) < 100_000, "an endless message"
        after = _marks(folder)
        allowed = set(surface.writes)
        assert surface.file in allowed or path.read_bytes() == spoilt, said
        changed = {
            name
            for name in before.keys() | after.keys()
            if before.get(name) != after.get(name) and name not in allowed
        }
        assert not changed, (changed, said)
    finally:
        for name in surface.writes:
            if name in held:
                (folder / name).write_bytes(held[name])
            else:
                (folder / name).unlink(missing_ok=True)
        # Last: the spoilt file may be one of those that are written.
        path.write_bytes(good)
    return said


def _marks(folder: Path) -> dict[str, tuple[int, int, int]]:
    """Every file with what changes when it is written, replaced or cut."""
    found = {}
    for place, _, names in os.walk(folder):
        for name in names:
            at = os.stat(os.path.join(place, name))  # noqa: PTH116, PTH118 (thousands of times)
            relative = os.path.relpath(os.path.join(place, name), folder)  # noqa: PTH118
            found[relative] = (at.st_size, at.st_mtime_ns, at.st_ino)
    return found


@contextlib.contextmanager
def _limited() -> Iterator[None]:
    def late(number: int, frame: FrameType | None) -> None:
        del number, frame
        raise AssertionError(f"no answer within {LIMIT_S} s")

    before = signal.signal(signal.SIGALRM, late)
    signal.alarm(LIMIT_S)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)
