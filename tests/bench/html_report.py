"""How the HTML report bears thousands of frames: ``python -m tests.bench.html_report [FRAMES]``.

Times are those of a headless Chromium on the machine at hand; the load is told as a ratio to
an empty page opened just before, in the same browser.
"""

from __future__ import annotations

import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import Browser, Page

from auditor.report.html import build_html
from tests.browser import chromium, opened
from tests.builders import make_audit
from tests.built_groups import make_kinds

RUNS = 3
LOADED = "performance.getEntriesByType('navigation')[0].loadEventEnd"
CHANGE = """([id, value]) => {
    const field = document.getElementById(id), start = performance.now();
    field.value = value;
    field.dispatchEvent(new Event('input', { bubbles: true }));
    document.body.offsetHeight;
    return performance.now() - start;
}"""
SCROLL = """() => new Promise((done) => {
    document.getElementById('cards').scrollIntoView();
    let left = 103, holes = 0;
    const step = () => {
        if (left > 100) { left -= 1; requestAnimationFrame(step); return; }  // the jump settles
        scrollBy(0, 250);
        for (const x of [200, 640, 1000]) for (const y of [120, 450, 780]) {
            const card = document.elementFromPoint(x, y)?.closest('.card');
            holes += card && !card.dataset.filled ? 1 : 0;
        }
        left ? (left -= 1, requestAnimationFrame(step)) : done(holes);
    };
    requestAnimationFrame(step);
})"""


@dataclass(frozen=True)
class HtmlFigures:
    """What was measured; times in milliseconds, the best of three."""

    frames: int
    build_s: float
    megabytes: float
    empty_load_ms: float
    load_ms: float
    sort_ms: float
    filter_ms: float
    holes: int

    def lines(self) -> list[str]:
        ratio = self.load_ms / max(1.0, self.empty_load_ms)
        return [
            f"{self.frames} frames: built in {self.build_s:.1f} s, {self.megabytes:.1f} MB",
            f"load {self.load_ms:.0f} ms, {ratio:.1f} x an empty page's {self.empty_load_ms:.0f}",
            f"sort {self.sort_ms:.0f} ms, filter {self.filter_ms:.0f} ms",
            f"{self.holes} unfilled cards seen while scrolling 25,000 px",
        ]


def measure_html(frames: int = 2000) -> HtmlFigures:
    """Build a report of that many frames and use it."""
    audit, gallery = make_audit(frames)
    for frame in audit.frames:
        if frame.status == "measured":
            gallery.measurement(frame.id)  # the pictures are made outside of the time taken
    started = time.perf_counter()
    html = build_html(audit, gallery, make_kinds()).html
    build_s = time.perf_counter() - started
    with tempfile.TemporaryDirectory() as folder, chromium() as browser:
        empty, full = Path(folder, "empty.html"), Path(folder, "report.html")
        empty.write_text("<!doctype html><title>empty</title>", encoding="utf-8")
        full.write_bytes(html)
        empty_ms = min(_load(browser, empty) for _ in range(RUNS))
        load_ms = min(_load(browser, full) for _ in range(RUNS))
        with opened(browser, full) as watched:
            sort_ms = _change(watched.page, "sort", "blown", "time")
            filter_ms = _change(watched.page, "by-finding", "v:blown", "")
            holes = watched.page.evaluate(SCROLL)
    megabytes = len(html) / 1e6
    return HtmlFigures(
        frames, build_s, megabytes, empty_ms, load_ms, sort_ms, filter_ms, int(holes)
    )


def _load(browser: Browser, path: Path) -> float:
    with opened(browser, path) as watched:
        return float(watched.page.evaluate(LOADED))


def _change(page: Page, field: str, there: str, back: str) -> float:
    """The best of some changes there and back, style and layout included."""
    return min(float(page.evaluate(CHANGE, [field, v])) for _ in range(RUNS) for v in (there, back))


if __name__ == "__main__":
    print("\n".join(measure_html(*map(int, sys.argv[1:2])).lines()))
