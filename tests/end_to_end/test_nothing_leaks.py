"""No network, nothing run, nothing written but the outputs: seen by the interpreter's own audit.

Python reports every opened file, every socket, every started process and every compiled text
(``sys.addaudithook``, "Audit events table" of the library reference). A hook that cannot be
taken away again watches whole commands.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PLAN = ROOT / "tests" / "golden" / "released" / "1" / "plan.json"
WATCH = """
import json, os, sys
allowed = [os.path.realpath(p) for p in json.loads(os.environ["ALLOWED"])]
seen = []
WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND
CHANGES = ("os.remove", "os.rename", "os.rmdir", "os.mkdir", "os.truncate", "os.link",
           "os.symlink", "os.chmod", "os.chown", "os.utime", "shutil.rmtree", "shutil.move")
RUNS = ("subprocess.Popen", "os.system", "os.exec", "os.posix_spawn", "os.fork", "os.startfile",
        "webbrowser.open", "pty.spawn")

def inside(path):
    if isinstance(path, int) or path is None:
        return True
    path = os.path.realpath(os.fsdecode(path))
    return path == os.devnull or any(path == p or path.startswith(p + os.sep) for p in allowed)

def hook(event, args):
    if event.startswith("socket."):
        seen.append([event, repr(args[1:])])
    elif event in RUNS:
        seen.append([event, repr(args)])
    elif event in ("urllib.Request", "http.client.connect", "ftplib.connect", "smtplib.connect"):
        seen.append([event, repr(args)])
    elif event == "open" and (set("wxa+") & set(args[1] or "") or (args[2] or 0) & WRITES):
        if not inside(args[0]):
            seen.append([event, repr(args)])
    elif event in CHANGES:
        places = args[:2] if event in ("os.rename", "os.link", "shutil.move") else args[:1]
        if not all(inside(place) for place in places):
            seen.append([event, repr(args)])

sys.addaudithook(hook)
sys.dont_write_bytecode = True
from bomplan.cli import main
status = main(sys.argv[1:])
# What was seen so far: this file itself comes after it.
found = list(seen)
with open(os.environ["REPORT"], "w") as file:
    json.dump({"status": status, "seen": found}, file)
"""


def watched(
    arguments: list[str],
    here: Path,
    allowed: list[Path],
    expected: int = 0,
    home: Path | None = None,
) -> list[list[str]]:
    """What one command did that it should not have."""
    report = here / "report-of-the-watch.json"
    done = subprocess.run(
        [sys.executable, "-c", WATCH, *arguments],
        cwd=here,
        env=os.environ
        | {
            "ALLOWED": json.dumps([str(path) for path in allowed]),
            "REPORT": str(report),
            "BOMPLAN_CONFIG_DIR": str(here / "settings"),
            "PYTHONPATH": os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")]),
        }
        | ({} if home is None else {"HOME": str(home), "MPLCONFIGDIR": str(home / "plots")}),
        capture_output=True,
        text=True,
        timeout=600,
        check=False,
    )
    assert report.exists(), done.stderr
    told = json.loads(report.read_text())
    report.unlink()
    assert told["status"] == expected, done.stderr
    return list(told["seen"])


def test_the_watch_sees_what_it_should(tmp_path: Path) -> None:
    """Writing beside the allowed folder is noticed: the check can fail."""
    seen = watched(
        ["new", str(tmp_path / "car"), "--from", "courier-motorcycle"], tmp_path, [tmp_path / "no"]
    )
    assert {event for event, _ in seen} >= {"open", "os.mkdir"}


def test_small_commands(tmp_path: Path) -> None:
    assert watched(["new", "car", "--from", "garden-pickup"], tmp_path, [tmp_path / "car"]) == []
    assert watched(["project", "check", "car"], tmp_path, []) == []
    assert watched(["ledger", "show", "car"], tmp_path, []) == []


@pytest.mark.slow
def test_commands_that_read_much(tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "plan.json").write_bytes(PLAN.read_bytes())
    assert watched(["catalog", "check", "generic", "--as-of", "2026-12-01"], tmp_path, []) == []
    # A plan of an older version states figures that are reckoned otherwise now.
    assert watched(["audit", "out"], tmp_path, [], expected=1) == []
    # On a machine where nobody has drawn a chart yet.
    assert watched(["report", "out"], tmp_path, [out], home=tmp_path / "new") == []
    assert not (tmp_path / "new").exists()


@pytest.mark.slow
def test_a_whole_plan(tmp_path: Path) -> None:
    out = tmp_path / "out folder, été"
    arguments = ["plan", "example:courier-motorcycle", "--out", str(out), "--quiet"]
    assert watched(arguments, tmp_path, [out]) == []


FORMULA = '=cmd|" /C touch ran"!A1'
CODE = "__import__('os').system('touch ran')"


def test_text_that_looks_like_code_is_text(tmp_path: Path) -> None:
    assert watched(["new", "car", "--from", "garden-pickup"], tmp_path, [tmp_path / "car"]) == []
    file = tmp_path / "car" / "project.toml"
    for old, nasty in {
        "Market garden pickup": CODE,
        "small pickup": FORMULA,
        "open bed": "{{ 7*7 }} ${HOME} $(touch ran) `touch ran`",
    }.items():
        text = file.read_text("utf-8")
        assert old in text
        file.write_text(text.replace(old, nasty.replace('"', '\\"')), "utf-8")
    assert watched(["project", "check", "car"], tmp_path, []) == []
    assert not list(tmp_path.rglob("ran"))
