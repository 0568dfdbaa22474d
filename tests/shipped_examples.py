"""The shipped examples, each planned once in a run of the tests, whichever process asks first.

In the fast suite an example is planned with the core given that the slow lane has found for it,
which takes a second; in the slow lane it is searched for (``lanes.FULL``), and
``tests/reference/test_examples_bind.py`` holds the given core against the one that is found.
"""

from __future__ import annotations

import json
import os
import pickle
from collections.abc import Callable
from functools import cache, lru_cache
from pathlib import Path
from tempfile import mkdtemp

from lanes import FULL, PLANS_FOLDER

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


CORES = Path(__file__).parent / "golden" / "example-cores.json"


def kept(name: str, make: Callable[[], Plan]) -> Plan:
    """The plan of this name that a process of this run has made, else a new one for the others."""
    file = Path(os.environ[PLANS_FOLDER]) / f"{name}.pickle"
    if not file.exists():
        part = file.with_suffix(f".{os.getpid()}")
        part.write_bytes(pickle.dumps(make()))
        part.replace(file)
    plan: Plan = pickle.loads(file.read_bytes())
    return plan


def with_core(name: str) -> Project:
    """The example as if its builder had chosen the core that is the cheapest."""
    project = project_of(name)
    core = json.loads(CORES.read_text("utf-8"))[name]
    core["battery_current_a"] = (core.pop("battery_a"),)
    del core["final_ratio"]
    choices = project.choices.model_copy(update=core)
    return project.model_copy(update={"choices": choices})


@cache
def plan_of(name: str) -> Plan:
    """The cheapest plan: in the fast suite of the core that the slow lane has found to be so."""
    if FULL:
        return kept(name, lambda: find_plan(project_of(name), generic()))
    return kept(f"{name}-with-core", lambda: find_plan(with_core(name), generic()))


@cache
def quick_plan() -> Plan:
    """A whole plan of the pickup in a second: with its drive and pack given, not searched for."""

    def make() -> Plan:
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

    return kept("quick", make)


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
