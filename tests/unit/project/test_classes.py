"""Projects that start from a class: readable at once, and honest about what they know."""

from __future__ import annotations

from pathlib import Path

import pytest

from bomplan.project import CLASSES, load_project, write_template
from bomplan.project.classes import class_project

MOST_FIGURES = 30


@pytest.mark.parametrize("name", CLASSES)
def test_a_class_reads_without_a_fault_or_a_caution(name: str, tmp_path: Path) -> None:
    loaded = load_project(write_template(name, tmp_path)[0])
    assert loaded.cautions == ()
    assert "@" not in (tmp_path / "project.toml").read_text("utf-8")


@pytest.mark.parametrize("name", CLASSES)
def test_every_figure_of_the_class_says_so(name: str, tmp_path: Path) -> None:
    project = load_project(write_template(name, tmp_path)[0]).project
    known = project.provenance
    assert {note.known for note in known.values()} == {"class"}
    for key in ("wheelbase", "gross_limit", "drag_area", "weighing.front", "weighing.rear"):
        assert known[f"donor.{key}"].spread
    assert len(known) >= MOST_FIGURES


@pytest.mark.parametrize("name", CLASSES)
def test_the_figures_hang_together(name: str, tmp_path: Path) -> None:
    """Windows of such vehicles, from memory; payload and axles as a plate would have them."""
    project = load_project(write_template(name, tmp_path)[0]).project
    donor, weighing = project.donor, project.donor.weighing
    kerb = weighing.front_g + weighing.rear_g
    assert donor.gross_limit_g - kerb > (150_000 if donor.kind == "motorcycle" else 350_000)
    assert weighing.front_g < donor.front_axle_limit_g
    assert weighing.rear_g < donor.rear_axle_limit_g
    assert donor.gross_limit_g <= donor.front_axle_limit_g + donor.rear_axle_limit_g
    removed = sum(item.mass_g for item in donor.removed)
    assert 0.08 < removed / kerb < 0.40
    assert max(bay.length_mm for bay in project.bays) < donor.wheelbase_mm


def test_all_placeholders_of_the_table_are_used() -> None:
    texts = [class_project(name) for name in CLASSES]
    assert len(set(texts)) == len(CLASSES)
    assert all("known" in text for text in texts)


def test_changes_are_put_in(tmp_path: Path) -> None:
    file = write_template("van", tmp_path, {"donor.weighing.front": "931 kg"})[0]
    loaded = load_project(file)
    assert loaded.project.donor.weighing.front_g == 931_000
    assert "donor.weighing.front" not in loaded.project.provenance
