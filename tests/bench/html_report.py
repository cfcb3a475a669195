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

from auditor.model.codes import FrameStatus
from tests.browser import chromium, opened
from tests.built_groups import make_kinds
from tests.built_many import many
from tests.html_page import build_html

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
    scrollTo(0, 0);
    let left = 160, nodes = 0, holes = 0;
    const steps = [];
    const step = () => {
        const start = performance.now();
        scrollBy(0, 250);
        dispatchEvent(new Event('scroll'));
        requestAnimationFrame(() => {
            document.body.offsetHeight;
            steps.push(performance.now() - start);
            nodes = Math.max(nodes, document.querySelectorAll('*').length);
            for (const y of [220, 480, 760]) {
                holes += !document.elementFromPoint(200, y)?.closest('.row-of-tiles');
            }
            left -= 1;
            if (left) requestAnimationFrame(step);
            else done({ steps, nodes, holes, of: 160 * 3 });
        });
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
    scroll_ms: float
    """The slowest step but for the slowest twentieth of them: those wait for other processes."""
    slow_steps: int
    """Of 160 steps, how many took over 50 ms."""
    nodes: int
    holes: int

    @property
    def bytes_a_frame(self) -> float:
        return self.megabytes * 1e6 / self.frames

    def lines(self) -> list[str]:
        ratio = self.load_ms / max(1.0, self.empty_load_ms)
        return [
            f"{self.frames} frames: built in {self.build_s:.1f} s, {self.megabytes:.1f} MB, "
            f"{self.bytes_a_frame:.0f} bytes a frame",
            f"load {self.load_ms:.0f} ms, {ratio:.1f} x an empty page's {self.empty_load_ms:.0f}",
            f"sort {self.sort_ms:.0f} ms, filter {self.filter_ms:.0f} ms",
            f"scroll: 95 % of the steps within {self.scroll_ms:.0f} ms, {self.slow_steps} of 160 "
            f"over 50 ms; at most {self.nodes} nodes; {self.holes} of 480 places empty",
        ]


def measure_html(frames: int = 2000) -> HtmlFigures:
    """Build a report of that many frames and use it."""
    audit, measurements = many(frames)
    for frame in audit.frames[:24]:
        if frame.status == FrameStatus.MEASURED:
            measurements.measurement(frame.id)  # the pictures are made outside of the time taken
    started = time.perf_counter()
    html = build_html(audit, measurements, make_kinds()).html
    build_s = time.perf_counter() - started
    with tempfile.TemporaryDirectory() as folder, chromium() as browser:
        empty, full = Path(folder, "empty.html"), Path(folder, "report.html")
        empty.write_text("<!doctype html><title>empty</title>", encoding="utf-8")
        full.write_bytes(html)
        empty_ms = min(_load(browser, empty) for _ in range(RUNS))
        load_ms = min(_load(browser, full) for _ in range(RUNS))
        with opened(browser, full) as watched:
            watched.page.evaluate("location.hash = '#frames'")
            watched.page.wait_for_timeout(500)
            sort_ms = _change(watched.page, "sort", "blown", "time")
            filter_ms = _change(watched.page, "by-outcome", "lost", "")
            scrolled = watched.page.evaluate(SCROLL)
    steps = sorted(scrolled["steps"])
    return HtmlFigures(
        frames, build_s, len(html) / 1e6, empty_ms, load_ms, sort_ms, filter_ms,
        scroll_ms=float(steps[int(len(steps) * 0.95)]),
        slow_steps=sum(step > 50 for step in steps),
        nodes=int(scrolled["nodes"]), holes=int(scrolled["holes"]),
    )  # fmt: skip


def _load(browser: Browser, path: Path) -> float:
    with opened(browser, path) as watched:
        return float(watched.page.evaluate(LOADED))


def _change(page: Page, field: str, there: str, back: str) -> float:
    """The best of some changes there and back, style and layout included."""
    return min(float(page.evaluate(CHANGE, [field, v])) for _ in range(RUNS) for v in (there, back))


if __name__ == "__main__":
    print("\n".join(measure_html(*map(int, sys.argv[1:2])).lines()))
