"""A repeated lap of power against the pack, second by second, until it is empty.

Each second: E and R at the state of charge it begins with; current from the quadratic; the
charge drawn, with Peukert's exponent; the next state of charge. This recursion is not walked
step by step: guessed states of charge for the next hour or so give currents, their running sum
gives better ones, and so on (Picard's iteration of the sum). A second depends only on
earlier ones, so the fixed point is the step-by-step result itself, reached to 1e-8 in a few
passes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from bomplan.physics.arrays import BoolArray, FloatArray
from bomplan.physics.battery import TAPER_SOC, Pack

TOLERANCE = 1e-8
MOST_PASSES = 100
BLOCK = 4096  # seconds settled at once: arrays that stay in the processor's cache
SHORTEST = 8
# Chosen for what a drive takes in memory: what goes on longer counts as far as it came. In seconds
# (111 hours), standing counted, and at least so many laps.
MOST_STEPS = 400_000
MOST_LAPS = 12

Cause = Literal["empty", "voltage", "time", "endless"]


@dataclass(frozen=True, eq=False)
class Step:
    """Arrays of one evaluation: see :func:`step`."""

    current_a: FloatArray
    open_circuit_v: FloatArray
    total_ohm: FloatArray
    drawn_a: FloatArray
    reachable: BoolArray


def step(pack: Pack, soc: FloatArray, power_w: FloatArray, external_ohm: float) -> Step:
    """One second at each state of charge: current, and the charge the capacity feels.

    On charge the current is held to the pack's acceptance, which fades to nothing over the
    last 2 % of the window and may not lift the terminals above the pack's greatest voltage.
    ``reachable`` is False where no current gives the power.
    """
    open_v = pack.open_circuit(soc)
    total = pack.resistance(soc) + external_ohm
    inside = open_v * open_v - 4.0 * power_w * total
    reachable = inside >= 0
    current = 2.0 * power_w / (open_v + np.sqrt(np.maximum(inside, 0.0)))
    if pack.charge_limit_a > 0:
        room = np.clip((pack.soc_max - soc) * (1.0 / TAPER_SOC), 0.0, 1.0)
        below_ceiling = np.maximum(pack.max_voltage_v - open_v, 0.0) / total
        current = np.maximum(current, -np.minimum(pack.charge_limit_a * room, below_ceiling))
    else:
        current = np.maximum(current, 0.0)
    return Step(current, open_v, total, pack.charge_drawn(current), reachable)


@dataclass(frozen=True, eq=False)
class Block:
    """Up to BLOCK consecutive seconds; arrays hold one value per second.

    ``soc`` is the state at the start of each second and one more after the last;
    ``power_w`` what the load asks; ``ended`` and ``dead`` tell that the drive stops here, and
    that it was the voltage that stopped it (the last second driven is then the one before).
    """

    power_w: FloatArray
    current_a: FloatArray
    open_circuit_v: FloatArray
    total_ohm: FloatArray
    soc: FloatArray
    ended: bool
    dead: bool

    @property
    def seconds(self) -> int:
        """How many seconds it holds."""
        return len(self.current_a)


@dataclass(frozen=True, eq=False)
class Discharge:
    """From full to empty, as blocks.

    ``steps`` seconds in all, of the last of which only ``last_share`` was driven. Kept in
    blocks of 32 kB: memory of drive length is slow to get and to touch.
    """

    blocks: tuple[Block, ...]
    steps: int
    last_share: float
    cause: Cause


def discharge(pack: Pack, lap_power_w: FloatArray, external_ohm: float) -> Discharge:
    """Drive the lap over and over until cut-off, the end of the window, or the most that is driven.

    Endless is only what starts a lap with no less charge than the lap before.
    """
    length = len(lap_power_w)
    power = np.resize(lap_power_w, length + BLOCK)
    middle = np.full_like(lap_power_w, 0.5 * (pack.soc_min + pack.soc_max))
    per_second = 1.0 / (3600.0 * pack.capacity_ah)
    per_lap = step(pack, middle, lap_power_w, external_ohm).drawn_a * per_second
    guess = np.resize(per_lap, length + BLOCK)
    blocks: list[Block] = []
    soc, begun, size = pack.soc_max, 0, BLOCK
    lap_soc, lap_ends = pack.soc_max, length
    while begun < max(MOST_STEPS, MOST_LAPS * length):
        at = begun % length
        settled = _settle(pack, soc, power[at : at + size], guess[at : at + size], external_ohm)
        if settled is None:
            size //= 2  # charging close to full: the taper feeds back fast
            continue
        block = settled
        blocks.append(block)
        begun += block.seconds
        if block.ended:
            share = 1.0
            if not block.dead:
                last = block.soc
                share = float((last[-2] - pack.soc_min) / (last[-2] - last[-1]))
            cause: Cause = "voltage" if block.dead else "empty"
            return Discharge(tuple(blocks), begun, min(1.0, max(0.0, share)), cause)
        drop, soc = soc - float(block.soc[-1]), float(block.soc[-1])
        expected = float(guess[at : at + size].sum())
        if expected > 0 and drop > 0:
            guess *= drop / expected  # a better first guess for the next block
        while lap_ends <= begun:
            now = float(block.soc[block.seconds - (begun - lap_ends)])
            if now >= lap_soc:
                return _endless(blocks)  # a lap gave at least as much as it took, and will again
            lap_soc, lap_ends = now, lap_ends + length
    return Discharge(tuple(blocks), begun, 1.0, "time")


def _endless(blocks: list[Block]) -> Discharge:
    return Discharge(tuple(blocks[:1]), blocks[0].seconds, 1.0, "endless")


def _settle(
    pack: Pack, start: float, power: FloatArray, guess: FloatArray, external_ohm: float
) -> Block | None:
    """The fixed point over these seconds, cut where the drive ends.

    None where it does not settle: over fewer seconds it will. With L the greatest change of
    a second's charge per change of the state, n passes leave (L t)^n / n!.
    """
    per_second = 1.0 / (3600.0 * pack.capacity_ah)
    soc = np.empty(len(power) + 1)
    soc[0] = start
    np.cumsum(guess, out=soc[1:])
    np.subtract(start, soc[1:], out=soc[1:])
    for _ in range(MOST_PASSES):
        now = step(pack, soc[:-1], power, external_ohm)
        better = np.empty_like(soc)
        better[0] = start
        np.cumsum(now.drawn_a, out=better[1:])
        better[1:] *= -per_second
        better[1:] += start
        voltage = now.open_circuit_v - now.total_ohm * now.current_a
        dead = ~now.reachable | (voltage < pack.min_voltage_v)
        over = dead | (better[1:] <= pack.soc_min)
        end = int(np.argmax(over))
        ended = bool(over[end])
        kept = end + 2 if ended else len(soc)
        change = float(np.max(np.abs(better[:kept] - soc[:kept])))
        soc = better
        if change < TOLERANCE:
            driven = len(power) if not ended else end if dead[end] else end + 1
            return Block(
                power_w=power[:driven],
                current_a=now.current_a[:driven],
                open_circuit_v=now.open_circuit_v[:driven],
                total_ohm=now.total_ohm[:driven],
                soc=soc[: driven + 1],
                ended=ended,
                dead=bool(ended and dead[end]),
            )
        if ended:
            # A second depends on earlier ones alone: what lies well beyond the end is idle.
            spare = min(len(power), end + 300)
            power, soc = power[:spare], soc[: spare + 1]
    if len(power) <= SHORTEST:
        raise ArithmeticError("the drive's states of charge did not settle")
    return None
