"""The solver is loaded without pandas, solves, and takes columns of pandas once it is loaded."""

from __future__ import annotations

import subprocess
import sys

import pytest

SOLVE = """
import sys
from bomplan.solver import cp_model
assert "pandas" not in sys.modules, "the solver brought pandas along"
model = cp_model.CpModel()
some = [model.new_int_var(0, 9, "") for _ in range(3)]
model.add(sum(some) == 20)
model.minimize(some[0])
solver = cp_model.CpSolver()
assert solver.solve(model) == cp_model.OPTIMAL
assert solver.value(some[0]) == 2
assert "pandas" not in sys.modules, "solving brought pandas along"
"""

COLUMNS = """
from bomplan.solver import cp_model
import pandas
assert pandas.DataFrame({"one": [1, 2]})["one"].sum() == 3
model = cp_model.CpModel()
column = model.new_int_var_series("x", pandas.Index(["a", "b"]), 1, 5)
assert isinstance(column, pandas.Series)
model.minimize(sum(column))
solver = cp_model.CpSolver()
assert solver.solve(model) == cp_model.OPTIMAL
assert solver.values(column).tolist() == [1, 1]
"""

EARLIER = """
import pandas, sys
from bomplan.solver import cp_model
assert sys.modules["pandas"] is pandas
assert cp_model.pd is pandas
"""

MORE = """
import sys
from bomplan import solver
stand_in = solver._StandIn("pandas")
sys.modules["pandas"] = stand_in
assert stand_in.DataFrame({"one": [4]})["one"].sum() == 4
assert sys.modules["pandas"] is not stand_in
assert stand_in.Series is sys.modules["pandas"].Series
"""


@pytest.mark.parametrize("words", [SOLVE, COLUMNS, EARLIER, MORE])
def test_the_solver_leaves_pandas_to_those_who_load_it(words: str) -> None:
    done = subprocess.run(
        [sys.executable, "-c", words], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
