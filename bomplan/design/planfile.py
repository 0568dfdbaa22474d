"""The plan file: canonical JSON out, and any version ever written back in.

The bytes depend on the plan alone: keys in the order of the records, two spaces of indent,
a line end at the end; no clock, no path. A newer major version is refused with what to do.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from pydantic import ValidationError

from bomplan.catalog.records import Catalog, Part
from bomplan.design.bill.links import told_by_presence
from bomplan.design.bill.studs import other_holes
from bomplan.design.context import Context
from bomplan.design.drive import Drive
from bomplan.design.records import Plan
from bomplan.errors import ContradictionError, Fault, InputError
from bomplan.project.records import Project

VERSION = 1
# From this version to the next, on the file as parsed, the embedded project and parts among
# it. A step is never changed once released, and never removed.
STEPS: Mapping[int, Callable[[dict[str, Any]], None]] = {}
# The key that holds the digest of all the others.
SEAL = "seal"
MOST_BYTES = 20_000_000


def plan_bytes(plan: Plan) -> bytes:
    """The plan as the bytes of its file, its seal at the end."""
    data = plan.model_dump(mode="json")
    data[SEAL] = digest(data)
    return (json.dumps(data, indent=2, ensure_ascii=False) + "\n").encode()


@contextmanager
def held_together(path: Path) -> Iterator[None]:
    """Work on the plan read from ``path``: what breaks on an edited file is told as its fault.

    An edited plan is welcome; one whose figures contradict each other may break any formula.
    Raises InputError (``plan.contradicts``) for whatever breaks on a figure, unless the file's
    seal says that it is as we wrote it: then it is a bug of ours, and goes on as it came.
    """
    try:
        with in_one_piece(str(path)):
            yield
    except ContradictionError as error:
        if _sealed(path) and error.__cause__ is not None:
            raise error.__cause__ from None
        raise


@contextmanager
def in_one_piece(name: str = "") -> Iterator[None]:
    """Work on a plan from anywhere: what breaks on its figures is told as its fault.

    Raises ContradictionError, with what broke as its cause; ``name`` is the plan's file. A
    figure that runs over on an array breaks too, instead of being warned of.
    """
    try:
        with np.errstate(over="raise", divide="raise", invalid="raise"):
            yield
    except ContradictionError as error:
        (fault,) = error.faults
        raise ContradictionError([replace(fault, file=fault.file or name)]) from error.__cause__
    except (
        ArithmeticError, AttributeError, LookupError, StopIteration, TypeError, ValueError
    ) as error:  # fmt: skip
        message = "the plan does not hold together: it was changed by hand, or is very old"
        hint = f"plan again from the project; what broke: {error or type(error).__name__}"
        raise ContradictionError([Fault("plan.contradicts", message, name, hint=hint)]) from error


@contextmanager
def of_our_own() -> Iterator[None]:
    """Work on a plan that was just found: what breaks on it is a bug, and goes on as it came."""
    try:
        yield
    except ContradictionError as error:
        if error.__cause__ is None:
            raise
        raise error.__cause__ from None


def _sealed(path: Path) -> bool:
    data = json.loads(path.read_text(encoding="utf-8"))
    seal = data.pop(SEAL, None)
    return bool(seal == digest(data))


def read_plan(path: Path) -> Plan:
    """A plan file back as a plan. InputError if it is not one or is from a newer program."""
    name = str(path)
    try:
        if path.stat().st_size > MOST_BYTES:
            raise InputError([Fault("plan.too-large", "the plan file is far too large", name)])
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        words, hint = "there is no such plan", "give the folder that bomplan plan wrote into"
        raise InputError([Fault("plan.unreadable", words, name, hint=hint)]) from None
    except (OSError, UnicodeDecodeError) as error:
        why = error.strerror or "" if isinstance(error, OSError) else "it is not text in UTF-8"
        words = "the plan file cannot be read as text"
        raise InputError([Fault("plan.unreadable", words, name, hint=why)]) from None
    return parse_plan(text, name)


def parse_plan(text: str, name: str) -> Plan:
    """As :func:`read_plan`, from text; ``name`` stands in the messages."""
    try:
        data: Any = json.loads(text)
    except (ValueError, RecursionError):
        raise InputError(
            [
                Fault(
                    "plan.not-json",
                    "this is not a plan file: it is not whole JSON",
                    name,
                    hint="give the plan.json that 'bomplan plan' wrote",
                )
            ]
        ) from None
    if not isinstance(data, dict) or data.get("format") != "bomplan-plan":
        raise InputError(
            [
                Fault(
                    "plan.not-a-plan",
                    'this is not a plan file: its "format" is not "bomplan-plan"',
                    name,
                    hint="give the plan.json that 'bomplan plan' wrote",
                )
            ]
        )
    version = data.get("version")
    if not isinstance(version, int) or isinstance(version, bool) or version < 1:
        raise InputError(
            [
                Fault(
                    "plan.version",
                    "the plan's version is not a whole number from 1",
                    name,
                    "version",
                    repr(version),
                )
            ]
        )
    if version > VERSION:
        raise InputError(
            [
                Fault(
                    "plan.newer",
                    "the plan was written by a newer bomplan",
                    name,
                    "version",
                    str(version),
                    f"up to {VERSION}",
                    "update bomplan, or plan again from the project",
                )
            ]
        )
    if SEAL in data or version < VERSION:
        data.pop(SEAL, None)
        text = json.dumps(upgrade(data))
    try:
        return Plan.model_validate_json(text)
    except ValidationError as error:
        raise InputError(
            [
                Fault(
                    "plan.field",
                    problem["msg"].lower(),
                    name,
                    ".".join(str(part) for part in problem["loc"]),
                )
                for problem in error.errors()[:20]
            ]
        ) from None


def upgrade(
    data: dict[str, Any],
    steps: Mapping[int, Callable[[dict[str, Any]], None]] | None = None,
    newest: int = VERSION,
) -> dict[str, Any]:
    """``data`` of an older plan file brought to the newest version, step by step, in place."""
    taken = STEPS if steps is None else steps
    for number in range(data["version"], newest):
        taken[number](data)
        data["version"] = number + 1
    return data


def parts_used(context: Context, drive: Drive, parts: list[Part]) -> dict[str, Any]:
    """The catalogue's rows that the plan rests on, enough to audit it without the catalogue."""
    catalog = context.catalog
    parts = [*parts, *told_by_presence(context, parts), *other_holes(context, drive, parts)]
    ids = {part.id for part in parts}
    # In an order of their own: rows of a catalogue may be permuted, the plan's bytes may not.
    offers = sorted(
        (offer for offer in catalog.offers if offer.part in ids),
        key=lambda o: (o.part, o.supplier, o.quantity_from, o.pack_size, o.unit_price),
    )
    suppliers = {offer.supplier for offer in offers}
    curve, chemistry = drive.module.text("curve"), drive.module.text("chemistry")
    return {
        "parts": [part.model_dump(mode="json") for part in parts],
        "pairs": [
            pair.model_dump(mode="json")
            for pair in catalog.pairs
            if (pair.motor, pair.controller) == (drive.motor.id, drive.controller.id)
        ],
        "curves": [point.model_dump(mode="json") for point in context.curve(curve)],
        "temperatures": [
            point.model_dump(mode="json") for point in context.temperature_factors(chemistry)
        ],
        "suppliers": [
            catalog.suppliers[name].model_dump(mode="json") for name in sorted(suppliers)
        ],
        "offers": [offer.model_dump(mode="json") for offer in offers],
        "extras": [row.model_dump(mode="json") for row in catalog.extras.values()],
    }


def catalog_of(plan: Plan) -> Catalog:
    """The embedded rows as a catalogue. InputError if they are not whole."""
    used = plan.parts_used
    families: dict[str, dict[str, Any]] = {}
    try:
        for row in used.get("parts", []):
            families.setdefault(row["family"], {})[row["id"]] = row
        catalog = Catalog.model_validate(
            {
                "name": "embedded in the plan",
                "families": families,
                "pairs": used.get("pairs", []),
                "curves": used.get("curves", []),
                "temperatures": used.get("temperatures", []),
                "suppliers": {row["id"]: row for row in used.get("suppliers", [])},
                "offers": used.get("offers", []),
                "extras": {row["id"]: row for row in used.get("extras", [])},
            }
        )
    except (ValidationError, KeyError, TypeError) as error:
        raise _not_whole(str(error)[:200]) from None
    for offer in catalog.offers:
        if offer.supplier not in catalog.suppliers:
            raise _not_whole(f"an offer names the supplier {offer.supplier}, which is not there")
    return catalog


def _not_whole(hint: str) -> InputError:
    message = "the parts embedded in the plan are not whole"
    return InputError([Fault("plan.parts", message, hint=hint)])


def project_of(plan: Plan) -> Project:
    """The embedded project. InputError if it is not whole."""
    try:
        return Project.model_validate(plan.project_used)
    except ValidationError as error:
        raise InputError(
            [
                Fault(
                    "plan.project",
                    "the project embedded in the plan is not whole",
                    hint=str(error.errors()[0]["msg"]),
                )
            ]
        ) from None


def digest(data: Any) -> str:
    """SHA-256 of parsed data, so that line ends and column order do not matter."""
    text = json.dumps(data, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()
