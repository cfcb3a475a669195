"""The page of the history in a browser: quiet, offline, accessible, narrow."""

from __future__ import annotations

from base64 import b64decode
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import pytest

from auditor.history.summarise import summarise
from auditor.report.history_html import build_history_html
from auditor.words.history import history_with_words
from tests.evenings import evenings

if TYPE_CHECKING:
    from playwright.sync_api import Browser

JPEG = b64decode(
    "/9j/4AAQSkZJRgABAQAAAQABAAD/2wBDAP//////////////////////////////////////////////////////////"
    "////////////////////////////wgALCAABAAEBAREA/8QAFBABAAAAAAAAAAAAAAAAAAAAAP/aAAgBAQABPxA="
)
pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> str:
    path: Path = tmp_path_factory.mktemp("history") / "history.html"
    history = history_with_words(summarise(evenings()))
    shown = [
        replace(one, picture=JPEG, picture_of="S.dng", report="file:///a/report.html")
        for one in history.evenings
    ]
    path.write_bytes(build_history_html(replace(history, evenings=tuple(shown))))
    return path.as_uri()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_page_is_quiet_offline_accessible_and_fits_a_phone(
    browser: Browser, address: str, scheme: Literal["light", "dark"]
) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    context = browser.new_context(
        viewport={"width": 360, "height": 740}, color_scheme=scheme, bypass_csp=True
    )
    page = context.new_page()
    said: list[str] = []
    asked: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.on("request", lambda request: asked.append(request.url))
    page.goto(address)
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    assert page.evaluate("[...document.images].every((image) => image.naturalWidth > 0)")
    assert page.locator(".evenings a.day").count() == 3
    assert page.locator(".trends .dot").count() == 3
    found = axe.Axe().run(page).response["violations"]
    assert [(entry["id"], entry["impact"]) for entry in found] == []
    assert said == []
    assert asked == [address]
    context.close()


def test_the_pages_own_policy_lets_its_style_in(browser: Browser, address: str) -> None:
    page = browser.new_page()
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.goto(address)
    padding = page.evaluate("getComputedStyle(document.querySelector('.mast-in')).paddingTop")
    assert float(padding.removesuffix("px")) > 10
    assert said == []
