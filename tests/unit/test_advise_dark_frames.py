"""The dark frame that matches: same body, ISO, time and warmth, and no other."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from auditor.advise.dark_frames import dark_frame_needs
from auditor.figures.frame import unjudged_frame
from auditor.model.audit import FrameResult
from auditor.model.codes import TimeSource, Verdict
from auditor.model.facts import CameraFacts, ExposureFacts, FileFacts
from auditor.words.next_time import dark_frame_lines
from tests.judge_maker import card_file


def frame(
    name: str, time_s: float, *, dark: bool = False, iso: float = 100.0, body: str = "1",
    warm_c: float | None = 12.0,
) -> FrameResult:  # fmt: skip
    result = unjudged_frame(card_file(f"{name}.DNG"), FileFacts())
    return replace(
        result, id=name, camera=CameraFacts("Brackwell", "F45", body), temperature_c=warm_c,
        exposure=ExposureFacts(time_s, TimeSource.APEX, time_s, 8.0, iso),
        verdict=Verdict.DARK_FRAME if dark else Verdict.HELD,
    )  # fmt: skip


def matched(long: FrameResult, dark: FrameResult) -> bool:
    (need,) = dark_frame_needs([long, dark], {})
    return need.found == dark.id


@pytest.mark.parametrize(
    ("dark", "matches"),
    [
        (frame("D", 161, dark=True), True),
        (frame("D", 161 * 2**0.09, dark=True), True),
        (frame("D", 161 * 2**0.12, dark=True), False),
        (frame("D", 161 * 2**-0.12, dark=True), False),
        (frame("D", 161, dark=True, iso=200), False),
        (frame("D", 161, dark=True, body="2"), False),
        (frame("D", 161, dark=True, warm_c=16.0), True),
        (frame("D", 161, dark=True, warm_c=18.0), False),
        (frame("D", 161, dark=True, warm_c=None), True),
    ],
)
def test_what_matches(dark: FrameResult, matches: bool) -> None:
    assert matched(frame("A", 161), dark) is matches


def test_time_matches_to_a_tenth_of_a_stop_and_warmth_to_five_degrees() -> None:
    assert not matched(frame("A", 161), frame("D", 161 * 2**0.13, dark=True))
    assert matched(frame("A", 161), frame("D", 161 * 2**0.08, dark=True))
    assert not matched(frame("A", 161), frame("D", 161, dark=True, warm_c=17.5))
    assert matched(frame("A", 161), frame("D", 161, dark=True, warm_c=16.5))


def test_exposures_share_a_dark_frame_and_short_ones_need_none() -> None:
    frames = [frame("A", 161), frame("B", 30), frame("C", 161), frame("E", 8), frame("F", 12)]
    needs = dark_frame_needs([*frames, frame("D", 161, dark=True)], {})
    assert [need.frames for need in needs] == [("A", "C"), ("B",), ("F",)]
    assert [need.found for need in needs] == ["D", None, None]


def test_the_hot_pixels_that_it_takes_out_are_counted() -> None:
    hot = {"A": np.array([3, 5, 9, 40]), "D": np.array([5, 9, 11])}
    (need,) = dark_frame_needs([frame("A", 161), frame("D", 161, dark=True)], hot)
    assert need.hot_pixels == 2
    assert dark_frame_lines([need]) == [
        "A: D is the dark frame that matches. It shows 2 of its hot pixels."
    ]
    other = replace(need, found=None, hot_pixels=None)
    assert dark_frame_lines([other]) == [
        "A: a dark frame of 2 min 41 s, ISO 100, about 12 °C would match."
    ]
