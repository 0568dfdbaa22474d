"""The line that shows progress, colour, and what Ctrl-C does."""

from __future__ import annotations

import io
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path
from types import ModuleType

import pytest

from bomplan.cli.interrupt import ENDED_AT_ONCE, Interrupts, run_aside
from bomplan.cli.progress import Progress
from bomplan.cli.show import show, wants_colour
from bomplan.planner.events import Event, Stop
from bomplan.report.lines import Row


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


EVENT = Event("better", screened=120, solved=7, simulated=9, bound=700_000, best=754_555, words="x")


def test_line_says_how_far() -> None:
    line = Progress("EUR", live=True, verbose=False, stream=Terminal()).line(EVENT, 12.34)
    assert line == (" 12.3 s  120 screened  7 solved  9 simulated  best 7545.55 EUR  bound 7000.00")


def test_quiet_unless_live() -> None:
    out = io.StringIO()
    progress = Progress("EUR", live=False, verbose=False, stream=out)
    progress(EVENT)
    progress.clear()
    assert out.getvalue() == ""


def test_line_is_taken_away() -> None:
    out = Terminal()
    progress = Progress("EUR", live=True, verbose=False, stream=out)
    progress(EVENT)
    progress.clear()
    assert out.getvalue().endswith(" \r")
    assert "\n" not in out.getvalue()


def test_a_study_says_how_many_searches_are_done() -> None:
    out = Terminal()
    progress = Progress("EUR", live=True, verbose=False, stream=out)
    run_aside(lambda: time.sleep(0.3), lambda: progress.searches(7))
    assert "s  7 searches done" in out.getvalue()
    progress.searches(1)
    assert "s  1 search done" in out.getvalue()
    progress.clear()
    assert out.getvalue().endswith(" \r")
    quiet = io.StringIO()
    Progress("EUR", live=False, verbose=False, stream=quiet).searches(7)
    assert quiet.getvalue() == ""


def test_verbose_says_the_words() -> None:
    out = io.StringIO()
    Progress("EUR", live=False, verbose=True, stream=out)(EVENT)
    assert out.getvalue() == "better: x\n"


def test_colour_only_where_it_is_wanted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    out = Terminal()
    assert wants_colour(out)
    show([Row("bad news", "bad"), Row("news")], out)
    assert out.getvalue() == "\x1b[1;31mbad news\x1b[0m\nnews\n"
    monkeypatch.setenv("NO_COLOR", "1")
    out = Terminal()
    show([Row("bad news", "bad")], out)
    assert out.getvalue() == "bad news\n"
    assert not wants_colour(io.StringIO())


def test_run_aside_hands_on_results_and_errors() -> None:
    assert run_aside(lambda: threading.current_thread().name) == "search"
    with pytest.raises(ZeroDivisionError):
        run_aside(lambda: 1 // 0)


@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_first_interrupt_sets_the_token(
    number: signal.Signals, capfd: pytest.CaptureFixture[str]
) -> None:
    stop = Stop()
    before = signal.getsignal(number)

    def work() -> bool:
        os.kill(os.getpid(), number)
        deadline = time.monotonic() + 5
        while not stop.requested and time.monotonic() < deadline:
            time.sleep(0.01)
        return stop.requested

    with Interrupts(stop):
        assert run_aside(work)
    assert signal.getsignal(number) is before
    assert "stopping: writing what is found so far" in capfd.readouterr().err


_STUBBORN = """
import multiprocessing, os, signal, time
from bomplan.cli.interrupt import Interrupts, run_aside
from bomplan.planner.events import Stop

def idle():
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    time.sleep(60)

if __name__ == "__main__":
    worker = multiprocessing.get_context("spawn").Process(target=idle)
    worker.start()
    with Interrupts(Stop()):
        print(worker.pid, flush=True)
        run_aside(lambda: time.sleep(60))
"""


@pytest.mark.parametrize("name", ["bomplan.report.files", "multiprocessing"])
def test_a_second_interrupt_while_a_module_is_being_loaded(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It stands among the modules by then and holds nothing yet."""
    ended: list[int] = []
    monkeypatch.setattr(os, "_exit", ended.append)
    stop = Stop()
    stop.request()
    interrupts = Interrupts(stop)
    monkeypatch.setitem(sys.modules, name, ModuleType(name))
    interrupts._caught(signal.SIGINT, None)
    assert ended == [ENDED_AT_ONCE]


@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
def test_second_interrupt_ends_at_once_with_its_workers(tmp_path: Path) -> None:
    script = tmp_path / "stubborn.py"
    script.write_text(_STUBBORN, "utf-8")
    with subprocess.Popen(
        [sys.executable, str(script)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        worker = int(process.stdout.readline())
        process.send_signal(signal.SIGINT)
        time.sleep(0.5)
        assert process.poll() is None
        process.send_signal(signal.SIGINT)
        assert process.wait(10) == ENDED_AT_ONCE
    for _ in range(100):
        try:
            os.kill(worker, 0)
        except ProcessLookupError:
            break
        time.sleep(0.05)
    else:
        pytest.fail("the worker outlived the program")
