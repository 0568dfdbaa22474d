"""Every mass of a bill stands in the weighing once, and all totals are equal to the gram."""

from __future__ import annotations

from collections import Counter
from functools import cache
from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st
from lanes import examples
from oracle.cores import cores, placements
from oracle.small_cases import make_case

from bomplan.design.adapter import Simulator
from bomplan.design.assemble import Bill, Chosen, assemble, needed_rules
from bomplan.design.context import Context
from bomplan.design.currents import design_currents
from bomplan.design.drive import resolve
from bomplan.design.figures import mass_record
from bomplan.design.records import Mass


@cache
def sided(seed: int) -> Context:
    """A small case whose places all have sides and heights, drawn from the seed."""
    case = make_case(seed)
    random = Random(seed)
    project = case.project.model_dump(mode="json")
    front, rear = (project["donor"]["weighing"][f"{axle}_g"] for axle in ("front", "rear"))
    lean = random.randrange(-9_000, 9_000)
    project["donor"]["weighing"] |= {
        "front_left_g": front // 2 + lean,
        "front_right_g": front - front // 2 - lean,
        "rear_left_g": rear // 3,
        "rear_right_g": rear - rear // 3,
    }
    project["donor"] |= {"track_front_mm": 1_301, "track_rear_mm": 1_277}
    project["donor"]["added"] = [{"name": "bed", "mass_g": 17_003, "x_mm": 1_911, "z_mm": 700}]
    for bay in project["bays"]:
        bay |= {"y_mm": random.randrange(-600, 100), "z_mm": random.randrange(100, 500)}
    project["places"] |= {"motor_y_mm": 31, "motor_z_mm": 301, "other_y_mm": -207}
    project["places"]["parts"] = [{"family": "dcdc", "x_mm": -333, "y_mm": 401, "z_mm": 600}]
    return Context(type(case.project).model_validate(project), case.catalog)


def bill_of(seed: int, pick: int) -> tuple[Context, Bill, Mass] | None:
    """The bill of one core, placement and row per family, drawn by ``pick``; None without one."""
    context, random = sided(seed), Random(pick)
    drives = [resolve(context, core) for core in cores(context)]
    drive = random.choice([drive for drive in drives if drive.pair is not None])
    simulator = Simulator(context, drive)
    found = list(placements(context, drive))
    if not found:
        return None
    own = {"motor": drive.motor, "controller": drive.controller, "module": drive.module}
    chosen = {}
    for rule in needed_rules(context, drive):
        rows = context.catalog.family(rule.family)
        part = own.get(rule.family) or random.choice(list(rows.values()))
        chosen[rule.family] = Chosen(part, random.choice(context.prices.sources(part)))
    currents = design_currents(context, drive, simulator)
    bill = assemble(context, drive, currents, random.choice(found), chosen)
    return context, bill, mass_record(context, bill)


@settings(max_examples=examples(8, 25), deadline=None)
@given(st.integers(0, 7), st.integers(0, 10**6))
def test_every_mass_is_weighed_once(seed: int, pick: int) -> None:
    made = bill_of(seed, pick)
    if made is None:
        return
    context, bill, mass = made
    assert mass.weights is not None
    items = mass.weights.items
    bought: Counter[str] = Counter()
    pieces: Counter[str] = Counter()
    for item in items:
        if item.kind == "bought":
            bought[item.what] += round(item.mass_kg * 1000)
            pieces[item.what] += item.pieces
    for line in bill.lines:
        if line.family == "shipping":
            continue
        assert bought.pop(line.family, 0) == round(line.mass_kg * 1000), line.family
        assert pieces.pop(line.family, 0) == line.quantity, line.family
    assert not bought
    places = [(item.what, item.part, item.bay) for item in items if item.kind == "bought"]
    assert len(places) == len(set(places))
    total_g = sum(round(item.mass_kg * 1000) for item in items)
    assert total_g == round(mass.kerb_kg * 1000) == context.base.mass_g + bill.added_g


@settings(max_examples=examples(8, 25), deadline=None)
@given(st.integers(0, 7), st.integers(0, 10**6))
def test_items_stand_where_the_loads_say(seed: int, pick: int) -> None:
    """Axles and wheels from the items alone; positions are shown to a tenth of a millimetre."""
    made = bill_of(seed, pick)
    if made is None:
        return
    context, _, mass = made
    assert mass.weights is not None
    after = next(one for one in mass.weights.states if one.stage == "after" and not one.load_case)
    length = context.wheelbase_mm
    rear = sum(item.mass_kg * item.x_mm for item in mass.weights.items) / length
    heavy = sum(abs(item.mass_kg) for item in mass.weights.items)
    assert abs(rear - after.rear_kg) <= heavy * 0.05 / length + 0.001
    assert abs(after.front_kg + after.rear_kg - after.mass_kg) <= 0.002
    assert after.wheels is not None
    front = after.wheels.front_left_kg + after.wheels.front_right_kg
    assert abs(front - after.front_kg) <= 0.002
    # The donor's corners lean; everything else adds m y at its own place.
    weighing = context.project.donor.weighing
    assert weighing.corners_g is not None
    fl, fr, rl, rr = weighing.corners_g
    lateral = ((fr - fl) * 1_301 + (rr - rl) * 1_277) / 2000
    lateral += sum(
        item.mass_kg * (item.y_mm or 0.0) for item in mass.weights.items if item.kind != "donor"
    )
    assert after.y_mm is not None
    assert abs(lateral / after.mass_kg - after.y_mm) <= 0.05 + heavy * 0.05 / after.mass_kg
