"""The same bytes from any number of workers and under any hash seed."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from lanes import first_fast
from oracle.small_cases import make_case

from bomplan.planner import find_plan

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


FEATURES = """
from numpy._core._multiarray_umath import __cpu_dispatch__, __cpu_features__

print(" ".join(name for name in __cpu_dispatch__ if __cpu_features__[name]))
"""


def output(folder: Path, text: str, hash_seed: str, without: str = "") -> str:
    """What a fresh Python prints that runs this text as a file (its workers import it too).

    ``without`` names vector instructions that numpy must leave alone.
    """
    script = folder / "run_it.py"
    script.write_text(text, "utf-8")
    paths = os.pathsep.join((str(ROOT), str(ROOT / "tests")))
    environment = os.environ | {"PYTHONHASHSEED": hash_seed, "PYTHONPATH": paths}
    if without:
        environment["NPY_DISABLE_CPU_FEATURES"] = without
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


@pytest.mark.parametrize("seeds", first_fast(["9, 20", "1, 4, 5, 8, 9, 20"], 1))
def test_small_plans_do_not_depend_on_workers_or_hashes(tmp_path: Path, seeds: str) -> None:
    alone = output(tmp_path, SMALL.format(seeds=seeds, workers=1), "1")
    assert alone.count("\n") == len(seeds.split(","))
    assert "optimal" in alone
    assert output(tmp_path, SMALL.format(seeds=seeds, workers=2), "2") == alone


@pytest.mark.slow
@pytest.mark.parametrize("name", ["garden-pickup", "courier-motorcycle", "camper-van"])
def test_examples_do_not_depend_on_workers_or_hashes(tmp_path: Path, name: str) -> None:
    alone = output(tmp_path, EXAMPLE.format(name=name, workers=1), "1")
    assert alone.startswith("optimal")
    assert output(tmp_path, EXAMPLE.format(name=name, workers=2), "2") == alone
    assert output(tmp_path, EXAMPLE.format(name=name, workers=1), "3") == alone


@pytest.mark.slow
def test_plans_do_not_depend_on_wide_vector_instructions(tmp_path: Path) -> None:
    """Last bits of powers and exponentials differ between processors; the plan must not."""
    wide = output(tmp_path, FEATURES, "1").strip()
    if not wide:
        pytest.skip("this processor has no instructions that numpy could leave alone")
    assert not output(tmp_path, FEATURES, "1", wide).strip()
    small = SMALL.format(seeds=", ".join(map(str, range(24))), workers=1)
    assert output(tmp_path, small, "1", wide) == output(tmp_path, small, "1")
    example = EXAMPLE.format(name="courier-motorcycle", workers=1)
    assert output(tmp_path, example, "1", wide) == output(tmp_path, example, "1")


@pytest.mark.slow
@pytest.mark.parametrize(
    "settings",
    [
        {"cp_model_presolve": False},
        {"cp_model_probing_level": 2, "presolve_inclusion_work_limit": 100_000_000},
        {"linearization_level": 0, "random_seed": 11},
    ],
    ids=["no presolve", "all of presolve", "no linear relaxation"],
)
def test_plans_do_not_depend_on_how_the_solver_goes_about_it(
    monkeypatch: pytest.MonkeyPatch, settings: dict[str, int]
) -> None:
    """The plan is the only first one in a fixed order, so any sound search finds it."""
    from ortools.sat.python import cp_model

    cases = [make_case(seed) for seed in range(40)]
    usual = [find_plan(case.project, case.catalog) for case in cases]
    assert sum(plan.status == "optimal" for plan in usual) >= 10
    solve, asked = cp_model.CpSolver.solve, 0

    def otherwise(solver: cp_model.CpSolver, model: cp_model.CpModel) -> int:
        nonlocal asked
        asked += 1
        for name, value in settings.items():
            setattr(solver.parameters, name, value)
        return solve(solver, model)

    monkeypatch.setattr(cp_model.CpSolver, "solve", otherwise)
    for case, plan in zip(cases, usual, strict=True):
        other = find_plan(case.project, case.catalog)
        assert (other.status, other.core, other.placement) == (
            plan.status,
            plan.core,
            plan.placement,
        )
        assert (other.objective.value, other.lines) == (plan.objective.value, plan.lines)
    assert asked >= len(cases) // 4
