"""On either side of the numbers that a history is told by."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from auditor.history.habits import find_habits, preview_habit
from auditor.history.rows import hot_rows
from auditor.history.shots import Shot
from auditor.model.history import FramesOf, Habit, PreviewRow, Spread
from auditor.model.settings import JudgeSettings
from auditor.past import remembered_history
from auditor.store.store import Store
from tests.evenings import ZONE, audit_of, frame_at, lost
from tests.store_frames import SETTINGS
from tests.unit.test_store_hot import long_frame

NOON = datetime(2031, 9, 14, 12, tzinfo=ZONE)


def shots(*spare: float, phase: str = "day") -> list[Shot]:
    made = [replace(frame_at(f"{n}", NOON), headroom_stops=one) for n, one in enumerate(spare)]
    return [Shot(frame, 0, JudgeSettings(), phase=phase) for frame in made]


def habits(*given: Shot) -> list[Habit]:
    return list(find_habits(given, [], []))


@pytest.mark.parametrize(("frames", "told"), [(7, 0), (9, 1)])
def test_a_habit_needs_frames(frames: int, told: int) -> None:
    assert len(habits(*shots(*[1.0] * frames))) == told


@pytest.mark.parametrize(("spare", "told"), [(0.6, 0), (0.75, 1)])
def test_a_third_is_kept_in_hand(spare: float, told: int) -> None:
    assert len(habits(*shots(*[spare] * 12))) == told


@pytest.mark.parametrize(("more", "named"), [(0.28, FramesOf.ALL), (0.4, FramesOf.PHASE)])
def test_a_kind_of_frame_that_stands_out_is_named(more: float, named: FramesOf) -> None:
    (found,) = habits(*shots(*[1.2] * 9), *shots(*[1.2 + more] * 9, phase="night"))
    assert found.frames_of is named


@pytest.mark.parametrize(("errors", "named"), [(1.6, FramesOf.ALL), (2.4, FramesOf.PHASE)])
def test_and_by_more_than_its_scatter(errors: float, named: FramesOf) -> None:
    scatter = 0.6 / errors * 15**0.5
    night = shots(*(3.0 + sign * scatter for sign in (-1, 1) * 8), phase="night")
    (found,) = habits(*shots(*[2.4] * 9), *night)
    assert found.frames_of is named


@pytest.mark.parametrize(("missed", "told"), [(5, []), (7, ["channels-lost"])])
def test_a_loss_is_a_habit_from_a_fifth_of_the_frames_on(missed: int, told: list[str]) -> None:
    made = [frame_at(f"{n}", NOON, spare=0.3) for n in range(30)]
    mixed = [*map(lost, made[:missed]), *made[missed:]]
    found = habits(*(Shot(frame, 0, JudgeSettings()) for frame in mixed))
    assert [habit.code for habit in found] == told


@pytest.mark.parametrize(
    ("stops", "told"), [(0.42, False), (0.58, True), (-0.28, False), (-0.4, True)]
)
def test_a_preview_that_is_early_or_late_is_told(stops: float, *, told: bool) -> None:
    spread = Spread(count=9, mean=stops, median=stops, spread=0.0, least=stops, most=stops)
    assert (preview_habit(PreviewRow("a body", 9, {}, 0, spread)) is not None) == told


@pytest.mark.parametrize(("time_s", "told"), [(0.8, False), (1.2, True)])
def test_hot_pixels_of_a_second_are_those_of_a_long_exposure(time_s: float, *, told: bool) -> None:
    frame = frame_at("S", NOON, time_s=time_s)
    (row,) = hot_rows([Shot(frame, 0, JudgeSettings())])
    assert (row.long_per_megapixel is not None) == told


@pytest.mark.parametrize(("time_s", "staying"), [(4.2, None), (5.8, 2)])
def test_pixels_that_stay_are_those_of_five_seconds(
    tmp_path: Path, time_s: float, staying: int | None
) -> None:
    path = tmp_path / "store.sqlite"
    with Store.open(path) as store:
        for day in (NOON, NOON + timedelta(days=1)):
            seen = long_frame(day.isoformat(), time_s=time_s, serial="0042")
            store.put(day.isoformat(), SETTINGS, seen)
        store.save_shoot(audit_of([frame_at("S", NOON)]))
    (row,) = remembered_history(path).hot
    assert row.staying == staying
