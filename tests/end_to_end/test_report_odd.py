"""The report in odd circumstances: strange shoots, strange windows, a browser that refuses."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe  # type: ignore[import-untyped]
from playwright.sync_api import Browser, Page

from auditor.model.audit import Setup
from auditor.model.codes import FrameStatus
from auditor.model.large import KeptPicture, PictureKind, PicturePlace
from auditor.report.picture_files import picture_files
from tests.browser import Watched, eventually, opened, written
from tests.builders import make_audit
from tests.built_groups import make_kinds
from tests.built_many import many, renamed
from tests.html_page import build_html

pytestmark = pytest.mark.browser
FOLDER = "100SELMR"
PAIR = f"#side={FOLDER}/S0006.dng,{FOLDER}/S0007.dng"

REFUSED = """Object.defineProperty(globalThis, "localStorage", {
    get() { throw new DOMException("refused", "SecurityError"); } })"""

BROKEN_ROWS = """() => [...document.querySelectorAll('.row-of-tiles')].filter((row) => {
    const tiles = [...row.querySelectorAll('.tile')].map((tile) => tile.getBoundingClientRect());
    const foot = row.getBoundingClientRect().bottom;
    return tiles.some(({ top, bottom, right }) =>
        Math.abs(top - tiles[0].top) > 1 || bottom > foot + 1 || right > innerWidth);
}).length"""


@pytest.fixture
def view(browser: Browser, report: Path) -> Iterator[Watched]:
    with opened(browser, report) as watched:
        yield watched
        watched.assert_quiet()


def at(page: Page, hash_: str) -> Page:
    page.evaluate("hash => { location.hash = hash; }", hash_)
    page.wait_for_timeout(200)
    return page


def mark(page: Page, number: int, key: str) -> None:
    page.locator(f'[data-number="{number}"] .picture').focus()
    page.keyboard.press(key)


def state(page: Page) -> str:
    return page.locator("#marks-state").inner_text()


def test_rows_of_pictures_hold_at_every_width(view: Watched) -> None:
    page = at(view.page, "#frames")
    for width in (340, 390, 600, 641, 730, 768, 777, 810, 1001, 1111):
        page.set_viewport_size({"width": width, "height": 900})
        for size in ("small", "medium", "large"):
            page.click(f'[data-size-choice="{size}"]')
            page.wait_for_timeout(30)
            assert page.evaluate(BROKEN_ROWS) == 0, (width, size)


def test_two_windows_of_one_report_lose_no_mark_of_each_other(view: Watched, report: Path) -> None:
    other = view.page.context.new_page()
    other.goto(report.as_uri())
    for page in (view.page, other):
        at(page, "#frames")
    mark(view.page, 0, "1")
    eventually(other, "document.getElementById('marks-state').textContent.startsWith('1 keep')")
    mark(other, 3, "3")
    mark(view.page, 5, "2")
    for page in (view.page, other):
        eventually(page, "document.getElementById('marks-state').textContent.includes('1 second')")
        assert state(page) == "1 keep, 1 second, 1 drop, 21 unmarked"
    other.keyboard.press("Backspace")
    view.page.reload()
    # one window hears of the other when its browser gets to it, on a busy machine after loading
    told = "'1 keep, 1 second, 22 unmarked'"
    eventually(view.page, f"document.getElementById('marks-state').textContent === {told}")


def test_where_nothing_can_be_kept_it_is_said_and_nobody_leaves_unasked(
    browser: Browser, report: Path
) -> None:
    with opened(browser, report) as watched:
        page = watched.page
        page.add_init_script(REFUSED)
        page.reload()
        at(page, "#frames")
        assert state(page) == "No marks"
        mark(page, 0, "1")
        assert "not kept by this browser" in state(page)
        page.evaluate("() => { setTimeout(() => location.reload()); }")
        page.wait_for_timeout(500)
        assert watched.dialogs == [""], "asked, and answered with staying"
        with page.expect_download():
            page.click(".bar-top [data-save]")
        assert state(page) == "1 keep, 23 unmarked"
        page.reload()
        assert watched.dialogs == [""], "what is saved may be left"
        assert watched.errors == []


def test_names_as_long_as_a_file_system_takes_stay_in_their_places(
    browser: Browser, tmp_path: Path
) -> None:
    audit, measurements = make_audit()
    names = {f.id: f"{'A' * 240}-{f.id[-9:]}" for f in audit.frames}
    back = {name: frame for frame, name in names.items()}

    class Renamed:
        def measurement(self, frame_id: str) -> object:
            return measurements.measurement(back[frame_id])

    path = written(tmp_path, renamed(audit, names), Renamed())  # type: ignore[arg-type]
    for width in (360, 1280):
        with opened(browser, path, viewport={"width": width, "height": 800}) as watched:
            page = watched.page
            for hash_ in ("#overview", "#frames", "#setup=2", "#measured", "#take-away"):
                at(page, hash_)
                assert page.evaluate("document.documentElement.scrollWidth") <= width, hash_
            told = page.locator("#losses b").first.text_content() or ""
            assert told.endswith("S0022.dng")
            assert len(told) <= 80
            watched.assert_quiet()


def test_a_shoot_of_which_nothing_can_be_read_draws_no_empty_time_line(
    browser: Browser, tmp_path: Path
) -> None:
    audit, measurements = make_audit()
    lost = next(f for f in audit.frames if f.status == FrameStatus.UNREADABLE)
    frames = tuple(replace(lost, id=f.id, file=f.file) for f in audit.frames)
    groups: dict[str, Any] = dict.fromkeys(
        ("setups", "siblings", "brackets", "grads", "skies", "panoramas", "keepers", "light",
         "prints", "lessons"), ()
    )  # fmt: skip
    path = written(tmp_path, replace(audit, frames=frames, **groups), measurements)
    with opened(browser, path) as watched:
        page = watched.page
        assert page.locator(".tallies button").all_inner_texts() == ["24\nunreadable"]
        assert not page.locator("#line-small").is_visible()
        at(page, "#timeline")
        assert not page.locator("#line").is_visible()
        assert "24 frames without a clock" in page.locator("#untimed").inner_text()
        at(page, "#setup=3")
        page.keyboard.press("ArrowRight")
        assert page.locator("#setup-h").inner_text() == "No such set-up"
        assert not page.locator("#setup-tools").is_visible()
        watched.assert_quiet()


def test_the_page_alone_serves_without_the_pictures_beside_it(
    browser: Browser, tmp_path: Path
) -> None:
    audit, measurements = make_audit()
    whole = PicturePlace(kind=PictureKind.WHOLE, width_px=600, height_px=400)
    kept = [KeptPicture(whole, tmp_path / "gone.jpg", 1000)]
    files = picture_files([f.id for f in audit.frames], {f.id: kept for f in audit.frames})
    path = tmp_path / "report.html"
    path.write_bytes(build_html(audit, measurements, make_kinds(), files=files).html)
    with opened(browser, path) as watched:
        page = watched.page
        for hash_ in (f"#frame={FOLDER}/S0006.dng", PAIR):
            at(page, hash_)
            page.wait_for_timeout(300)
            wide = page.evaluate(
                "[...document.querySelectorAll('.stage .whole')]"
                ".filter(image => image.getClientRects().length).map(image => image.naturalWidth)"
            )
            assert wide, hash_
            assert min(wide) > 100, hash_


def test_without_scripts_the_answers_and_the_measures_are_there(
    browser: Browser, report: Path
) -> None:
    with opened(browser, report, java_script_enabled=False) as watched:
        page = watched.page
        assert page.locator(".plain-note").first.is_visible()
        assert page.locator(".lessons > li").count() == 5
        assert page.locator("#measured").is_visible()
        assert page.locator(".nav a:visible").all_inner_texts() == [
            "Overview", "How it is measured",
        ]  # fmt: skip
        assert not page.locator("#line-small").is_visible()


def test_colours_forced_by_the_system_leave_marks_and_words_legible(
    browser: Browser, report: Path
) -> None:
    with opened(browser, report, forced_colors="active", bypass_csp=True) as watched:
        page = at(watched.page, f"#frame={FOLDER}/S0009.dng")
        page.locator('#close-marks [data-mark="keep"]').click()
        colours = "all => all.map(button => getComputedStyle(button).backgroundColor)"
        pressed = page.locator("#close-marks button").evaluate_all(colours)
        assert pressed[0] != pressed[1]
        found = Axe().run(page).response["violations"]
        assert [v["id"] for v in found if v["impact"] in ("serious", "critical")] == []


def test_the_index_is_one_touch_away_on_a_phone(browser: Browser, report: Path) -> None:
    with opened(browser, report, viewport={"width": 390, "height": 844}) as watched:
        page = at(watched.page, "#setup=2")
        page.click("#setup-find")
        box = page.locator("#setup-search").bounding_box()
        assert box is not None
        assert 0 <= box["y"] <= 600
        assert page.evaluate("document.activeElement.getAttribute('href')") == "#setup=2"
        watched.assert_quiet()


@pytest.mark.slow
def test_one_set_up_of_many_frames_stays_light_and_lies_on_each_of_its_days(
    browser: Browser, tmp_path: Path
) -> None:
    audit, measurements = many(200)
    ids = tuple(frame.id for frame in audit.frames)
    one = Setup(
        id="one", frames=ids, started_at=audit.frames[0].captured_at, focal_mm=35.0,
        shift_px=(None,) * len(ids),
    )  # fmt: skip
    within: dict[str, Any] = {
        name: tuple(replace(record, setup="one") for record in getattr(audit, name))
        for name in ("siblings", "brackets", "grads", "keepers")
    }
    path = written(tmp_path, replace(audit, setups=(one,), **within), measurements)
    with opened(browser, path) as watched:
        page = at(watched.page, "#setup=1")
        assert page.locator("#setup-strip .left").inner_text() == "and 140 more"
        assert (
            f"pair, {len(audit.brackets)} brackets of 5"
            in page.locator("#setup-about").inner_text()
        )
        assert page.locator("#setup-parts > .pair").count() <= 12
        assert page.evaluate("document.querySelectorAll('*').length") < 6000
        folded = page.locator("#setup-parts > details").filter(has_text="more pairs")
        folded.locator("summary").first.click()
        eventually(page, "document.querySelectorAll('#setup-parts > details .pair').length === 6")
        at(page, "#timeline")
        assert page.locator("#line svg").count() > 1
        for day in page.locator("#line svg").all():
            assert day.locator(".block").first.get_attribute("d") != ""
        watched.assert_quiet()
