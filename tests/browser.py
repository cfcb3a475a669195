"""A Chromium for tests that look at pages; whatever leaves the disk is stopped and noted."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Dialog, Page, Route, sync_playwright

from auditor.model.audit import Audit
from auditor.model.shoot import MeasurementSource
from tests.built_groups import make_kinds
from tests.html_page import build_html

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@dataclass
class Watched:
    """A page, with every error on its console and every request that left the report."""

    page: Page
    errors: list[str] = field(default_factory=list)
    strays: list[str] = field(default_factory=list)
    dialogs: list[str] = field(default_factory=list)

    def assert_quiet(self) -> None:
        assert self.errors == []
        assert self.strays == []
        assert self.dialogs == []


@contextmanager
def chromium() -> Iterator[Browser]:
    """Start the Chromium found on the path, or skip."""
    found = next(filter(None, map(shutil.which, NAMES)), None)
    if found is None:
        pytest.skip(f"needs a Chromium on the path ({', '.join(NAMES)})")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=FLAGS)
        try:
            yield browser
        finally:
            browser.close()


@contextmanager
def opened(browser: Browser, path: Path, **settings: Any) -> Iterator[Watched]:
    """Open a file of a report in a fresh profile."""
    settings.setdefault("viewport", {"width": 1280, "height": 900})
    context = browser.new_context(**settings)
    watched = Watched(context.new_page())
    watched.page.set_default_timeout(15_000)

    def judge(route: Route) -> None:
        url = route.request.url
        if url.startswith((path.parent.as_uri(), "data:", "blob:")):
            route.continue_()
        else:
            watched.strays.append(url)
            route.abort()

    def listen(told: ConsoleMessage) -> None:
        if told.type in ("error", "warning"):
            watched.errors.append(told.text)

    def answer(box: Dialog) -> None:
        watched.dialogs.append(box.message)
        box.dismiss()

    context.route("**/*", judge)
    watched.page.on("pageerror", lambda error: watched.errors.append(str(error)))
    watched.page.on("console", listen)
    watched.page.on("dialog", answer)
    try:
        watched.page.goto(path.as_uri())
        yield watched
    finally:
        context.close()


def written(folder: Path, audit: Audit, measurements: MeasurementSource, **more: Any) -> Path:
    """Write an audit's page with what lies beside it into a folder; return the page's path."""
    report = build_html(audit, measurements, make_kinds(), **more)
    for name, content in {"report.html": report.html, **report.beside}.items():
        path = folder / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(content)
    return folder / "report.html"


def eventually(page: Page, told: str) -> None:
    """Wait until an expression is true; the page's policy forbids the usual way of waiting."""
    for _ in range(150):
        if page.evaluate(told):
            return
        page.wait_for_timeout(50)
    raise AssertionError(f"never came true: {told}")
