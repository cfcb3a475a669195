"""Three evenings from raw files to the history: it tells the habits without being told.

What is true of them is built into ``sample_generation/habits.py`` and never reaches the audit.
"""

from __future__ import annotations

import html
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from statistics import median

import pytest
from PIL import Image

from auditor.audit import run_audit
from auditor.model.audit import Audit
from auditor.model.history import ExposureRow, Habit, History
from auditor.model.numbers import stops_text
from auditor.past import remembered_filters, remembered_history, write_history
from auditor.report.history_text import history_text
from auditor.report.png_canvas import A4_WIDTH
from auditor.request import AuditRequest
from sample_generation.habits import (
    FILTER_OVER_MARKING_STOPS,
    PREVIEW_EARLY_STOPS,
    SIX_STOP,
    SUNSET_ALTITUDE_DEG,
    UNDER_AFTER_SUNSET_STOPS,
)
from sample_generation.plans import CAMERA_STYLE, MAIN_BODY
from sample_generation.records import Truth
from sample_generation.sensor import fixed_pattern
from sample_generation.shoots import make_shoot
from tests.evening_audit import KeepingListener

MEGAPIXELS = 0.4
EVENINGS = ("habit-1", "habit-2", "habit-3")


@dataclass(frozen=True)
class Evenings:
    """Three audits, one after the other into one store."""

    truths: tuple[Truth, ...]
    audits: tuple[Audit, ...]
    store: Path
    history: History

    def true_spares(self, *, after_sunset: bool) -> list[float]:
        """Stops that the brightest channel of each frame truly left, blown first guesses aside."""
        return [
            min(plane.headroom_recorded_stops or 0.0 for plane in frame.planes)
            for truth in self.truths
            for frame in truth.frames
            if "blown" not in frame.kinds
            and (frame.sun_altitude_deg < SUNSET_ALTITUDE_DEG) == after_sunset
        ]

    def habit(self, code: str) -> Habit:
        (found,) = [habit for habit in self.history.habits if habit.code == code]
        return found

    def phase(self, phase: str) -> ExposureRow:
        rows = self.history.exposure
        return next(row for row in rows if row.phase == phase and row.body is None)


@pytest.fixture(scope="session")
def evenings(tmp_path_factory: pytest.TempPathFactory) -> Evenings:
    root = tmp_path_factory.mktemp("evenings")
    store = root / "store.sqlite"
    truths = tuple(_made(root / name) for name in EVENINGS)
    audits = tuple(_audited(root / truth.shoot, truth, store) for truth in truths)
    return Evenings(truths, audits, store, remembered_history(store))


def _made(shoot: Path) -> Truth:
    return make_shoot(shoot.name, shoot, megapixels=MEGAPIXELS, seed=7, workers=2)


def _audited(shoot: Path, truth: Truth, store: Path) -> Audit:
    cards = tuple(str(shoot / card) for card in truth.cards)
    request = AuditRequest(cards, shoot / "out", formats=("json",), store=store, workers=2)
    return run_audit(request, KeepingListener()).audit


def auditor(*words: str) -> str:
    done = subprocess.run(
        [sys.executable, "-m", "auditor", *words],
        capture_output=True, text=True, timeout=120, check=True,
    )  # fmt: skip
    return " ".join(done.stdout.split())


def test_the_three_habits_are_told_and_no_other(evenings: Evenings) -> None:
    assert {habit.code for habit in evenings.history.habits} == {
        "headroom-left",
        "filter-off-marking",
        "preview-early",
    }


def test_frames_after_sunset_are_told_too_dark(evenings: Evenings) -> None:
    habit = evenings.habit("headroom-left")
    before, after = evenings.phase("before sunset").spare, evenings.phase("after sunset").spare
    assert before is not None
    assert after is not None
    left = median(evenings.true_spares(after_sunset=True))
    usual = median(evenings.true_spares(after_sunset=False))
    assert left - usual == pytest.approx(UNDER_AFTER_SUNSET_STOPS, abs=0.2), "as it was built in"
    assert after.median == habit.value_stops == pytest.approx(left, abs=0.03)
    assert before.median == pytest.approx(usual, abs=0.03)
    told = stops_text(after.median)
    assert habit.text.startswith(
        f"Your frames after sunset end {told} stops under saturation: give"
    )
    assert f"these are {stops_text(after.median - before.median)} stops darker" in habit.evidence
    assert habit.frames == len(evenings.true_spares(after_sunset=True))
    assert habit.caution, "after sunset the ground is dark"


def test_a_filter_over_its_marking_is_told(evenings: Evenings) -> None:
    habit = evenings.habit("filter-off-marking")
    assert habit.value_stops == pytest.approx(FILTER_OVER_MARKING_STOPS, abs=0.05)
    assert "measures 6.3 stops, 0.3 over its marking" in habit.text
    (known,) = evenings.history.filters
    assert (known.name, known.count, known.shoots) == ("about 6 stops, warm", 12, 3)
    for colour, stops in zip("RGB", SIX_STOP.stops_rgb, strict=True):
        assert known.stops_by_channel[colour] == pytest.approx(stops, abs=0.05), colour
    assert known.spread_stops < 0.05


def test_a_preview_that_clips_early_is_told_a_channel(evenings: Evenings) -> None:
    habit = evenings.habit("preview-early")
    assert habit.value_stops == pytest.approx(PREVIEW_EARLY_STOPS, abs=0.1)
    assert "clips 1.0 stop before the sensor does" in habit.text
    (row,) = evenings.history.previews
    by_balance = CAMERA_STYLE.early_stops_by_channel()
    for colour, spread in row.early.items():
        truth = by_balance[colour] - CAMERA_STYLE.early_stops + PREVIEW_EARLY_STOPS
        assert spread.mean == pytest.approx(truth, abs=0.1), colour
    assert {"R", "G"} <= row.early.keys()
    assert row.false_alarms >= 10


def test_blown_first_guesses_that_were_taken_again_make_no_habit(evenings: Evenings) -> None:
    assert evenings.phase("before sunset").lost == 6
    assert all(habit.code != "channels-lost" for habit in evenings.history.habits)


def test_the_filter_is_known_from_the_second_evening_on(evenings: Evenings) -> None:
    named = [{pair.known_filter for pair in audit.siblings} for audit in evenings.audits]
    assert [len(audit.siblings) >= 4 for audit in evenings.audits] == [True] * 3
    assert named == [{None}, {"about 6 stops, warm"}, {"about 6 stops, warm"}]


def test_the_shutter_time_follows_the_measured_filter(evenings: Evenings) -> None:
    store = ("--store", str(evenings.store))
    told = auditor("nd-time", "1/8", "--filter", "about 6 stops, warm", *store)
    (known,) = remembered_filters(evenings.store)
    assert 2.0**known.stops / 8 == pytest.approx(2.0 ** (6.0 + FILTER_OVER_MARKING_STOPS) / 8, 0.03)
    assert "Set 10 s behind 6.3 stops" in told
    assert "measured 6.30 stops over 12 pairs" in told
    assert "Set 8 s" in auditor("nd-time", "1/8", "--stops", "6"), "the marking says less"


def test_lasting_hot_pixels_are_the_sensors_own_defects(evenings: Evenings) -> None:
    sensor = MAIN_BODY.sensor(MEGAPIXELS)
    defects = {divmod(int(place), sensor.width) for place in fixed_pattern(sensor).hot_index}
    for audit in evenings.audits:
        (lasting,) = audit.lasting_hot_pixels
        assert 3 <= lasting.count == len(lasting.positions)
        assert set(lasting.positions) <= defects
    (row,) = evenings.history.hot
    assert row.staying is not None
    assert len(defects) // 2 <= row.staying <= len(defects)


def test_terminal_page_and_picture_say_it_alike(evenings: Evenings, tmp_path: Path) -> None:
    shown = auditor("history", "--store", str(evenings.store), "--out", str(tmp_path / "habits"))
    page = html.unescape((tmp_path / "habits" / "history.html").read_text(encoding="utf-8"))
    for habit in evenings.history.habits:
        assert habit.text in shown
        assert habit.evidence in shown
        assert habit.text in page
    assert " ".join(history_text(evenings.history).split()) in shown
    assert page.count('<img src="data:image/jpeg') == len(EVENINGS), "a picture an evening"
    assert all(evening.known_stops for evening in evenings.history.evenings)
    with Image.open(tmp_path / "habits" / "history.png") as picture:
        assert picture.width == A4_WIDTH
        assert picture.height > 1000
    again = write_history(evenings.history, tmp_path / "again")
    assert [path.read_bytes() for path in again] == [
        (tmp_path / "habits" / path.name).read_bytes() for path in again
    ]
