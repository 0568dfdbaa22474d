"""The commands: what they print, where, and with which exit status.

The planner and the audit are stood in for here; ``tests/end_to_end`` runs the real ones.
"""

from __future__ import annotations

import json
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from bomplan import __version__, api
from bomplan.cli import main
from bomplan.cli.plan import _tell_files, folder_name
from bomplan.cli.status import Status, status_of
from bomplan.design.records import Objective, Plan
from bomplan.errors import InternalError
from bomplan.report.files import Written

MakePlan = Callable[..., Plan]


@pytest.fixture
def project(tmp_path: Path) -> Path:
    folder = tmp_path / "my pickup"
    assert main(["new", str(folder), "--from", "garden-pickup"]) == 0
    return folder


@pytest.fixture
def answer(monkeypatch: pytest.MonkeyPatch) -> Callable[[Plan], None]:
    """Makes the search give this plan."""

    def set_answer(plan: Plan) -> None:
        monkeypatch.setattr(api, "plan", lambda *_, **__: plan)

    return set_answer


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"bomplan {__version__}\n"


def test_nothing_asked_shows_help(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([]) == 0
    assert "bomplan new my-pickup" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["pla"], "error: No such command 'pla'. Did you mean 'plan'?"),
        (["catalog", "lst"], "error: No such command 'lst'. Did you mean 'list'?"),
        (["plan"], "error: Missing argument 'PROJECT'"),
        (["plan", "x", "--wrong"], "error: No such option '--wrong'"),
        (["plan", "x", "--workers", "0"], "--workers"),
        (["plan", "x", "--units", "imperial"], "'imperial' is not one of 'metric', 'us'"),
        (["catalog", "check", "--as-of", "today"], "a day is written as 2025-06-30"),
        (["audit", "list.csv"], "a parts list needs --project"),
        (["audit", "plan.json", "--ratio", "3.9"], "those flags belong to a parts list"),
        (
            ["audit", "l.csv", "--project", "example:camper-van", "--placement", "bed"],
            "such as --placement bed=24",
        ),
        (["project", "set", "p.toml", "donor.mass"], "a change is written KEY=VALUE"),
        (["plan", "example:camper-van", "--lock"], "an example is not changed"),
        (["project", "set", "example:camper-van", "name=x"], "an example is not changed"),
        (["catalog", "import", "x.csv", "--into", "f", "--map", "Weight"], "such as NAME=VALUE"),
    ],
)
def test_usage_is_told_in_two_lines(
    words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(words) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert said in told.err
    assert "--help shows how it is used" in told.err
    assert "Traceback" not in told.err


def test_new_says_what_is_next(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "mein Kübelwagen"
    assert main(["new", str(folder), "--from", "garden-pickup"]) == 0
    out = capsys.readouterr().out
    assert f'bomplan plan "{folder}"' in out
    assert (folder / "project.toml").is_file()
    assert (folder / "garden-round.csv").is_file()
    assert main(["new", str(folder), "--from", "garden-pickup"]) == 2
    assert "exists already" in capsys.readouterr().err


def test_new_knows_near_names(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["new", str(tmp_path / "x"), "--from", "camper"]) == 2
    assert 'did you mean "camper-van"' in capsys.readouterr().err
    assert not (tmp_path / "x").exists()


def test_plan_writes_and_shows(
    project: Path,
    answer: Callable[[Plan], None],
    make_plan: MakePlan,
    capsys: pytest.CaptureFixture[str],
) -> None:
    answer(make_plan())
    capsys.readouterr()
    assert main(["plan", str(project)]) == 0
    told = capsys.readouterr()
    assert told.out.splitlines()[2] == "PROVEN CHEAPEST: about 7 546 EUR"
    assert "\x1b" not in told.out
    (folder,) = [path for path in project.iterdir() if path.is_dir()]
    assert folder.name.startswith("out-")
    assert f"written: plan.json, bom.xlsx, report.html, run.json, run.log in {folder}" in told.err
    assert api.read_plan(folder / "plan.json") == make_plan()
    run = json.loads((folder / "run.json").read_text("utf-8"))
    assert run["exit_status"] == 0
    assert run["packages"]["ortools"]
    log = (folder / "run.log").read_text("utf-8")
    assert "donor.gross_limit: '1680 kg' read as 1680 kg" in log
    assert "setting   units = metric (default)" in log
    assert log.splitlines()[-1].endswith("exit status 0")
    plan_text = (folder / "plan.json").read_text("utf-8")
    assert str(project) not in plan_text
    assert "seconds" not in json.loads(plan_text)


def test_what_was_written_is_named_with_its_folder(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    names = ("plan.json", "drawings/car.svg", "sheets/check-first-power-up.html")
    _tell_files(tuple(Written(tmp_path / name) for name in names), quiet=False)
    assert capsys.readouterr().err == f"\nwritten: {', '.join(names)} in {tmp_path}\n"


def test_plan_as_json_keeps_stdout_clean(
    project: Path,
    answer: Callable[[Plan], None],
    make_plan: MakePlan,
    capsys: pytest.CaptureFixture[str],
) -> None:
    answer(make_plan())
    capsys.readouterr()
    assert main(["plan", str(project), "--json", "--out", str(project / "o")]) == 0
    told = capsys.readouterr()
    assert json.loads(told.out)["format"] == "bomplan-plan"
    assert told.out.encode() == (project / "o" / "plan.json").read_bytes()


def test_plan_quiet(
    project: Path,
    answer: Callable[[Plan], None],
    make_plan: MakePlan,
    capsys: pytest.CaptureFixture[str],
) -> None:
    answer(make_plan())
    capsys.readouterr()
    assert main(["plan", str(project), "--quiet", "--out", str(project / "o")]) == 0
    assert capsys.readouterr() == ("", "")


def test_changed_workbook_is_kept_and_said(
    project: Path,
    answer: Callable[[Plan], None],
    make_plan: MakePlan,
    capsys: pytest.CaptureFixture[str],
) -> None:
    answer(make_plan())
    out = project / "o"
    main(["plan", str(project), "--out", str(out)])
    (out / "bom.xlsx").write_bytes(b"edited by hand")
    capsys.readouterr()
    assert main(["plan", str(project), "--out", str(out), "--quiet"]) == 0
    assert "the changed one is kept as" in capsys.readouterr().err
    assert (out / "bom.kept-1.xlsx").read_bytes() == b"edited by hand"


def test_exit_status_says_how_sound(
    project: Path,
    answer: Callable[[Plan], None],
    make_plan: MakePlan,
    make_no_plan: MakePlan,
    capsys: pytest.CaptureFixture[str],
) -> None:
    plan = make_plan()
    broken = plan.checks[0].model_copy(update={"passed": False})
    cases = [
        (plan.model_copy(update={"checks": (broken,)}), 1, "NOT SOUND"),
        (make_no_plan("none"), 1, "NO PLAN (PROVEN)"),
        (make_no_plan("unknown"), 1, "NO PLAN YET"),
        (
            make_plan(
                status="feasible",
                objective=Objective(minimise="price of the whole bill", value=9, bound=8),
            ),
            0,
            "BEST FOUND, NOT PROVEN",
        ),
    ]
    for found, status, words in cases:
        answer(found)
        capsys.readouterr()
        assert main(["plan", str(project), "--out", str(project / "o")]) == status
        assert words in capsys.readouterr().out


@pytest.mark.parametrize("verbose", [False, True])
def test_our_bug_is_owned(
    project: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    verbose: bool,
) -> None:
    def fall(*_: Any, **__: Any) -> Plan:
        raise InternalError("two sums differ")

    monkeypatch.setattr(api, "plan", fall)
    words = ["plan", str(project), "--out", str(project / "o")]
    assert main([*words, "--verbose"] if verbose else words) == 3
    told = capsys.readouterr().err
    assert "error: bomplan has a bug: two sums differ" in told
    assert "report" in told
    assert ("Traceback" in told) == verbose
    assert not (project / "o").exists()


def test_unforeseen_error_is_a_bug_too(
    project: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fall(*_: Any, **__: Any) -> Plan:
        raise ZeroDivisionError("division by zero")

    monkeypatch.setattr(api, "plan", fall)
    assert main(["plan", str(project), "--out", str(project / "o")]) == 3
    assert "ZeroDivisionError: division by zero" in capsys.readouterr().err


def test_faults_of_a_project_are_listed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", str(tmp_path / "nowhere.toml")]) == 2
    assert "project.no-file" in capsys.readouterr().err
    assert main(["plan", str(tmp_path)]) == 2
    assert "there is no project.toml in this folder" in capsys.readouterr().err
    assert main(["plan", "example:gardn-pickup"]) == 2
    assert 'did you mean "garden-pickup"' in capsys.readouterr().err


def test_a_locked_choice_is_written_whoever_reads(
    project: Path,
    answer: Callable[[Plan], None],
    make_plan: MakePlan,
    capsys: pytest.CaptureFixture[str],
) -> None:
    plan = make_plan()
    answer(plan)
    assert plan.core is not None
    assert main(["plan", str(project), "--out", str(project / "o"), "--lock", "--quiet"]) == 0
    assert capsys.readouterr().err == ""
    text = (project / "project.toml").read_text("utf-8")
    assert f'module = "{plan.core.module}"' in text
    assert "# what has been decided already" in text or "[choices]" in text


def test_help_is_a_word_too(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["help"]) == 0
    assert main(["help", "catalog", "list"]) == 0
    assert "Usage: bomplan catalog list" in capsys.readouterr().out


def test_audit_finds_the_plan_of_a_project(
    project: Path,
    make_plan: MakePlan,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    plan = make_plan()
    monkeypatch.setattr(api, "audit", lambda _: plan.checks)
    api.write_outputs(plan, project / "out-one")
    assert main(["audit", str(project)]) == 0
    assert "mind: checking" in capsys.readouterr().err
    api.write_outputs(plan, project / "out-two")
    assert main(["audit", str(project)]) == 2
    assert "there are several plans" in capsys.readouterr().err


def test_audit_of_what_is_no_plan(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["audit", str(tmp_path / "plan.json")]) == 2
    (tmp_path / "plan.json").write_text("{}", "utf-8")
    assert main(["audit", str(tmp_path / "plan.json")]) == 2
    assert "Traceback" not in capsys.readouterr().err


def test_audit_shows_failures_first(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    make_plan: MakePlan,
    capsys: pytest.CaptureFixture[str],
) -> None:
    plan = make_plan()
    api.write_outputs(plan, tmp_path)
    broken = plan.checks[1].model_copy(update={"passed": False, "value": 40.0})
    monkeypatch.setattr(api, "audit", lambda _: (plan.checks[0], broken))
    assert main(["audit", str(tmp_path)]) == 1
    out = capsys.readouterr().out
    assert out.lstrip().startswith("NO")
    assert "1 of 2 checks FAIL" in out
    assert main(["audit", str(tmp_path), "--json"]) == 1
    told = json.loads(capsys.readouterr().out)
    assert told["passed"] is False
    assert told["checks"][1]["margin"] == pytest.approx(40.0 - 51.75)
    monkeypatch.setattr(api, "audit", lambda _: plan.checks)
    assert main(["audit", str(tmp_path / "plan.json")]) == 0
    assert "every check passes (4 made)" in capsys.readouterr().out


def test_folder_names_in_any_script() -> None:
    assert folder_name("Market garden: pickup/2") == "market-garden-pickup-2"
    assert folder_name("Ленин фургон №5") == "ленин-фургон-5"
    assert folder_name("../..") == "plan"
    assert len(folder_name("x" * 200)) == 60


def test_module_is_the_command() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "bomplan", "--version"],
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    assert done.stdout == f"bomplan {__version__}\n"


def test_an_interrupt_that_a_library_turns_into_its_own_error_is_no_bug_of_ours(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Ctrl-C while a compiled module loads comes out as whatever that module makes of it."""
    from bomplan.cli import app

    def loading(**_: object) -> None:
        try:
            signal.raise_signal(signal.SIGINT)
        except KeyboardInterrupt as heard:
            raise ImportError("half loaded") from heard

    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        monkeypatch.setattr(app.command, "main", loading)
        assert main(["plan", "x"]) == 4
        assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
    finally:
        signal.signal(signal.SIGINT, before)
    assert "stopped; no file is half written" in capsys.readouterr().err


def test_a_search_stopped_before_a_plan_is_no_failed_check(
    make_plan: MakePlan, make_no_plan: MakePlan
) -> None:
    """Without a plan the checks are those of parts that were turned away."""
    broken = make_plan().checks[0].model_copy(update={"passed": False})
    for status, stopped, wanted in (
        ("unknown", True, Status.STOPPED),
        ("unknown", False, Status.NO_PLAN),
        ("none", True, Status.NO_PLAN),
    ):
        for checks in ((), (broken,)):
            found = make_no_plan(status).model_copy(update={"checks": checks})
            assert status_of(found, stopped=stopped) == wanted
    wrong = make_plan(status="feasible").model_copy(update={"checks": (broken,)})
    assert status_of(wrong, stopped=True) == Status.NO_PLAN
