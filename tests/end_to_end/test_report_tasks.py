"""What a photographer must be able to do with the report, and in how many steps.

Each task is counted on a phone and a laptop, with a short, a usual and a very large shoot. Keys,
clicks and the choice of an address are steps; waiting is none.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from auditor.model.audit import Audit
from tests.browser import eventually, opened
from tests.built_groups import make_kinds
from tests.built_many import frame_named, many
from tests.html_page import build_html

pytestmark = [pytest.mark.browser, pytest.mark.slow]

COUNTS = (47, 315, 2000)
SCREENS = {"phone": (360, 740), "laptop": (1280, 900)}
MOST_NODES = 6000
MOST_BYTES_A_FRAME = 10_000


@dataclass(frozen=True)
class Shoot:
    audit: Audit
    path: Path

    def id(self, end: str) -> str:
        return frame_named(self.audit, end).id


@dataclass
class Steps:
    """A page on which every key and click is counted."""

    page: Page
    taken: int = 0

    def press(self, key: str) -> None:
        self.taken += 1
        self.page.keyboard.press(key)

    def click(self, selector: str) -> None:
        self.taken += 1
        self.page.locator(selector).first.click()

    def begin(self, hash_: str) -> Page:
        """Stand somewhere before the counting begins."""
        self.page.evaluate(
            "hash => { const a = document.createElement('a'); a.href = hash;"
            " document.body.append(a); a.click(); a.remove(); }",
            hash_,
        )
        self.page.wait_for_timeout(120)
        self.taken = 0
        return self.page


@pytest.fixture(scope="module", params=COUNTS)
def shoot(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Shoot:
    audit, measurements = many(request.param)
    folder = tmp_path_factory.mktemp(f"shoot-{request.param}")
    report = build_html(audit, measurements, make_kinds())
    (folder / "report.html").write_bytes(report.html)
    assert len(audit.frames) == request.param
    if request.param > 100:
        assert len(report.html) / request.param <= MOST_BYTES_A_FRAME
    return Shoot(audit, folder / "report.html")


@pytest.fixture(params=SCREENS)
def steps(request: pytest.FixtureRequest, browser: Browser, shoot: Shoot) -> Iterator[Steps]:
    width, height = SCREENS[request.param]
    size = {"width": width, "height": height}
    with opened(browser, shoot.path, viewport=size) as watched:
        watched.page.set_default_timeout(30_000)
        eventually(watched.page, "document.documentElement.dataset.ready === 'yes'")
        yield Steps(watched.page)
        assert watched.page.evaluate("document.querySelectorAll('*').length") <= MOST_NODES
        assert watched.page.evaluate("document.documentElement.scrollWidth") <= width
        watched.assert_quiet()


def heading_top(page: Page, heading: str) -> float:
    box = page.locator(heading).bounding_box()
    assert box is not None
    return box["y"]


def test_losses_are_on_the_first_screen_and_every_jump_shows_its_heading(
    steps: Steps, shoot: Shoot
) -> None:
    page = steps.page
    eventually(page, "document.querySelectorAll('#losses .ring').length === 3")
    tall = page.viewport_size["height"] if page.viewport_size else 0
    for picture in page.locator("#losses .picture").all():
        box = picture.bounding_box()
        assert box is not None
        assert box["y"] + box["height"] <= tall
    assert steps.taken == 0
    middle = len(shoot.audit.setups) // 2
    for hash_, heading in (
        ("#frames", "#frames-h"),
        (f"#setup={middle}", "#setup-h"),
        (f"#frame={shoot.audit.frames[-3].id}", "#close-h"),
        ("#timeline", "#timeline-h"),
        ("#overview", "#overview-h"),
    ):
        for _ in range(2):
            page.evaluate("scrollTo(0, 1e6)")
            steps.begin(hash_)
            assert 0 <= heading_top(page, heading) <= 200, hash_
    for _ in range(2):
        page.evaluate("document.querySelector('.nav [data-for=frames]').click()")
        page.wait_for_timeout(100)
        assert 0 <= heading_top(page, "#frames-h") <= 200


def test_one_key_or_one_click_leads_to_sibling_bracket_and_set_up(
    steps: Steps, shoot: Shoot
) -> None:
    short, long = shoot.id("S0006.dng"), shoot.id("S0007.dng")
    page = steps.begin(f"#frame={short}")
    page.locator(".relatives button").first.wait_for()
    steps.press("s")
    eventually(page, f"decodeURIComponent(location.hash) === '#frame={long}'")
    assert steps.taken == 1
    steps.begin(f"#frame={short}")
    page.locator(".relatives").wait_for()
    steps.click(".relatives button:has-text('Sibling')")
    eventually(page, f"decodeURIComponent(location.hash) === '#frame={long}'")
    assert steps.taken == 1
    steps.begin(f"#frame={shoot.id('S0001.dng')}")
    page.locator(".relatives button:has-text('bracket')").wait_for()
    steps.press("k")
    eventually(page, f"decodeURIComponent(location.hash) === '#frame={shoot.id('S0002.dng')}'")
    steps.begin(f"#frame={short}")
    page.locator(".relatives a").wait_for()
    steps.press("v")
    eventually(page, "location.hash === '#setup=2'")
    assert steps.taken == 1
    assert page.locator("#setup-h").inner_text() == "Set-up 2"


def test_one_key_shows_the_next_blown_patch_full_size(steps: Steps, shoot: Shoot) -> None:
    page = steps.begin(f"#frame={shoot.id('S0009.dng')}")
    page.locator(".tones").wait_for()
    steps.press("b")
    assert steps.taken == 1
    assert page.locator("#close-stage .stage.zoomed").count() == 1
    off = page.evaluate(
        "() => { const s = document.querySelector('.stage').getBoundingClientRect();"
        " const p = document.querySelector('.lost-layer .outline.blown').getBoundingClientRect();"
        " return [(p.left + p.right - s.left - s.right) / 2 / s.width,"
        " (p.top + p.bottom - s.top - s.bottom) / 2 / s.height, p.width / s.width]; }"
    )
    assert abs(off[0]) < 0.3, "in the middle of the stage"
    assert abs(off[1]) < 0.3
    assert off[2] > 0.05, "large enough to look at"


def test_one_key_sets_two_frames_side_by_side(steps: Steps, shoot: Shoot) -> None:
    page = steps.begin(f"#frame={shoot.id('S0006.dng')}")
    page.locator(".relatives").wait_for()
    steps.press("w")
    eventually(page, "document.getElementById('side-says').textContent.includes('median of what')")
    assert steps.taken == 1
    assert page.locator("#split-line").is_visible()
    assert page.locator("#equal").get_attribute("aria-pressed") == "true"
    assert "darker" in page.locator("#side-says").inner_text()
    assert "right shown +" in page.locator("#equal-says").inner_text()
    assert "px right" in page.locator("#side-says").inner_text()
    steps.press("d")
    assert page.locator(".difference").is_visible()
    steps.press("+")
    one, other = (
        page.locator(f"#side-stage .whole{kind}").bounding_box()
        for kind in (":not(.over)", ".over")
    )
    assert one is not None
    assert other is not None
    assert one["width"] == pytest.approx(other["width"]), "one zoom for both"


def test_pointing_at_a_tone_or_at_the_picture_lights_the_other_up(
    steps: Steps, shoot: Shoot
) -> None:
    page = steps.begin(f"#frame={shoot.id('S0006.dng')}")
    tones = page.locator(".tones")
    tones.scroll_into_view_if_needed()
    box = tones.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] * 0.6, box["y"] + box["height"] * 0.3)
    eventually(page, "!document.querySelector('.tone-layer').hidden")
    assert " %, brighter " in page.locator(".reading").inner_text()
    page.locator("#close-stage").scroll_into_view_if_needed()
    box = page.locator("#close-stage .stage").bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] * 0.6)
    eventually(page, "document.querySelectorAll('.tones .spot').length === 3")
    assert steps.taken == 0


def test_twenty_frames_are_culled_with_a_key_each(steps: Steps, shoot: Shoot) -> None:
    page = steps.begin("#frames")
    steps.click("#accept-all")
    suggested = int(
        page.evaluate("document.querySelectorAll('#tiles [aria-pressed=true]').length > 0")
    )
    assert suggested == 1
    steps.click('[data-chip="unmarked"]')
    left = int(page.locator("#shown").inner_text().split()[0])
    assert 0 < left < len(shoot.audit.frames)
    page.locator("#tiles .picture").first.focus()
    culled = min(20, left - 1)
    before = steps.taken
    for _ in range(culled):
        steps.press("3")
        eventually(page, "document.activeElement.closest('.tile') !== null")
    assert steps.taken - before == culled, "no step between two marks"
    assert int(page.locator("#shown").inner_text().split()[0]) == left - culled
    assert "Next: " in page.locator("[role=status]").inner_text()
    steps.press("Backspace")
    assert int(page.locator("#shown").inner_text().split()[0]) == left - culled + 1


def test_a_set_up_is_found_by_its_address_by_search_and_in_the_index(
    steps: Steps, shoot: Shoot
) -> None:
    number = len(shoot.audit.setups)
    page = steps.begin(f"#setup={number}")
    assert page.locator("#setup-h").inner_text() == f"Set-up {number}"
    page.fill("#setup-search", "bracket of 5")
    first = page.locator("#setup-index a").first
    first.click()
    eventually(page, "document.querySelectorAll('.rung').length === 5")
    assert 0 <= heading_top(page, "#setup-h") <= 200


def test_the_result_is_taken_away(steps: Steps, shoot: Shoot) -> None:
    page = steps.begin("#frames")
    page.locator("#tiles .picture").first.focus()
    page.keyboard.press("1")
    steps.click('.nav [data-for="take-away"]')
    assert steps.taken == 1
    assert page.locator(".paths textarea").first.input_value().endswith(".dng")
    assert "auditor apply marks.json" in page.locator("#command").inner_text()
    pdf = page.pdf(format="A4")
    assert pdf.count(b"/Type /Page\n") == 1, "one page of answers"


def test_every_frame_is_reached_on_the_time_line(steps: Steps, shoot: Shoot) -> None:
    page = steps.begin("#timeline")
    line = page.locator("#line")
    line.focus()
    page.keyboard.press("End")
    timed = sum(frame.captured_at is not None for frame in shoot.audit.frames)
    assert line.get_attribute("aria-valuenow") == str(timed)
    days = page.locator("#line svg")
    dates = {(frame.captured_at or "")[:10] for frame in shoot.audit.frames} - {""}
    assert days.count() == len(dates), "days stand apart"
    if len(dates) > 1:
        assert page.locator("#line .day-name").count() == len(dates)
