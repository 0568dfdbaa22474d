"""The shipped examples, each planned once per test process."""

from __future__ import annotations

from functools import cache, lru_cache
from pathlib import Path
from tempfile import mkdtemp

from bomplan import api
from bomplan.catalog import load_catalog
from bomplan.catalog.records import Catalog
from bomplan.design.adapter import Simulator
from bomplan.design.context import Context
from bomplan.design.drive import Drive, resolve
from bomplan.design.records import Plan
from bomplan.planner import find_plan
from bomplan.project import load_project, write_template
from bomplan.project.records import Project

NAMES = ("garden-pickup", "courier-motorcycle", "camper-van")


@lru_cache(maxsize=1)
def generic() -> Catalog:
    return load_catalog(["generic"])


@cache
def project_of(name: str) -> Project:
    folder = Path(mkdtemp(prefix="example-"))
    write_template(name, folder)
    return load_project(folder / "project.toml").project


@cache
def plan_of(name: str) -> Plan:
    return find_plan(project_of(name), generic())


@cache
def quick_plan() -> Plan:
    """A whole plan of the pickup in a second: with its drive and pack given, not searched for."""
    project = project_of("garden-pickup")
    drive = {
        "motor": "motor-series-232mm-used",
        "controller": "chopper-120v-450a",
        "module": "nmc-pouch-block-8s2p-64",
        "series": 4,
        "parallel": 3,
        "topology": "groups",
    }
    choices = project.choices.model_copy(update=drive)
    return find_plan(project.model_copy(update={"choices": choices}), generic())


@cache
def quick_page() -> str:
    """Its report."""
    return api.report(quick_plan())


@cache
def drive_of(name: str) -> tuple[Context, Drive, Simulator]:
    """The plan's core on its donor, ready to drive."""
    plan = plan_of(name)
    assert plan.core is not None
    context = Context(project_of(name), generic())
    drive = resolve(context, plan.core)
    return context, drive, Simulator(context, drive)
