"""Time on each published pallet-loading instance: ``python -m benchmarks.packing``.

The instances and optima are those of ``tests/reference/test_packing_optima.py``. First the
five blocks alone, as the screen's first look, then with effort until the optimum is met or
proven: the deterministic seconds that the solver was allowed, the seconds that it took. Then
every module of the generic catalogue in bays of cars, as the planner meets them.
"""

from __future__ import annotations

import argparse
import importlib
import sys
import time
from pathlib import Path
from types import ModuleType

from bomplan.catalog import load_catalog
from bomplan.design.context import module_box
from bomplan.packing import BayBox, layout
from bomplan.packing.rectangle import pack_rectangle

ROOT = Path(__file__).parents[1]
EFFORTS = (2.0, 24.0, 60.0, 120.0)
BAYS = ((560, 760, 300), (1321, 508, 260), (430, 290, 300), (900, 1100, 350), (700, 700, 250))


def published() -> ModuleType:
    """The reference test, which holds the instances."""
    sys.path.insert(0, str(ROOT / "tests" / "reference"))
    return importlib.import_module("test_packing_optima")


def instances(most_effort: float) -> bool:
    """Print one line for each instance; whether every one came to its optimum."""
    tests = published()
    rows = [
        *tests.MEETS_BOUND,
        *tests.ONE_BELOW_BOUND,
        *tests.FIVE_BLOCK_ONE_SHORT,
        *tests.FIVE_BLOCK_SHORT_OF_MORE,
    ]
    print("length width long short optimum | blocks ms | count proven effort seconds")
    sound = True
    for length, width, long, short, optimum in rows:
        begun = time.process_time()
        blocks = pack_rectangle(length, width, long, short)
        first_ms = 1000 * (time.process_time() - begun)
        found, effort, seconds = blocks, 0.0, 0.0
        for effort in (one for one in EFFORTS if one <= most_effort):
            if found.exact:
                effort = 0.0 if found is blocks else effort
                break
            begun = time.process_time()
            found = pack_rectangle(length, width, long, short, proof_effort=effort)
            seconds = time.process_time() - begun
            if found.exact:
                break
        tests.assert_sound(found, length, width, long, short)
        sound = sound and found.count == optimum
        print(
            f"{length:6} {width:5} {long:4} {short:5} {optimum:7} | {blocks.count:3} "
            f"{first_ms:6.1f} | {found.count:5} {'yes' if found.exact else 'no ':6} "
            f"{effort:6.0f} {seconds:7.2f}",
            flush=True,
        )
    return sound


def modules() -> None:
    """Print how long layouts of the generic modules take in bays of cars."""
    parts = load_catalog([ROOT / "catalogs" / "generic"]).family("module").values()
    times: list[tuple[float, str, tuple[int, int, int]]] = []
    unproven = 0
    for sides in BAYS:
        for part in parts:
            begun = time.process_time()
            unproven += not layout(BayBox(*sides), module_box(part)).exact
            times.append((1000 * (time.process_time() - begun), part.id, sides))
    times.sort()
    slowest = times[-1]
    print(
        f"{len(times)} layouts of generic modules: median {times[len(times) // 2][0]:.2f} ms,"
        f" nineteen of twenty within {times[len(times) * 19 // 20][0]:.1f} ms, slowest"
        f" {slowest[0]:.0f} ms ({slowest[1]} in {slowest[2]}); {unproven} unproven"
    )


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument(
        "--effort", type=float, default=2.0,
        help="most deterministic seconds on one instance (120 settles all of them)",
    )  # fmt: skip
    chosen = parser.parse_args()
    sound = instances(chosen.effort)
    modules()
    return 0 if sound or chosen.effort < EFFORTS[-1] else 1


if __name__ == "__main__":
    sys.exit(main())
