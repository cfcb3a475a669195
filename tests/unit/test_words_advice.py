"""Advice to give more light is given where it can be followed, and said once."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from auditor.clipping.findings import find_blown_channel, find_headroom_left
from auditor.figures.frame import judge_frame
from auditor.findings.base import FrameView
from auditor.model.audit import Bracket, FrameResult, PreviewStory
from auditor.model.codes import LevelSource, PlaneName, Verdict
from auditor.model.findings import Finding
from auditor.model.grouping import Grouping
from auditor.model.measurement import Level
from auditor.model.settings import JudgeSettings, Settings
from auditor.preview.findings import find_preview_early
from auditor.rules import with_shoot_findings
from auditor.words.findings import with_words
from tests.judge_maker import card_file, measured_mono, settled

LEVEL = Level(15800, 15794, LevelSource.MEASURED)
BALANCE = {"R": 1.0, "G": 0.0, "B": 0.585}


def told_of_preview(
    early: dict[str, float], verdict: str = "held", balance: dict[str, float] | None = None
) -> list[Finding]:
    result = judge_frame(
        card_file(), settled(measured_mono(np.full((240, 240), 4000)), (LEVEL,)), JudgeSettings()
    )
    story = PreviewStory(
        160, 120, 0.02, 0.0, early, None, BALANCE if balance is None else balance, {}
    )
    view = FrameView(replace(result, preview=story, verdict=Verdict(verdict)), Settings())
    return [with_words(told) for told in find_preview_early(view)]


def test_a_preview_is_early_by_the_channel_that_clips_least_early() -> None:
    (told,) = told_of_preview({"R": 1.5, "G": 0.53, "B": 1.1})
    assert (told.channel, told.value) == ("G", 0.53)
    assert "clips 0.5 stop before the raw data" in told.text
    assert "red clips 1.0 stop earlier still, which is white balance" in told.text
    (told,) = told_of_preview({"R": 2.5, "G": 0.53})
    assert "red clips 2.0 stops earlier still, 1.0 stop of it by white balance" in told.text


def test_red_alone_tells_less_its_white_balance() -> None:
    (told,) = told_of_preview({"R": 1.55})
    assert told.value == pytest.approx(0.55)
    assert (
        "before the raw data: red clips 1.6 stops early, of which 1.0 stop is white balance"
        in told.text
    )
    assert told_of_preview({"R": 1.3}) == [], "0.3 stop is not worth saying"
    assert told_of_preview({"R": 1.5}, balance={}) == [], "nothing tells what is white balance"


@pytest.mark.parametrize("verdict", ["blown", "both"])
def test_a_blown_frame_is_not_told_to_take_more_light(verdict: str) -> None:
    assert told_of_preview({"R": 1.5, "G": 0.6, "B": 1.1}, verdict) == []


def lit(name: str, headroom_stops: float) -> FrameResult:
    result = judge_frame(
        card_file(name),
        settled(measured_mono(np.full((240, 240), 4000)), (LEVEL,)),
        JudgeSettings(),
    )
    result = replace(result, headroom_stops=headroom_stops)
    return replace(result, findings=tuple(find_headroom_left(FrameView(result, Settings()))))


def test_the_darker_frames_of_a_bracket_lack_no_light() -> None:
    frames = {one.id: one for one in (lit("A", 1.2), lit("B", 3.2), lit("C", 5.8), lit("D", 1.5))}
    bracket = Bracket("s1", tuple(frames)[:3], 2.0, 1.0, {}, (), ())
    told = with_shoot_findings(frames, Grouping(brackets=(bracket,)), Settings())
    lacking = [name for name, one in told.items()
               if any(finding.code == "headroom-left" for finding in one.findings)]  # fmt: skip
    assert lacking == ["A", "D"], "of a bracket too dark as a whole its brightest frame tells"


@pytest.mark.parametrize(
    ("others", "words"),
    [(0.0, "the other colours in no pixel."), (1e-6, "the other colours in under 0.01 %."),
     (1e-3, "the other colours in at most 0.10 %.")],
)  # fmt: skip
def test_a_bound_is_said_once(others: float, words: str) -> None:
    result = lit("A", 0.0)
    shares = (("R", 0.02), ("G1", others), ("B", 0.0))
    channels = tuple(
        replace(result.channels[0], name=PlaneName(name), blown_fraction=share)
        for name, share in shares
    )
    found = find_blown_channel(FrameView(replace(result, channels=channels), Settings()))
    (told,) = map(with_words, found)
    assert told.text.endswith(words)
