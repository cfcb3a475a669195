"""Evening by evening: frames, losses and filters of each day's work, the latest first."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from statistics import median

import pytest

from auditor.history.evenings import evening_of
from auditor.history.summarise import summarise
from auditor.past import remembered_history
from auditor.report.history_html import build_history_html
from auditor.report.history_page import history_page
from auditor.store.store import Store
from tests.evenings import ZONE, Habits, audit_of, evenings, frame_at, lost


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
    with Store.open(path) as store:
        for audit in audits:
            store.save_shoot(audit)
        store.note_report(audits[0], folder)
    assert [evening.report for evening in remembered_history(path).evenings] == ["", ""]
    folder.mkdir()
    (folder / "report.html").write_text("a report")
    history = remembered_history(path)
    address = (folder / "report.html").as_uri()
    assert [evening.report for evening in history.evenings] == ["", address]
    page = build_history_html(history).decode()
    assert f'<a href="{address}">14 September 2031</a>' in page
    with Store.open(path) as store:
        store.save_shoot(audits[0])
    assert [evening.report for evening in remembered_history(path).evenings] == ["", ""]
