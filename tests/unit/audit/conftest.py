"""What the audits of these tests simulate is kept: they change what a plan says, seldom what it is.

What is kept stands outside the audit and is pure; everything that they can read is
in the key. A call with anything else than it should be given goes to the function itself.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from todays_plan import todays_plan

from bomplan.audit import check_plan, parts_list
from bomplan.audit.typed_list import TypedPart
from bomplan.catalog.records import Catalog
from bomplan.design.adapter import Simulator
from bomplan.design.assemble import Bill, Chosen
from bomplan.design.bill import DesignCurrents
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.planfile import catalog_of, project_of
from bomplan.design.records import Couplers
from bomplan.project.records import Project

KEPT = {
    "Simulator",
    "design_currents",
    "driving_record",
    "performance_record",
    "placement_records",
}
_answers: dict[tuple[object, ...], Any] = {}


class _NotKeptError(Exception):
    """An argument of a kind that is not known here."""


def _key(argument: object) -> object:
    match argument:
        case Context():
            project, catalog = argument.project, argument.catalog
            later = tuple(sorted(argument.unknown_families))
            return project.model_dump_json(), catalog.model_dump_json(), later
        case Simulator():
            return _key(argument.context), _key(argument.drive)
        case Drive():
            return repr((argument.core, argument.pair))
        case Bill():
            return repr((argument.couplers, argument.lines))
        case Couplers() | DesignCurrents():
            return repr(argument)
        case tuple() if all(isinstance(one, int) for one in argument):
            return argument
        case dict():
            return tuple((family, _chosen(one)) for family, one in argument.items())
    raise _NotKeptError


def _chosen(one: object) -> object:
    if isinstance(one, Chosen):
        return one.part.id, one.source.supplier
    raise _NotKeptError


def _kept(name: str, function: Callable[..., Any]) -> Callable[..., Any]:
    def ask(*arguments: Any) -> Any:
        try:
            key = (name, *map(_key, arguments))
        except _NotKeptError:
            return function(*arguments)
        if key not in _answers:
            _answers[key] = function(*arguments)
        return _answers[key]

    return ask


@pytest.fixture(autouse=True)
def _simulated_once(monkeypatch: pytest.MonkeyPatch) -> None:
    for home in (check_plan, parts_list):
        for name in KEPT & vars(home).keys():
            monkeypatch.setattr(home, name, _kept(name, getattr(home, name)))


@pytest.fixture(scope="module")
def project() -> Project:
    return project_of(todays_plan())


@pytest.fixture(scope="module")
def catalog() -> Catalog:
    return catalog_of(todays_plan())


@pytest.fixture
def typed() -> dict[str, TypedPart]:
    """Twelve modules, three side by side, in two bays; every other part of the plan."""
    return {
        line.family: TypedPart(line.family, line.part, line.supplier, line.quantity)
        for line in todays_plan().lines
        if line.family != "shipping"
    }
