"""What searches of near-alike projects share: drives that were simulated, rows that were judged.

A study asks for dozens of plans of projects that differ in one amount. A simulated drive does not
depend on how far the car is asked to go, nor a judged row on what the rear axle carries: so both
are remembered under everything of the project but what they do not read. That they read none of
it is held by ``tests/unit/planner/test_shared_searches.py``, which watches what is read.

Only within one process, and only for one catalogue object: figures are found by their rows.
"""

from __future__ import annotations

from collections import OrderedDict
from typing import Any, Final, TypeVar

from bomplan.buying.envelope import Envelope
from bomplan.buying.prices import PriceBook
from bomplan.catalog.records import Catalog
from bomplan.design.context import Context
from bomplan.design.planfile import digest
from bomplan.planner.fallen import Fallen
from bomplan.planner.judge import Judge
from bomplan.project.records import Project

Found = TypeVar("Found")
# What neither a rule nor a drive reads, by section: how much is asked, never what.
ASKED: Final[dict[str, tuple[str, ...]]] = {
    "targets": (
        "budget", "laden_mass_max_g", "front_axle_max_g", "rear_axle_max_g",
        "pack_voltage_min_v", "pack_voltage_max_v", "charged_voltage_min_v",
    ),
    "donor": ("gross_limit_g", "front_axle_limit_g", "rear_axle_limit_g"),
}  # fmt: skip
# Of a range target.
ASKED_OF_A_RANGE: Final = ("distance_m", "confidence")
# What a drive does not read beyond that; a rule may.
NOT_DRIVEN: Final = (
    "name", "bays", "floors", "places", "charging", "buying", "goal", "budget", "use", "show",
    "provenance", "scenarios",
)  # fmt: skip
NOT_DRIVEN_OF_TARGETS: Final = ("range", "top_speed", "climb", "acceleration")
DRIVEN_OF_CHOICES: Final = ("regeneration", "allow_unpaired", "battery_current_a")
# What neither a joint nor a limit of the model reads, its amounts aside.
NOT_MODELLED: Final = ("goal", "targets", "use", "show", "provenance", "scenarios")
# What no rule reads beyond the amounts: how much is asked stands in the figures of the core.
NOT_RULED: Final = ("goal", "targets", "floors", "use", "show", "provenance", "scenarios")
NOT_RULED_OF_A_DONOR: Final = ("front_wheel_limit_g", "rear_wheel_limit_g")
NOT_RULED_OF_A_DRIVELINE: Final = ("input_torque_limit_nm", "wheel_torque_limit_nm")
KEPT: Final = 12  # projects of which judged rows are kept
KEPT_LAPS: Final = 3  # and of which laps are kept: some hundred megabytes at most


class Shared:
    """Answers of one catalogue, for searches one after the other."""

    def __init__(self, catalog: Catalog) -> None:
        self.catalog = catalog
        self._driven: dict[str, dict[Any, Any]] = {}
        self._laps: OrderedDict[str, dict[Any, Any]] = OrderedDict()
        self._judges: OrderedDict[str, Judge] = OrderedDict()
        self._books: dict[str, tuple[PriceBook, Envelope]] = {}
        self._fallen = Fallen()

    def fallen(self, context: Context) -> Fallen | None:
        """The cores that fell in searches of this catalogue; None for another one's."""
        return self._fallen if context.catalog is self.catalog else None

    def judge(self, context: Context) -> Judge:
        """A judge for this context, with all that was found for projects that it reads alike."""
        if context.catalog is not self.catalog:
            return Judge(context)
        own = context.prices, context.envelope
        context.prices, context.envelope = self._books.setdefault(bought_key(context), own)
        drives = driven_key(context)
        context.driven = self._driven.setdefault(drives, {})
        context.laps = self._laps.pop(drives, {})
        self._laps[drives] = context.laps
        if len(self._laps) > KEPT_LAPS:
            self._laps.popitem(last=False)
        key = ruled_key(context)
        known = self._judges.pop(key, None) or Judge(context)
        self._judges[key] = known
        if len(self._judges) > KEPT:
            self._judges.popitem(last=False)
        return known


def bought_key(context: Context) -> str:
    """Everything that a price book reads of a project, as one text."""
    project = context.project
    told = project.model_dump(mode="json", include={"currency", "rates", "as_of", "buying"})
    choices = project.choices.model_dump(mode="json", include={"suppliers", "owned"})
    return digest(told | choices)


def ruled_key(context: Context) -> str:
    """Everything that a rule may read of a project, as one text: nothing of what is asked."""
    told = context.project.model_dump(mode="json", exclude=set(NOT_RULED))
    for name in (*ASKED["donor"], *NOT_RULED_OF_A_DONOR):
        del told["donor"][name]
    for name in NOT_RULED_OF_A_DRIVELINE:
        del told["donor"]["driveline"][name]
    for bay in told["bays"]:
        del bay["mass_limit_g"]
    return digest(told)


def judged_key(context: Context) -> str:
    """Everything that the fate of a core hangs on beside amounts, as one text."""
    told = _without_amounts(context.project, context.reference_mass_g)
    del told["goal"]
    return digest(told)


def modelled_key(context: Context) -> str:
    """Everything that the model of a core with known rows and currents reads, but amounts."""
    told = _without_amounts(context.project, context.reference_mass_g)
    for name in NOT_MODELLED:
        del told[name]
    del told["charging"]["hours"]
    return digest(told)


def driven_key(context: Context) -> str:
    """Everything that a simulated range may read of a project, as one text."""
    told = _without_amounts(context.project, context.reference_mass_g)
    for name in NOT_DRIVEN:
        del told[name]
    for name in NOT_DRIVEN_OF_TARGETS:
        del told["targets"][name]
    told["choices"] = {name: told["choices"][name] for name in DRIVEN_OF_CHOICES}
    return digest(told)


def _without_amounts(project: Project, reference_mass_g: int) -> dict[str, Any]:
    told = project.model_dump(mode="json")
    for section, names in ASKED.items():
        for name in names:
            del told[section][name]
    for target in told["targets"]["range"]:
        for name in ASKED_OF_A_RANGE:
            del target[name]
    # The plate's limits decide the mass at which conductors are sized, and nothing else here.
    told["reference_mass_g"] = reference_mass_g
    return told
