"""A real browser without a window, for tests of pages: what it says, asks for, and finds."""

from __future__ import annotations

import html
import json
import os
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

BROWSER = next(
    (found for name in ("chromium", "chromium-browser", "google-chrome")
     if (found := shutil.which(name))), None
)  # fmt: skip
POLICY = re.compile(r'<meta http-equiv="Content-Security-Policy"[^>]*>')


def browse(folder: Path, page: str, *words: str) -> subprocess.CompletedProcess[str]:
    """The browser on a page, with everything that it says and asks for."""
    file = folder / "page.html"
    file.write_text(page, "utf-8", newline="\n")
    assert BROWSER is not None
    return subprocess.run(
        [BROWSER, "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run",
         "--disable-background-networking", "--disable-component-update", "--disable-sync",
         f"--user-data-dir={folder / 'profile'}", f"--log-net-log={folder / 'net.json'}",
         "--enable-logging=stderr", *words, file.as_uri()],
        capture_output=True, text=True, encoding="utf-8", timeout=300, check=True,
    )  # fmt: skip


def said_on_the_console(stderr: str) -> list[str]:
    """Errors and warnings of the page."""
    return [line for line in stderr.splitlines() if "CONSOLE" in line]


def asked_for(folder: Path) -> set[str]:
    """Every address that the page asked for; the browser's own errands name no origin."""
    log: dict[str, Any] = json.loads((folder / "net.json").read_text("utf-8"))
    asked = (event.get("params", {}) for event in log["events"])
    return {
        str(params["url"])
        for params in asked
        if "url" in params and params.get("initiator", "not an origin") != "not an origin"
    }


def opened(page: str) -> str:
    """The page with all of it unfolded and without its policy, so that a test may look into it."""
    return POLICY.sub("", page).replace("<details>", "<details open>")


def axe_file() -> Path | None:
    """axe-core (Deque, MPL-2.0), a widely kept checker of WCAG's rules, where somebody put it.

    ``AXE_CORE`` names the file; else where ``npm install axe-core`` beside the project, or
    ``npm install --global``, leaves it.
    """
    named = os.environ.get("AXE_CORE")
    if named:
        return Path(named)
    homes = [Path(__file__).parents[1] / "node_modules"]
    npm = shutil.which("npm")
    if npm:
        told = subprocess.run([npm, "root", "--global"], capture_output=True, text=True)
        homes.append(Path(told.stdout.strip() or "."))
    files = (home / "axe-core" / "axe.min.js" for home in homes)
    return next((file for file in files if file.is_file()), None)


_REPORT = """
axe.run(document, {resultTypes: ["violations", "incomplete", "passes"]}).then(found => {
  const told = rules => rules.map(rule => ({
    id: rule.id, help: rule.help,
    nodes: rule.nodes.map(node => ({at: node.target.join(" "), html: node.html})),
  }));
  const place = document.createElement("pre");
  place.id = "axe-found";
  place.textContent = JSON.stringify({
    violations: told(found.violations), incomplete: told(found.incomplete),
    passes: found.passes.map(rule => rule.id),
  });
  document.body.append(place);
});
"""


def axe(folder: Path, page: str, width: int) -> dict[str, Any]:
    """What axe-core finds on the whole page at this width: violations, incomplete, passes."""
    file = axe_file()
    assert file is not None
    code = file.read_text("utf-8").replace("</script", "<\\/script")
    probe = f"<script>{code}</script><script>{_REPORT}</script></body>"
    done = browse(
        folder, opened(page).replace("</body>", probe), "--dump-dom",
        "--virtual-time-budget=120000", f"--window-size={width},900",
    )  # fmt: skip
    found = re.search(r'<pre id="axe-found">(.*?)</pre>', done.stdout, re.S)
    assert found is not None, done.stderr[-800:]
    answer: dict[str, Any] = json.loads(html.unescape(found[1]))
    return answer
