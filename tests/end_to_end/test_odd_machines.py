"""A machine whose clock is wrong, whose folders have odd names, whose editor adds marks.

Whole plans through the command, with the drive given so that each takes a second: what is
written must not depend on any of it.
"""

from __future__ import annotations

import datetime as dt
import json
import time
from pathlib import Path

import pytest

from bomplan.cli import main, run_log, run_record
from bomplan.project import write_template

ODD = "гараж № 2/車 (mein Käfer)"
DRIVE = """[choices]
motor = "motor-series-232mm-used"
controller = "chopper-120v-450a"
module = "nmc-pouch-block-8s2p-64"
series = 4
parallel = 3
topology = "groups"
"""
# What tells when a run was made, and nothing else does.
OF_THE_RUN = {"run.json", "run.log"}


def project_in(folder: Path) -> Path:
    write_template("garden-pickup", folder)
    file = folder / "project.toml"
    file.write_text(file.read_text("utf-8").replace("[choices]\n", DRIVE, 1), "utf-8")
    return file


def set_clock(monkeypatch: pytest.MonkeyPatch, to: dt.datetime) -> None:
    class Clock(dt.datetime):
        @classmethod
        def now(cls, tz: dt.tzinfo | None = None) -> dt.datetime:
            return to.astimezone(tz)

    class Times:
        datetime, UTC = Clock, dt.UTC

    for module in (run_log, run_record):
        monkeypatch.setattr(module, "dt", Times)
    monkeypatch.setattr(time, "time", to.timestamp)


def outputs(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and path.name not in OF_THE_RUN and not path.name.startswith(".")
    }


@pytest.mark.slow
def test_neither_clock_nor_place_nor_marks_change_what_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Before the first day that an archive can tell, and after the last."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BOMPLAN_CONFIG_DIR", str(tmp_path / "Einstellungen, été"))
    plain = project_in(tmp_path / "car")
    odd = project_in(tmp_path / ODD)
    odd.write_bytes(b"\xef\xbb\xbf" + odd.read_bytes().replace(b"\n", b"\r\n"))
    found = []
    for file, year in ((plain, 1970), (odd, 2150)):
        set_clock(monkeypatch, dt.datetime(year, 1, 2, 3, 4, 5, tzinfo=dt.UTC))
        assert main(["plan", str(file.parent), "--out", str(file.parent / "plan")]) == 0
        told = capsys.readouterr()
        assert "PROVEN CHEAPEST" in told.out
        run = json.loads((file.parent / "plan" / "run.json").read_text("utf-8"))
        assert str(year) in json.dumps(run)
        assert main(["audit", str(file.parent / "plan")]) == 0
        assert "every check passes" in capsys.readouterr().out
        found.append(outputs(file.parent / "plan"))
    one, two = found
    assert {"plan.json", "bom.xlsx", "report.html", "drawings/car.svg"} <= set(one)
    assert {name for name in one.keys() | two.keys() if one.get(name) != two.get(name)} == set()
    # The person's own file keeps its marks and line ends.
    assert odd.read_bytes().startswith(b"\xef\xbb\xbf")
    assert odd.read_bytes().count(b"\n") == odd.read_bytes().count(b"\r\n")
