"""The report as its reader meets it: in a browser, from disk, with no network."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe  # type: ignore[import-untyped]
from playwright.sync_api import Browser, Page

from auditor.model.facts import LensFacts
from auditor.report.html import build_html
from auditor.report.page import build_page
from auditor.report.page_pictures import frame_pictures
from auditor.report.page_records import Page as Sheets
from auditor.sidecar.marks import MARKS_SCHEMA, read_marks
from tests.bench.html_report import SCROLL
from tests.browser import Watched, chromium, eventually, opened, unfold
from tests.builders import make_audit, repeated
from tests.built_groups import make_kinds

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as found:
        yield found


@pytest.fixture(scope="module")
def sheets() -> Sheets:
    return build_page(make_audit()[0], make_kinds())


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("report") / "report.html"
    path.write_bytes(build_html(*make_audit(), make_kinds()).html)
    return path


@pytest.fixture
def view(browser: Browser, report: Path) -> Iterator[Watched]:
    with opened(browser, report) as watched:
        yield watched
        watched.assert_quiet()


def shown_names(page: Page) -> list[str]:
    return page.locator("#cards > .card:not([hidden]) h3").all_text_contents()


def card(page: Page, name: str) -> int:
    return [*page.locator("#cards > .card h3").all_text_contents()].index(name)


def test_opens_in_order_of_time(view: Watched, sheets: Sheets) -> None:
    assert shown_names(view.page) == [frame.name for frame in sheets.frames]
    assert view.page.locator("#shown").inner_text() == "24 of 24 frames"
    assert view.page.locator("#line svg path.slice").count() == 1


def test_sorts_by_blown_share_with_the_unmeasured_last(view: Watched, sheets: Sheets) -> None:
    view.page.select_option("#sort", "blown")
    expected = sorted(sheets.frames, key=lambda f: (f.bar.blown is None, -(f.bar.blown or 0)))
    assert shown_names(view.page) == [frame.name for frame in expected]
    view.page.click("#reverse")
    # the browser may take the click after the call has returned
    eventually(view.page, "document.getElementById('reverse').ariaPressed === 'true'")
    least = [f for f in shown_names(view.page) if f != expected[-1].name]
    blown = {frame.name: frame.bar.blown or 0.0 for frame in sheets.frames}
    assert [blown[name] for name in least] == sorted(blown[name] for name in least)
    assert shown_names(view.page)[-1] == expected[-1].name


@pytest.mark.parametrize(
    ("field", "value"),
    [("by-finding", "v:blocked"), ("by-finding", "f:blown-area"), ("by-camera", "F24 F24-000318")],
)
def test_filters_show_exactly_what_answers(
    view: Watched, sheets: Sheets, field: str, value: str
) -> None:
    answers = {
        "v:blocked": [f.name for f in sheets.frames if f.verdict == "blocked"],
        "f:blown-area": [
            f.name for f in sheets.frames if any(found.code == "blown-area" for found in f.findings)
        ],
        "F24 F24-000318": [f.name for f in sheets.frames if f.camera == value],
    }
    view.page.select_option(f"#{field}", value)
    assert shown_names(view.page) == answers[value]
    assert 0 < len(answers[value]) < 24


def test_the_lens_filter_shows_the_frames_of_that_lens(browser: Browser, tmp_path: Path) -> None:
    made, gallery = make_audit()
    odd = {frame.id for frame in made.frames[3:8] if frame.status == "measured"}
    other = LensFacts("Brackwell 70-200 mm f/4", 70.0)
    frames = [replace(f, lens=other) if f.id in odd else f for f in made.frames]
    path = tmp_path / "report.html"
    path.write_bytes(build_html(replace(made, frames=tuple(frames)), gallery, make_kinds()).html)
    with opened(browser, path) as watched:
        every = len(shown_names(watched.page))
        lens = watched.page.locator("#by-lens option", has_text=other.model).get_attribute("value")
        watched.page.select_option("#by-lens", lens)
        assert 0 < len(shown_names(watched.page)) == len(odd) < every
        watched.page.select_option("#by-lens", "")
        assert len(shown_names(watched.page)) == every
        watched.assert_quiet()


def test_filters_join_and_can_be_taken_back(view: Watched, sheets: Sheets) -> None:
    page = view.page
    page.fill("#from", "2031-09-14T19:00")
    page.fill("#to", "2031-09-14T19:20")
    page.fill("#q", "FILTER s00")
    expected = [
        f.name
        for f in sheets.frames
        if "2031-09-14T19:00" <= f.clock_key <= "2031-09-14T19:20"
        and any("filter" in role for role in f.roles)
    ]
    assert shown_names(page) == expected
    assert len(expected) == 2
    page.fill("#q", "no such frame")
    assert page.locator("#none-shown").is_visible()
    page.click("#show-all")
    eventually(page, "document.getElementById('shown').textContent === '24 of 24 frames'")
    assert len(shown_names(page)) == 24


def test_tallies_lead_to_their_frames(view: Watched, sheets: Sheets) -> None:
    view.page.click('.tallies [data-only="blocked"]')
    assert shown_names(view.page) == [f.name for f in sheets.frames if f.verdict == "blocked"]


def test_keyboard_alone_walks_marks_and_opens(view: Watched, sheets: Sheets) -> None:
    page = view.page
    page.locator("#cards > .card").first.focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("k")
    assert page.locator("#cards > .card").nth(1).get_attribute("data-marked") == "keep"
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    columns = page.evaluate(
        "getComputedStyle(document.getElementById('cards')).gridTemplateColumns.split(' ').length"
    )
    expected = sheets.frames[1 + columns]
    assert page.locator("#detail-h").inner_text() == expected.name
    page.keyboard.press("ArrowRight")
    assert page.locator("#detail-h").inner_text() == sheets.frames[2 + columns].name
    page.keyboard.press("d")
    page.keyboard.press("Escape")
    eventually(page, f"document.activeElement.dataset.number === '{2 + columns}'")
    assert page.evaluate("document.activeElement.dataset.marked") == "drop"
    page.keyboard.press("u")
    assert page.evaluate("document.activeElement.dataset.marked ?? null") is None


def test_time_line_answers_to_the_keyboard(view: Watched, sheets: Sheets) -> None:
    page = view.page
    page.locator("#line").focus()
    page.keyboard.press("End")
    assert sheets.frames[-1].name in (page.locator("#line").get_attribute("aria-valuetext") or "")
    page.keyboard.press("Home")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    assert page.locator("#detail-h").inner_text() == sheets.frames[1].name


def test_tab_reaches_every_part(view: Watched) -> None:
    page = view.page
    reached = set()
    for _ in range(140):
        page.keyboard.press("Tab")
        reached.add(page.evaluate("document.activeElement.closest('section, nav')?.id || 'rail'"))
    assert {"rail", "glance", "lessons", "setups", "frames", "meaning"} <= reached


def saved_marks(page: Page, path: Path) -> Path:
    with page.expect_download() as waiting:
        page.click("#marks-save")
    assert waiting.value.suggested_filename == "marks.json"
    waiting.value.save_as(path)
    return path


def mark_three(page: Page) -> None:
    for name, word in (("S0002.dng", "keep"), ("S0005.dng", "drop"), ("S0007.dng", "second")):
        page.locator("#cards > .card").nth(card(page, name)).locator(f"[data-mark={word}]").click()
    page.locator("#cards > .card").nth(card(page, "S0005.dng")).locator("[data-note]").click()
    page.fill("#detail-note", 'glow lost; "try again" ≈ 19:40')
    page.click("#close")


def test_marks_are_saved_as_the_command_reads_them(view: Watched, tmp_path: Path) -> None:
    mark_three(view.page)
    path = saved_marks(view.page, tmp_path / "marks.json")
    raw = json.loads(path.read_bytes())
    assert raw["schema"] == MARKS_SCHEMA
    assert raw["audit_made_at"] == "2031-09-14T21:40:03+01:00"
    told = {
        mark.file: (mark.frame, mark.input, mark.mark, mark.note) for mark in read_marks(path).marks
    }
    folder = "100SELMR"
    assert told == {
        f"{folder}/S0002.dng": (f"{folder}/S0002.dng", 0, "keep", ""),
        f"{folder}/S0005.dng": (f"{folder}/S0005.dng", 0, "drop", 'glow lost; "try again" ≈ 19:40'),
        f"{folder}/S0007.dng": (f"{folder}/S0007.dng", 0, "second", ""),
    }


def test_marks_outlive_the_page_and_travel_by_file(
    browser: Browser, report: Path, tmp_path: Path
) -> None:
    with opened(browser, report) as first:
        mark_three(first.page)
        path = saved_marks(first.page, tmp_path / "marks.json")
        first.page.reload()
        assert (
            first.page.locator("#marks-state").inner_text() == "1 keep, 1 second, 1 drop, 1 noted"
        )
        assert first.page.locator('[data-marked="drop"] h3').text_content() == "S0005.dng"
    with opened(browser, report) as second:
        assert second.page.locator("#marks-state").inner_text() == "No marks"
        second.page.set_input_files("#marks-file", path)
        second.page.wait_for_selector('[data-marked="keep"]')
        assert second.page.locator('[data-marked="second"] h3').text_content() == "S0007.dng"
        second.page.select_option("#by-mark", "note")
        assert shown_names(second.page) == ["S0005.dng"]
        second.assert_quiet()


@pytest.mark.parametrize(
    "content", ["[]", "{", '{"schema": "other"}', '{"schema": "exposure-auditor marks 1"}']
)
def test_a_file_that_holds_no_marks_changes_nothing(
    view: Watched, tmp_path: Path, content: str
) -> None:
    path = tmp_path / "strange.json"
    path.write_text(content, encoding="utf-8")
    view.page.set_input_files("#marks-file", path)
    eventually(view.page, "document.getElementById('says').textContent !== ''")
    assert "holds no marks" in view.page.locator("#says").inner_text()
    assert view.page.locator("#marks-state").inner_text() == "No marks"


def test_marks_for_frames_that_are_not_here_are_told(view: Watched, tmp_path: Path) -> None:
    entries = [
        {"frame": "elsewhere.dng", "file": "elsewhere.dng", "input": 0, "mark": "keep"},
        {"frame": "100SELMR/S0001.dng", "file": "100SELMR/S0001.dng", "input": 0, "mark": "best"},
        {"frame": "gone", "file": "100SELMR/S0003.dng", "input": 0, "mark": "keep"},
    ]
    path = tmp_path / "marks.json"
    path.write_text(json.dumps({"schema": MARKS_SCHEMA, "marks": entries}))
    view.page.set_input_files("#marks-file", path)
    view.page.wait_for_selector('[data-marked="keep"]')
    assert "Loaded 1 mark; 2 belong to no frame here" in view.page.locator("#says").inner_text()
    assert view.page.locator('[data-marked="keep"] h3').text_content() == "S0003.dng"


def test_marks_of_the_first_kind_are_loaded_by_their_new_names(
    view: Watched, tmp_path: Path
) -> None:
    words = {"S0001.dng": "keeper", "S0002.dng": "spare", "S0003.dng": "drop"}
    entries = [{"frame": "", "file": f"100SELMR/{f}", "mark": w} for f, w in words.items()]
    path = tmp_path / "older.json"
    path.write_text(json.dumps({"schema": "exposure-auditor marks 1", "marks": entries}))
    view.page.set_input_files("#marks-file", path)
    view.page.wait_for_selector('[data-marked="keep"]')
    assert view.page.locator("#marks-state").inner_text() == "1 keep, 1 second, 1 drop"
    marks = read_marks(saved_marks(view.page, tmp_path / "marks.json"))
    assert [mark.mark for mark in marks.marks] == ["keep", "second", "drop"]
    assert marks.inputs == make_audit()[0].inputs


def blown_box(frame_id: str) -> list[float]:
    """Left, top, width and height of the blown tiles, in pixels of the picture."""
    audit, gallery = make_audit()
    pictures = frame_pictures(audit.frame(frame_id), gallery)
    assert pictures is not None
    rows, cols = np.nonzero(pictures.blown)
    high, wide = pictures.height / pictures.blown.shape[0], pictures.width / pictures.blown.shape[1]
    tall = rows.max() + 1 - rows.min()
    return [cols.min() * wide, rows.min() * high, (cols.max() + 1 - cols.min()) * wide, tall * high]


def test_lost_areas_are_drawn_where_they_are_and_can_be_switched_off(view: Watched) -> None:
    page = view.page
    blown = page.locator("#cards > .card").nth(card(page, "S0022.dng"))
    blown.scroll_into_view_if_needed()
    lost = blown.locator(".lost path[fill='url(#hatch-photo)']")
    lost.wait_for(state="attached")
    drawn = lost.evaluate(
        "path => { const b = path.getBBox(); return [b.x, b.y, b.width, b.height]; }"
    )
    assert drawn == pytest.approx(blown_box("100SELMR/S0022.dng"), abs=0.2)
    page.click("#overlay")
    assert not lost.is_visible()
    dark = page.locator("#cards > .card").nth(card(page, "S0019.dng"))
    dark.scroll_into_view_if_needed()
    assert dark.locator(".lost path[fill='url(#stipple-photo)']").count() == 1


def test_histograms_show_on_hover_and_in_detail(view: Watched) -> None:
    page = view.page
    first = page.locator("#cards > .card").first
    assert first.locator(".ridges").count() == 0
    first.hover()
    assert first.locator(".ridge-over .ridge").count() == 4
    first.locator(".picture").click()
    assert page.locator("#detail .ridges .letter").all_text_contents() == ["R", "G1", "G2", "B"]
    assert page.locator("#detail table th[scope=col]").all_inner_texts() == ["R", "G1", "G2", "B"]
    widths = page.locator("#detail th[scope=row]").evaluate_all(
        "all => all.map(th => th.offsetWidth)"
    )
    assert min(widths) > 100


def test_advice_in_the_detail_says_that_it_is_for_next_time(view: Watched) -> None:
    page = view.page
    page.locator("#cards > .card").nth(card(page, "S0022.dng")).locator(".picture").click()
    told = page.locator("#detail .found p.soft").all_inner_texts()
    assert told
    assert all(text.startswith("Next time: ") for text in told)


def test_the_last_frame_still_hears_the_keys(view: Watched, sheets: Sheets) -> None:
    page = view.page
    page.locator("#cards > .card .picture").nth(22).click()
    page.locator("#next").focus()
    page.keyboard.press("Enter")
    assert page.locator("#next").is_disabled()
    page.keyboard.press("ArrowLeft")
    assert page.locator("#detail-h").inner_text() == sheets.frames[22].name


def test_channels_of_different_sources_are_told_apart(browser: Browser, tmp_path: Path) -> None:
    audit, gallery = make_audit(1)
    frame = audit.frames[0]
    sources = ("measured", "metadata", "metadata", "shoot")
    channels = tuple(
        replace(channel, saturation_source=source)
        for channel, source in zip(frame.channels, sources, strict=True)
    )
    told = replace(audit, frames=(replace(frame, channels=channels),))
    path = tmp_path / "report.html"
    path.write_bytes(build_html(told, gallery, make_kinds()).html)
    with opened(browser, path) as watched:
        watched.page.locator("#cards > .card .picture").first.click()
        heads = watched.page.locator("#detail th[scope=row]").all_inner_texts()
        assert next(head for head in heads if head.startswith("Saturation")) == (
            "Saturation R seen in this frame; G1, G2 as the file claims; "
            "B seen in its sisters on this card"
        )
        watched.assert_quiet()


def test_the_preview_can_be_set_against_the_raw_picture(view: Watched) -> None:
    page = view.page
    page.locator("#cards > .card .picture").first.click()
    before = page.locator("#detail img").get_attribute("src")
    page.click("#detail .detail-top button[aria-pressed]")
    after = page.locator("#detail img").get_attribute("src")
    assert before != after
    assert (after or "").startswith("data:image/jpeg;base64,")


def test_every_picture_of_a_set_up_is_filled_when_seen(view: Watched) -> None:
    page = view.page
    for shot in page.locator(".setup .shot").all():
        shot.scroll_into_view_if_needed()
    eventually(page, "!document.querySelector('.setup .shot:not([data-filled])')")
    assert page.locator(".setup .shot img").count() == page.locator(".setup .shot").count() > 10
    assert page.locator(".rung svg").count() == 5
    assert page.locator(".profile svg").count() == 1
    scale = page.locator(".cast").first.locator("text").all_text_contents()
    assert {"−0.5", "+0.5"} <= set(scale)


def test_prints_everything_that_is_shown(view: Watched) -> None:
    page = view.page
    page.evaluate(
        "addEventListener('beforeprint', () => {"
        " window.folded = document.querySelectorAll('.more:not([open])').length; })"
    )
    pdf = page.pdf(format="A4")
    assert page.evaluate("window.folded") == 0
    assert page.locator(".more:not([open])").count() > 0
    assert pdf.startswith(b"%PDF")
    assert 5 < pdf.count(b"/Type /Page\n") < 30
    assert page.locator("#cards > .card:not([data-filled])").count() == 0
    assert page.locator(".shot:not([data-filled])").count() == 0
    page.emulate_media(media="print")
    assert not page.locator(".rail").is_visible()
    assert not page.locator("#tools").is_visible()
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"


def test_fits_a_phone(browser: Browser, report: Path) -> None:
    size = {"width": 360, "height": 740}
    with opened(browser, report, viewport=size, has_touch=True, bypass_csp=True) as watched:
        page = watched.page
        unfold(page)
        assert page.evaluate("document.documentElement.scrollWidth") <= 360
        settings = page.locator("#meaning .stacking tbody tr").first
        page.locator("#meaning .more").evaluate("fold => { fold.open = true; }")
        assert settings.locator("td").last.evaluate("cell => cell.offsetWidth") > 200
        page.locator("#cards > .card .picture").first.tap()
        detail = "document.getElementById('detail')"
        assert page.evaluate(f"{detail}.getBoundingClientRect().width") <= 360
        assert page.evaluate(f"{detail}.scrollWidth - {detail}.clientWidth") == 0
        watched.assert_quiet()


@pytest.mark.parametrize(("scheme", "width"), [("light", 1280), ("dark", 360)])
def test_accessibility_checker_finds_nothing_serious(
    browser: Browser, report: Path, scheme: str, width: int
) -> None:
    # axe-core's rules, tagged with the WCAG success criteria that they test.
    size = {"width": width, "height": 900}
    with opened(browser, report, viewport=size, color_scheme=scheme, bypass_csp=True) as watched:
        unfold(watched.page)
        assert serious(watched.page) == []
        watched.page.locator("#cards > .card .picture").nth(4).click()
        assert serious(watched.page) == []


def serious(page: Page) -> list[str]:
    found = Axe().run(page, options={"resultTypes": ["violations", "passes"]}).response
    assert any(rule["id"] == "color-contrast" for rule in found["passes"]), "contrast was looked at"
    return [
        f"{rule['id']}: {rule['nodes'][0]['html'][:200]}"
        for rule in found["violations"]
        if rule["impact"] in ("serious", "critical")
    ]


def test_the_switch_overrules_the_system_and_is_remembered(view: Watched) -> None:
    page = view.page
    paper = "getComputedStyle(document.body).backgroundColor"
    light = page.evaluate(paper)
    page.select_option("#theme", "dark")
    dark = page.evaluate(paper)
    assert dark != light
    page.reload()
    assert page.evaluate(paper) == dark
    page.emulate_media(color_scheme="dark")
    page.select_option("#theme", "light")
    assert page.evaluate(paper) == light


def test_reduced_motion_moves_nothing(browser: Browser, report: Path) -> None:
    with opened(browser, report, reduced_motion="reduce") as watched:
        moving = watched.page.evaluate(
            "[...document.querySelectorAll('*')].filter(e => {"
            " const s = getComputedStyle(e);"
            " return parseFloat(s.transitionDuration) || s.animationName !== 'none';"
            "}).length"
        )
        assert moving == 0


def test_pictures_beside_the_file_are_found(browser: Browser, tmp_path: Path) -> None:
    made = build_html(*make_audit(6), make_kinds(), beside_from=5)
    path = tmp_path / "report.html"
    path.write_bytes(made.html)
    for name, content in made.beside.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(content)
    assert len(made.beside) == 6
    with opened(browser, path) as watched:
        watched.page.locator("#cards > .card").first.scroll_into_view_if_needed()
        image = watched.page.locator("#cards > .card img").first
        eventually(watched.page, "document.querySelector('#cards img')?.complete")
        assert image.evaluate("image => image.naturalWidth") == 360
        watched.assert_quiet()


@pytest.mark.parametrize("count", [0, 1])
def test_hardly_any_frames_make_a_quiet_page(browser: Browser, tmp_path: Path, count: int) -> None:
    audit, gallery = make_audit(1)
    path = tmp_path / "report.html"
    path.write_bytes(
        build_html(replace(audit, frames=audit.frames[:count]), gallery, make_kinds()).html
    )
    with opened(browser, path) as watched:
        page = watched.page
        page.locator("#line").focus()
        page.keyboard.press("End")
        page.keyboard.press("Enter")
        assert page.evaluate("document.getElementById('detail').open") is (count == 1)
        assert len(shown_names(page)) == count
        watched.assert_quiet()


def test_a_crowded_time_line_gathers_and_scrolling_shows_no_holes(
    browser: Browser, tmp_path: Path
) -> None:
    path = tmp_path / "report.html"
    path.write_bytes(build_html(*repeated(10), make_kinds()).html)
    with opened(browser, path) as watched:
        page = watched.page
        assert page.locator("#line-gathered").is_visible()
        page.locator("#line").focus()
        page.keyboard.press("End")
        assert page.locator("#line").get_attribute("aria-valuenow") == "240"
        assert page.evaluate(SCROLL) == 0
        watched.assert_quiet()


def test_a_hostile_shoot_runs_nothing_and_breaks_nothing(browser: Browser, tmp_path: Path) -> None:
    path = tmp_path / "report.html"
    path.write_bytes(build_html(*make_audit(hostile=True), make_kinds()).html)
    with opened(browser, path) as watched:
        page = watched.page
        assert page.locator("#cards > .card").count() == 24
        for number in range(24):
            page.evaluate(
                "number => document.querySelectorAll('#cards > .card')[number].focus()", number
            )
            page.keyboard.press("k")
            page.keyboard.press("Enter")
            page.keyboard.press("Escape")
        page.fill("#q", "<img")
        page.fill("#q", "")
        page.select_option("#sort", "name")
        page.evaluate("dispatchEvent(new Event('beforeprint'))")
        assert page.evaluate("window.hostile ?? null") is None
        assert page.locator("script:not([type])").count() == 1
        assert page.locator("[onerror], [onload], [onclick], iframe, object, embed").count() == 0
        assert page.evaluate("document.documentElement.scrollWidth") <= 1280
        kept = saved_marks(page, tmp_path / "marks.json")
        files = {mark.file for mark in read_marks(kept).marks}
        watched.assert_quiet()
    assert files == {frame.file for frame in make_audit(hostile=True)[0].frames}
