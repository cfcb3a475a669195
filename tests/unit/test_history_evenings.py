"""Three simulated evenings with known habits: the history says so without being told."""

from __future__ import annotations

import pytest

from auditor.history.summarise import summarise
from auditor.model.history import Habit, History
from auditor.words.history import history_with_words
from tests.evenings import Habits, evenings


@pytest.fixture(scope="module")
def history() -> History:
    return history_with_words(summarise(evenings()))


def habit(history: History, code: str) -> Habit:
    found = [entry for entry in history.habits if entry.code == code]
    assert len(found) == 1, [entry.code for entry in history.habits]
    return found[0]


def test_three_habits_are_named(history: History) -> None:
    assert {entry.code for entry in history.habits} == {
        "headroom-left",
        "preview-early",
        "filter-off-marking",
    }
    weights = [entry.weight for entry in history.habits]
    assert weights == sorted(weights, reverse=True)


def test_underexposing_after_sunset_in_figures_and_words(history: History) -> None:
    found = habit(history, "headroom-left")
    assert found.value_stops == pytest.approx(1.3, abs=0.1)
    assert found.text.startswith("Your frames after sunset end 1.3 stops under saturation: give")
    assert "two thirds of a stop more" in found.text
    assert "of 3 shoots" in found.evidence
    after = next(row for row in history.exposure if row.phase == "after sunset" and not row.body)
    assert after.spare is not None
    assert after.spare.median == pytest.approx(found.value_stops)
    assert after.spare.count == found.frames >= 24


def test_filter_over_its_marking_in_figures_and_words(history: History) -> None:
    found = habit(history, "filter-off-marking")
    assert found.value_stops == pytest.approx(0.3, abs=0.05)
    assert "measures 6.3 stops, 0.3 over its marking" in found.text
    assert "6 stops, density 1.8, ×64" in found.evidence
    (known,) = history.filters
    assert known.name == "about 6 stops, warm"
    assert known.stops_by_channel["G"] == pytest.approx(6.3, abs=0.03)
    assert known.cast_stops == pytest.approx({"R": -0.1, "B": 0.15}, abs=0.01)
    assert known.spread_stops == pytest.approx(0.04, abs=0.02)
    assert (known.count, known.shoots) == (18, 3)


def test_preview_a_stop_early_in_figures_and_words(history: History) -> None:
    found = habit(history, "preview-early")
    assert found.value_stops == pytest.approx(1.0, abs=0.05)
    assert "Brackwell F45 0042 clips 1.0 stop before the sensor does" in found.text
    (row,) = history.previews
    assert row.early["G"].mean == pytest.approx(1.0, abs=0.02)
    assert row.early["R"].mean == pytest.approx(1.3, abs=0.02)
    assert row.early["B"].mean == pytest.approx(1.5, abs=0.02)
    assert f"In {row.false_alarms} frames the preview showed lost" in found.evidence


def test_the_sensor_is_told_from_what_was_measured(history: History) -> None:
    green = next(row for row in history.sensors if row.channel == "G1")
    assert green.read_noise_e == pytest.approx(4.0, rel=0.01)
    assert green.full_well_e == pytest.approx((15300 - 512) / 0.8)
    assert green.dynamic_range_stops == pytest.approx(12.0, abs=0.1)


def test_careful_evenings_leave_nothing_to_say() -> None:
    careful = Habits(
        before_sunset=0.45, after_sunset=0.45, filter_stops=6.02, filter_cast=(0.0, 0.0),
        preview_early=0.1,
    )  # fmt: skip
    quiet = history_with_words(summarise(evenings(careful)))
    assert quiet.habits == ()
    (known,) = quiet.filters
    assert known.name == "about 6 stops, neutral"


def test_one_evening_says_less_than_three() -> None:
    one = history_with_words(summarise(evenings(count=1)))
    spare = habit(one, "headroom-left")
    assert spare.frames < habit(history_with_words(summarise(evenings())), "headroom-left").frames
    assert "of 1 shoot" in spare.evidence
