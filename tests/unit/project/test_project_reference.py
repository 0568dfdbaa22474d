"""The documentation of the project file is made from the records, and is fresh."""

from __future__ import annotations

from pathlib import Path

from bomplan.project.reference import reference_markdown

PAGE = Path(__file__).parents[3] / "docs" / "reference" / "project-file.md"


def test_the_page_is_what_the_records_say() -> None:
    assert PAGE.read_text(encoding="utf-8") == reference_markdown()


def test_the_page_lists_needed_keys_and_defaults() -> None:
    page = reference_markdown()
    assert "| `wheelbase` | a length," in page
    assert "## `[[targets.range]]`" in page
    assert "| `axle_mass` | a mass," in page
    assert "| 25 kg |" in page
