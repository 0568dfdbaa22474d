"""The weighing of a plan: every mass once, states before and after, advice on the chassis.

Information, not limits: those stand in ``requirements/loads.py`` and share these sums.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal

from bomplan.design.assemble import Bill
from bomplan.design.context import Context, Load
from bomplan.design.weight_records import (
    OVERTURNING,
    Advice,
    AxleChange,
    LoadState,
    MotionLoad,
    WeightItem,
    Weights,
    WheelLoads,
)
from bomplan.source import recalled
from bomplan.weighing import (
    CornerSums,
    Mass,
    Moments,
    axle_loads_of,
    axle_tyre_load_g,
    chassis_hint,
    corner_loads_of,
    left_share,
    loads_in_motion_n,
    moments,
    rollover_ratio,
    three_wheel_rollover_ratio,
)
from bomplan.weighing.dynamics import STANDARD_GRAVITY_M_S2

DRIVER_G: Final = 75_000
"""The driver in "mass in running order"."""
RUNNING_ORDER: Final = recalled("Regulation (EU) 2021/535 (from memory)")
USUAL_GRADE: Final = 0.20
"""The slope that is shown where no climb is asked for; common practice."""


@dataclass(frozen=True)
class _State:
    """A state's exact sums; ``height_gmm`` is None where no height is known."""

    stage: Literal["before", "after"]
    load_case: str
    sums: Moments
    corners: CornerSums | None
    height_gmm: int | None


def weights_record(context: Context, bill: Bill) -> Weights:
    """The weighing of a bill on the project's donor."""
    states = tuple(_states(context, bill))
    unknown_y, unknown_z = _unmeasured(context, bill)
    sideways = context.base_corners is not None
    return Weights(
        items=(*_donor_items(context), *_bought_items(bill)),
        states=tuple(_shown(context, state) for state in states),
        motion=tuple(_motion(context, states)),
        changes=tuple(_changes(context, states)),
        advice=tuple(_advice(context, states)),
        running_order_kg=_kg(context.base.mass_g + bill.added_g + DRIVER_G),
        spread_kg=_kg(context.project.donor.weighing.spread_g),
        in_the_middle=unknown_y if sideways else (),
        at_the_car_height=unknown_z if states[-1].height_gmm is not None else (),
    )


def _donor_items(context: Context) -> Iterator[WeightItem]:
    donor, weighing = context.project.donor, context.project.donor.weighing
    length = donor.wheelbase_mm
    yield WeightItem(kind="donor", what="front axle as weighed", mass_kg=_kg(weighing.front_g),
                     x_mm=0.0)  # fmt: skip
    yield WeightItem(kind="donor", what="rear axle as weighed", mass_kg=_kg(weighing.rear_g),
                     x_mm=float(length))  # fmt: skip
    centre = round(Fraction(weighing.rear_g * length, weighing.front_g + weighing.rear_g))
    for what, mass_g, x_mm, y_mm in (
        ("fuel in the tank", weighing.fuel_g, weighing.fuel_x_mm, weighing.fuel_y_mm),
        ("people in it", weighing.people_g, weighing.people_x_mm, weighing.people_y_mm),
    ):
        if mass_g:
            yield WeightItem(
                kind="taken off", what=what, mass_kg=_kg(-mass_g), y_mm=y_mm,
                x_mm=float(centre if x_mm is None else x_mm),
            )  # fmt: skip
    for item in donor.removed:
        yield WeightItem(kind="taken out", what=item.name, mass_kg=_kg(-item.mass_g),
                         x_mm=item.x_mm, y_mm=item.y_mm, z_mm=item.z_mm)  # fmt: skip
    for item in donor.added:
        yield WeightItem(kind="own part", what=item.name, mass_kg=_kg(item.mass_g),
                         x_mm=item.x_mm, y_mm=item.y_mm, z_mm=item.z_mm)  # fmt: skip


def _bought_items(bill: Bill) -> Iterator[WeightItem]:
    """Every piece of the bill, once: by family, and by bay where it stands in one."""
    for placed in bill.placed:
        mass = placed.mass_g
        if not placed.pieces:
            continue
        yield WeightItem(
            kind="bought",
            what=placed.family,
            part=placed.part,
            bay=placed.bay,
            pieces=placed.pieces,
            mass_kg=_kg(mass),
            x_mm=_tenth(placed.moment_gmm, mass),
            y_mm=None if placed.lateral_gmm is None else _tenth(placed.lateral_gmm, mass),
            z_mm=None if placed.height_gmm is None else _tenth(placed.height_gmm, mass),
        )


def _tenth(moment_gmm: int, mass_g: int) -> float:
    return round(float(Fraction(moment_gmm, mass_g)), 1) if mass_g else 0.0


def _states(context: Context, bill: Bill) -> Iterator[_State]:
    """Without people, then every load case: the donor before, the plan after."""
    donor, weighing = context.project.donor, context.project.donor.weighing
    length = donor.wheelbase_mm
    people_x = weighing.people_x_mm
    centre = round(Fraction(weighing.rear_g * length, weighing.front_g + weighing.rear_g))
    before = Moments(weighing.front_g + weighing.rear_g, weighing.rear_g * length).minus(
        moments([Mass("people", weighing.people_g, centre if people_x is None else people_x)])
    )
    height = before.mass_g * donor.centre_height_mm
    after = context.base.plus(Moments(bill.added_g, bill.moment_gmm))
    corners = context.base_corners
    if corners is not None:
        corners = corners.plus(
            CornerSums(bill.added_g, bill.moment_gmm, 2 * bill.lateral_gmm, 2 * bill.cross_gmm2)
        )
    after_height = _height_after(context, bill, height)
    yield _State("before", "", before, None, height)
    for load in context.loads:
        yield _State("before", load.name, before.plus(_moments(load)), None, None)
    yield _State("after", "", after, corners, after_height)
    for load, case in zip(context.loads, context.project.load_cases, strict=True):
        on_board = sum(
            item.mass_g * (donor.centre_height_mm if item.z_mm is None else item.z_mm)
            for item in case.items
        )
        yield _State(
            "after",
            load.name,
            after.plus(_moments(load)),
            None if corners is None or load.sums is None else corners.plus(load.sums),
            None if after_height is None else after_height + on_board,
        )


def _moments(load: Load) -> Moments:
    return Moments(load.mass_g, load.moment_gmm)


def _height_after(context: Context, bill: Bill, before_gmm: int) -> int | None:
    """m z of the finished car; None where a bay that holds modules has no height.

    Anything else without a height counts at the donor's own centre of gravity.
    """
    donor = context.project.donor
    usual = donor.centre_height_mm
    total = before_gmm - donor.weighing.fuel_g * usual
    for sign, items in ((-1, donor.removed), (1, donor.added)):
        for item in items:
            total += sign * item.mass_g * (usual if item.z_mm is None else item.z_mm)
    for placed in bill.placed:
        if placed.height_gmm is None and placed.family == "module" and placed.pieces:
            return None
        total += placed.mass_g * usual if placed.height_gmm is None else placed.height_gmm
    return total


def _unmeasured(context: Context, bill: Bill) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What has no side, and what has no height, by name."""
    donor = context.project.donor
    items = [*donor.removed, *donor.added]
    items += [item for case in context.project.load_cases for item in case.items]
    aside = [item.name for item in items if item.mass_g and item.y_mm is None]
    high = [item.name for item in items if item.mass_g and item.z_mm is None]
    for placed in bill.placed:
        name = placed.family + (f" in {placed.bay}" if placed.bay else "")
        if placed.mass_g and placed.lateral_gmm is None:
            aside.append(name)
        if placed.mass_g and placed.height_gmm is None:
            high.append(name)
    for name, mass_g, y_mm in (
        ("fuel at the weighing", donor.weighing.fuel_g, donor.weighing.fuel_y_mm),
        ("people at the weighing", donor.weighing.people_g, donor.weighing.people_y_mm),
    ):
        if mass_g and y_mm is None:
            aside.append(name)
    return tuple(dict.fromkeys(aside)), tuple(dict.fromkeys(high))


def _shown(context: Context, state: _State) -> LoadState:
    sums, tracks = state.sums, context.tracks_mm
    loads = axle_loads_of(sums, context.wheelbase_mm)
    wheels = share = side = None
    if state.corners is not None and tracks is not None:
        four = corner_loads_of(state.corners, context.wheelbase_mm, *tracks)
        wheels = WheelLoads(
            front_left_kg=_kg(four.front_left_g),
            front_right_kg=_kg(four.front_right_g),
            rear_left_kg=_kg(four.rear_left_g),
            rear_right_kg=_kg(four.rear_right_g),
        )
        share = _share(left_share(state.corners, min(tracks)))
        side = round(float(Fraction(state.corners.lateral_gmm, 2 * sums.mass_g)), 1)
    height = None if state.height_gmm is None else state.height_gmm / sums.mass_g
    return LoadState(
        stage=state.stage,
        load_case=state.load_case,
        mass_kg=_kg(sums.mass_g),
        front_kg=_kg(loads.front_g),
        rear_kg=_kg(loads.rear_g),
        front_share=_share(loads.front_share),
        x_mm=round(float(Fraction(sums.moment_gmm, sums.mass_g)), 1),
        y_mm=side,
        # Lifting an axle is good to a few per cent: no more than the centimetre is shown.
        z_mm=None if height is None else float(round(height, -1)),
        left_share=share,
        wheels=wheels,
        rollover_ratio=None if height is None else _rollover(context, sums, height),
    )


def _rollover(context: Context, sums: Moments, height_mm: float) -> float | None:
    """The rollover ratio on three or four wheels; None on two, or where a track is not known."""
    donor, counts = context.project.donor, context.tyre_counts
    known = (donor.track_front_mm, donor.track_rear_mm)
    tracks = [track for track, n in zip(known, counts, strict=True) if n > 1 and track is not None]
    if height_mm <= 0 or len(tracks) < sum(n > 1 for n in counts) or not tracks:
        return None
    if 1 not in counts:
        return round(rollover_ratio(min(tracks), height_mm), 2)
    x_mm = float(Fraction(sums.moment_gmm, sums.mass_g))
    away_mm = x_mm if counts[0] == 1 else context.wheelbase_mm - x_mm
    return round(three_wheel_rollover_ratio(tracks[0], context.wheelbase_mm, away_mm, height_mm), 2)


def _motion(context: Context, states: tuple[_State, ...]) -> Iterator[MotionLoad]:
    """The heaviest state on the steepest slope asked for, both ways, and braking at full grip."""
    donor = context.project.donor
    state = _heaviest(states)
    mass = state.sums.mass_g
    height = donor.centre_height_mm * mass if state.height_gmm is None else state.height_gmm
    climbs = context.project.targets.climb
    grade = max((climb.grade for climb in climbs), default=USUAL_GRADE)
    braking = -round(donor.grip * STANDARD_GRAVITY_M_S2, 3)
    for words, slope, acceleration in (
        (f"standing uphill on {100 * grade:g} %", grade, 0.0),
        (f"standing downhill on {100 * grade:g} %", -grade, 0.0),
        (f"braking with all the grip there is ({donor.grip:g})", 0.0, braking),
    ):
        loads = loads_in_motion_n(
            mass / 1000,
            context.wheelbase_mm / 1000,
            float(Fraction(state.sums.moment_gmm, mass)) / 1000,
            height / mass / 1000,
            grade=slope,
            acceleration_m_s2=acceleration,
        )
        front, rear = (round(load / STANDARD_GRAVITY_M_S2, 1) for load in loads)
        yield MotionLoad(
            words=words + ("; an axle lifts off" if min(front, rear) < 0 else ""),
            load_case=state.load_case,
            grade=slope,
            acceleration_m_s2=acceleration,
            front_kg=front,
            rear_kg=rear,
        )


def _changes(context: Context, states: tuple[_State, ...]) -> Iterator[AxleChange]:
    length = context.wheelbase_mm
    advice = context.project.house_rules.share_advice
    before = axle_loads_of(_state(states, "before", "").sums, length)
    after = axle_loads_of(_state(states, "after", "").sums, length)
    axles: tuple[tuple[Literal["front", "rear"], Fraction, Fraction], ...] = (
        ("front", before.front_g, after.front_g),
        ("rear", before.rear_g, after.rear_g),
    )
    for axle, old, new in axles:
        if old <= 0:
            continue
        hint = chassis_hint(
            old, new, Fraction(str(advice.springs_above)), Fraction(str(advice.dampers_above))
        )
        yield AxleChange(
            axle=axle,
            before_kg=_kg(old),
            after_kg=_kg(new),
            change_share=_share(hint.change_share),
            springs=hint.springs,
            dampers=hint.dampers,
        )


def _advice(context: Context, states: tuple[_State, ...]) -> Iterator[Advice]:
    donor, usual = context.project.donor, context.project.house_rules.share_advice
    length = context.wheelbase_mm
    heaviest = _heaviest(states)
    lightest = min(
        (state for state in states if state.stage == "after" and state.load_case),
        key=lambda state: state.sums.mass_g,
    )

    def front(state: _State) -> float:
        return _share(axle_loads_of(state.sums, length).front_share)

    yield from _overturning(context, states)
    # The habits of shares are of four wheels; what matters on three stands above.
    if donor.kind == "car" and 1 not in context.tyre_counts:
        share = front(heaviest)
        yield Advice(
            id="front-share.laden",
            words=f"front share, {heaviest.load_case}",
            value=share,
            usual=usual.front_share_laden,
            sense="at least",
            kept=share >= usual.front_share_laden,
        )
        if donor.driveline.driven == "front":
            share = front(lightest)
            yield Advice(
                id="front-share.driver",
                words=f"front share of a front-drive car, {lightest.load_case}",
                value=share,
                usual=usual.front_share_driver,
                sense="at least",
                kept=share >= usual.front_share_driver,
            )
    for state in dict.fromkeys((lightest, heaviest)):
        stock = front(_state(states, "before", state.load_case))
        apart = round(abs(front(state) - stock), 4)
        yield Advice(
            id=f"front-share.shift.{state.load_case}",
            words=f"front share against the donor's {100 * stock:.1f} %, {state.load_case}",
            value=apart,
            usual=usual.front_share_shift,
            sense="at most",
            kept=apart <= usual.front_share_shift,
        )
    yield from _wheel_advice(context, heaviest)


def _overturning(context: Context, states: tuple[_State, ...]) -> Iterator[Advice]:
    """Three wheels in a bend: the loaded state that tips first, against the grip of its tyres."""
    if 1 not in context.tyre_counts:
        return
    donor = context.project.donor
    found = []
    for state in states:
        if state.stage == "before" or not state.load_case:
            continue
        height = state.height_gmm
        height_mm = donor.centre_height_mm if height is None else height / state.sums.mass_g
        ratio = _rollover(context, state.sums, height_mm)
        if ratio is not None:
            found.append((ratio, state.load_case, height is not None))
    if not found:
        return
    ratio, load_case, known = min(found)
    at = "" if known else ", at the height of the donor"
    yield Advice(
        id=OVERTURNING,
        words=f"sideways pull in a bend, in parts of the weight, that overturns it on three wheels"
        f"{at}, {load_case}",
        value=ratio,
        usual=donor.grip,
        sense="at least",
        kept=ratio >= donor.grip,
        source="the tyres' grip, so that it slides first; computed from statics, without the"
        " body's roll; braking in a bend lowers it with one wheel in front",
    )


def _wheel_advice(context: Context, state: _State) -> Iterator[Advice]:
    """The most loaded wheel of each axle against its own tyres."""
    tracks = context.tracks_mm
    if state.corners is None or tracks is None:
        return
    four = corner_loads_of(state.corners, context.wheelbase_mm, *tracks)
    for axle, tyre, count, load_g in (
        ("front", context.tyres[0], context.tyre_counts[0],
         max(four.front_left_g, four.front_right_g)),
        ("rear", context.tyres[1], context.tyre_counts[1],
         max(four.rear_left_g, four.rear_right_g)),
    ):  # fmt: skip
        if tyre is None or count < 2:
            continue
        carries = axle_tyre_load_g(tyre, count) // 2
        yield Advice(
            id=f"tyre.{axle}-wheel",
            words=f"heavier {axle} wheel against its own tyres in kg, {state.load_case}",
            value=_kg(load_g),
            usual=_kg(carries),
            sense="at most",
            kept=load_g <= carries,
            source="load index of the tyres; ISO 4000-1 table (from memory)",
        )


def _heaviest(states: tuple[_State, ...]) -> _State:
    return max(
        (state for state in states if state.stage == "after" and state.load_case),
        key=lambda state: state.sums.mass_g,
    )


def _state(states: tuple[_State, ...], stage: str, load_case: str) -> _State:
    return next(state for state in states if state.stage == stage and state.load_case == load_case)


def _kg(grams: Fraction | int) -> float:
    return round(float(grams) / 1000, 3)


def _share(value: Fraction) -> float:
    return round(float(value), 4)
