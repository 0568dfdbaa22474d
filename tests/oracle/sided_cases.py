"""Cases in which the axles, wheels or sides decide how modules are spread over three bays.

The best plan of a loose case is fixed in all but its distribution; then the limit that it presses
on is set a little below it, so that groups must move (or nothing works).
"""

from __future__ import annotations

from fractions import Fraction
from random import Random
from typing import Any

from oracle.brute_force import Candidate, best_alone
from oracle.small_cases import Case, project_fields, small_catalog

from bomplan.design.context import Context
from bomplan.design.drive import resolve
from bomplan.design.records import Plan
from bomplan.planner import find_plan
from bomplan.project.records import Project

KINDS = ("axle", "wheel", "side", "front-most", "axle and side")
TRACKS = (1_283, 1_251)


def sided_case(seed: int) -> tuple[Case, Candidate]:
    """The case of this seed and the best plan that it had before its limit was set."""
    random = Random(f"sided case {seed}")
    kind = KINDS[seed % len(KINDS)]
    while True:
        fields = _fields(random)
        catalog = small_catalog(random, fields)
        if catalog is None:
            continue
        plan = find_plan(Project.model_validate(fields), catalog)
        if plan.core is None:
            continue
        _lock(fields, plan)
        loose = best_alone(Project.model_validate(fields), catalog)
        if loose is not None:
            break
    for one in kind.split(" and "):
        _TIGHTEN[one](random, fields, Context(Project.model_validate(fields), catalog), loose)
    return Case(seed, kind, Project.model_validate(fields), catalog), loose


def _lock(fields: dict[str, Any], plan: Plan) -> None:
    """The plan's core and rows as choices: only the distribution, and who sells, stays open."""
    core = plan.core
    assert core is not None
    own = ("motor", "controller", "module")
    fields["choices"] |= {
        "motor": core.motor, "controller": core.controller, "module": core.module,
        "series": core.series, "parallel": core.parallel, "topology": core.topology,
        "parts": {
            line.family: line.part
            for line in plan.lines
            if line.family not in (*own, "shipping")
        },
    }  # fmt: skip


def _fields(random: Random) -> dict[str, Any]:
    """A car on corner scales with a bay ahead of the axle and one on either side."""
    fields = project_fields(random)
    donor = fields["donor"]
    front, rear = donor["weighing"]["front_g"], donor["weighing"]["rear_g"]
    lean = random.randrange(-8_000, 8_000)
    donor["weighing"] |= {
        "front_left_g": front // 2 + lean,
        "front_right_g": front - front // 2 - lean,
        "rear_left_g": rear // 2,
        "rear_right_g": rear - rear // 2,
        "fuel_y_mm": random.choice((None, -150)),
    }
    donor |= {"track_front_mm": TRACKS[0], "track_rear_mm": TRACKS[1]}
    fields["load_cases"][1]["items"][1]["y_mm"] = random.choice((None, 120))
    fields["places"] |= {"motor_y_mm": 40, "charger_y_mm": random.choice((None, -300))}
    fields["places"]["parts"] = [{"family": "dcdc", "x_mm": -250, "y_mm": 310}]
    size = {
        "length_mm": random.randrange(360, 700),
        "width_mm": random.randrange(420, 620),
        "height_mm": random.randrange(200, 300),
    }
    fields["bays"][0]["y_mm"] = -fields["bays"][0]["width_mm"] // 2
    x_mm = random.choice((700, 1_400, 1_800))
    run = random.choice((1_300, 2_100))
    fields["bays"][1:] = [
        {"name": "left", "x_mm": x_mm, "y_mm": -620, "cable_run_mm": run, **size},
        {"name": "right", "x_mm": x_mm, "y_mm": 10, "cable_run_mm": run + random.choice((0, 300)),
         **size},
    ]  # fmt: skip
    fields["margins"] = {"axle": 0.0, "axle_g": 0, "range": 0.0}
    fields["house_rules"] = {}
    return fields


def _depth(random: Random) -> int:
    """How far below the loose plan's own figure a limit goes, in thousandths of what it adds."""
    return random.choice((0, 0, 2, 20, 60))


def _loads(context: Context, loose: Candidate) -> dict[str, Fraction]:
    """What axles and wheels carry in the fullest load case, and the left share."""
    donor, length = context.project.donor, context.wheelbase_mm
    base, load = context.base_corners, context.loads[-1].sums
    assert base is not None
    assert load is not None
    points = [point for pick in loose.picks for point in pick.points]
    mass = base.mass_g + load.mass_g + sum(m for m, _, _ in points)
    along = base.moment_gmm + load.moment_gmm + sum(m * x for m, x, _ in points)
    aside = Fraction(base.lateral_gmm + load.lateral_gmm, 2) + sum(m * y for m, _, y in points)
    cross = Fraction(base.cross_gmm2 + load.cross_gmm2, 2) + sum(m * x * y for m, x, y in points)
    assert donor.track_front_mm is not None
    rear = Fraction(along, length)
    front_lean = (aside - cross / length) / TRACKS[0]
    rear_lean = cross / length / TRACKS[1]
    return {
        "mass": Fraction(mass),
        "front": mass - rear,
        "rear": rear,
        "front wheel": (mass - rear) / 2 + abs(front_lean),
        "rear wheel": rear / 2 + abs(rear_lean),
        "left": Fraction(1, 2) - aside / (min(TRACKS) * mass),
    }


def _axle(random: Random, fields: dict[str, Any], context: Context, loose: Candidate) -> None:
    found, name = _loads(context, loose), random.choice(("front", "rear"))
    allowed = int(found[name]) - 1 - _depth(random) * loose.added_g // 1000
    fields["donor"][f"{name}_axle_limit_g"] = allowed


def _wheel(random: Random, fields: dict[str, Any], context: Context, loose: Candidate) -> None:
    found, name = _loads(context, loose), random.choice(("front", "rear"))
    allowed = int(found[f"{name} wheel"]) - 1 - _depth(random) * loose.added_g // 2000
    fields["donor"][f"{name}_wheel_limit_g"] = allowed


def _side(random: Random, fields: dict[str, Any], context: Context, loose: Candidate) -> None:
    left = _loads(context, loose)["left"]
    permille = left * 1000
    closer = _depth(random) // 20
    if permille < 500:
        least = min(500, int(permille) + 1 + closer)
        fields["house_rules"]["minimum_left_share"] = least / 1000
    else:
        most = max(500, -int(-permille // 1) - 1 - closer)
        fields["house_rules"]["maximum_left_share"] = most / 1000


def _front_most(random: Random, fields: dict[str, Any], context: Context, loose: Candidate) -> None:
    """The greatest front share is that of the emptiest load case, or nearly."""
    found = _loads(context, loose)
    share = int(found["front"] * 1000 / found["mass"]) - _depth(random) // 20
    fields["house_rules"]["maximum_front_share"] = share / 1000


_TIGHTEN = {"axle": _axle, "wheel": _wheel, "side": _side, "front-most": _front_most}


def every_distribution(case: Case, loose: Candidate) -> int:
    """How many ways there are to spread the loose plan's groups over the bays."""
    from oracle.brute_force import placements

    context = Context(case.project, case.catalog)
    return sum(1 for _ in placements(context, resolve(context, loose.core)))
