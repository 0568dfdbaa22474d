"""The same bytes from any number of workers and under any hash seed."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SMALL = """
import hashlib
from oracle.small_cases import make_case
from bomplan.design.planfile import plan_bytes
from bomplan.planner import find_plan

if __name__ == "__main__":
    for seed in ({seeds}):
        case = make_case(seed)
        plan = find_plan(case.project, case.catalog, workers={workers})
        print(plan.status, hashlib.sha256(plan_bytes(plan)).hexdigest())
"""
EXAMPLE = """
import hashlib
from bomplan import api
from bomplan.design.planfile import plan_bytes

if __name__ == "__main__":
    plan = api.plan("example:{name}", workers={workers})
    print(plan.status, hashlib.sha256(plan_bytes(plan)).hexdigest())
"""


def output(folder: Path, text: str, hash_seed: str) -> str:
    """What a fresh Python prints that runs this text as a file (its workers import it too)."""
    script = folder / "run_it.py"
    script.write_text(text, "utf-8")
    paths = os.pathsep.join((str(ROOT), str(ROOT / "tests")))
    environment = os.environ | {"PYTHONHASHSEED": hash_seed, "PYTHONPATH": paths}
    done = subprocess.run(
        [sys.executable, str(script)],
        capture_output=True,
        text=True,
        env=environment,
        timeout=600,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_small_plans_do_not_depend_on_workers_or_hashes(tmp_path: Path) -> None:
    seeds = "1, 4, 9, 20"
    alone = output(tmp_path, SMALL.format(seeds=seeds, workers=1), "1")
    assert alone.count("\n") == 4
    assert "optimal" in alone
    assert output(tmp_path, SMALL.format(seeds=seeds, workers=2), "2") == alone


@pytest.mark.slow
@pytest.mark.parametrize("name", ["garden-pickup", "courier-motorcycle", "camper-van"])
def test_examples_do_not_depend_on_workers_or_hashes(tmp_path: Path, name: str) -> None:
    alone = output(tmp_path, EXAMPLE.format(name=name, workers=1), "1")
    assert alone.startswith("optimal")
    assert output(tmp_path, EXAMPLE.format(name=name, workers=2), "2") == alone
    assert output(tmp_path, EXAMPLE.format(name=name, workers=1), "3") == alone
