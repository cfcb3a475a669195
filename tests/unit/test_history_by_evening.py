"""Evening by evening: frames, losses and filters of each day's work, the latest first."""

from __future__ import annotations

from base64 import b64encode
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from statistics import median

import pytest

from auditor.history.evenings import best_frames, evening_of
from auditor.history.summarise import summarise
from auditor.model.audit import Keeper, Setup
from auditor.model.codes import KeeperLength, Verdict
from auditor.past import remembered_history
from auditor.report.history_html import build_history_html, charts_of
from auditor.report.history_page import history_page
from auditor.store.shoots import EveningFace
from auditor.store.store import Store
from tests.evenings import ZONE, Habits, audit_of, evenings, frame_at, lost

JPEG = b"\xff\xd8 a picture"


@pytest.mark.parametrize(
    ("moment", "day"),
    [
        ("2031-09-14T18:52:07+01:00", date(2031, 9, 14)),
        ("2031-09-15T02:59:59", date(2031, 9, 14)),
        ("2031-09-15T03:00:00", date(2031, 9, 15)),
        ("0001-01-01T00:00:00", None),
        ("yesterday", None),
        (None, None),
    ],
)
def test_the_small_hours_belong_to_the_evening_before(moment: str | None, day: date | None) -> None:
    assert evening_of(moment) == day


def test_each_evening_is_told_once_and_the_latest_first() -> None:
    audits = evenings(Habits(filter_stops=6.3), count=3)
    told = summarise(audits).evenings
    assert [evening.day for evening in told] == ["2031-09-28", "2031-09-21", "2031-09-14"]
    assert [evening.frames for evening in told] == [30, 30, 30]
    for evening in told:
        # the built-in filter, of which one pair scatters by hundredths of a stop
        assert all(abs(marked - 6.3) < 0.4 for marked in evening.filter_stops)
        assert median(evening.filter_stops.values()) == pytest.approx(6.3, abs=0.1)


def test_two_cards_of_one_evening_are_one_and_losses_are_counted() -> None:
    start = datetime(2031, 9, 14, 18, tzinfo=ZONE)
    early = [frame_at(f"A{n}.dng", start + timedelta(minutes=n), spare=0.5) for n in range(3)]
    late = [
        frame_at(f"B{n}.dng", start + timedelta(hours=7, minutes=n), spare=0.9) for n in range(3)
    ]
    audits = (
        audit_of([*early[:2], lost(early[2])], made_at="2031-10-01T08:00:00+01:00"),
        audit_of(late, made_at="2031-10-02T08:00:00+01:00"),
    )
    (evening,) = summarise(audits).evenings
    assert (evening.day, evening.frames, evening.placed, evening.lost) == ("2031-09-14", 6, 6, 1)
    assert evening.left_stops == pytest.approx(0.9)


def test_frames_without_a_clock_belong_to_no_evening() -> None:
    start = datetime(2031, 9, 14, 18, tzinfo=ZONE)
    bare = replace(frame_at("A.dng", start, spare=0.5), captured_at=None)
    assert summarise((audit_of([bare]),)).evenings == ()


def test_the_page_has_a_row_an_evening() -> None:
    page = history_page(summarise(evenings(count=2)))
    table = next(table for table in page.tables if table.key == "evenings")
    assert [row[0] for row in table.rows] == ["21 September 2031", "14 September 2031"]
    assert all(len(row) == len(table.columns) for row in table.rows)
    assert all("stops: 6." in row[-1] for row in table.rows)


def test_a_day_leads_to_its_report_while_that_lies_there(tmp_path: Path) -> None:
    path, folder = tmp_path / "store.sqlite", tmp_path / "a <b> & c"
    audits = evenings(count=2)
    face = EveningFace(day="2031-09-14", folder=str(folder), picture_of="S<4>.dng", picture=JPEG)
    with Store.open(path) as store:
        for audit in audits:
            store.save_shoot(audit)
        store.note_evenings(audits[0], [face])
    told = remembered_history(path).evenings
    assert [(evening.report, evening.picture) for evening in told] == [("", b""), ("", JPEG)]
    folder.mkdir()
    (folder / "report.html").write_text("a report")
    history = remembered_history(path)
    address = (folder / "report.html").as_uri()
    assert [evening.report for evening in history.evenings] == ["", address]
    page = build_history_html(history).decode()
    rows = page.split('<tr role="row">')[2:]
    assert ["14 September 2031" in row for row in rows] == [False, True]
    assert f'<a class="day" href="{address}">' in rows[1]
    assert f'<img src="data:image/jpeg;base64,{b64encode(JPEG).decode()}"' in rows[1]
    assert "S&lt;4&gt;.dng" in rows[1]
    assert "<img" not in rows[0]
    with Store.open(path) as store:
        store.save_shoot(audits[0])
    told = remembered_history(path).evenings
    assert [(evening.report, evening.picture) for evening in told] == [("", b"")] * 2


def test_the_picture_of_an_evening_lost_nothing_and_is_of_the_place_most_worked_on() -> None:
    start = datetime(2031, 9, 14, 18, tzinfo=ZONE)
    names = ("A", "B", "C", "D", "dark", "late")
    hours = (0, 1, 2, 3, 4, 30)
    frames = [frame_at(n, start + timedelta(hours=h)) for n, h in zip(names, hours, strict=True)]
    frames[1] = lost(frames[1])
    frames[4] = replace(frames[4], verdict=Verdict.DARK_FRAME)
    setups = tuple(
        Setup(id=f"s-{name}", frames=("x",) * count, started_at=None, focal_mm=None, shift_px=())
        for name, count in zip(names, (1, 9, 3, 3, 9, 1), strict=True)
    )
    keepers = tuple(Keeper(f"s-{name}", name, KeeperLength.SHORT, ()) for name in names)
    audit = replace(audit_of(frames, setups=setups), keepers=keepers)
    assert best_frames(audit) == {date(2031, 9, 14): "C", date(2031, 9, 15): "late"}
    only_lost = replace(audit, keepers=(keepers[1], keepers[4]))
    assert best_frames(only_lost) == {date(2031, 9, 14): "B"}
    assert best_frames(replace(audit, keepers=())) == {}


def test_a_filter_is_followed_over_the_evenings_by_its_own_name() -> None:
    thin = evenings(Habits(filter_stops=6.3), count=3)
    history = summarise((*thin, evenings(Habits(filter_stops=9.7), count=4)[3]))
    page = history_page(history)
    (trend,) = page.trends
    assert trend.label == "about 6 stops, warm"
    assert [day.day for day, _ in trend.days] == [14, 21, 28], "the earliest first"
    assert all(abs(stops - 6.3) < 0.1 for _, stops in trend.days)
    known = {known.name: known.stops for known in history.filters}
    assert len(known) == 2, "that of one evening alone has no trend"
    for evening in history.evenings:
        for name, stops in evening.known_stops.items():
            assert stops == pytest.approx(known[name], abs=0.1)
    (drawn,) = charts_of(page).trends.trends
    ys = [y for _, y in drawn.dots]
    assert all(y < 32 for y in ys), "denser than the marking lies above it"
    assert [x for x, _ in drawn.dots] == [12.0, 219.0, 426.0], "a week each"
    assert drawn.text in build_history_html(history).decode()
