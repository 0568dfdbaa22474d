"""Every package that the program needs at run time: allowed to be used so, and listed."""

from __future__ import annotations

import re
import tomllib
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path
from typing import Any

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "explanation" / "dependencies.md"
# Licences that ask for nothing but their own text to be kept, or (MPL) for changes to their
# own files: an MIT program may stand on all of them.
ALLOWED = re.compile(
    r"MIT(-CMU)?|BSD(-[23]-Clause)?|3-Clause BSD|0BSD|Apache-2\.0|Apache Software|PSF-2\.0"
    r"|Python Software Foundation|ISC|Zlib|CC0-1\.0|MPL-2\.0"
    r"|Mozilla Public License 2\.0( \(MPL 2\.0\))?",
    re.IGNORECASE,
)
_NOISE = re.compile(r"License|::|OSI Approved|\b(AND|OR|WITH)\b|[(),;]", re.IGNORECASE)


def project() -> dict[str, Any]:
    data: dict[str, Any] = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    return data


def for_development() -> list[str]:
    """What the extras ask for beside the program itself."""
    extras = project()["optional-dependencies"].values()
    return [text for extra in extras for text in extra if not text.startswith("bomplan")]


def name_of(requirement: Requirement) -> str:
    return requirement.name.lower().replace("_", "-")


def installed(wanted: list[str]) -> dict[str, Distribution]:
    """These packages and all that they need here, by lower-case name, as far as installed."""
    todo = [Requirement(text) for text in wanted]
    found: dict[str, Distribution] = {}
    while todo:
        requirement = todo.pop()
        name, marker = name_of(requirement), requirement.marker
        if name in found or (marker is not None and not marker.evaluate({"extra": ""})):
            continue
        try:
            found[name] = distribution(name)
        except PackageNotFoundError:
            continue
        todo += [Requirement(text) for text in found[name].requires or ()]
    return found


def needed() -> dict[str, Distribution]:
    """Run-time dependencies and theirs."""
    return installed(project()["dependencies"])


def licence(package: Distribution) -> str:
    said = package.metadata.get("License-Expression")
    if said:
        return said
    kinds = [c for c in package.metadata.get_all("Classifier") or () if c.startswith("License")]
    return "; ".join(kinds) or (package.metadata.get("License") or "").splitlines()[0]


def allowed(words: str) -> bool:
    """Whether every licence named is one of the allowed ones."""
    left = _NOISE.sub(" ", ALLOWED.sub(" ", words))
    return bool(ALLOWED.search(words)) and not left.replace("-", " ").strip()


def test_every_licence_is_allowed() -> None:
    names = {name_of(Requirement(text)) for text in project()["dependencies"]}
    assert names <= needed().keys()
    refused = {name: licence(p) for name, p in needed().items() if not allowed(licence(p))}
    assert not refused


def test_so_is_every_licence_that_development_needs() -> None:
    found = installed(for_development())
    assert {"pytest", "hypothesis", "ruff", "mypy"} & found.keys()
    refused = {name: licence(p) for name, p in found.items() if not allowed(licence(p))}
    assert not refused


@pytest.mark.parametrize(
    ("words", "fine"),
    [
        ("BSD-3-Clause AND 0BSD AND MIT AND Zlib AND CC0-1.0", True),
        ("License :: OSI Approved :: BSD License", True),
        ("License :: OSI Approved :: Mozilla Public License 2.0 (MPL 2.0)", True),
        ("GPL-3.0-only", False),
        ("MIT AND GPL-2.0-or-later", False),
        ("License :: OSI Approved :: GNU Affero General Public License v3", False),
        ("Proprietary", False),
        ("", False),
    ],
)
def test_other_licences_are_not(words: str, fine: bool) -> None:
    assert allowed(words) is fine


def listed() -> dict[str, str]:
    """Package and licence of every row of the page."""
    rows = re.findall(r"^\| `([^`]+)` \| ([^|]+) \|", PAGE.read_text("utf-8"), re.MULTILINE)
    found = dict(rows)
    assert len(found) == len(rows)
    return found


def test_the_page_lists_every_one_and_no_other() -> None:
    here = needed()
    # Also what is needed on other systems, with other versions of Python or by older releases.
    elsewhere = {
        name_of(Requirement(text)) for one in here.values() for text in one.requires or ()
    } | {"colorama", "pytz", "six"}
    tools = {name_of(Requirement(text)) for text in for_development()}
    assert listed().keys() >= here.keys() | tools
    assert listed().keys() <= here.keys() | elsewhere | tools


def test_the_page_names_licences_that_are_allowed() -> None:
    """In words of people: a style, parts in brackets, a choice."""
    for name, words in listed().items():
        plain = re.sub(r"parts: |PSF style|\bor\b|CC0(?!-)", " MIT ", words)
        assert allowed(plain), (name, words)


def test_every_dependency_has_a_lower_bound_and_a_reason() -> None:
    text = (ROOT / "pyproject.toml").read_text("utf-8")
    block = text.split("dependencies = [", 1)[1].split("\n]", 1)[0]
    lines = [line.strip() for line in block.splitlines() if line.strip()]
    assert lines
    for line in lines:
        assert re.fullmatch(r'"[A-Za-z0-9_.-]+>=[\d.]+",\s+# .{8,}', line), line
