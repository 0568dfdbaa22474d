"""What a builder may ask for less (or more) of: each target and limit as one lever.

A lever says in the builder's words what the project asks, how much, which way is harder, and
gives the project with another amount. What binds, the clash finder and the fronts all loop
over these; none of them knows a key of the project file.

Amounts are integers in the lever's grain, the smallest step in which an answer is given, so
that "one grain less fails" can be said and checked.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, Final

from bomplan.money import currency_decimals
from bomplan.project.buying import Buying
from bomplan.project.records import Project

# As far as a limit is moved when a clash is looked into: beyond that it is another vehicle.
FARTHEST: Final = 1.6
KG: Final = 1000  # grams


@dataclass(frozen=True)
class Lever:
    """One target or limit. ``amount`` times ``size`` is the figure in ``unit``.

    ``harder`` is +1 where a greater amount is harder to meet (a target) and -1 where a
    smaller one is (a limit). ``step`` is what "one step more or less" means, in grains;
    ``loosest`` the amount at which the lever asks nothing any more, or as good as nothing.
    """

    id: str
    words: str
    unit: str
    size: float
    decimals: int
    amount: int
    step: int
    harder: int
    loosest: int
    _set: Callable[[Project, int], Project]

    def at(self, project: Project, amount: int) -> Project:
        """The project with this lever at another amount."""
        return self._set(project, amount)

    def lifted(self, project: Project) -> Project:
        """The project with this lever asking as good as nothing."""
        return self._set(project, self.loosest)

    def figure(self, amount: int) -> str:
        """An amount with its unit."""
        return f"{amount * self.size:.{self.decimals}f} {self.unit}"

    def eased(self, steps: int = 1) -> int | None:
        """The amount some steps easier; None where there is no such thing."""
        amount = self.amount - self.harder * self.step * steps
        return amount if amount > 0 else None

    def hardened(self, steps: int = 1) -> int | None:
        """The amount some steps harder; None where there is no such thing."""
        amount = self.amount + self.harder * self.step * steps
        return amount if amount > 0 else None


@dataclass(frozen=True)
class Decision:
    """A choice that the builder made and could take back: it has no amount."""

    id: str
    words: str
    _lift: Callable[[Project], Project]

    def lifted(self, project: Project) -> Project:
        """The project without this decision."""
        return self._lift(project)


def levers(project: Project) -> tuple[Lever, ...]:
    """Every lever of the project, targets before limits, in the project's order."""
    return (
        *_ranges(project),
        *_speeds(project),
        *_climbs(project),
        *_accelerations(project),
        *_voltages(project),
        *_charging(project),
        *_masses(project),
        *_own_masses(project),
        *_wheels(project),
        *_shares(project),
        *_bays(project),
        *_floors(project),
        *_money(project),
    )


def decisions(project: Project) -> tuple[Decision, ...]:
    """Every choice of the project that narrows the search, in the records' order."""
    return tuple(_decisions(project))


def _grains(figure: float, harder: int) -> int:
    """The whole amount that asks no less than this figure; what hardly differs from one is it.

    A figure between two grains asks what the harder one does, as figures that are reached are
    whole grains: with the easier one for it, "one grain less fails" would be said of a grain
    that was never tried.
    """
    return math.ceil(figure - 1e-6) if harder > 0 else math.floor(figure + 1e-6)


# -- targets ---------------------------------------------------------------------------


def _ranges(project: Project) -> Iterator[Lever]:
    for place, target in enumerate(project.targets.range):
        yield Lever(
            f"range.{target.name}",
            f"range, {target.name} ({target.profile}, {target.condition}, {target.load_case})",
            "km",
            0.1,
            1,
            _grains(target.distance_m / 100, 1),
            100,
            1,
            1,
            _in_target("range", place, "distance_m", lambda amount: amount * 100),
        )


def _speeds(project: Project) -> Iterator[Lever]:
    for place, target in enumerate(project.targets.top_speed):
        yield Lever(
            f"speed.{target.name}",
            f"speed held for {target.hold_s:.0f} s, {target.name} ({target.condition},"
            f" {target.load_case})",
            "km/h",
            0.1,
            1,
            _grains(target.speed_m_s * 36, 1),
            50,
            1,
            10,
            _in_target("top_speed", place, "speed_m_s", lambda amount: amount / 36),
        )


def _climbs(project: Project) -> Iterator[Lever]:
    for place, target in enumerate(project.targets.climb):
        start = "started on" if target.speed_m_s == 0 else f"at {target.speed_m_s * 3.6:.0f} km/h"
        yield Lever(
            f"climb.{target.name}",
            f"grade {start}, {target.name} ({target.condition}, {target.load_case})",
            "%",
            0.1,
            1,
            _grains(target.grade * 1000, 1),
            10,
            1,
            1,
            _in_target("climb", place, "grade", lambda amount: amount / 1000),
        )


def _accelerations(project: Project) -> Iterator[Lever]:
    for place, target in enumerate(project.targets.acceleration):
        amount = _grains(target.within_s * 10, -1)
        yield Lever(
            f"acceleration.{target.name}",
            f"0 to {target.speed_m_s * 3.6:.0f} km/h, {target.name} ({target.condition},"
            f" {target.load_case})",
            "s",
            0.1,
            1,
            amount,
            5,
            -1,
            max(6000, 2 * amount),
            _in_target("acceleration", place, "within_s", lambda amount: amount / 10),
        )


def _voltages(project: Project) -> Iterator[Lever]:
    targets = project.targets
    for key, name, words, volts in (
        ("pack_voltage_min_v", "project-least", "nominal pack", targets.pack_voltage_min_v),
        ("charged_voltage_min_v", "charged-least", "charged pack", targets.charged_voltage_min_v),
    ):
        if volts > 0:
            yield Lever(
                f"voltage.{name}",
                f"{words} voltage, at least",
                "V",
                1.0,
                0,
                _grains(volts, 1),
                10,
                1,
                1,
                _in_section("targets", key, float),
            )
    yield Lever(
        "voltage.project-most",
        "pack voltage when charged, at most",
        "V",
        1.0,
        0,
        _grains(targets.pack_voltage_max_v, -1),
        20,
        -1,
        max(450, math.ceil(targets.pack_voltage_max_v)),
        _in_section("targets", "pack_voltage_max_v", float),
    )


def _charging(project: Project) -> Iterator[Lever]:
    amount = _grains(project.charging.hours * 10, -1)
    yield Lever(
        "charger.hours",
        "hours from empty to full",
        "h",
        0.1,
        1,
        amount,
        10,
        -1,
        max(2000, 2 * amount),
        _in_section("charging", "hours", lambda amount: amount / 10),
    )


# -- limits ----------------------------------------------------------------------------


def _masses(project: Project) -> Iterator[Lever]:
    donor = project.donor
    for key, name, words, limit_g in (
        ("gross_limit_g", "mass.gross", "gross mass on the plate", donor.gross_limit_g),
        ("front_axle_limit_g", "axle.front", "front axle's plate limit", donor.front_axle_limit_g),
        ("rear_axle_limit_g", "axle.rear", "rear axle's plate limit", donor.rear_axle_limit_g),
    ):
        yield Lever(
            name,
            words,
            "kg",
            1.0,
            0,
            limit_g // KG,
            20,
            -1,
            math.ceil(limit_g * FARTHEST / KG),
            _in_section("donor", key, lambda amount: amount * KG),
        )


def _own_masses(project: Project) -> Iterator[Lever]:
    """Limits of the builder's own, as far as the plate's are moved."""
    donor, targets = project.donor, project.targets
    for key, name, words, limit_g, plate_g in (
        ("laden_mass_max_g", "mass", "laden mass", targets.laden_mass_max_g, donor.gross_limit_g),
        (
            "front_axle_max_g",
            "axle-front",
            "front axle",
            targets.front_axle_max_g,
            donor.front_axle_limit_g,
        ),
        (
            "rear_axle_max_g",
            "axle-rear",
            "rear axle",
            targets.rear_axle_max_g,
            donor.rear_axle_limit_g,
        ),
    ):
        if limit_g is not None:
            yield Lever(
                f"own.{name}",
                f"limit of your own on the {words}",
                "kg",
                1.0,
                0,
                limit_g // KG,
                20,
                -1,
                math.ceil(max(limit_g, plate_g) * FARTHEST / KG),
                _in_section("targets", key, lambda amount: amount * KG),
            )


def _wheels(project: Project) -> Iterator[Lever]:
    for axle in ("front", "rear"):
        limit_g = getattr(project.donor, f"{axle}_wheel_limit_g")
        if limit_g is not None:
            yield Lever(
                f"wheel.{axle}",
                f"what one side of the {axle} may carry",
                "kg",
                1.0,
                0,
                limit_g // KG,
                10,
                -1,
                math.ceil(limit_g * FARTHEST / KG),
                _in_section("donor", f"{axle}_wheel_limit_g", lambda amount: amount * KG),
            )


def _shares(project: Project) -> Iterator[Lever]:
    """House rules on where the middle of mass lies; moved to where they ask nothing."""
    for side in ("front", "left"):
        for key, most, harder in (
            (f"minimum_{side}_share", "least", 1),
            (f"maximum_{side}_share", "greatest", -1),
        ):
            share = getattr(project.house_rules, key)
            if not share:
                continue
            yield Lever(
                f"share.{side}-{'least' if harder > 0 else 'most'}",
                f"{most} {side} share of the mass",
                "%",
                0.1,
                1,
                _grains(share * 1000, harder),
                10,
                harder,
                1 if harder > 0 else 1000,
                _in_section("house_rules", key, lambda amount: amount / 1000),
            )


def _bays(project: Project) -> Iterator[Lever]:
    for place, bay in enumerate(project.bays):
        yield Lever(
            f"bay.room.{bay.name}",
            f"length of bay {bay.name}",
            "mm",
            1.0,
            0,
            bay.length_mm,
            50,
            -1,
            max(math.ceil(bay.length_mm * 2), 600),
            _in_bay(place, "length_mm", int),
        )
        if bay.mass_limit_g is not None:
            yield Lever(
                f"bay.mass.{bay.name}",
                f"what the floor of bay {bay.name} carries",
                "kg",
                1.0,
                0,
                bay.mass_limit_g // KG,
                20,
                -1,
                math.ceil(bay.mass_limit_g * 5 / KG),
                _in_bay(place, "mass_limit_g", lambda amount: amount * KG),
            )


def _floors(project: Project) -> Iterator[Lever]:
    """Limits that several bays share."""
    for place, floor in enumerate(project.floors):
        yield Lever(
            f"floor.mass.{floor.name}",
            f"what floor {floor.name} carries",
            "kg",
            1.0,
            0,
            floor.mass_limit_g // KG,
            20,
            -1,
            math.ceil(floor.mass_limit_g * 5 / KG),
            _on_floor(place),
        )


def _money(project: Project) -> Iterator[Lever]:
    budget = project.targets.budget
    if budget is None:
        return
    unit = 10 ** currency_decimals(project.currency)
    amount = budget // unit
    yield Lever(
        "budget",
        "budget",
        project.currency,
        1.0,
        0,
        amount,
        max(1, round(amount * 0.05)),
        -1,
        max(amount * 20, 10**6),
        _in_section("targets", "budget", lambda amount: amount * unit),
    )


# -- decisions -------------------------------------------------------------------------


def _decisions(project: Project) -> Iterator[Decision]:
    choices = project.choices
    for key in ("motor", "controller", "module", "series", "parallel", "topology"):
        value = getattr(choices, key)
        if value is not None:
            yield Decision(f"choices.{key}", f"{key} is to be {value}", _without_choice(key))
    for family, part in sorted(choices.parts.items()):
        yield Decision(
            f"choices.parts.{family}", f"{family} is to be {part}", _without_locked(family)
        )
    if choices.excluded:
        yield Decision(
            "choices.excluded",
            "never to be used: " + ", ".join(choices.excluded),
            _without_choice("excluded", ()),
        )
    if choices.chemistries:
        yield Decision(
            "choices.chemistries",
            "only these chemistries: " + ", ".join(choices.chemistries),
            _without_choice("chemistries", ()),
        )
    if choices.suppliers:
        yield Decision(
            "choices.suppliers",
            "only these suppliers: " + ", ".join(choices.suppliers),
            _without_choice("suppliers", ()),
        )
    if choices.regeneration:
        yield Decision(
            "choices.regeneration", "regeneration is asked for", _without_choice("regeneration")
        )
    if choices.bays_max is not None:
        yield Decision(
            "choices.bays_max",
            f"modules in at most {choices.bays_max} bays",
            _without_choice("bays_max"),
        )
    if choices.battery_current_a:
        named = ", ".join(f"{amps:g} A" for amps in choices.battery_current_a)
        yield Decision(
            "choices.battery_current",
            f"controller set to {named}",
            _without_choice("battery_current_a", ()),
        )
    for key, words in (("requires", "goes"), ("forbids", "does not go")):
        rules = getattr(choices, key)
        if rules:
            told = "; ".join(f"{a} {words} with {', '.join(b)}" for a, b in sorted(rules.items()))
            yield Decision(f"choices.{key}", f"rules of your own: {told}", _without_choice(key, {}))
    yield from _buying(project)
    if project.donor.driveline.input_torque_limit_nm is not None:
        yield Decision(
            "driveline.input_torque_limit",
            "gearbox input torque of at most"
            f" {project.donor.driveline.input_torque_limit_nm:.0f} N m",
            lambda project: _replaced_driveline(project, "input_torque_limit_nm", None),
        )
    if project.donor.driveline.wheel_torque_limit_nm is not None:
        yield Decision(
            "driveline.wheel_torque_limit",
            f"wheel torque of at most {project.donor.driveline.wheel_torque_limit_nm:.0f} N m",
            lambda project: _replaced_driveline(project, "wheel_torque_limit_nm", None),
        )


def _buying(project: Project) -> Iterator[Decision]:
    """Wishes on buying that may leave no seller, or too little in stock."""
    buying, own = project.buying, Buying()
    only = ", ".join(f"{part} from {name}" for part, name in sorted(buying.supplier_of.items()))
    for key, words in (
        ("deadline_days", f"all must be there within {buying.deadline_days} days"),
        ("suppliers_max", f"orders at no more than {buying.suppliers_max} suppliers"),
        ("excluded", "nothing is to be bought from: " + ", ".join(buying.excluded)),
        ("supplier_of", f"from one supplier alone: {only}"),
        ("split", "no line is to be shared by suppliers"),
        ("spares", "pieces to lie in the garage"),
    ):
        if getattr(buying, key) != getattr(own, key):
            name = "from" if key == "supplier_of" else key
            yield Decision(f"buying.{name}", words, _as_it_was(key))


def _as_it_was(key: str) -> Callable[[Project], Project]:
    return lambda project: _replaced(project, "buying", key, getattr(Buying(), key))


def _without_choice(key: str, empty: Any = None) -> Callable[[Project], Project]:
    def lift(project: Project) -> Project:
        return _replaced(project, "choices", key, empty)

    return lift


def _without_locked(family: str) -> Callable[[Project], Project]:
    def lift(project: Project) -> Project:
        parts = {key: part for key, part in project.choices.parts.items() if key != family}
        return _replaced(project, "choices", "parts", parts)

    return lift


# -- one changed key -------------------------------------------------------------------


def _replaced(project: Project, section: str, key: str, value: Any) -> Project:
    record = getattr(project, section).model_copy(update={key: value})
    return project.model_copy(update={section: record})


def _on_floor(place: int) -> Callable[[Project, int], Project]:
    def change(project: Project, amount: int) -> Project:
        listed = list(project.floors)
        listed[place] = listed[place].model_copy(update={"mass_limit_g": amount * KG})
        return project.model_copy(update={"floors": tuple(listed)})

    return change


def _replaced_driveline(project: Project, key: str, value: Any) -> Project:
    driveline = project.donor.driveline.model_copy(update={key: value})
    return _replaced(project, "donor", "driveline", driveline)


def _in_section(
    section: str, key: str, value: Callable[[int], Any]
) -> Callable[[Project, int], Project]:
    def change(project: Project, amount: int) -> Project:
        return _replaced(project, section, key, value(amount))

    return change


def _in_target(
    family: str, place: int, key: str, value: Callable[[int], Any]
) -> Callable[[Project, int], Project]:
    def change(project: Project, amount: int) -> Project:
        listed = list(getattr(project.targets, family))
        listed[place] = listed[place].model_copy(update={key: value(amount)})
        return _replaced(project, "targets", family, tuple(listed))

    return change


def _in_bay(place: int, key: str, value: Callable[[int], Any]) -> Callable[[Project, int], Project]:
    def change(project: Project, amount: int) -> Project:
        listed = list(project.bays)
        listed[place] = listed[place].model_copy(update={key: value(amount)})
        return project.model_copy(update={"bays": tuple(listed)})

    return change
