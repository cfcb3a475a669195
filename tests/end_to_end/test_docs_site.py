"""The documentation as a site: no link to nowhere, nothing from outside, and it can be searched."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from auditor.report.style import PALETTE
from tests.browser import opened
from tests.docs_text import DOCS, ROOT

PHONE, LAPTOP = {"width": 360, "height": 780}, {"width": 1280, "height": 800}


def make(out: Path, *docs: Path) -> subprocess.CompletedProcess[str]:
    """Make a site as ``make site`` does, with what the builder says."""
    call = "import sys; from pathlib import Path; from tests.site_maker import make_site; "
    call += "sys.exit(make_site(*map(Path, sys.argv[1:])))"
    words = [sys.executable, "-c", call, str(out), *map(str, docs)]
    return subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=False)


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("site")
    ended = make(out)
    assert ended.returncode == 0, ended.stderr
    return out


def test_every_page_is_in_the_site(site: Path) -> None:
    written = {path.stem for path in site.glob("*.html")}
    assert {path.stem for path in DOCS.glob("*.md")} | {"notebook", "search"} <= written


def test_a_link_to_nowhere_is_an_error(tmp_path: Path) -> None:
    (tmp_path / "docs").mkdir()
    lines = ("[1](gone.md)", "[2](index.md#gone)", "![3](gone.png)", "[4](index.md#title)")
    (tmp_path / "docs" / "index.md").write_text("# Title\n\n" + "\n\n".join(lines) + "\n")
    ended = make(tmp_path / "out", tmp_path / "docs")
    assert ended.returncode != 0
    told = [line for line in ended.stderr.splitlines() if "index.md:" in line]
    assert sorted(line.partition("index.md:")[2][0] for line in told) == ["3", "5", "7"]


@pytest.mark.browser
def test_pages_are_read_from_files_alone_and_fit_a_phone(site: Path, browser: Browser) -> None:
    with opened(browser, site / "index.html", viewport=PHONE) as watched:
        for page in sorted(site.glob("*.html")):
            watched.page.goto(page.as_uri())
            wide = watched.page.evaluate("document.documentElement.scrollWidth")
            assert wide <= PHONE["width"], page.name
        watched.assert_quiet()


@pytest.mark.browser
def test_the_site_is_light_and_dark_as_the_system_is(site: Path, browser: Browser) -> None:
    for scheme, place in (("light", 0), ("dark", 1)):
        with opened(browser, site / "index.html", color_scheme=scheme) as watched:
            style = "getComputedStyle(document.body).getPropertyValue('--color-background-primary')"
            assert watched.page.evaluate(style) == PALETTE["raised"][place]


@pytest.mark.browser
def test_the_site_is_searched_without_a_server(site: Path, browser: Browser) -> None:
    with opened(browser, site / "index.html", viewport=LAPTOP) as watched:
        watched.page.fill("input[name=q]", "headroom")
        watched.page.press("input[name=q]", "Enter")
        # Results are added one after the other: the third is waited for, not counted at once.
        watched.page.locator("#search-results li a").nth(2).wait_for()
        assert watched.strays == []


def test_the_site_names_nobody_and_asks_nothing_of_the_outside(site: Path) -> None:
    for page in site.glob("*.html"):
        text = page.read_text(encoding="utf-8")
        assert "pradyunsg" not in text
        assert 'src="http' not in text
        assert 'rel="stylesheet" type="text/css" href="http' not in text
