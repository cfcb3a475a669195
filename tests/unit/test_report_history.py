from __future__ import annotations

import io
import re
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise

import pytest
from PIL import Image

from auditor.history.summarise import summarise
from auditor.model.facts import CameraFacts, LensFacts
from auditor.model.history import History, SensorRow, Spread
from auditor.report import history_png
from auditor.report import history_text as history_text_module
from auditor.report.history_chart import spread_out
from auditor.report.history_html import build_history_html, charts_of
from auditor.report.history_page import history_page
from auditor.report.history_png import build_history_png
from auditor.report.history_tables import history_tables
from auditor.report.history_text import history_text
from auditor.report.png_canvas import A4_WIDTH, SMALL, Canvas
from auditor.words.cautions import IN_ONE_LINE
from auditor.words.history import history_with_words
from tests.evenings import evenings, lost

SENSOR = SensorRow(
    body="Brackwell F45", iso=100.0, channel="R", frames=9,
    black_dn=Spread(9, 512.0, 512.0, None, 512.0, 512.0),
    saturation_dn=None, read_noise_dn=None, gain_dn_per_e=None, read_noise_e=3.0,
)  # fmt: skip
HOSTILE = "<script>alert(1)</script>\"'&$\\frac{}\u202e\udc80\x1b[31m\n" + "W" * 400


@pytest.fixture(scope="module")
def history() -> History:
    return history_with_words(summarise(evenings()))


@pytest.fixture(scope="module")
def hostile() -> History:
    audits = [
        replace(
            audit,
            frames=tuple(
                replace(
                    lost(frame) if place % 3 == 0 else frame,
                    camera=CameraFacts(HOSTILE, HOSTILE, HOSTILE),
                    lens=LensFacts(HOSTILE),
                )
                for place, frame in enumerate(audit.frames)
            ),
        )
        for audit in evenings()
    ]
    return history_with_words(summarise(audits))


class Reader(HTMLParser):
    """Collects tags and text; complains of tags that do not close."""

    VOID = frozenset({"meta", "br"})

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def read(history: History) -> Reader:
    reader = Reader()
    reader.feed(build_history_html(history).decode("utf-8"))
    assert reader.open == []
    return reader


def test_page_text_and_terminal_say_the_habits(history: History) -> None:
    page = " ".join(read(history).words)
    terminal = " ".join(history_text(history).split())
    for habit in history.habits:
        assert habit.text in page
        assert habit.evidence in page
        assert habit.text in terminal
        assert habit.caution in page


def test_the_page_needs_no_script_and_no_network(history: History) -> None:
    reader = read(history)
    names = {tag for tag, _ in reader.tags}
    assert not names & {"script", "img", "link", "iframe", "object", "form"}
    policy = next(
        attrs["content"] for tag, attrs in reader.tags if attrs.get("http-equiv") is not None
    )
    assert policy is not None
    assert policy.startswith("default-src 'none'; style-src 'sha256-")
    assert not any("style" in attrs for _, attrs in reader.tags), "the policy forbids these"
    assert not re.search(rb"https?://", build_history_html(history))


def test_every_figure_of_the_tables_is_in_the_page(history: History) -> None:
    words = set(read(history).words)
    for table in history_page(history).tables:
        assert table.title in words
        for row in table.rows:
            assert set(row) <= words


def test_hostile_names_stay_text_everywhere(hostile: History) -> None:
    html = build_history_html(hostile).decode("utf-8")
    assert "<script" not in html
    reader = read(hostile)
    assert any("<script>alert(1)" in word for word in reader.words), "shown, as text"
    terminal = history_text(hostile)
    for text in (html, terminal):
        assert not set("\x1b\u202e\udc80") & set(text)
    assert max(len(line) for line in terminal.split("\n")) < 200


def test_an_empty_history_says_what_to_do() -> None:
    empty = history_with_words(summarise([]))
    assert "Audit a shoot first" in history_text(empty)
    assert "Audit a shoot first" in " ".join(read(empty).words)
    with Image.open(io.BytesIO(build_history_png(empty))) as picture:
        assert picture.height < 600


def test_no_habit_is_said_plainly() -> None:
    quiet = replace(history_with_words(summarise(evenings())), habits=())
    assert "No habit stands out" in history_text(quiet)


@pytest.mark.parametrize("name", ["history", "hostile"])
def test_no_text_of_the_picture_lies_on_another(
    name: str, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn: list[Canvas] = []

    class Kept(Canvas):
        def __init__(self, width: int, height: int) -> None:
            super().__init__(width, height)
            drawn.append(self)

    monkeypatch.setattr(history_png, "Canvas", Kept)
    png = build_history_png(request.getfixturevalue(name))
    with Image.open(io.BytesIO(png)) as picture:
        assert picture.width == A4_WIDTH
        height = picture.height
    boxes = drawn[0].boxes
    assert len(boxes) > 40
    for place, box in enumerate(boxes):
        assert box.left >= 0
        assert box.right <= A4_WIDTH
        assert box.size >= SMALL, "6 pt and more where it fills a sheet of A4"
        assert box.bottom <= height
        for other in boxes[place + 1 :]:
            apart = (
                box.right <= other.left or other.right <= box.left
                or box.bottom <= other.top or other.bottom <= box.top
            )  # fmt: skip
            assert apart, (box, other)


def test_bars_run_from_the_dark_to_saturation_at_the_right(history: History) -> None:
    page = history_page(history)
    bars = {bar.label: bar for bar in charts_of(page).bars.bars}
    dark, bright = bars["after sunset"], bars["day"]
    assert dark.median < bright.median < 400
    assert dark.left <= dark.median <= dark.left + dark.width
    phases = [bar.label for bar in page.bars if "sunset" in bar.label or bar.label == "day"]
    assert phases == ["day", "before sunset", "after sunset"]


def drawn_texts(history: History, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    canvases: list[Canvas] = []

    def keep(width: int, height: int) -> Canvas:
        canvases.append(Canvas(width, height))
        return canvases[-1]

    monkeypatch.setattr(history_png, "Canvas", keep)
    build_history_png(history)
    return [box.text for box in canvases[0].boxes]


def test_the_picture_shows_how_early_each_preview_clips(
    history: History, monkeypatch: pytest.MonkeyPatch
) -> None:
    texts = drawn_texts(history, monkeypatch)
    assert "How far the camera's preview misleads" in texts
    for row in history.previews:
        told = ", ".join(f"{colour} {row.early[colour].mean:.2f}" for colour in row.early)
        assert told.replace("-", "−") in texts


def test_the_picture_counts_the_rows_that_it_has_no_room_for(
    history: History, monkeypatch: pytest.MonkeyPatch
) -> None:
    many = replace(history, filters=history.filters[:1] * (history_png.MOST_ROWS + 3))
    assert "3 more stand in history.html." in drawn_texts(many, monkeypatch)


def test_the_axis_of_the_filters_is_told_in_stops(history: History) -> None:
    wide = replace(
        history.filters[0], stops_by_channel={"G": history.filters[0].marking.stops + 1.3}
    )
    spots = charts_of(history_page(replace(history, filters=(wide,)))).spots
    assert (spots.left_text, spots.right_text) == ("1.5 stops thinner", "1.5 stops denser")


def test_no_label_of_the_curves_is_cut(history: History) -> None:
    ticks = charts_of(history_page(history)).curves.x_ticks
    assert len(ticks) > 5
    wide, digit = 640.0, 0.65 * 17  # the drawing's width; a digit in the letters of a phone
    assert all(tick.at + len(tick.text) * digit / 2 < wide for tick in ticks)


def test_letters_keep_apart_and_in_order() -> None:
    moved = spread_out([100.0, 101.0, 99.0], 10.0)
    assert sorted(range(3), key=lambda index: moved[index]) == [2, 0, 1]
    steps = sorted(moved)
    assert all(after - before >= 9.9 for before, after in pairwise(steps))
    assert sum(moved) / 3 == pytest.approx(100.0, abs=0.1)
    assert spread_out([], 5.0) == []


def test_no_line_for_the_terminal_is_wider_than_it(history: History) -> None:
    wide = replace(history.filters[0], name="about 10 stops, neutral")
    text = history_text(replace(history, filters=(wide,) * 2))
    assert "density" in text
    assert max(map(len, text.splitlines())) <= history_text_module.TABLE_WIDTH


def test_the_numbers_of_curves_that_end_at_one_place_stand_side_by_side(history: History) -> None:
    line = history_page(history).lines[0]
    page = replace(history_page(history), lines=(line,) * 8)
    places = sorted(curve.number_x for curve in charts_of(page).curves.lines)
    assert all(after - before >= 15.9 for before, after in pairwise(places))
    assert places[-1] + 0.65 * 17 / 2 < 640


def test_the_axis_of_stops_bears_no_share_and_the_picture_explains_its_bars(
    history: History, monkeypatch: pytest.MonkeyPatch
) -> None:
    lossy = [replace(bar, lost_share=0.9) for bar in history_page(history).bars]
    page = replace(history_page(history), bars=tuple(lossy))
    clean = replace(page, bars=tuple(replace(bar, lost_share=0.0) for bar in lossy))
    shapes = [
        [(bar.left, bar.width, bar.median) for bar in charts_of(one).bars.bars]
        for one in (page, clean)
    ]
    assert shapes[0] == shapes[1]
    assert "90 % lost" in charts_of(page).bars.bars[0].text
    assert any("the tick is the median" in text for text in drawn_texts(history, monkeypatch))


def test_the_table_says_that_a_frame_may_lose_several_channels(history: History) -> None:
    table = next(table for table in history_page(history).tables if table.key == "placement")
    assert "may lose several" in table.about


def test_the_terminal_takes_one_line_of_caution_for_all_habits(history: History) -> None:
    told = " ".join(history_text(history).split())
    assert told.count("Caution:") == 1
    assert f"Caution: {IN_ONE_LINE}" in told


def test_channels_that_say_the_same_share_a_row() -> None:
    rows = [replace(SENSOR, channel=channel) for channel in ("R", "G1", "G2")]
    sensors = (*rows, replace(SENSOR, channel="B", read_noise_e=4.0))
    told = history_tables(History(1, 9, 0, sensors=sensors))[0].rows
    assert [(row[2], row[6]) for row in told] == [("R, G1, G2", "3.0 e⁻"), ("B", "4.0 e⁻")]
