"""How far it goes: a profile repeated until the pack is empty, and what happened on the way."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from bomplan.physics.arrays import FloatArray, IntArray
from bomplan.physics.demand import Lap, drive_lap
from bomplan.physics.discharge import Block, Discharge, discharge
from bomplan.physics.profile import Profile
from bomplan.physics.system import System
from bomplan.physics.thermal import RollingRms, rolling_rms_of_laps

J_PER_WH = 3600.0
FOLLOWED_SHARE = 0.98
EndCause = Literal["empty", "voltage", "reserve", "time", "endless"]


@dataclass(frozen=True)
class Balance:
    """Where the energy went over the whole drive, J.

    ``battery`` (E·I summed, net of what came back) = wheel + rotor + driveline + motor +
    controller + auxiliary + external + pack + refused. ``wheel`` is the motor's net work at the
    wheels, ``brake`` (not part of the sum) what the friction brakes turned into heat.
    ``refused`` was offered by braking and not accepted, so it went into the brakes too.
    """

    battery: float
    wheel: float
    rotor: float
    driveline: float
    motor: float
    controller: float
    auxiliary: float
    external: float
    pack: float
    refused: float
    brake: float

    @property
    def error(self) -> float:
        """What the sum lacks, as a share of the energy drawn."""
        parts = (
            self.wheel + self.rotor + self.driveline + self.motor + self.controller
            + self.auxiliary + self.external + self.pack + self.refused
        )  # fmt: skip
        return abs(self.battery - parts) / max(1.0, abs(self.battery))


@dataclass(frozen=True)
class RangeAnswer:
    """The answer for one profile, condition, mass and set of couplers.

    Energies per distance: ``energy_wheel_wh_km`` the motor's net work at the wheels,
    ``energy_battery_wh_km`` at the pack's terminals; ``usable_wh`` what the terminals gave up
    to where the drive ended. Root-mean-square dictionaries go by window in seconds, ``inf``
    for the whole drive. ``not_followed_s`` and ``_m`` count one lap.
    """

    distance_m: float
    followed: bool
    not_followed_s: float
    not_followed_m: float
    energy_wheel_wh_km: float
    energy_battery_wh_km: float
    usable_wh: float
    regenerated_wh: float
    brake_wh: float
    drive_s: float
    peak_battery_a: float
    peak_charge_a: float
    rms_battery_a: float
    peak_motor_a: float
    battery_rms_a: dict[float, float]
    motor_rms_a: dict[float, float]
    motor_rms_w: dict[float, float]
    min_voltage_v: float
    end_soc: float
    end_cause: EndCause
    balance: Balance


def range_answer(
    system: System,
    profile: Profile,
    gears: IntArray,
    mass_kg: float,
    external_resistance_ohm: float,
    auxiliary_w: float,
    heater_w: float = 0.0,
    reserve: float = 0.0,
    followed_share_min: float = FOLLOWED_SHARE,
) -> RangeAnswer:
    """Range from full, the profile repeated until the pack is empty.

    The drive ends in the first second in which the terminals (behind pack and external
    resistance) would fall under ``pack.min_voltage_v``, or where the usable window ends.
    ``reserve`` is the share of the usable energy kept back (open-circuit energy of the
    window); where the cut-off voltage ends the drive early, the same share of that distance
    is kept back instead: the lesser of the two counts. ``auxiliary_w`` and ``heater_w`` are
    drawn from the traction side all the time.

    If less than ``followed_share_min`` of a lap's seconds can be driven as the profile asks,
    ``followed`` is False. Raises ValueError on a mass or reserve out of bounds.
    """
    if mass_kg <= 0 or not 0 <= reserve < 1 or external_resistance_ohm < 0:
        raise ValueError("mass above 0, reserve in 0 to 1, external resistance 0 or more")
    if auxiliary_w < 0 or heater_w < 0:
        raise ValueError("the 12 V load and the heater cannot give power")
    lap = drive_lap(system, profile, gears, mass_kg)
    beside_w = auxiliary_w + heater_w
    gone = discharge(system.pack, lap.traction_w + beside_w, external_resistance_ohm)
    stop = _stop(system, profile, gone, reserve)
    return _account(
        system, profile, lap, gone, beside_w, external_resistance_ohm, stop, followed_share_min
    )


@dataclass(frozen=True)
class _Stop:
    """``full`` seconds driven and ``share`` of the next."""

    full: int
    share: float
    distance_m: float
    cause: EndCause

    @property
    def used(self) -> int:
        return self.full + (1 if self.share > 0 else 0)


def _stop(system: System, profile: Profile, gone: Discharge, reserve: float) -> _Stop:
    if gone.cause == "endless":
        return _Stop(gone.steps, 0.0, math.inf, "endless")
    travelled = np.concatenate([[0.0], np.cumsum(profile.distance_m)])
    whole = gone.cause in ("voltage", "time")  # no second is driven in part
    seconds = gone.steps if whole else gone.steps - 1
    share = 0.0 if whole else gone.last_share
    end = _distance(profile, travelled, seconds, share)
    if reserve == 0.0:
        return _Stop(seconds, share, end, gone.cause)
    distance = (1.0 - reserve) * end
    kept = _first_below(gone, system.pack.soc_at(reserve))
    if kept is not None:
        distance = min(distance, _distance(profile, travelled, *kept))
    laps, rest = divmod(distance, profile.length_m)
    # A lap's length and its running sum may lie apart by a rounding.
    rest = min(rest, float(travelled[-1]))
    index = int(np.searchsorted(travelled, rest, side="left"))
    full = max(0, index - 1)
    length = float(travelled[index] - travelled[full]) if index else 0.0
    share = (rest - float(travelled[full])) / length if length > 0 else 0.0
    full += int(laps) * profile.steps
    cause: EndCause = gone.cause if whole else "reserve"
    return _Stop(min(full, gone.steps), share if full < gone.steps else 0.0, distance, cause)


def _distance(profile: Profile, travelled: FloatArray, seconds: int, share: float) -> float:
    laps, rest = divmod(seconds, profile.steps)
    part = share * float(profile.distance_m[rest]) if share > 0 else 0.0
    return laps * profile.length_m + float(travelled[rest]) + part


def _first_below(gone: Discharge, soc: float) -> tuple[int, float] | None:
    """(full seconds, share of the next) until the state of charge first falls to ``soc``."""
    begun = 0
    for block in gone.blocks:
        below = np.nonzero(block.soc[1:] <= soc)[0]
        if len(below):
            at = int(below[0])
            high, low = float(block.soc[at]), float(block.soc[at + 1])
            return begun + at, min(1.0, (high - soc) / (high - low)) if high > soc else 0.0
        begun += block.seconds
    return None


def _summed(lap_values: FloatArray, steps: int, share: float) -> float:
    laps, rest = divmod(steps, len(lap_values))
    part = float(lap_values[rest]) * share if share > 0 else 0.0
    return float(laps * lap_values.sum() + lap_values[:rest].sum()) + part


@dataclass
class _Tally:
    """Sums and extremes over the driven seconds, block by block."""

    battery_j: float = 0.0
    inner_j: float = 0.0
    outer_j: float = 0.0
    refused_j: float = 0.0
    returned_j: float = 0.0
    peak_a: float = 0.0
    peak_charge_a: float = 0.0
    min_v: float = math.inf
    end_soc: float = 1.0

    def add(self, block: Block, used: int, share: float, external_ohm: float) -> None:
        """Count the first ``used`` seconds of a block, the last of them by its share."""
        current, open_v = block.current_a[:used], block.open_circuit_v[:used]
        total = block.total_ohm[:used]
        seconds = np.ones(used)
        seconds[-1] = share
        amp_seconds = current * seconds
        squared = amp_seconds * current
        outer = external_ohm * float(squared.sum())
        terminal_v = open_v - total * current
        self.battery_j += float(np.dot(amp_seconds, open_v))
        self.outer_j += outer
        self.inner_j += float(np.dot(squared, total)) - outer
        self.peak_a = max(self.peak_a, float(current.max()))
        self.min_v = min(self.min_v, float(terminal_v.min()))
        self.end_soc = float(block.soc[used - 1] + share * (block.soc[used] - block.soc[used - 1]))
        if float(current.min()) < 0 or float(block.power_w[:used].min()) < 0:
            asked = block.power_w[:used]
            back = np.minimum(amp_seconds, 0.0)
            self.returned_j -= float(np.dot(back, open_v - (total - external_ohm) * current))
            self.peak_charge_a = max(self.peak_charge_a, -float(current.min()))
            # Refused: only where acceptance held the current to less than was offered.
            free = 2.0 * asked / (open_v + np.sqrt(open_v * open_v - 4.0 * asked * total))
            held = (asked < 0) & (free < current)
            self.refused_j += float(np.dot(terminal_v * current - asked, seconds * held))


def _account(
    system: System,
    profile: Profile,
    lap: Lap,
    gone: Discharge,
    beside_w: float,
    external_ohm: float,
    stop: _Stop,
    followed_share_min: float,
) -> RangeAnswer:
    tally = _Tally(end_soc=system.pack.soc_max)
    rms = RollingRms()
    left = stop.used
    for block in gone.blocks:
        used = min(left, block.seconds)
        if used <= 0:
            break
        last = used == left and stop.share > 0
        tally.add(block, used, stop.share if last else 1.0, external_ohm)
        rms.add(block.current_a[:used])
        left -= used
    steps, share = stop.full, stop.share
    balance = Balance(
        battery=tally.battery_j,
        wheel=_summed(lap.wheel_w, steps, share),
        rotor=_summed(lap.rotor_w, steps, share),
        driveline=_summed(lap.driveline_loss_w, steps, share),
        motor=_summed(lap.motor_loss_w, steps, share),
        controller=_summed(lap.controller_loss_w, steps, share),
        auxiliary=beside_w * (steps + share),
        external=tally.outer_j,
        pack=tally.inner_j,
        refused=tally.refused_j,
        brake=_summed(lap.brake_w, steps, share) + tally.refused_j,
    )
    endless = stop.cause == "endless"
    driven_m = _summed(profile.distance_m, steps, share)
    km = driven_m / 1000.0
    missed_s = float(lap.missed.sum())
    at_terminals = balance.battery - balance.pack
    battery_rms = rms.greatest()
    return RangeAnswer(
        distance_m=stop.distance_m,
        followed=bool(missed_s <= (1.0 - followed_share_min) * profile.steps + 1e-9),
        not_followed_s=missed_s,
        not_followed_m=float(profile.distance_m[lap.missed].sum()),
        energy_wheel_wh_km=balance.wheel / J_PER_WH / km if km > 0 else 0.0,
        energy_battery_wh_km=at_terminals / J_PER_WH / km if km > 0 else 0.0,
        usable_wh=at_terminals / J_PER_WH,
        regenerated_wh=tally.returned_j / J_PER_WH,
        brake_wh=balance.brake / J_PER_WH,
        drive_s=math.inf if endless else steps + share,
        peak_battery_a=tally.peak_a,
        peak_charge_a=tally.peak_charge_a,
        rms_battery_a=battery_rms[math.inf],
        peak_motor_a=float(lap.motor_current_a.max()),
        battery_rms_a=battery_rms,
        motor_rms_a=rolling_rms_of_laps(lap.motor_current_a, max(stop.used, 1)),
        motor_rms_w=rolling_rms_of_laps(lap.shaft_w, max(stop.used, 1)),
        min_voltage_v=tally.min_v,
        end_soc=tally.end_soc,
        end_cause=stop.cause,
        balance=balance,
    )
