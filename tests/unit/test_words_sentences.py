"""Sentences about previews, brackets, filters and whole shoots say what was found, no more."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from auditor.findings.base import ShootView
from auditor.group.pair_findings import (
    find_filter_off_marking,
    find_light_changed,
    find_placement_off,
)
from auditor.group.set_findings import find_bracket_gap, find_tripod_moved
from auditor.light.filters import nearest_marking
from auditor.model.audit import Bracket, PreviewStory, Setup, SiblingPair
from auditor.model.codes import LevelSource
from auditor.model.findings import Finding
from auditor.model.grouping import Grouping
from auditor.model.measurement import Level, PreviewMeasurement
from auditor.model.remark import Doubt, PairDoubt, RemarkCode, remark
from auditor.model.settings import JudgeSettings, Settings
from auditor.words.findings import with_words
from auditor.words.pairs import density_words, doubt_sentence
from tests.judge_maker import card_file, measured_mono, settled
from tests.told import judge_frame

LEVEL = Level(15800, 15794, LevelSource.MEASURED)
PREVIEW = PreviewMeasurement(160, 120, 0.02, 0.0, {}, {}, {})


def preview_told(preview: PreviewMeasurement, level: Level = LEVEL) -> PreviewStory:
    frame = replace(measured_mono(np.full((240, 240), 4000)), preview=preview)
    story = judge_frame(card_file(), settled(frame, (level,)), JudgeSettings()).preview
    assert story is not None
    return story


def preview_text(preview: PreviewMeasurement) -> str:
    return preview_told(preview).text


def test_a_preview_is_not_held_against_a_level_that_may_be_another() -> None:
    claimed = replace(LEVEL, source=LevelSource.METADATA)
    preview = replace(PREVIEW, clip_signal_dn={"G": 7644.0})
    assert preview_told(preview, claimed).early_by_channel_stops == pytest.approx(
        {"G": 1.0}, abs=0.1
    )
    doubted = preview_told(preview, replace(claimed, may_clip=True))
    assert (doubted.early_by_channel_stops, doubted.early_stops) == ({}, None)
    assert doubted.text.endswith("where the sensor clips is unsure, so the two are not compared.")


def test_the_preview_tells_why_it_tells_nothing() -> None:
    note = "The preview could not be laid over the raw data."
    apart = remark(RemarkCode.NOT_LAID_OVER)
    assert preview_text(PREVIEW).endswith("nothing in the picture tells where it clips.")
    assert preview_text(replace(PREVIEW, remarks=(apart,))).endswith(note)


def test_what_was_left_out_of_a_preview_that_tells_is_said() -> None:
    note = "Black bars of the preview are left out."
    bars = remark(RemarkCode.BARS_LEFT_OUT)
    told = preview_text(replace(PREVIEW, clip_signal_dn={"G": 7644.0}, remarks=(bars,)))
    assert told.endswith(f"it clips G 1.0 stop before the sensor does. {note}")


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
    ((frame, told),) = find_bracket_gap(view)
    told = with_words(told)
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
    ((_, told),) = find_filter_off_marking(view)
    told = with_words(told)
    assert "than the nearest marking, 16⅔ stops, density 5.0, ×100000." in told.text


def test_a_filter_is_told_over_the_picture() -> None:
    even = ((6.2,) * 12,) * 8
    assert (
        density_words(even)
        == "6.2 stops in the middle, 6.2 in the corners; nine tenths of the picture at 6.2."
    )
    darker = [[6.0 + (abs(x - 5.5) > 2.75 and abs(y - 3.5) > 1.75) for x in range(12)]
              for y in range(8)]  # fmt: skip
    ends = "nine tenths of the picture from 6.0 to 7.0."
    assert density_words(darker) == f"6.0 stops in the middle, 7.0 in the corners; {ends}"
    side: list[list[float | None]] = [
        [None] * 4,
        [None, None, None, 5.0],
        [None, None, None, 5.0],
        [None] * 4,
    ]
    assert density_words(side) == "Nine tenths of the picture at 5.0 stops."
    assert density_words(((None, None),)) == ""
    assert density_words(()) == ""


def test_the_light_of_a_pair_is_told_in_order_of_time() -> None:
    moved = replace(pair(6.0), light_drift_stops=0.6)
    for frames, words in (
        (("short", "long"), "The light rose by 0.6 stop from short to this frame."),
        (("long", "short"), "The light fell by 0.6 stop from this frame to short."),
    ):
        setup = Setup("s1", frames, None, None, (None, None))
        view = ShootView({}, Grouping(setups=(setup,), siblings=(moved,)), Settings())
        ((frame, told),) = find_light_changed(view)
        told = with_words(told)
        assert (frame, told.text, told.value) == ("long", words, 0.6)


def shifted(*steps: tuple[float, float], errors: tuple[float, ...]) -> list[tuple[str, Finding]]:
    names = tuple("abc"[: len(steps)])
    setup = Setup("s1", names, None, None, steps, shift_error_px=errors)
    return list(find_tripod_moved(ShootView({}, Grouping(setups=(setup,)), Settings())))


def test_a_shift_has_a_true_minus_sign_and_one_unit() -> None:
    ((_, told),) = shifted((0.0, 0.0), (-24.2, 3.4), errors=(0.0, 2.0))
    told = with_words(told)
    words = "Shifted by −24 px across and +3 px down (± 2 px) against the frame before."
    assert told.text == words


@pytest.mark.parametrize(
    ("errors", "told"),
    [
        ((0.0, 2.0, 2.0), ["b", "c"]), ((0.0, 5.4, 1.0), []), ((0.0, 4.8, 4.8), ["b"]),
        ((0.0, 3.6, 3.6), ["b"]), ((0.0, 3.2, 3.2), ["b", "c"]),
    ],
    ids=str,
)  # fmt: skip
def test_a_shift_is_told_beyond_four_times_its_error(
    errors: tuple[float, ...], told: list[str]
) -> None:
    """Near the noise floor a shift is less sure, and so are both steps to and from it."""
    found = shifted((0.0, 0.0), (-20.0, 3.4), (-1.0, 0.5), errors=errors)
    assert [frame for frame, _ in found] == told


def test_a_shift_told_on_patches_has_tenths() -> None:
    ((_, told),) = shifted((0.0, 0.0), (-2.34, 0.02), errors=(0.0, 0.04))
    words = "Shifted by −2.3 px across and 0.0 px down (± 0.04 px) against the frame before."
    assert with_words(told).text == words


@pytest.mark.parametrize(("step", "told"), [(0.9, False), (1.1, True)])
def test_less_than_a_pixel_is_no_shift(step: float, told: bool) -> None:
    assert bool(shifted((0.0, 0.0), (0.0, step), errors=(0.0, 0.1))) == told


@pytest.mark.parametrize(
    ("matched_s", "words"),
    [(31.0, "; 30 s would have matched."), (None, "; no shutter time would have matched,")],
)
def test_a_frame_placed_off_tells_the_dials_time_or_that_none_would_do(
    matched_s: float | None, words: str
) -> None:
    off = replace(pair(6.0), matched_time_s=matched_s, placement_difference_stops=-0.8)
    ((_, told),) = find_placement_off(ShootView({}, Grouping(siblings=(off,)), Settings()))
    told = with_words(told)
    assert words in told.text


@pytest.mark.parametrize(
    ("value", "said"), [(0.0, "open for a second or more"), (5.5, "5.50 stops darker")]
)
def test_a_short_frame_perhaps_filtered_is_told_by_what_is_known(value: float, said: str) -> None:
    text = doubt_sentence(PairDoubt(code=Doubt.SHORT_FILTERED, value=value))
    assert said in text
    assert text.endswith("The figure is the difference of the two.")
