"""Lessons: losses first, nothing that needs nothing, and counts that add up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from auditor.advise.lessons import draw_lessons
from auditor.figures.frame import unjudged_frame
from auditor.light.filters import nearest_marking
from auditor.model.audit import Bracket, FrameResult, Lesson, Patch, SiblingPair, SkyBalance
from auditor.model.errors import FrameFailure
from auditor.model.facts import FileFacts
from auditor.model.findings import Finding
from auditor.model.grouping import Grouping
from auditor.words.kinds import KINDS
from tests.judge_maker import card_file


def frame(number: int, code: str, value: float | None = None, **known: object) -> FrameResult:
    kind = KINDS[code]
    result = unjudged_frame(card_file(f"{number}.DNG"), FileFacts(), "measured")
    told = Finding(code, kind.severity, "", value, channel="R")
    return replace(result, findings=(told,), **known)  # type: ignore[arg-type]


def drawn(frames: Sequence[FrameResult], grouping: Grouping | None = None) -> tuple[Lesson, ...]:
    return draw_lessons({one.id: one for one in frames}, grouping or Grouping())


def lesson(code: str, *values: float, grouping: Grouping | None = None) -> str:
    frames = [frame(number, code, value) for number, value in enumerate(values)]
    (told,) = drawn(frames, grouping)
    return told.text


def blown(number: int, share: float, *, everywhere: float = 0.0) -> FrameResult:
    patch = Patch(share, (0.5, 0.5), (0.4, 0.4, 0.6, 0.6))
    return frame(
        number, "blown-area", share, verdict="blown", blown_fraction=1.2 * share,
        blown_all_fraction=everywhere, largest_blown_area=patch,
    )  # fmt: skip


def pair(long: str, filter_stops: float, known: str | None = None) -> SiblingPair:
    marking = nearest_marking(filter_stops)
    return SiblingPair(
        "s1", "short", long, 0.0, filter_stops, {}, {}, None, marking,
        filter_stops - marking.stops, 1.0, 0.0, 0.9, (), known,
    )  # fmt: skip


def test_a_loss_goes_before_whatever_many_frames_share() -> None:
    frames = [frame(number, "headroom-left", 1.5) for number in range(40)]
    assert [told.code for told in drawn([*frames, blown(50, 0.01)])] == [
        "blown-area", "headroom-left",
    ]  # fmt: skip


@pytest.mark.parametrize(
    "code", [code for code, kind in KINDS.items() if kind.next_time.startswith("Nothing")]
)
def test_what_needs_nothing_is_no_lesson(code: str) -> None:
    assert drawn([frame(1, code, 0.1)]) == ()


def test_frames_left_aside_are_counted() -> None:
    frames = [blown(1, 0.4), blown(2, 0.01), blown(3, 0.1), blown(4, 5e-4, everywhere=4e-4)]
    bracket = Bracket("s1", (frames[2].id,), 1.0, 1.0, {}, (), ())
    (told,) = drawn(frames, Grouping(brackets=(bracket,)))
    assert told.frames == (frames[0].id, frames[1].id)
    assert told.evidence == (
        "2 of 4 frames; left aside: 1 in brackets and 1 with a small patch that may be the sun"
    )


def test_the_worst_loss_tells_the_whole_share_and_the_patch() -> None:
    (told,) = drawn([blown(1, 0.4), blown(2, 0.01)])
    assert "at worst 48.0 % of A/1.DNG is blown, 40.0 % in one patch." in told.text.replace(
        frame(1, "blown-area").id, "A/1.DNG"
    )


def test_a_sun_alone_is_no_lesson() -> None:
    assert drawn([blown(1, 5e-4, everywhere=4e-4)]) == ()


def test_each_filter_is_told_by_itself() -> None:
    longs = [f"{number}.DNG" for number in range(3)]
    pairs = tuple(
        pair(card_file(long).id, stops, known)
        for long, stops, known in zip(longs, (9.7, 9.68, 6.3), (None, None, "six"), strict=True)
    )
    text = lesson("filter-off-marking", -0.3, -0.32, 0.3, grouping=Grouping(siblings=pairs))
    assert text.startswith(
        "Your 10-stop filter holds back 9.7 stops, your filter “six” holds back 6.3 stops "
        "(3 frames)."
    )


def test_a_marking_in_thirds_is_said_as_it_is_written() -> None:
    grouping = Grouping(siblings=(pair(card_file("0.DNG").id, 17.0),))
    assert lesson("filter-off-marking", 0.33, grouping=grouping).startswith("Your 16⅔-stop filter")


def test_the_strength_of_a_missing_grad_is_told() -> None:
    skies = tuple(
        SkyBalance(card_file(f"{number}.DNG").id, 3.4, None, strength, 0.5)
        for number, strength in enumerate((2.0, 3.0))
    )
    text = lesson("sky-brighter", 3.4, 3.4, grouping=Grouping(skies=skies))
    assert text.startswith(
        "2 frames lost an end under a sky 3.4 stops above the ground; a graduated filter of "
        "2 or 3 stops would have held it back."
    )


@pytest.mark.parametrize(
    ("values", "words"),
    [((1.2, -1.2), "2 frames behind a filter landed 1.2 stops above or below their short sibl"),
     ((-0.7,), "1 frame behind a filter landed 0.7 stop below its short sibling.")],
)  # fmt: skip
def test_frames_above_and_below_their_siblings_do_not_cancel_out(
    values: tuple[float, ...], words: str
) -> None:
    assert lesson("placement-off", *values).startswith(words)


def test_one_frame_has_no_middle() -> None:
    assert lesson("headroom-left", 1.4).startswith("1 frame could have taken 1.4 stops more light.")
    assert "before the sensor does (1 frame)" in lesson("preview-early", 0.6)


def test_a_file_not_read_is_to_be_copied_again_once() -> None:
    message = "The file ends before its picture does. Copy it from the card again."
    result = replace(
        unjudged_frame(card_file(), FileFacts(), "unreadable"),
        error=FrameFailure("cut-off", message),
    )
    (told,) = drawn([result])
    assert "Copy from the card again" in told.text
    assert told.evidence == "The file ends before its picture does."


def test_only_what_another_copy_may_cure_is_to_be_copied_again() -> None:
    codes = ("internal", "unsupported", "interrupted", "input-error", "cut-off", "cut-off")
    told = drawn(
        [
            replace(
                unjudged_frame(card_file(f"{number}.DNG"), FileFacts(), "unreadable"),
                error=FrameFailure(code, "It is so."),
            )
            for number, code in enumerate(codes)
        ]
    )
    assert [lesson.text.partition(" could not be")[0] for lesson in told] == [
        "3 files", "1 file", "1 file",
    ]  # fmt: skip
    assert ["from the card" in lesson.text for lesson in told] == [True, False, False]
    assert "fault of this program" in told[2].text
    assert sum(len(lesson.frames) for lesson in told) == len(codes) - 1, "not reached is not lost"


def test_shares_count_measured_frames_and_each_copy_once() -> None:
    first, other, lost = (frame(number, "headroom-left", 1.5) for number in range(3))
    copy = replace(first, id="2:0.DNG", also_at=(first.id,))
    first = replace(first, also_at=(copy.id,))
    lost = replace(lost, findings=(), status="unreadable")
    told = next(one for one in drawn([first, other, copy, lost]) if one.code == "headroom-left")
    assert told.evidence.startswith("2 of 2 frames")
    assert copy.id not in told.frames


def test_what_can_be_acted_on_goes_before_what_more_frames_show() -> None:
    many = [frame(number, "hot-pixels", 30.0) for number in range(4)]
    codes = [told.code for told in drawn([*many, frame(9, "headroom-left", 1.5)])]
    assert codes == ["headroom-left", "hot-pixels"]
