"""Sentences about previews, brackets, filters and whole shoots say what was found, no more."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from auditor.group.grouping import Grouping
from auditor.judge.findings import (
    KINDS,
    bracket_gap,
    filter_off_marking,
    light_moved,
    placement_off,
)
from auditor.judge.findings.base import ShootView
from auditor.judge.frame import judge_frame, unjudged_frame
from auditor.judge.lessons import draw_lessons
from auditor.light.filters import nearest_marking
from auditor.model.audit import Bracket, Setup, SiblingPair
from auditor.model.facts import FileFacts
from auditor.model.findings import Finding
from auditor.model.measurement import Level, PreviewMeasurement
from auditor.model.settings import JudgeSettings, Settings
from tests.judge_maker import card_file, measured_mono

LEVEL = Level(15800, 15794, "measured")
PREVIEW = PreviewMeasurement(160, 120, 0.02, 0.0, {}, {}, {}, {}, {})


def preview_text(preview: PreviewMeasurement) -> str:
    frame = replace(measured_mono(np.full((240, 240), 4000)), preview=preview)
    story = judge_frame(card_file(), frame, (LEVEL,), JudgeSettings()).preview
    assert story is not None
    return story.text


def test_the_preview_tells_why_it_tells_nothing() -> None:
    note = "The preview could not be laid over the raw data."
    assert preview_text(PREVIEW).endswith("nothing in the picture tells where it clips.")
    assert preview_text(replace(PREVIEW, notes=(note,))).endswith(note)


def test_what_was_left_out_of_a_preview_that_tells_is_said() -> None:
    note = "Black bars of the preview are left out."
    told = preview_text(replace(PREVIEW, clip_signal_dn={"G": 7644.0}, notes=(note,)))
    assert told.endswith(f"it clips G 1.0 stops before the sensor does. {note}")


@pytest.mark.parametrize(
    ("bright", "dark", "words"),
    [(0.02, 0.0, "at the bright end"), (0.0, 0.02, "at the dark end"),
     (0.02, 0.02, "at both ends"), (0.0, 0.0, "where no single frame holds both ends")],
)  # fmt: skip
def test_a_bracket_tells_at_which_end_it_leaves_a_part_out(
    bright: float, dark: float, words: str
) -> None:
    bracket = Bracket("s1", ("a", "b"), 2.0, 0.9, {}, ("a",), (), bright, dark)
    view = ShootView({}, Grouping(brackets=(bracket,)), Settings())
    ((frame, told),) = bracket_gap.find(view)
    assert frame == "a"
    assert told.text == f"The bracket of 2 leaves 10.0 % of the scene unrecorded, {words}."


def pair(filter_stops: float) -> SiblingPair:
    marking = nearest_marking(filter_stops)
    return SiblingPair(
        "s1", "short", "long", 0.0, filter_stops, {}, {}, None, marking,
        filter_stops - marking.stops, 1.0, 0.0, 0.9, (),
    )  # fmt: skip


def test_a_marking_at_a_third_of_a_stop_is_named_as_it_is_written() -> None:
    view = ShootView({}, Grouping(siblings=(pair(17.0),)), Settings())
    ((_, told),) = filter_off_marking.find(view)
    assert "than the nearest marking, 16⅔ stops, density 5.0, ×100000." in told.text


def test_the_light_of_a_pair_is_told_in_order_of_time() -> None:
    moved = replace(pair(6.0), light_drift_stops=0.6)
    for frames, words in (
        (("short", "long"), "The light rose by 0.6 stop from short to this frame."),
        (("long", "short"), "The light fell by 0.6 stop from this frame to short."),
    ):
        setup = Setup("s1", frames, None, None, (None, None))
        view = ShootView({}, Grouping(setups=(setup,), siblings=(moved,)), Settings())
        ((frame, told),) = light_moved.find(view)
        assert (frame, told.text, told.value) == ("long", words, 0.6)


@pytest.mark.parametrize(
    ("matched_s", "words"),
    [(31.0, "; 30 s would have matched."), (None, "; no shutter time would have matched,")],
)
def test_a_frame_placed_off_tells_the_dials_time_or_that_none_would_do(
    matched_s: float | None, words: str
) -> None:
    off = replace(pair(6.0), matched_time_s=matched_s, placement_difference_stops=-0.8)
    ((_, told),) = placement_off.find(ShootView({}, Grouping(siblings=(off,)), Settings()))
    assert words in told.text


def lesson(code: str, *values: float) -> str:
    kind = KINDS[code]
    results = {}
    for number, value in enumerate(values):
        result = unjudged_frame(card_file(f"{number}.DNG"), FileFacts(), "measured")
        told = Finding(code, kind.severity, "", value)
        results[result.id] = replace(result, findings=(told,))
    (drawn,) = draw_lessons(results, Grouping())
    return drawn.text


@pytest.mark.parametrize(
    ("values", "words"),
    [((0.3, 0.5, 0.4), "Filters held back 0.40 stops more than marked (3 frames)."),
     ((-0.3,), "Filters held back 0.30 stops less than marked (1 frame)."),
     ((0.3, -0.4), "Filters held back 0.35 stops more or less than marked (2 frames).")],
)  # fmt: skip
def test_filters_off_to_both_sides_do_not_cancel_out(values: tuple[float, ...], words: str) -> None:
    assert lesson("filter-off-marking", *values).startswith(words)


def test_frames_above_and_below_their_siblings_do_not_cancel_out() -> None:
    told = lesson("placement-off", 1.2, -1.2)
    assert told.startswith("2 frames behind a filter landed 1.2 stops above or below the short")
