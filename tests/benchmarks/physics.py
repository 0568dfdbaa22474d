"""How long the answers take: ``python -m tests.benchmarks.physics`` from the top folder."""

from __future__ import annotations

import time
from collections.abc import Callable
from functools import partial

from bomplan.physics import (
    acceleration,
    choose_gears,
    climb,
    least_battery_energy,
    load_profile,
    optimistic_range,
    range_answer,
    top_speed,
)
from tests.benchmarks.plain_drive import PlainDrive
from tests.physics_cases import compact_lead, compact_lithium


def milliseconds(job: Callable[[], object], repeats: int = 15) -> float:
    """Median processor time of one call: what else runs on the machine does not count."""
    times = []
    for _ in range(repeats):
        start = time.process_time()
        job()
        times.append(time.process_time() - start)
    return 1000 * sorted(times)[len(times) // 2]


def main() -> None:
    """Print one line per system and schedule, then the other questions."""
    print("system   schedule   range km  full ms  screen ms  plain loop ms  ratio  difference")
    for name, make, mass in (("lithium", compact_lithium, 1250.0), ("lead", compact_lead, 1450.0)):
        for schedule in ("wltc-3b", "udds"):
            system, profile = make(), load_profile(schedule)
            gears = choose_gears(system, profile, 1700.0)
            asked = (system, profile, gears, mass)
            full = milliseconds(partial(range_answer, *asked, 0.01, 300.0))
            screen = milliseconds(partial(optimistic_range, *asked, 300.0))
            plain = PlainDrive(system, profile, gears.tolist())
            start = time.process_time()
            slow_m = plain.distance(mass, 0.01, 300.0)
            slow = 1000 * (time.process_time() - start)
            fast_m = range_answer(system, profile, gears, mass, 0.01, 300.0).distance_m
            print(
                f"{name:8} {schedule:9} {fast_m / 1000:9.2f} {full:8.2f} {screen:10.2f}"
                f" {slow:14.1f} {slow / full:6.0f}  {abs(fast_m / slow_m - 1):.1e}"
            )
    system, profile = compact_lithium(), load_profile("wltc-3b")
    print("choose_gears ms", round(milliseconds(lambda: choose_gears(system, profile, 1700.0)), 2))
    for name, job in (
        ("choose_gears, new system", lambda: choose_gears(compact_lithium(), profile, 1700.0)),
        ("least_battery_energy", lambda: least_battery_energy(system, profile, None, 1250, 300)),
        ("top_speed, new system", lambda: top_speed(compact_lithium(), 0.3, 1250, 0.01, 300)),
        ("climb, new system", lambda: climb(compact_lithium(), 0.2, 0, 3, 0.3, 1250, 0.01, 300)),
        (
            "acceleration, new system",
            lambda: acceleration(compact_lithium(), 22, 0.3, 1250, 0.01, 300),
        ),
    ):
        print(name, "ms", round(milliseconds(job), 2))


if __name__ == "__main__":
    main()
