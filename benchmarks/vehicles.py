"""Vehicles of many kinds, made at random: ``python -m benchmarks.vehicles --first 1 --last 24``.

Shipped examples tell how quick the search is on the three vehicles that it was made quick on. Each
seed here is another one: half to twice as heavy, with other rooms, final drives, gearbox limits,
voltages, ranges, climbs and speeds. Beside the time stands what the search came to; where it is
stopped at the limit nothing is claimed but the best so far.
"""

from __future__ import annotations

import argparse
import threading
import time
from random import Random
from statistics import median

from bomplan import api
from bomplan.planner import find_plan
from bomplan.planner.events import Stop
from bomplan.project.goal import Goal
from bomplan.project.records import Bay, Donor, Project, Targets, Tyres

EXAMPLES = ("garden-pickup", "garden-pickup", "camper-van", "courier-motorcycle")
VOLTAGES = ((40, 120), (70, 170), (96, 300), (144, 400), (200, 420))
AIMS = ("least-cost", "least-cost", "least-cost", "least-cost", "least-mass", "least-lifetime-cost")
HEADINGS = "seed | of | mass | goal | status | figure | processor s | cores | simulations | solves"


def invented(seed: int) -> tuple[str, float, Project]:
    """(example it was made from, how many times as heavy, the project)."""
    rng = Random(seed)
    example, heavier = rng.choice(EXAMPLES), rng.choice((0.6, 0.8, 1.0, 1.2, 1.5, 2.0))
    project = api.open_project(f"example:{example}").project
    donor = _donor(project.donor, heavier, rng)
    choices = project.choices.model_copy(
        update={
            "parallel_max": rng.choice((1, 2, 4, 6, 10)),
            "motor": None,
            "controller": None,
            "module": None,
            "excluded": (),
            "owned": {},
        }
    )
    update = {
        "name": f"invented vehicle {seed}",
        "donor": donor,
        "bays": tuple(_bay(bay, heavier, rng) for bay in project.bays),
        "targets": _targets(project.targets, rng),
        "choices": choices,
        "goal": Goal(aim=rng.choice(AIMS)),
    }
    return example, heavier, project.model_copy(update=update)


def _donor(donor: Donor, heavier: float, rng: Random) -> Donor:
    def some(grams: int, low: float, high: float) -> int:
        return round(grams * heavier * rng.uniform(low, high))

    weighing = donor.weighing.model_copy(
        update={
            "front_g": some(donor.weighing.front_g, 0.92, 1.0),
            "rear_g": some(donor.weighing.rear_g, 0.92, 1.0),
        }
    )
    removed = tuple(
        one.model_copy(update={"mass_g": some(one.mass_g, 0.8, 1.1)}) for one in donor.removed
    )
    line = donor.driveline
    ratio = round(line.final_ratios[0] * rng.uniform(0.8, 1.3), 2)
    limit = line.input_torque_limit_nm
    line = line.model_copy(
        update={
            "final_ratios": rng.choice(((ratio,), (ratio, round(ratio * 1.15, 2)))),
            "input_torque_limit_nm": limit and limit * rng.choice((0.8, 1.0, 1.6, 2.5)),
        }
    )
    return donor.model_copy(
        update={
            "gross_limit_g": some(donor.gross_limit_g, 0.97, 1.12),
            "front_axle_limit_g": some(donor.front_axle_limit_g, 0.97, 1.12),
            "rear_axle_limit_g": some(donor.rear_axle_limit_g, 0.97, 1.12),
            "wheelbase_mm": round(donor.wheelbase_mm * rng.uniform(0.9, 1.2)),
            "drag_area_m2": (donor.drag_area_m2 or 1.0) * rng.uniform(0.6, 1.3),
            "tyres": Tyres(),
            "weighing": weighing,
            "removed": removed,
            "driveline": line,
        }
    )


def _bay(bay: Bay, heavier: float, rng: Random) -> Bay:
    update: dict[str, int] = {}
    if not bay.boxes and not bay.blocked:
        for side in ("length_mm", "width_mm", "height_mm"):
            update[side] = round(getattr(bay, side) * rng.uniform(0.8, 1.35))
    if bay.mass_limit_g is not None:
        update["mass_limit_g"] = round(bay.mass_limit_g * heavier * rng.uniform(0.8, 1.4))
    return bay.model_copy(update=update)


def _targets(targets: Targets, rng: Random) -> Targets:
    by, (least, most) = rng.choice((0.4, 0.7, 1.0, 1.3)), rng.choice(VOLTAGES)
    ranges = [
        one.model_copy(update={"distance_m": round(one.distance_m * by * rng.uniform(0.85, 1.15))})
        for one in targets.range
    ]
    speeds = [
        one.model_copy(update={"speed_m_s": one.speed_m_s * rng.uniform(0.8, 1.25)})
        for one in targets.top_speed
    ]
    climbs = [
        one.model_copy(update={"grade": one.grade * rng.uniform(0.6, 1.1)}) for one in targets.climb
    ]
    runs = [
        one.model_copy(update={"within_s": one.within_s * rng.uniform(0.8, 1.6)})
        for one in targets.acceleration
    ]
    return targets.model_copy(
        update={
            "range": tuple(ranges),
            "top_speed": tuple(speeds),
            "climb": tuple(climbs),
            "acceleration": tuple(runs),
            "pack_voltage_min_v": float(least),
            "pack_voltage_max_v": float(most),
        }
    )


def main() -> None:
    """Print one line a vehicle, and the spread of the times; see the options."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--first", type=int, default=1)
    parser.add_argument("--last", type=int, default=24)
    parser.add_argument("--limit", type=float, default=120.0, help="seconds for one search")
    asked = parser.parse_args()
    print(HEADINGS)
    times, ended = [], 0
    for seed in range(asked.first, asked.last + 1):
        example, heavier, project = invented(seed)
        catalog = api.load_catalog(project.catalogs)
        stop = Stop()
        timer = threading.Timer(asked.limit, stop.request)
        timer.start()
        begun = time.process_time()
        plan = find_plan(project, catalog, stop=stop)
        times.append(time.process_time() - begun)
        timer.cancel()
        ended += plan.status in ("optimal", "none")
        cells = (
            seed, example, f"{heavier:.1f}", project.goal.aim, plan.status, plan.objective.value,
            f"{times[-1]:.1f}", plan.search.screened, plan.search.simulated, plan.search.solved,
        )  # fmt: skip
        print(" | ".join(str(cell) for cell in cells), flush=True)
    print(
        f"{ended} of {len(times)} ended; processor s in the middle {median(times):.1f},"
        f" at most {max(times):.1f}"
    )


if __name__ == "__main__":
    main()
