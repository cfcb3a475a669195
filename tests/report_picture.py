"""Take the picture of the report that stands in the README.

``python -m tests.report_picture REPORT.html PICTURE.png`` needs a Chromium on this machine.
"""

from __future__ import annotations

import sys
from pathlib import Path

from tests.browser import chromium, opened

WIDTH, HEIGHT = 1180, 980


def take(report: Path, picture: Path) -> None:
    """Open the report as from disk, and keep what a laptop shows first."""
    with (
        chromium() as browser,
        opened(browser, report.resolve(), viewport={"width": WIDTH, "height": HEIGHT}) as watched,
    ):
        watched.page.wait_for_timeout(1000)
        watched.page.screenshot(path=str(picture))
        watched.assert_quiet()


if __name__ == "__main__":
    take(Path(sys.argv[1]), Path(sys.argv[2]))
