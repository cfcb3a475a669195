"""The report in quick hands: keys struck before the page has caught up, held, and clicked twice."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from tests.browser import Watched, eventually, opened

pytestmark = pytest.mark.browser
FOLDER = "100SELMR"
SLOW = """
    const text = Response.prototype.text;
    Response.prototype.text = async function () {
        await new Promise((done) => setTimeout(done, 600));
        while (globalThis.isHeldBack) await new Promise((done) => setTimeout(done, 30));
        return text.call(this);
    };
"""
"""Details of frames are unpacked late, as on a busy machine."""

STRIKE = """([keys, repeat]) => {
    for (const key of keys) {
        const where = document.activeElement ?? document.body;
        where.dispatchEvent(
            new KeyboardEvent("keydown", { key, repeat, bubbles: true, cancelable: true }));
    }
}"""
"""Strikes several keys in one go: nothing else happens between them."""


@pytest.fixture
def view(browser: Browser, report: Path) -> Iterator[Watched]:
    with opened(browser, report) as watched:
        eventually(watched.page, "document.documentElement.dataset.ready === 'yes'")
        yield watched
        watched.assert_quiet()


@pytest.fixture
def slow(browser: Browser, report: Path) -> Iterator[Watched]:
    with opened(browser, report) as watched:
        watched.page.add_init_script(SLOW)
        watched.page.reload()
        eventually(watched.page, "document.documentElement.dataset.ready === 'yes'")
        yield watched
        watched.assert_quiet()


def strike(page: Page, *keys: str, repeat: bool = False) -> None:
    page.evaluate(STRIKE, [list(keys), repeat])


def close_up(page: Page, name: str) -> Page:
    page.evaluate("hash => { location.hash = hash; }", f"#frame={FOLDER}/{name}")
    eventually(page, f"document.getElementById('close-h').textContent === '{name}'")
    return page


def heading(page: Page) -> str:
    return page.locator("#close-h").inner_text()


def marks(page: Page) -> str:
    return page.locator("#marks-state").inner_text()


def marked_in_list(page: Page) -> dict[str, str]:
    page.click('.nav [data-for="frames"]')
    found: dict[str, str] = page.evaluate(
        "() => Object.fromEntries([...document.querySelectorAll('#tiles .tile[data-marked]')]"
        ".map((tile) => [tile.querySelector('b').textContent, tile.dataset.marked]))"
    )
    return found


def test_keys_struck_in_one_go_act_on_the_frame_turned_to(view: Watched) -> None:
    page = view.page
    page.click('.nav [data-for="frames"]')
    page.evaluate("document.querySelector('#tiles .picture').click()")
    strike(page, "ArrowRight", "3", "1", "Backspace", "2")
    assert marked_in_list(page) == {"S0002.dng": "drop", "S0003.dng": "second"}


def test_a_key_struck_right_after_a_link_meets_what_it_opened(view: Watched) -> None:
    page = view.page
    page.evaluate(
        "() => { document.querySelector('.nav [data-for=frames]').click();"
        " document.querySelectorAll('#tiles .picture')[4].click(); }"
    )
    strike(page, "1")
    assert heading(page) == "S0006.dng"
    assert marked_in_list(page) == {"S0005.dng": "keep"}


@pytest.mark.parametrize("where", ["list", "close-up"])
def test_a_key_held_down_marks_one_frame(view: Watched, where: str) -> None:
    page = view.page
    page.click('.nav [data-for="frames"]')
    page.locator("#tiles .picture").first.focus()
    if where == "close-up":
        page.keyboard.press("Enter")
    strike(page, "3")
    for _ in range(5):
        strike(page, "3", "a", repeat=True)
    assert marks(page) == "1 drop, 23 unmarked"
    strike(page, "1")
    for _ in range(5):
        strike(page, "Backspace", repeat=True)
    assert marks(page) == "1 keep, 1 drop, 22 unmarked"
    if where == "close-up":
        before = heading(page)
        strike(page, "ArrowRight", repeat=True)
        assert heading(page) != before, "an arrow held goes on"


def test_what_is_asked_before_the_details_are_there_is_done_when_they_are(slow: Watched) -> None:
    slow.page.evaluate("() => { globalThis.isHeldBack = true; }")
    page = close_up(slow.page, "S0009.dng")
    strike(page, "b")
    shown = page.locator("#close-stage img.whole")
    assert (shown.get_attribute("alt") or "").startswith("S0009.dng")
    assert (shown.get_attribute("src") or "").startswith("data:image/jpeg"), "seen at once"
    assert page.locator("#close-side").inner_text() == "", "nothing of another frame"
    page.evaluate("() => { globalThis.isHeldBack = false; }")
    eventually(page, "document.querySelector('.stage.zoomed') !== null")


def test_what_was_asked_of_a_frame_is_not_done_to_the_next(slow: Watched) -> None:
    page = close_up(slow.page, "S0009.dng")
    strike(page, "b", "ArrowLeft", "1")
    page.locator(".tones").wait_for()
    assert page.locator(".stage.zoomed").count() == 0
    assert "S0009.dng" in heading(page), "S0008 is marked and the next comes"
    assert marked_in_list(page) == {"S0008.dng": "keep"}


def test_brightness_made_equal_stays_with_its_frame(view: Watched) -> None:
    page = close_up(view.page, "S0007.dng")
    page.locator(".tones").wait_for()
    strike(page, "q", "ArrowRight")
    page.wait_for_timeout(400)
    assert heading(page) == "S0008.dng"
    assert page.locator("#brighter-says").inner_text() == "as recorded"


def test_a_note_asked_for_waits_for_its_place_and_takes_no_key_for_a_mark(slow: Watched) -> None:
    page = slow.page
    page.click('.nav [data-for="frames"]')
    page.locator("#tiles .picture").nth(2).focus()
    strike(page, "n", "1", "3", "ArrowRight")
    eventually(page, "document.activeElement.id === 'note'")
    page.keyboard.type("1 more")
    assert heading(page) == "S0003.dng"
    assert marks(page) == "No marks"
    assert page.locator("#note").input_value() == "1 more"


def test_a_note_in_the_making_is_kept_when_the_page_is_left_by_the_browser(view: Watched) -> None:
    page = view.page
    page.click('.nav [data-for="frames"]')
    page.locator("#tiles .picture").nth(2).click()
    page.locator("#note").fill("fog")
    page.go_back()
    eventually(page, "location.hash === '#frames'")
    assert marks(page) == "1 noted, 24 unmarked"
    page.locator("#tiles .picture").nth(2).click()
    eventually(page, "document.getElementById('note')?.value === 'fog'")


def test_a_double_click_opens_a_picture_and_does_nothing_else(view: Watched) -> None:
    page = view.page
    page.click('.nav [data-for="frames"]')
    for place in range(8):
        page.locator("#tiles .picture").nth(place).dblclick()
        page.locator(".tones").wait_for()
        assert page.locator(".stage.zoomed").count() == 0
        assert heading(page) == f"S000{place + 1}.dng"
        page.keyboard.press("Escape")
    assert marks(page) == "No marks"


def test_a_double_click_on_a_mark_is_one_and_on_next_is_two(view: Watched) -> None:
    page = close_up(view.page, "S0002.dng")
    page.locator('#close-marks [data-mark="keep"]').dblclick()
    assert marks(page) == "1 keep, 23 unmarked"
    page.locator("#next").dblclick()
    assert heading(page) == "S0004.dng"
    page.locator(".tones").wait_for()
    page.locator("#close-stage .stage").dblclick()
    eventually(page, "document.querySelector('.stage.zoomed') !== null")


def test_a_double_click_on_the_strip_turns_once(view: Watched) -> None:
    page = close_up(view.page, "S0001.dng")
    page.locator("#close-strip a").nth(2).dblclick()
    wanted = page.locator("#close-strip [aria-current]").get_attribute("aria-label") or ""
    assert wanted.startswith(heading(page))
    assert heading(page) == "S0003.dng"


def test_the_last_pair_asked_for_is_the_one_that_is_told(slow: Watched) -> None:
    page = slow.page
    for one, other in (("S0001", "S0002"), ("S0006", "S0007")):
        page.evaluate(
            "hash => { location.hash = hash; dispatchEvent(new Event('hashchange')); }",
            f"#side={FOLDER}/{one}.dng,{FOLDER}/{other}.dng",
        )
    eventually(page, "document.getElementById('side-says').textContent.includes('median')")
    page.wait_for_timeout(900)
    told = page.locator("#side-says").inner_text()
    assert "By the settings S0007.dng" in told
    assert "S0002" not in told
    strike(page, "1", "Backspace")
    assert marks(page) == "No marks", "taken back beside each other too"


def test_the_way_back_skips_a_step_that_changed_nothing(view: Watched) -> None:
    page = view.page
    page.click('.nav [data-for="frames"]')
    page.locator("#tiles .picture").first.focus()
    strike(page, "1")
    page.evaluate(
        "() => { const made = document.getElementById('accept-all');"
        " made.click(); made.disabled = false; made.click(); }"
    )
    page.locator("#tiles .picture").first.focus()
    strike(page, "Backspace")
    assert marks(page) == "1 keep, 23 unmarked"


def test_a_mark_taken_away_leaves_the_picture_as_it_was(view: Watched) -> None:
    page = close_up(view.page, "S0009.dng")
    page.locator(".tones").wait_for()
    strike(page, "b")
    eventually(page, "document.querySelector('.stage.zoomed') !== null")
    page.locator('#close-marks [data-mark="keep"]').click()
    strike(page, "1")
    assert marks(page) == "No marks"
    assert page.locator(".stage.zoomed").count() == 1
