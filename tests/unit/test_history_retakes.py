"""A blown first guess that was taken again at once is no lost picture."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from auditor.history.habits import find_habits
from auditor.history.shots import Shot, retaken
from auditor.model.audit import FrameResult
from auditor.model.codes import Verdict
from auditor.model.settings import JudgeSettings
from auditor.words.history import habit_with_words
from tests.evenings import ZONE, frame_at

START = datetime(2031, 9, 14, 18, 0, tzinfo=ZONE)


def frame(name: str, after_s: float, verdict: str, time_s: float) -> FrameResult:
    made = frame_at(name, START + timedelta(seconds=after_s))
    exposure = replace(made.exposure, time_s=time_s)
    return replace(
        made, verdict=Verdict(verdict), exposure=exposure, blown_fraction=0.4 * (verdict == "blown")
    )


BLOWN = frame("a", 0.0, "blown", 1.0)


@pytest.mark.parametrize(("after_s", "time_s"), [(20.0, 0.125), (150.0, 0.125), (20.0, 0.76)])
def test_a_second_try_with_less_light_makes_it_good(after_s: float, time_s: float) -> None:
    assert retaken([frame("b", after_s, "held", time_s), BLOWN]) == {"a"}


@pytest.mark.parametrize(("left", "good"), [(0.03, True), (0.05, False)])
def test_one_that_loses_a_tenth_of_it_made_it_good_though_the_sun_is_left(
    left: float, *, good: bool
) -> None:
    second = replace(frame("b", 20.0, "blown", 0.125), blown_fraction=left)
    assert retaken([BLOWN, second]) == ({"a"} if good else set())


@pytest.mark.parametrize(
    "second",
    [
        frame("b", 20.0, "blown", 0.5),
        frame("b", 20.0, "held", 0.82),
        frame("b", 200.0, "held", 0.125),
        frame("b", -20.0, "held", 0.125),
        frame("b", 20.0, "dark frame", 0.125),
        replace(frame("b", 20.0, "held", 0.125), captured_at=None),
        replace(
            frame("b", 20.0, "held", 0.125), lens=replace(BLOWN.lens, focal_mm=70.0)
        ),
        replace(
            frame("b", 20.0, "held", 0.125), camera=replace(BLOWN.camera, serial="other")
        ),
    ],
    ids=["blown too", "no less light", "too late", "before", "dark", "timeless", "other view",
         "other body"],
)  # fmt: skip
def test_anything_else_does_not(second: FrameResult) -> None:
    assert retaken([BLOWN, second]) == frozenset()


def shots(*, again: bool) -> list[Shot]:
    lost = [Shot(BLOWN, 0, JudgeSettings(), retaken=again) for _ in range(6)]
    return [
        *lost,
        *(Shot(replace(BLOWN, verdict=Verdict.HELD), 0, JudgeSettings()) for _ in range(6)),
    ]


def test_only_frames_lost_for_good_make_a_habit() -> None:
    assert [habit.code for habit in find_habits(shots(again=False), [], [])] == ["channels-lost"]
    assert find_habits(shots(again=True), [], []) == ()


def test_retakes_are_told_beside_the_frames_that_were_lost() -> None:
    (found,) = find_habits([*shots(again=False), *shots(again=True)[:2]], [], [])
    assert found.frames == 6
    assert "2 more frames taken again at once with less light." in habit_with_words(found).evidence
