"""Ctrl-C in a process of its own at seeded instants: whole files, honest words, right status.

Instants are seconds of the processor that the run has had, where the system tells: on a busy
machine the same ones as on an idle one, from loading to searching to writing.

Once: the best plan so far (or none), said to be unproven, exit 4, unless the run had its answer
already. Twice: the end at once; what stands in the folder is whole.
"""

from __future__ import annotations

import contextlib
import json
import os
import random
import signal
import subprocess
import sys
import time
import zipfile
from pathlib import Path
from xml.etree import ElementTree

import pytest

from bomplan import api

pytestmark = pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")

SEED = 4711
OUTPUTS = {"plan.json", "bom.xlsx", "report.html", "run.json", "run.log"}


def instants(count: int, latest_s: float) -> list[float]:
    """Seeded moments of work from the start of the process on, a few of them early."""
    source = random.Random(SEED)
    return [round(source.uniform(0.15, latest_s), 2) for _ in range(count)]


def start(folder: Path, *words: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "bomplan", "plan", "example:garden-pickup", "--out", "o", *words],
        cwd=folder,
        env={**os.environ, "BOMPLAN_CONFIG_DIR": str(folder / "settings")},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        encoding="utf-8",
        # A test runner in the background has SIGINT ignored, and children inherit that.
        preexec_fn=heed_interrupts,
    )


def worked_s(pid: int) -> float | None:
    """Seconds of the processor that a process and its children have had; None if untold."""
    try:
        fields = Path(f"/proc/{pid}/stat").read_text("ascii").rpartition(")")[2].split()
        below = Path(f"/proc/{pid}/task/{pid}/children").read_text("ascii").split()
    except (OSError, ValueError):
        return None
    own = (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
    return own + sum(worked_s(int(child)) or 0.0 for child in below)


def let_it_work(process: subprocess.Popen[str], seconds: float) -> None:
    """Until it has worked for so long, or has ended."""
    if worked_s(process.pid) is None:
        time.sleep(seconds)
        return
    while process.poll() is None and (worked_s(process.pid) or 0.0) < seconds:
        time.sleep(0.005)


def heed_interrupts() -> None:
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def assert_whole(folder: Path) -> None:
    """Every output that is there can be read, and nothing half-written lies about."""
    if not folder.exists():
        return
    names = {path.name for path in folder.iterdir() if not path.name.startswith(".bomplan-")}
    assert names <= {*OUTPUTS, "drawings", "sheets"}, names
    for drawing in (folder / "drawings").glob("*.svg"):
        ElementTree.parse(drawing)
    if "plan.json" in names:
        api.read_plan(folder / "plan.json")
    if "bom.xlsx" in names:
        assert zipfile.ZipFile(folder / "bom.xlsx").testzip() is None
    if "run.json" in names:
        json.loads((folder / "run.json").read_text("utf-8"))


def assert_answer(process: subprocess.Popen[str], out: str, err: str, folder: Path) -> None:
    """What one interrupt leaves: nothing before the search began, else a set of files."""
    assert "Traceback" not in err, err
    assert_whole(folder)
    if not folder.exists():
        assert process.returncode in (4, -signal.SIGINT)
        return
    names = {path.name for path in folder.iterdir() if not path.name.startswith(".bomplan-")}
    plan = api.read_plan(folder / "plan.json")
    assert names == (OUTPUTS if plan.core is None else {*OUTPUTS, "drawings", "sheets"})
    run = json.loads((folder / "run.json").read_text("utf-8"))
    assert process.returncode == run["exit_status"]
    assert f"exit status {process.returncode}" in (folder / "run.log").read_text("utf-8")
    if plan.status == "optimal":
        assert process.returncode == 0
        return
    assert plan.status in ("feasible", "unknown")
    assert process.returncode == 4
    assert run["stopped"] is True
    assert "stopping: writing what is found so far" in err
    assert "PROVEN CHEAPEST" not in out
    if plan.status == "feasible":
        assert "BEST FOUND, NOT PROVEN" in out
        assert plan.objective.value is not None
        assert plan.objective.bound is None or plan.objective.bound <= plan.objective.value
        assert all(check.passed for check in plan.checks)
    else:
        assert plan.core is None
        assert "NO PLAN YET" in out


def once(after_s: float, folder: Path, *words: str) -> None:
    with start(folder, *words) as process:
        let_it_work(process, after_s)
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=600)
    assert_answer(process, out, err, folder / "o")


def test_an_early_interrupt(tmp_path: Path) -> None:
    once(1.5, tmp_path)


def test_an_interrupt_while_python_starts(tmp_path: Path) -> None:
    """Before the program can catch it: no words of ours, and nothing written."""
    with start(tmp_path) as process:
        time.sleep(0.03)
        process.send_signal(signal.SIGINT)
        process.communicate(timeout=60)
    assert process.returncode != 0
    assert not (tmp_path / "o").exists()


@pytest.mark.slow
@pytest.mark.parametrize("after_s", instants(14, 14.0))
def test_one_interrupt_at_a_seeded_instant(after_s: float, tmp_path: Path) -> None:
    once(after_s, tmp_path)


@pytest.mark.slow
@pytest.mark.parametrize("after_s", instants(4, 10.0))
def test_one_interrupt_with_workers(after_s: float, tmp_path: Path) -> None:
    once(after_s, tmp_path, "--workers", "2")


def test_two_interrupts_end_at_once(tmp_path: Path) -> None:
    twice(1.5, tmp_path)


@pytest.mark.slow
@pytest.mark.parametrize("after_s", instants(8, 12.0))
def test_two_interrupts_at_a_seeded_instant(after_s: float, tmp_path: Path) -> None:
    twice(after_s, tmp_path)


def twice(after_s: float, folder: Path) -> None:
    old = b'{"mine": true}'
    (folder / "o").mkdir()
    (folder / "o" / "notes.txt").write_bytes(old)
    with start(folder) as process:
        let_it_work(process, after_s)
        begun = time.monotonic()
        for _ in range(2):
            with contextlib.suppress(ProcessLookupError):
                process.send_signal(signal.SIGINT)
            time.sleep(0.15)
        _, err = process.communicate(timeout=600)
        took = time.monotonic() - begun
    assert "Traceback" not in err or after_s < 0.5
    assert took < 60
    assert process.returncode in (0, 4, 130, -signal.SIGINT), err
    assert (folder / "o" / "notes.txt").read_bytes() == old
    (folder / "o" / "notes.txt").unlink()
    assert_whole(folder / "o")
    if process.returncode == 130:
        leftovers = [path for path in (folder / "o").glob("*") if path.suffix == ".bomplan-part"]
        assert leftovers == []


@pytest.mark.slow
def test_killed_while_writing_leaves_the_old_files_or_the_new(tmp_path: Path) -> None:
    """The hardest end of all, at seeded instants while the outputs are written again and again."""
    code = (
        "import sys\n"
        "from pathlib import Path\n"
        "from bomplan.report.files import write_outputs\n"
        "print('go', flush=True)\n"
        "n = 0\n"
        "while True:\n"
        "    n += 1\n"
        "    write_outputs(Path('o'), {'plan.json': b'%09d' % n * 20000,"
        " 'run.log': b'%09d' % n * 9})\n"
    )
    source = random.Random(SEED)
    for _ in range(12):
        with subprocess.Popen(
            [sys.executable, "-c", code], cwd=tmp_path, stdout=subprocess.PIPE, text=True
        ) as process:
            assert process.stdout is not None
            process.stdout.readline()
            time.sleep(source.uniform(0.02, 0.3))
            process.kill()
            process.wait(30)
        for name, copies in (("plan.json", 20000), ("run.log", 9)):
            data = (tmp_path / "o" / name).read_bytes()
            assert len(data) == 9 * copies
            assert data == data[:9] * copies
    kept = list((tmp_path / "o").glob("*.kept-*"))
    assert kept == [], "a file of ours was taken for somebody's own work"
