"""The report as its reader meets it: in a browser, from disk, with no network."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe  # type: ignore[import-untyped]
from PIL import Image
from playwright.sync_api import Browser, Page

from auditor.model.advice import BehindFilter, NextTime
from auditor.model.audit import MovedPlaces, SkyBalance
from auditor.model.codes import FrameStatus, GradKind, LevelSource
from auditor.model.facts import LensFacts
from auditor.model.findings import Finding, Severity
from auditor.model.large import KeptPicture, PictureKind, PicturePlace
from auditor.report.page import build_page
from auditor.report.page_pictures import frame_pictures
from auditor.report.page_records import Page as Sheets
from auditor.report.picture_files import all_sources, picture_files
from auditor.report.style import PAGE_PATTERNS, cap_length
from auditor.sidecar.marks import read_marks
from tests.browser import Watched, eventually, opened, written
from tests.builders import make_audit
from tests.built_groups import make_kinds

pytestmark = pytest.mark.browser
FOLDER = "100SELMR"
SECTIONS = ("#overview", "#timeline", "#frames", "#setup=2", "#measured", "#take-away")
PAIR = f"#side={FOLDER}/S0006.dng,{FOLDER}/S0007.dng"
CLOSE = f"#frame={FOLDER}/S0022.dng"

STATES = ((CLOSE, "1b"), (CLOSE, "mh"), (CLOSE, "qn"), (PAIR, "d"), (PAIR, "dqt2"))
"""Marked and zoomed, the preview without losses, equalised with a note, the difference, turned."""


@pytest.fixture(scope="module")
def sheets() -> Sheets:
    return build_page(make_audit()[0], make_kinds())


@pytest.fixture
def view(browser: Browser, report: Path) -> Iterator[Watched]:
    with opened(browser, report) as watched:
        yield watched
        watched.assert_quiet()


def at(page: Page, hash_: str) -> Page:
    """Go to a part of the page, as a link to it does."""
    page.evaluate("hash => { location.hash = hash; }", hash_)
    eventually(page, f"location.hash === {json.dumps(hash_)} || location.hash !== ''")
    page.wait_for_timeout(150)
    return page


def shown_names(page: Page) -> list[str]:
    return page.locator("#tiles .tile .line b").all_text_contents()


def tile(page: Page, name: str) -> str:
    return f'[data-frame="{FOLDER}/{name}"]'


def marks_of(page: Page, name: str) -> list[str]:
    pressed = page.locator(f"{tile(page, name)} [data-mark][aria-pressed=true]")
    return [str(button.get_attribute("data-mark")) for button in pressed.all()]


def test_opens_with_what_became_of_the_frames_and_the_largest_losses(
    view: Watched, sheets: Sheets
) -> None:
    page = view.page
    assert page.locator("h1").inner_text() == sheets.when
    counts = page.locator(".tallies .count").all_inner_texts()
    assert [int(count) for count in counts] == [tally.count for tally in sheets.outcomes]
    assert sum(map(int, counts)) == len(sheets.frames)
    losses = page.locator("#losses .loss")
    named = losses.locator("b").all_inner_texts()
    assert named == [sheets.by_id[frame].name for frame in sheets.losses]
    eventually(page, "document.querySelectorAll('#losses .ring').length === 3")
    for loss in losses.all():
        box = loss.bounding_box()
        assert box is not None
        assert box["y"] + box["height"] < 900, "on the first screen"


@pytest.mark.parametrize(
    ("size", "ends"),
    [
        ((1280, 800), (".tallies", "#losses", "#line-small", ".lessons > li:last-child")),
        ((390, 844), (".tallies", "#losses", "#line-small")),
    ],
)
def test_the_first_screen_holds_what_one_wants_to_know_first(
    browser: Browser, report: Path, size: tuple[int, int], ends: tuple[str, ...]
) -> None:
    with opened(browser, report, viewport={"width": size[0], "height": size[1]}) as watched:
        eventually(watched.page, "document.querySelectorAll('#losses .ring').length === 3")
        for part in ends:
            box = watched.page.locator(part).bounding_box()
            assert box is not None
            assert box["y"] + box["height"] <= size[1], part
        watched.assert_quiet()


@pytest.mark.parametrize(("wide", "drawn"), [(1280, 1), (390, 0)])
def test_the_light_is_drawn_under_the_time_line_where_it_stands_beside_text(
    browser: Browser, report: Path, wide: int, drawn: int
) -> None:
    with opened(browser, report, viewport={"width": wide, "height": 844}) as watched:
        eventually(watched.page, "document.querySelectorAll('#line-small svg').length === 1")
        assert watched.page.locator("#line-small path.light").count() == drawn
        assert watched.page.locator("#line-small path.sun").count() == 0, "on its own page"
        watched.page.evaluate("() => dispatchEvent(new Event('beforeprint'))")
        assert watched.page.locator("#line-small path.light").count() == 0, "paper has no room"
        watched.assert_quiet()


def test_frames_stand_in_order_of_time_under_their_set_ups(view: Watched, sheets: Sheets) -> None:
    page = at(view.page, "#frames")
    page.click('[data-size-choice="small"]')
    assert shown_names(page) == [frame.name for frame in sheets.frames]
    assert page.locator("#shown").inner_text() == "24 of 24 frames"
    heads = page.locator("#tiles .group a").all_inner_texts()
    assert heads == [setup.title for setup in sheets.setups]


def test_sorts_by_blown_share_with_the_unmeasured_last(view: Watched, sheets: Sheets) -> None:
    page = at(view.page, "#frames")
    page.click('[data-size-choice="small"]')
    page.select_option("#sort", "blown")
    expected = sorted(sheets.frames, key=lambda f: (f.bar.blown is None, -(f.bar.blown or 0)))
    assert shown_names(page) == [frame.name for frame in expected]
    page.click("#reverse")
    blown = {frame.name: frame.bar.blown or 0.0 for frame in sheets.frames}
    least = [name for name in shown_names(page) if name != expected[-1].name]
    assert [blown[name] for name in least] == sorted(blown[name] for name in least)
    assert shown_names(page)[-1] == expected[-1].name


@pytest.mark.parametrize(
    ("chip", "asks"),
    [
        ("lost", lambda f: f.outcome == "lost"),
        ("filtered", lambda f: f.relatives.filtered),
        ("unfiltered", lambda f: not f.relatives.filtered and f.status == FrameStatus.MEASURED),
        ("bracket", lambda f: bool(f.relatives.bracket)),
        ("suggested", lambda f: f.suggestion is not None),
        ("unmarked", lambda f: True),
    ],
)
def test_chips_show_exactly_what_they_say(
    view: Watched, sheets: Sheets, chip: str, asks: object
) -> None:
    page = at(view.page, "#frames")
    page.click('[data-size-choice="small"]')
    page.click(f'[data-chip="{chip}"]')
    assert callable(asks)
    assert shown_names(page) == [frame.name for frame in sheets.frames if asks(frame)]


def test_choices_join_and_can_be_taken_back(browser: Browser, tmp_path: Path) -> None:
    made, measurements = make_audit()
    odd = {frame.id for frame in made.frames[3:8] if frame.status == FrameStatus.MEASURED}
    other = LensFacts("Brackwell 70-200 mm f/4", 70.0)
    frames = tuple(replace(f, lens=other) if f.id in odd else f for f in made.frames)
    path = written(tmp_path, replace(made, frames=frames), measurements)
    with opened(browser, path) as watched:
        page = at(watched.page, "#frames")
        page.click("#more-choices")
        page.select_option("#by-lens", other.model)
        assert set(shown_names(page)) == {f.rpartition("/")[2] for f in odd}
        assert page.locator("#more-choices").inner_text() == "More choices (1 in use)"
        page.fill("#q", "FILTER s00")
        assert 0 < len(shown_names(page)) < len(odd)
        page.fill("#q", "no such frame")
        assert page.locator("#none-shown").is_visible()
        page.click("#show-all")
        assert page.locator("#shown").inner_text() == "24 of 24 frames"
        watched.assert_quiet()


def test_tallies_lead_to_their_frames_and_the_heading_is_in_sight(
    view: Watched, sheets: Sheets
) -> None:
    page = view.page
    page.click('[data-outcome-only="lost"]')
    assert set(shown_names(page)) == {f.name for f in sheets.frames if f.outcome == "lost"}
    box = page.locator("#frames-h").bounding_box()
    assert box is not None
    assert 0 <= box["y"] <= 200


def test_keyboard_alone_walks_opens_marks_and_comes_back(view: Watched, sheets: Sheets) -> None:
    page = at(view.page, "#frames")
    names = [frame.name for frame in sheets.frames]
    page.locator("#tiles .picture").first.focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    assert page.locator("#close-h").inner_text() == names[1]
    page.keyboard.press("ArrowRight")
    page.keyboard.press("3")
    eventually(page, f"document.getElementById('close-h').textContent === '{names[3]}'")
    page.keyboard.press("Escape")
    eventually(page, "document.activeElement.closest('.tile')?.dataset.number === '3'")
    assert marks_of(page, names[2]) == ["drop"]
    page.keyboard.press("Backspace")
    assert marks_of(page, names[2]) == []
    assert page.evaluate("document.activeElement.closest('.tile').dataset.number") == "2"


def test_marking_what_is_unmarked_goes_on_to_the_next_and_never_loses_the_focus(
    view: Watched, sheets: Sheets
) -> None:
    page = at(view.page, "#frames")
    page.click('[data-chip="unmarked"]')
    page.locator("#tiles .picture").nth(2).focus()
    for number, key in enumerate("123"):
        page.keyboard.press(key)
        expected = sheets.frames[3 + number].id
        eventually(page, f"document.activeElement.closest('.tile')?.dataset.frame === '{expected}'")
        assert sheets.frames[3 + number].name in page.locator("[role=status]").inner_text()
    assert page.locator("#shown").inner_text() == "21 of 24 frames"


def test_a_mark_in_the_close_up_is_seen_spoken_and_in_no_dialog(
    view: Watched, sheets: Sheets
) -> None:
    page = at(view.page, CLOSE)
    button = page.locator('#close-marks [data-mark="keep"]')
    button.click()
    assert "keep" in page.locator("[role=status]").inner_text()
    assert page.locator("dialog[open]").count() == 0
    assert button.get_attribute("aria-pressed") == "true"
    assert page.locator("#marks-state").inner_text() == "1 keep, 23 unmarked"


def test_suggestions_are_accepted_at_once_and_taken_back_at_once(
    view: Watched, sheets: Sheets
) -> None:
    page = at(view.page, "#frames")
    suggested = [frame for frame in sheets.frames if frame.suggestion]
    page.click("#accept-all")
    kept = sum(f.suggestion.mark == "keep" for f in suggested if f.suggestion)
    second = len(suggested) - kept
    left = 24 - len(suggested)
    state = page.locator("#marks-state")
    assert state.inner_text() == f"{kept} keep, {second} second, {left} unmarked"
    page.keyboard.press("Backspace")
    assert state.inner_text() == "No marks"


def test_the_reason_stands_beside_the_picture(view: Watched, sheets: Sheets) -> None:
    frame = next(f for f in sheets.frames if f.suggestion and f.suggestion.mark == "second")
    assert frame.suggestion is not None
    page = at(view.page, f"#frame={frame.id}")
    told = page.locator(".suggestion").inner_text()
    assert "Suggested: second" in told
    assert frame.suggestion.why in told.replace("\N{NO-BREAK SPACE}", " ")
    page.click(".suggestion button")
    assert page.locator("#marks-state").inner_text() == "1 second, 23 unmarked"


def test_time_line_answers_to_the_keyboard(view: Watched, sheets: Sheets) -> None:
    page = at(view.page, "#timeline")
    line = page.locator("#line")
    line.focus()
    page.keyboard.press("End")
    timed = [frame for frame in sheets.frames if frame.taken_s is not None]
    assert timed[-1].name in (line.get_attribute("aria-valuetext") or "")
    page.keyboard.press("Home")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    eventually(page, f"document.getElementById('close-h').textContent === '{timed[1].name}'")


def test_a_span_of_the_time_line_filters_the_frames(view: Watched, sheets: Sheets) -> None:
    page = at(view.page, "#timeline")
    page.locator("#line").focus()
    page.keyboard.press("Home")
    for _ in range(4):
        page.keyboard.press("Shift+ArrowRight")
    assert page.locator("#span-says").inner_text().startswith("5 frames from 18:52 to ")
    page.click("#span-frames")
    page.wait_for_timeout(150)
    assert shown_names(page) == [frame.name for frame in sheets.frames[:5]]
    page.click("#span-chip")
    assert page.locator("#shown").inner_text() == "24 of 24 frames"


def test_tab_reaches_every_part_soon(view: Watched) -> None:
    page = view.page
    for hash_, wanted in (("#frames", "tile"), ("#setup=2", "part"), (CLOSE, "marking")):
        at(page, hash_)
        page.evaluate("document.activeElement.blur(); document.body.focus()")
        reached = False
        for _ in range(60):
            page.keyboard.press("Tab")
            reached = reached or page.evaluate(
                "wanted => document.activeElement.closest('.' + wanted) !== null", wanted
            )
        assert reached, hash_


def saved_marks(page: Page, path: Path) -> Path:
    with page.expect_download() as waiting:
        page.click(".bar-top [data-save]")
    assert waiting.value.suggested_filename == "marks.json"
    waiting.value.save_as(path)
    return path


def mark_three(page: Page) -> None:
    at(page, "#frames")
    for name, word in (("S0002.dng", "keep"), ("S0005.dng", "drop"), ("S0007.dng", "second")):
        page.locator(f"{tile(page, name)} [data-mark={word}]").click()
    at(page, f"#frame={FOLDER}/S0005.dng")
    page.fill("#note", 'glow lost; "try again" ≈ 19:40')
    at(page, "#frames")


def test_marks_are_saved_as_the_command_reads_them(view: Watched, tmp_path: Path) -> None:
    mark_three(view.page)
    path = saved_marks(view.page, tmp_path / "marks.json")
    raw = json.loads(path.read_bytes())
    assert raw["schema"] == "exposure-auditor marks 2"
    assert raw["audit_made_at"] == "2031-09-14T21:40:03+01:00"
    assert raw["inputs"] == ["card-a", "card-b"]
    told = {mark["file"]: (mark["mark"], mark["note"]) for mark in raw["marks"]}
    assert told == {
        f"{FOLDER}/S0002.dng": ("keep", ""),
        f"{FOLDER}/S0005.dng": ("drop", 'glow lost; "try again" ≈ 19:40'),
        f"{FOLDER}/S0007.dng": ("second", ""),
    }
    assert len(read_marks(path).marks) == 3


def test_marks_outlive_the_page_and_travel_by_file(
    browser: Browser, report: Path, tmp_path: Path
) -> None:
    with opened(browser, report) as first:
        mark_three(first.page)
        path = saved_marks(first.page, tmp_path / "marks.json")
        first.page.reload()
        state = first.page.locator("#marks-state")
        assert state.inner_text() == "1 keep, 1 second, 1 drop, 1 noted, 21 unmarked"
        assert marks_of(first.page, "S0005.dng") == ["drop"]
    with opened(browser, report) as second:
        assert second.page.locator("#marks-state").inner_text() == "No marks"
        second.page.set_input_files("#marks-file", path)
        at(second.page, "#frames")
        eventually(second.page, "document.querySelector('[data-marked=keep]') !== null")
        assert marks_of(second.page, "S0007.dng") == ["second"]
        second.page.click("#more-choices")
        second.page.select_option("#by-mark", "note")
        assert shown_names(second.page) == ["S0005.dng"]
        second.assert_quiet()


@pytest.mark.parametrize(
    "content", ["[]", "{", '{"schema": "other"}', '{"schema": "exposure-auditor marks 2"}']
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


def test_marks_of_an_older_page_are_read_from_a_file_and_from_the_browser(
    view: Watched, tmp_path: Path
) -> None:
    page = view.page
    entries = [
        {"frame": f"{FOLDER}/S0001.dng", "mark": "keeper"},
        {"frame": "gone", "file": f"{FOLDER}/S0003.dng", "input": 0, "mark": "spare"},
        {"frame": "elsewhere.dng", "file": "elsewhere.dng", "input": 0, "mark": "keeper"},
        {"frame": f"{FOLDER}/S0004.dng", "mark": "best"},
    ]
    table = {"schema": "exposure-auditor marks 1", "marks": entries}
    path = tmp_path / "marks.json"
    path.write_text(json.dumps(table), encoding="utf-8")
    page.set_input_files("#marks-file", path)
    eventually(page, "document.getElementById('says').textContent !== ''")
    assert "Loaded 2 marks; 2 belong to no frame here" in page.locator("#says").inner_text()
    key = page.evaluate("Object.keys(localStorage).find(k => k.includes('marks'))")
    page.evaluate("([k, v]) => localStorage.setItem(k, v)", [key, json.dumps(table)])
    page.reload()
    assert page.locator("#marks-state").inner_text() == "1 keep, 1 second, 22 unmarked"


def test_lost_areas_are_drawn_where_they_are_and_can_be_switched_off(view: Watched) -> None:
    page = at(view.page, "#frames")
    page.click('[data-size-choice="small"]')
    blown = page.locator(tile(page, "S0022.dng"))
    blown.scroll_into_view_if_needed()
    lost = blown.locator(".outline.blown")
    lost.wait_for(state="attached")
    drawn = blown.locator(".area.blown").evaluate(
        "path => { const b = path.getBBox(); const v = path.ownerSVGElement.viewBox.baseVal;"
        " return [b.x / v.width, b.y / v.height, b.width / v.width, b.height / v.height]; }"
    )
    audit, measurements = make_audit()
    pictures = frame_pictures(audit.frame(f"{FOLDER}/S0022.dng"), measurements)
    assert pictures is not None
    rows, cols = np.nonzero(pictures.maps.lost)
    high, wide = pictures.maps.lost.shape
    spread = (np.ptp(cols) + 1) / wide, (np.ptp(rows) + 1) / high
    assert drawn == pytest.approx([cols.min() / wide, rows.min() / high, *spread], abs=0.002)
    blown.locator(".picture").focus()
    page.keyboard.press("h")
    assert not lost.is_visible()


def test_one_blown_tile_is_seen_in_the_smallest_picture(view: Watched) -> None:
    audit, measurements = make_audit()
    pictures = frame_pictures(audit.frame(f"{FOLDER}/S0003.dng"), measurements)
    assert pictures is not None
    assert 1 <= (pictures.lost.areas | pictures.lost.specks).sum() <= 2
    page = at(view.page, "#frames")
    page.click('[data-size-choice="small"]')
    mark = page.locator(tile(page, "S0003.dng")).locator(".halo:not(.blocked)")
    mark.wait_for(state="attached")
    told = mark.evaluate(
        "path => { const s = getComputedStyle(path); return [s.strokeWidth, s.vectorEffect]; }"
    )
    assert float(told[0].removesuffix("px")) >= 3, "pixels of the screen"
    assert told[1] == "non-scaling-stroke"


def test_greens_are_one_row_unless_they_differ(browser: Browser, tmp_path: Path) -> None:
    made, measurements = make_audit(1)
    frame = made.frames[0]
    green = frame.channels[2]
    assert green.median_stops is not None
    apart = replace(green, median_stops=green.median_stops + 0.4)
    odd = replace(frame, channels=(*frame.channels[:2], apart, frame.channels[3]))
    for name, frames in (("alike", made.frames), ("apart", (odd,))):
        folder = tmp_path / name
        folder.mkdir()
        with opened(
            browser, written(folder, replace(made, frames=frames), measurements)
        ) as watched:
            page = at(watched.page, f"#frame={frame.id}")
            letters = page.locator(".tones .letter")
            letters.first.wait_for()
            alike = name == "alike"
            assert letters.all_text_contents() == ["R", "G" if alike else "G1 G2", "B"]
            assert page.locator(".tones .ridge-line").count() == (0 if alike else 1)
            watched.assert_quiet()


def test_histogram_and_picture_light_each_other_up(view: Watched) -> None:
    page = at(view.page, CLOSE)
    tones = page.locator(".tones")
    tones.wait_for()
    tones.focus()
    for _ in range(12):
        page.keyboard.press("ArrowLeft")
    assert tones.get_attribute(
        "aria-valuetext",
    ).startswith("−3.0 stops: R ")  # type: ignore[union-attr]
    eventually(page, "!document.querySelector('.tone-layer').hidden")
    lit = page.evaluate(
        "() => { const c = document.querySelector('.tone-layer');"
        " const d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data;"
        " let n = 0; for (let i = 3; i < d.length; i += 4) n += d[i] > 200;"
        " return n / (d.length / 4); }"
    )
    assert 0.001 < lit < 0.9
    box = page.locator("#close-stage .stage").bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] * 0.7)
    eventually(page, "document.querySelector('.reading').textContent.startsWith('Here, about: R')")
    assert page.locator(".tones .spot").count() == 3


def test_a_range_with_an_unknown_dark_end_is_not_drawn_to_the_floor(
    browser: Browser, tmp_path: Path
) -> None:
    made, measurements = make_audit(1)
    frame = made.frames[0]
    bare = tuple(
        replace(c, noise_floor_dn=None, dynamic_range_stops=None, shadow_room_stops=None)
        for c in frame.channels
    )
    path = written(tmp_path, replace(made, frames=(replace(frame, channels=bare),)), measurements)
    with opened(browser, path) as watched:
        page = at(watched.page, "#frames")
        bar = page.locator("#tiles .range")
        assert bar.locator(".torn").count() == 1
        width = float(bar.locator(".slice").get_attribute("width") or 0)
        assert width < 40, "of 248 that the whole axis takes"
        watched.assert_quiet()


def test_the_preview_can_be_set_against_the_raw_picture(view: Watched) -> None:
    page = at(view.page, CLOSE)
    page.locator(".tones").wait_for()
    picture = page.locator("#close-stage .whole")
    before = picture.get_attribute("src")
    page.keyboard.press("m")
    after = picture.get_attribute("src")
    assert before != after
    assert (after or "").startswith("data:image/jpeg;base64,")
    assert "blown" in (picture.get_attribute("alt") or "")


def test_advice_in_the_close_up_says_that_it_is_for_next_time(view: Watched) -> None:
    page = at(view.page, CLOSE)
    page.locator(".found").wait_for()
    told = page.locator(".found p.soft").all_inner_texts()
    assert told
    assert all(text.startswith("Next time: ") for text in told)


def test_channels_of_different_sources_are_told_apart(browser: Browser, tmp_path: Path) -> None:
    audit, measurements = make_audit(1)
    frame = audit.frames[0]
    sources = ("measured", "metadata", "metadata", "shoot")
    channels = tuple(
        replace(channel, saturation_source=LevelSource(source))
        for channel, source in zip(frame.channels, sources, strict=True)
    )
    path = written(
        tmp_path, replace(audit, frames=(replace(frame, channels=channels),)), measurements
    )
    with opened(browser, path) as watched:
        page = at(watched.page, f"#frame={frame.id}")
        page.click(".figures summary")
        heads = page.locator(".figures th[scope=row]").all_inner_texts()
        assert next(head for head in heads if head.startswith("Saturation")) == (
            "Saturation R seen in this frame; G1, G2 as the file claims; "
            "B seen in its sisters on this card"
        )
        watched.assert_quiet()


def test_every_set_up_is_one_screen_with_its_drawings(view: Watched, sheets: Sheets) -> None:
    page = view.page
    drawn = {"rung": 0, "profile": 0, "cast": 0}
    for setup in sheets.setups:
        at(page, f"#setup={setup.number}")
        assert page.locator("#setup-h").inner_text() == setup.title
        strip = page.locator("#setup-strip .strip-link")
        assert strip.count() == len(setup.frames)
        for kind in drawn:
            drawn[kind] += page.locator(f"#setup-parts .{kind} svg").count()
    assert drawn == {"rung": 5, "profile": 1, "cast": 4}
    at(page, "#setup=1")
    eventually(page, "document.querySelectorAll('.rung .behind').length === 5")
    jobs = page.locator(".rung .job").all_inner_texts()
    assert jobs.count("not needed") == 3
    assert {job for job in jobs if job != "not needed"} == {"for the shadows", "for the highlights"}
    at(page, "#setup=2")
    first = page.locator(".density-map").first
    first.locator(".lines-over").wait_for()
    cells = first.locator(".lines-over rect").all()
    assert [cell.get_attribute("class") for cell in cells] == ["denser"] * 3
    depth = [float(cell.get_attribute("fill-opacity") or 0) for cell in cells]
    assert depth[0] == depth[2] == 0.0, "where the filter measures its own stops it draws nothing"
    assert depth[1] == pytest.approx(0.17), "a fifth of the scale's half"
    assert first.locator(".unknown:not(.halo)").count() == 1
    assert "A cross: not measured there." in first.inner_text()
    assert first.locator(".scale").inner_text().split("\n")[:3] == ["5.7", "6.2 stops", "6.7"]
    at(page, "#setup=4")
    assert page.locator(".edge-line:not(.halo)").count() == 1
    assert page.locator(".water-line:not(.halo)").count() == 2


def test_settings_for_next_time_stand_first_and_at_their_set_up(
    browser: Browser, tmp_path: Path
) -> None:
    audit, measurements = make_audit()
    advice = NextTime(
        time_s=0.2, f_number=11.0, iso=100.0, frame=audit.setups[1].frames[0], change_stops=0.6,
        headroom_stops=0.3, why=("Set by its brightest frame.",),
        behind=(BehindFilter(filter=audit.filters[0].name, time_s=12.0),),
    )  # fmt: skip
    setups = tuple(
        replace(s, next_time=advice) if n == 1 else s for n, s in enumerate(audit.setups)
    )
    with opened(browser, written(tmp_path, replace(audit, setups=setups), measurements)) as watched:
        page = watched.page
        rows = page.locator(".settings tr").all_inner_texts()
        told = [" ".join(row.replace("\N{WORD JOINER}", "").split()) for row in rows]
        assert told[0] == f"In the same light {audit.filters[0].name}"
        assert "Set-up 2 1/5 s, f/11, ISO 100 13 s" in told
        box = page.locator(".settings").bounding_box()
        assert box is not None
        assert box["y"] < 700, "on the first screen"
        page.click('.settings a[href="#setup=2"]')
        reason = page.locator(".next-time .soft")
        reason.wait_for()
        assert reason.inner_text() == "Set by its brightest frame."
        watched.assert_quiet()


def test_what_moved_is_drawn_over_the_picture(browser: Browser, tmp_path: Path) -> None:
    """Cells that blurred by themselves in one frame, an arrow for the tripod's knock in another."""
    audit, measurements = make_audit()
    first = audit.setups[0]
    bush = MovedPlaces(frame=first.frames[0], share=0.07, places=((None, False), (True, True)))
    placed = tuple((0.0, 0.0) if n == 0 else (6.0, -2.0) for n in range(len(first.frames)))
    knocked = replace(
        first, moved=(bush,), shift_px=placed, shift_error_px=(0.5,) * len(first.frames)
    )
    knock = Finding("tripod-moved", Severity.RISK, "Shifted by 6 px across.", 6.3)
    frames = tuple(
        replace(f, findings=(*f.findings, knock)) if f.id == first.frames[1] else f
        for f in audit.frames
    )
    told = replace(audit, setups=(knocked, *audit.setups[1:]), frames=frames)
    with opened(browser, written(tmp_path, told, measurements)) as watched:
        page = watched.page
        at(page, "#setup=1")
        drawn = page.locator(".lines-over .moved:not(.halo)")
        drawn.first.wait_for(state="attached")
        paths = [one.get_attribute("d") or "" for one in drawn.all()]
        assert [path.count("h16v16") for path in paths] == [2, 0]
        assert paths[1].startswith("M164.1"), "an arrow to the right and up"
        text = [
            one.replace("\xa0", " ") for one in page.locator(".moved-part .told").all_inner_texts()
        ]
        assert "7.0 % of what is static and has structure blurred by itself" in text[0]
        assert "Shifted by 6 px across." in text[1]
        still = "did not move, as far as can be measured (± 0.7 px)"
        for two, words in (((0, 1), "moved 6 px right, 2 px up (± 0.7 px)"), ((1, 2), still)):
            at(page, "#side=" + ",".join(first.frames[one] for one in two))
            says = "document.getElementById('side-says').textContent"
            eventually(page, f"{says}.includes({words!r})")
        watched.assert_quiet()


def test_the_line_where_the_sky_ends_is_drawn_over_the_picture(
    browser: Browser, tmp_path: Path
) -> None:
    audit, measurements = make_audit()
    first = audit.setups[0]
    skies = (
        SkyBalance(
            first.frames[0], 2.4, 0.7, 1.0, 0.41, horizon_ends=(0.40, 0.42), kind=GradKind.HARD
        ),
    )
    told = replace(audit, skies=skies, grads=())
    with opened(browser, written(tmp_path, told, measurements)) as watched:
        page = at(watched.page, "#setup=1")
        line = page.locator("#setup-parts .water-line:not(.halo)")
        line.wait_for(state="attached")
        assert line.get_attribute("d") == "M0 80L300 84"
        says = page.locator("#setup-parts .skies").inner_text()
        assert "The sky is 2.4\u00a0stops brighter than the foreground in 1 frame" in says
        watched.assert_quiet()


def test_plans_stand_where_one_takes_things_away(view: Watched) -> None:
    page = at(view.page, "#take-away")
    told = page.locator("#take-away").inner_text()
    for title in ("The day after, at the same place", "Dark frames", "What each ISO holds"):
        assert title in told


def test_set_ups_are_searched_and_walked(view: Watched, sheets: Sheets) -> None:
    page = at(view.page, "#setups")
    telling = next(setup for setup in sheets.setups if setup.holds)
    eventually(page, f"location.hash === '#setup={telling.number}'")
    page.fill("#setup-search", "graduated")
    assert page.locator("#setup-index b").all_inner_texts() == ["Set-up 4"]
    page.click("#setup-index a")
    page.click("#setup-frames")
    assert shown_names(page) == ["S0013.dng", "S0014.dng"]
    page.fill("#q", "")
    at(page, "#panorama=1")
    assert page.locator("#setup-h").inner_text() == "Panorama 1"
    assert page.locator("#setup-strip .strip-link").count() == 4


def test_side_by_side_makes_exposures_equal_and_maps_the_difference(view: Watched) -> None:
    page = at(view.page, PAIR)
    eventually(page, "document.getElementById('side-says').textContent.includes('median')")
    told = page.locator("#side-says").inner_text().replace("\N{NO-BREAK SPACE}", " ")
    assert "The filter measures 6.2 stops." in told
    assert "moved 2.0 px right, 1.0 px up" in told
    slope = float(page.locator("#exposure-second feFuncG").get_attribute("slope") or 0)
    assert 1.5 < slope < 3.0, "the long frame is about a stop darker"
    page.keyboard.press("d")
    levels = page.evaluate(
        "() => { const c = document.querySelector('.difference');"
        " const d = c.getContext('2d').getImageData(0, 0, c.width, c.height / 3).data;"
        " const v = []; for (let i = 0; i < d.length; i += 4) v.push(d[i]);"
        " return v.sort((a, b) => a - b)[v.length >> 1]; }"
    )
    assert abs(levels - 128) < 12, "made equal, the sky does not differ"
    page.keyboard.press("q")
    assert page.locator("#equal-says").inner_text() == "as recorded"
    before = page.locator("#split-line").bounding_box()
    page.keyboard.press("ArrowLeft")
    after = page.locator("#split-line").bounding_box()
    assert before is not None
    assert after is not None
    assert after["x"] < before["x"]
    page.keyboard.press("t")
    eventually(page, "document.getElementById('side-h').textContent === 'S0007.dng and S0006.dng'")


def test_take_away_gives_paths_and_the_command(view: Watched) -> None:
    mark_three(view.page)
    page = at(view.page, "#take-away")
    assert page.locator("#take-says").inner_text() == "3 of 24 frames are marked."
    paths = page.locator(".paths textarea").evaluate_all("all => all.map(field => field.value)")
    assert paths == [f"card-a/{FOLDER}/S{n}.dng" for n in ("0002", "0007", "0005")]
    assert page.locator("#command").inner_text().startswith("auditor apply marks.json --to ")
    cells = page.locator("#sidecars tr").all_inner_texts()
    assert [row.split("\t")[1] for row in cells] == ["4", "2", "rejected (−1)"]


def test_prints_one_page_of_answers_and_what_else_was_asked_for(
    view: Watched, sheets: Sheets
) -> None:
    page = view.page
    answers = page.pdf(format="A4")
    assert answers.count(b"/Type /Page\n") == 1
    at(page, "#take-away")
    page.evaluate("() => { globalThis.print = () => { window.printed = true; }; }")
    page.check("#print-setups")
    page.check("#print-contact")
    page.click("#print")
    eventually(page, "window.printed === true")
    assert page.locator("#paper .contact li").count() == len(sheets.frames)
    assert page.locator("#line-small svg").count() == 1, "drawn for paper, whatever part is open"
    telling = [setup for setup in sheets.setups if setup.holds]
    assert page.locator("#paper .paper-setup").count() == len(telling)
    whole = page.pdf(format="A4")
    assert 3 < whole.count(b"/Type /Page\n") < 12
    page.emulate_media(media="print")
    assert not page.locator(".bar-top").is_visible()
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    smallest = page.evaluate(
        "() => Math.min(...[...document.querySelectorAll('#overview *, #paper *')]"
        ".filter(e => e.getClientRects().length && [...e.childNodes].some("
        " n => n.nodeType === 3 && n.data.trim()))"
        ".map(e => { const m = e.getScreenCTM?.(); "
        " return parseFloat(getComputedStyle(e).fontSize) * (m ? m.a : 1); }))"
    )
    assert smallest * 0.75 >= 6.0, "points on paper"
    framed = page.locator("#paper .part").evaluate_all(
        "all => all.filter(e => parseFloat(getComputedStyle(e).borderTopWidth) > 0).length"
    )
    assert framed == 0, "no box is open at the end of a page"


@pytest.mark.parametrize("hash_", [*SECTIONS, CLOSE, PAIR])
def test_fits_a_phone(browser: Browser, report: Path, hash_: str) -> None:
    size = {"width": 360, "height": 740}
    with opened(browser, report, viewport=size, has_touch=True) as watched:
        page = at(watched.page, hash_)
        page.wait_for_timeout(300)
        assert page.evaluate("document.documentElement.scrollWidth") <= 360
        watched.assert_quiet()


def test_a_finger_goes_on_to_the_next_unmarked_frame(browser: Browser, report: Path) -> None:
    with opened(browser, report, viewport={"width": 360, "height": 740}, has_touch=True) as watched:
        page = at(watched.page, f"#frame={FOLDER}/S0003.dng")
        page.locator('#close-marks [data-mark="keep"]').tap()
        eventually(page, "document.getElementById('close-h').textContent === 'S0004.dng'")
        assert page.locator("#marks-state").inner_text() == "1 keep, 23 unmarked"
        watched.assert_quiet()


def test_the_marks_of_a_close_up_stay_in_sight_on_a_phone(browser: Browser, report: Path) -> None:
    with opened(browser, report, viewport={"width": 360, "height": 740}, has_touch=True) as watched:
        page = at(watched.page, CLOSE)
        page.locator(".found").wait_for()
        for top in (0, 400, 5000):
            page.evaluate("top => scrollTo(0, top)", top)
            box = page.locator("#close-marks").bounding_box()
            assert box is not None
            assert 0 <= box["y"] <= 740 - box["height"]
        watched.assert_quiet()


@pytest.mark.parametrize(
    ("scheme", "width", "scale"),
    [("light", 1280, 1), ("dark", 1280, 1), ("dark", 360, 1), ("light", 1280, 2)],
)
def test_accessibility_checker_finds_nothing_serious(
    browser: Browser, report: Path, scheme: str, width: int, scale: int
) -> None:
    # axe-core's rules, tagged with the WCAG success criteria that they test. A page at 200 % has
    # half the width (WCAG 2.2, 1.4.4 and 1.4.10).
    size = {"width": width // scale, "height": 900 // scale}
    with opened(browser, report, viewport=size, color_scheme=scheme, bypass_csp=True) as watched:
        page = watched.page
        for hash_ in (*SECTIONS, CLOSE, PAIR):
            at(page, hash_)
            for fold in page.locator("details:visible").all():
                fold.evaluate("fold => { fold.open = true; }")
            page.wait_for_timeout(250)
            assert serious(page) == [], hash_
            assert page.evaluate("document.documentElement.scrollWidth") <= width // scale
        for hash_, keys in STATES:
            at(page, hash_)
            for key in keys:
                page.keyboard.press(key)
            page.wait_for_timeout(250)
            assert serious(page) == [], (hash_, keys)
        at(page, "#frames")
        page.fill("#q", "nothing is called so")
        assert page.locator("#none-shown").is_visible()
        assert serious(page) == [], "no frame"


def serious(page: Page) -> list[str]:
    # the checker comes into a page once, and only what is judged comes back from it
    if page.evaluate("typeof axe === 'undefined'"):
        page.evaluate(Axe().axe_script)
    found = page.evaluate(
        """() => axe.run({resultTypes: ["violations"]}).then(found => ({
            passed: found.passes.map(rule => rule.id),
            serious: found.violations
              .filter(rule => ["serious", "critical"].includes(rule.impact))
              .map(rule => `${rule.id}: ${rule.nodes[0].html.slice(0, 200)}`),
        }))"""
    )
    assert "color-contrast" in found["passed"], "contrast was looked at"
    return list(found["serious"])


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


def test_previews_beside_the_file_are_found(browser: Browser, tmp_path: Path) -> None:
    path = written(tmp_path, *make_audit(6), roomy_up_to=5)
    with opened(browser, path) as watched:
        page = at(watched.page, f"#frame={FOLDER}/S0001.dng")
        page.locator(".tones").wait_for()
        page.keyboard.press("m")
        assert "preview-000001.jpg" in (
            page.locator("#close-stage .whole").get_attribute("src") or ""
        )
        eventually(page, "document.querySelector('#close-stage .whole').naturalWidth > 300")
        watched.assert_quiet()


@pytest.mark.parametrize("count", [0, 1])
def test_hardly_any_frames_make_a_quiet_page(browser: Browser, tmp_path: Path, count: int) -> None:
    audit, measurements = make_audit(1)
    path = written(tmp_path, replace(audit, frames=audit.frames[:count]), measurements)
    with opened(browser, path) as watched:
        page = watched.page
        for hash_ in (*SECTIONS, CLOSE):
            at(page, hash_)
        at(page, "#timeline").locator("#line").focus()
        page.keyboard.press("End")
        page.keyboard.press("Enter")
        assert page.locator("#close-up").is_visible() is (count == 1)
        at(page, "#frames")
        assert len(shown_names(page)) == count
        watched.assert_quiet()


def test_a_hostile_shoot_runs_nothing_and_breaks_nothing(browser: Browser, tmp_path: Path) -> None:
    audit, measurements = make_audit(hostile=True)
    path = written(tmp_path, audit, measurements)
    with opened(browser, path) as watched:
        page = at(watched.page, "#frames")
        assert page.locator("#shown").inner_text() == "24 of 24 frames"
        page.click('[data-size-choice="small"]')
        for number in range(24):
            page.locator(f'[data-number="{number}"] .picture').focus()
            page.keyboard.press("1")
        links = page.locator("#tiles .picture").evaluate_all("all => all.map(a => a.hash)")
        for hash_ in links:
            at(page, hash_)
            assert page.locator("#close-up").is_visible()
        at(page, "#frames")
        page.fill("#q", "<img")
        page.fill("#q", "")
        page.select_option("#sort", "name")
        for hash_ in (*SECTIONS, *(f"#setup={n}" for n in range(1, 15))):
            at(page, hash_)
        assert page.evaluate("window.hostile ?? null") is None
        assert page.locator("script:not([type])").count() == 1
        assert page.locator("[onerror], [onload], [onclick], iframe, object, embed").count() == 0
        assert page.evaluate("document.documentElement.scrollWidth") <= 1280
        kept = json.loads(saved_marks(page, tmp_path / "marks.json").read_bytes())
        watched.assert_quiet()
    assert {mark["file"] for mark in kept["marks"]} == {frame.file for frame in audit.frames}


def test_large_pictures_of_hostile_names_are_shown_and_run_nothing(
    browser: Browser, tmp_path: Path
) -> None:
    audit, measurements = make_audit(hostile=True)
    drawn = tmp_path / "drawn.jpg"
    Image.new("RGB", (600, 400), (90, 90, 90)).save(drawn)
    whole = PicturePlace(kind=PictureKind.WHOLE, width_px=600, height_px=400)
    crop = replace(whole, kind=PictureKind.BLOWN, left=0.2, top=0.2, width=0.3, height=0.3)
    kept = [KeptPicture(place, drawn, drawn.stat().st_size) for place in (whole, crop)]
    measured = [frame.id for frame in audit.frames if frame.status == "measured"]
    files = picture_files([frame.id for frame in audit.frames], dict.fromkeys(measured, kept))
    path = written(tmp_path, audit, measurements, files=files)
    for address, source in all_sources(files):
        place = tmp_path / address
        assert place.parent == tmp_path / "report-pictures", "no name leads out of the folder"
        place.parent.mkdir(exist_ok=True)
        place.write_bytes(source.read_bytes())
    with opened(browser, path) as watched:
        page = at(watched.page, "#frames")
        links = page.evaluate(
            "() => JSON.parse(document.getElementById('page-data').textContent).frames"
            ".filter((frame) => frame.outcome !== 'unreadable').map((frame) => frame.id)"
        )
        assert len(links) >= len(measured)
        page.locator("#tiles .picture").first.click()
        for _ in range(len(measured)):
            eventually(page, SHARP_PICTURES)
            page.keyboard.press("ArrowRight")
        assert page.evaluate("window.hostile ?? null") is None
        assert page.locator("[onerror], [onload], iframe, object, embed").count() == 0
        watched.assert_quiet()


SHARP_PICTURES = """(() => {
    const all = [...document.querySelectorAll("#close-stage .stage.empty, #close-stage img")];
    const shown = all.filter(({ src }) => src);
    return shown.every((image) => image.complete && image.naturalWidth === 600)
        && (shown.length === 2 || document.querySelector("#close-stage .stage.empty") !== null);
})()"""


def test_bars_are_drawn_by_the_rule_of_the_pictures(view: Watched, sheets: Sheets) -> None:
    """Caps and slices of the page stand by the very formula and numbers of the PNG."""
    page = at(view.page, "#frames")
    drawn = page.evaluate(
        "() => [...document.querySelectorAll('#tiles .tile')].map((tile) => ["
        "tile.dataset.frame,"
        "...['rect.slice', 'rect[fill=\"url(#hatch)\"]', 'rect[fill=\"url(#stipple)\"]']"
        ".map((part) => tile.querySelector(`svg.range ${part}`)?.getAttribute("
        "part === 'rect.slice' ? 'x' : 'width') ?? 0)])"
    )
    assert len(drawn) > 10
    capped = 0
    for frame, begin, over, under in drawn:
        bar = sheets.by_id[frame].bar
        if bar.begin_stops is not None:
            share = min(bar.begin_stops / sheets.floor_stops, 1.0)
            assert float(begin) == pytest.approx(274 - share * (274 - 26), abs=0.1)
        for length, lost in ((over, bar.blown), (under, bar.blocked)):
            assert float(length) == pytest.approx(cap_length(lost, 23), abs=0.6)
            capped += bool(lost)
    assert capped > 3
    periods = page.evaluate(
        "() => Object.fromEntries([...document.querySelectorAll('#patterns pattern')]"
        ".map((one) => [one.id.replace('-', '_'), Number(one.getAttribute('width'))]))"
    )
    assert periods == {name: pattern.period for name, pattern in PAGE_PATTERNS.items()}
