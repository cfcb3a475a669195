"""Take the pictures of the report that stand in the README and the tutorial.

``python -m tests.report_picture REPORT.html FOLDER`` needs a Chromium on this machine.
"""

from __future__ import annotations

import sys
from pathlib import Path

from playwright.sync_api import Page

from tests.browser import chromium, opened

WIDTH, HEIGHT = 1180, 860
PAIR = "frames.find(f => f.siblings?.length && f.filtered)"


def take(report: Path, folder: Path) -> None:
    """Open the report as from disk, and keep its overview, a close-up and two frames compared."""
    size = {"width": WIDTH, "height": HEIGHT}
    with (
        chromium() as browser,
        opened(browser, report.resolve(), viewport=size) as watched,
    ):
        page = watched.page
        page.wait_for_timeout(1000)
        page.screenshot(path=str(folder / "report.png"))
        frame, other = _pair(page)
        for name, hash_ in (
            ("close-up", f"#frame={frame}"),
            ("side-by-side", f"#side={other},{frame}"),
        ):
            page.evaluate("hash => { location.hash = hash; }", hash_)
            page.wait_for_timeout(1000)
            page.screenshot(path=str(folder / f"{name}.png"))
        watched.assert_quiet()


def _pair(page: Page) -> tuple[str, str]:
    """Return the ids of a filtered frame and its sibling."""
    told = page.evaluate(
        "() => { const { frames } = JSON.parse(document.getElementById('page-data').textContent);"
        f" const long = {PAIR}; return [long.id, frames[long.siblings[0]].id]; }}"
    )
    return str(told[0]), str(told[1])


if __name__ == "__main__":
    take(Path(sys.argv[1]), Path(sys.argv[2]))
