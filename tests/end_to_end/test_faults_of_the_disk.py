"""What the user sees when disk, folder or another program stands in the way of writing.

Where the system can be made to fail for real (a full disk, a folder that may not be written, a
process killed between writing and renaming, two runs in one folder), it is.
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from bomplan import api
from bomplan.cli import main
from bomplan.project import write_template

DRIVE = """[choices]
motor = "motor-series-232mm-used"
controller = "chopper-120v-450a"
module = "nmc-pouch-block-8s2p-64"
series = 4
parallel = 3
topology = "groups"
"""
LINUX = sys.platform == "linux"
# To run as root without root's right to write everywhere (capabilities(7): the bounding set).
_PR_CAPBSET_DROP, _CAP_DAC_OVERRIDE = 24, 1


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a project whose drive is given, so that a plan takes a second."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BOMPLAN_CONFIG_DIR", str(tmp_path / "settings"))
    write_template("garden-pickup", tmp_path / "car")
    file = tmp_path / "car" / "project.toml"
    file.write_text(file.read_text("utf-8").replace("[choices]\n", DRIVE, 1), "utf-8")
    return tmp_path


def contents(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and path.name != ".bomplan-outputs.lock"
    }


def command(*words: str) -> list[str]:
    return [sys.executable, "-m", "bomplan", *words]


def as_nobody_special() -> None:
    """Root may write anywhere; without this right it is held to permissions as others are."""
    if os.geteuid() == 0:
        import ctypes

        assert ctypes.CDLL(None).prctl(_PR_CAPBSET_DROP, _CAP_DAC_OVERRIDE, 0, 0, 0) == 0


@pytest.mark.skipif(not LINUX, reason="permissions of POSIX, capabilities of Linux")
def test_a_folder_that_may_not_be_written(here: Path) -> None:
    closed = here / "closed"
    closed.mkdir()
    closed.chmod(0o500)
    done = subprocess.run(
        command("catalog", "export", "generic", "closed/mine"),
        cwd=here, preexec_fn=as_nobody_special, capture_output=True, text=True,
        encoding="utf-8", check=False,
    )  # fmt: skip
    assert done.returncode == 2, done.stdout + done.stderr
    assert done.stderr.startswith("error: ")
    assert "closed" in done.stderr
    assert "writing is not allowed here" in done.stderr
    assert "Traceback" not in done.stderr
    assert list(closed.iterdir()) == []


@pytest.mark.skipif(
    not LINUX
    or shutil.which("unshare") is None
    or subprocess.run(["unshare", "-m", "true"], capture_output=True, check=False).returncode != 0,
    reason="needs a file system of its own, which takes root on Linux",
)
@pytest.mark.parametrize(
    "words",
    [
        ("catalog", "export", "generic", "disk/mine"),
        pytest.param(("plan", "car", "--out", "disk/o"), marks=pytest.mark.slow),
    ],
)
def test_a_disk_that_is_full(words: tuple[str, ...], here: Path) -> None:
    """A real one of 64 KiB: what is to be written does not fit, and nothing of it is left."""
    (here / "disk").mkdir()
    script = (
        "mount -t tmpfs -o size=64k none disk && echo old > disk/notes.txt && "
        '"$@"; echo "status $?"; find disk -type f | sort; cat disk/notes.txt'
    )
    done = subprocess.run(
        ["unshare", "-m", "sh", "-c", script, "sh", *command(*words)],
        cwd=here, capture_output=True, text=True, encoding="utf-8", check=False,
    )  # fmt: skip
    assert "status 2" in done.stdout, done.stdout + done.stderr
    assert "there is no room left on this disk" in done.stderr
    assert "make room, or name another folder with --out" in done.stderr
    assert "Traceback" not in done.stderr
    left = done.stdout.splitlines()[done.stdout.splitlines().index("status 2") + 1 :]
    assert left[-1] == "old"
    assert {name for name in left[:-1] if ".bomplan-outputs" not in name} == {"disk/notes.txt"}


@pytest.mark.skipif(os.name == "nt", reason="limits of POSIX")
def test_a_file_that_may_not_grow(here: Path) -> None:
    """What a full quota does, without a file system of its own."""
    import resource

    def small_files() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (8_000, 8_000))

    done = subprocess.run(
        command("catalog", "export", "generic", "mine"),
        cwd=here, preexec_fn=small_files, capture_output=True, text=True, encoding="utf-8",
        check=False,
    )  # fmt: skip
    assert done.returncode == 2, done.stdout + done.stderr
    assert "there is no room left on this disk" in done.stderr
    assert "Traceback" not in done.stderr
    assert not (here / "mine").exists() or contents(here / "mine") == {}


@pytest.mark.slow
def test_a_workbook_that_is_open_elsewhere(
    here: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """As where an open file cannot be replaced: said so, and the earlier set stays whole."""
    assert main(["plan", "car", "--out", "o", "--quiet"]) == 0
    before = contents(here / "o")
    project = here / "car" / "project.toml"
    project.write_text(project.read_text("utf-8").replace("Market garden", "Other garden"), "utf-8")
    replace = Path.replace

    def held(self: Path, target: Path) -> Path:
        if target.name == "bom.xlsx":
            raise PermissionError(13, "Permission denied", str(target))
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", held)
    capsys.readouterr()
    assert main(["plan", "car", "--out", "o", "--quiet"]) == 2
    told = capsys.readouterr().err
    assert "bom.xlsx" in told
    assert "the file is open in another program" in told
    assert "close the file there" in told
    after = contents(here / "o")
    del before[".bomplan-outputs.json"], after[".bomplan-outputs.json"]
    assert after == before
    monkeypatch.undo()
    monkeypatch.chdir(here)
    assert main(["plan", "car", "--out", "o", "--quiet"]) == 0
    assert "kept" not in " ".join(contents(here / "o"))


DIES = """
import os, sys
from pathlib import Path
from bomplan.report.files import write_outputs
replace, left = Path.replace, int(sys.argv[1])
def dying(self, target):
    global left
    if left == 0:
        os._exit(9)
    left -= 1
    return replace(self, target)
Path.replace = dying
write_outputs(Path("o"), {"plan.json": b"new" * 9000, "bom.xlsx": b"new" * 70000, "run.log": b"n"})
"""


@pytest.mark.skipif(os.name == "nt", reason="one way to end at once is enough")
def test_killed_between_write_and_rename(here: Path) -> None:
    """At every rename of a set in turn: each file is the old or the new one, whole."""
    from bomplan.report.files import write_outputs

    old = {"plan.json": b"old" * 9000, "bom.xlsx": b"old" * 70000, "run.log": b"o"}
    new = {"plan.json": b"new" * 9000, "bom.xlsx": b"new" * 70000, "run.log": b"n"}
    statuses = []
    for renames in range(8):
        write_outputs(here / "o", old)
        done = subprocess.run(
            [sys.executable, "-c", DIES, str(renames)], cwd=here, capture_output=True, check=False
        )
        statuses.append(done.returncode)
        for name in old:
            assert (here / "o" / name).read_bytes() in (old[name], new[name]), (renames, name)
        # What the killed run left is no hindrance, goes, and is nobody's own work.
        written = write_outputs(here / "o", new)
        assert [one.kept for one in written] == [None, None, None]
        assert {path.name for path in (here / "o").iterdir()} == {
            *old, ".bomplan-outputs.json", ".bomplan-outputs.lock"
        }  # fmt: skip
    # Five renames are made (three files, the record before and after), then it lives.
    assert statuses == [9, 9, 9, 9, 9, 0, 0, 0], done.stderr


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
def test_two_whole_runs_at_once_in_one_folder(here: Path) -> None:
    other = here / "other"
    shutil.copytree(here / "car", other)
    project = other / "project.toml"
    text = project.read_text("utf-8")
    assert "Market garden pickup" in text
    project.write_text(text.replace("Market garden pickup", "The other pickup"), "utf-8")
    runs = [
        subprocess.Popen(
            command("plan", name, "--out", "o", "--quiet"),
            cwd=here, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
            preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
        )
        for name in ("car", "other")
    ]  # fmt: skip
    for run in runs:
        _, err = run.communicate(timeout=300)
        assert run.returncode == 0, err
    plan = api.read_plan(here / "o" / "plan.json")
    assert plan.project in ("Market garden pickup", "The other pickup")
    assert plan.project in (here / "o" / "report.html").read_text("utf-8")
    assert zipfile.ZipFile(here / "o" / "bom.xlsx").testzip() is None
    record = json.loads((here / "o" / ".bomplan-outputs.json").read_text("utf-8"))["files"]
    from bomplan.report.files import digest

    for name, sums in record.items():
        assert [digest((here / "o" / name).read_bytes())] == sums
    assert not [name for name in contents(here / "o") if "bomplan-part" in name or "kept" in name]
