"""What a whole plan of the brute force comes to by each goal, counted here anew."""

from __future__ import annotations

import math
from fractions import Fraction

from oracle.brute_force import Candidate

from bomplan.design.adapter import Simulator
from bomplan.design.drive import LEAD
from bomplan.design.records import Couplers

YEARS = {"flooded": 6, "agm": 6, "gel": 8, "lfp": 15, "nmc": 12, "lto": 20, "sodium": 15}


def mass(simulator: Simulator, candidate: Candidate) -> int:
    """Grams of everything that is fitted."""
    del simulator
    return sum(pick.fitted * pick.part.mass_g for pick in candidate.picks)


def lifetime(simulator: Simulator, candidate: Candidate) -> int:
    """Price, energy and packs after the first, step by step over the years of use."""
    context, drive = simulator.context, simulator.drive
    project, module, use = context.project, drive.module, context.project.use
    modules = drive.core.series * drive.core.parallel
    target = project.targets.range[0]
    answer = simulator.range_in(
        target,
        context.condition(target.condition).model_copy(update={"aged": False}),
        Couplers(
            added_g=drive.motor.mass_g + drive.controller.mass_g + modules * module.mass_g,
            external_uohm=round(project.house_rules.reference_circuit_ohm * 1e6),
            mean_12v_w=round(project.donor.load_12v_w),
        ),
    )
    assert answer.followed
    # Endless is counted as a million kilometres, and the meter does not run backwards.
    range_m = int(min(answer.distance_m, 1e9))
    taken = max(0.0, answer.energy_battery_wh_km)
    chemistry = module.text("chemistry")
    (charger,) = [pick.part for pick in candidate.picks if pick.family == "charger"]
    out_over_in = charger.number("efficiency") * (0.70 if chemistry in LEAD else 0.92)
    wall = Fraction(str(round(taken / out_over_in, 1)))
    kilometres = Fraction(use.distance_a_year_m, 1000) * Fraction(str(use.years))
    energy = kilometres * wall / 1000 * 30  # 0.30 EUR for a kilowatt-hour
    leg = Fraction(min(target.distance_m, range_m), 1)
    window = Fraction(str(module.number("soc_max"))) - Fraction(str(module.number("soc_min")))
    used = leg / range_m * window * (1 - Fraction(str(target.reserve)))
    legs = module.number("cycles") * Fraction(str(module.number("cycles_depth"))) / used
    years = min(
        legs * leg / use.distance_a_year_m,
        Fraction(str(module.number_or("calendar_years", YEARS[chemistry]))),
    )
    packs = 0
    while (packs + 1) * years < Fraction(str(use.years)):
        packs += 1
    sold = [source for source in context.prices.sources(module) if source.steps]
    # Modules at hand that nobody may sell now are replaced at the price of their row.
    new_pack = min((one.buy(modules)[2] for one in sold), default=module.price * modules)
    energy *= Fraction(str(project.goal.energy_weight))
    replaced = packs * new_pack * Fraction(str(project.goal.packs_weight))
    return candidate.price + math.floor(energy + replaced + Fraction(1, 2))


def nearness(simulator: Simulator, candidate: Candidate) -> int:
    """The range on the first target in whole steps of 100 m, the farther the less."""
    target = simulator.context.project.targets.range[0]
    return -math.floor(simulator.range(target, candidate.couplers).distance_m / 100 + 1e-8)
