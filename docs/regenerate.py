"""Makes every page (and part of a page) of the documentation that comes from the program.

``python docs/regenerate.py`` writes the reference pages; ``--results`` also plans the example
on the front page and runs the commands of the tutorial and how-to pages (some minutes).
``--check`` writes nothing and ends with status 1 if a page is stale.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT), str(ROOT / "docs")]

from bomplan.cli.settings import settings_page  # noqa: E402
from bomplan.project.reference import reference_markdown  # noqa: E402
from making import (  # noqa: E402
    catalogue,
    checks,
    commands,
    ledger,
    plan_file,
    python_api,
    result,
    worked,
)

REFERENCE: dict[str, Callable[[], str]] = {
    "docs/reference/commands.md": commands.page,
    "docs/reference/settings.md": settings_page,
    "docs/reference/project-file.md": reference_markdown,
    "docs/reference/catalogue.md": catalogue.page,
    "catalogs/generic/README.md": catalogue.readme,
    "docs/reference/ledger.md": ledger.page,
    "docs/reference/plan-file.md": plan_file.page,
    "docs/reference/checks.md": checks.page,
    "docs/reference/python.md": python_api.page,
}
FRONT_PAGE = "README.md"


def reference_pages() -> dict[Path, str]:
    """Every page that is made whole, with its content."""
    return {ROOT / name: made() for name, made in REFERENCE.items()}


def worked_pages() -> list[Path]:
    """Every page with commands that are run."""
    folders = (ROOT / "docs" / "tutorial", ROOT / "docs" / "how-to")
    pages = [page for folder in folders for page in sorted(folder.glob("*.md"))]
    return [page for page in pages if worked.blocks(page.read_text("utf-8"))]


def results() -> Iterator[tuple[Path, str]]:
    """Pages with results of real runs, made anew."""
    for page in worked_pages():
        with tempfile.TemporaryDirectory(prefix="bomplan-docs-") as folder:
            yield page, worked.worked(page.read_text("utf-8"), Path(folder))
    front = ROOT / FRONT_PAGE
    yield front, result.refreshed(front.read_text("utf-8"))


def main() -> int:
    """Write or compare; returns the exit status."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--results", action="store_true", help="also pages that run the program")
    parser.add_argument("--check", action="store_true", help="only say which pages are stale")
    asked = parser.parse_args()
    made = [*reference_pages().items(), *(results() if asked.results else ())]
    stale = [
        (page, text) for page, text in made if not page.is_file() or page.read_text("utf-8") != text
    ]
    for page, text in stale:
        print(f"{'stale' if asked.check else 'made'}: {page.relative_to(ROOT)}")
        if not asked.check:
            page.write_text(text, "utf-8")
    if not stale:
        print(f"all {len(made)} pages are fresh")
    return 1 if stale and asked.check else 0


if __name__ == "__main__":
    sys.exit(main())
