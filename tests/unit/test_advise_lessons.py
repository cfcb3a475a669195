"""The lines that end an audit: their order, their figures, and what takes none."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from auditor.advise.filters import filter_verdicts
from auditor.figures.frame import unjudged_frame
from auditor.light.filters import nearest_marking
from auditor.model.advice import GradAdvice, NextTime
from auditor.model.audit import Bracket, FrameResult, Grad, Lesson, Setup, SiblingPair, SkyBalance
from auditor.model.codes import FrameStatus, GradKind, Loss, TimeSource, Verdict
from auditor.model.errors import FrameFailure
from auditor.model.facts import ExposureFacts, FileFacts
from auditor.model.findings import Finding
from auditor.model.grouping import Grouping
from auditor.model.remark import RemarkCode, remark
from auditor.words.kinds import KINDS
from tests.judge_maker import card_file
from tests.told import draw_lessons

START = datetime(2031, 9, 14, 19, 0, 0, tzinfo=UTC)


def frame(
    number: int, code: str = "", value: float | None = None, *, time_s: float = 0.25,
    at_s: float | None = None,
) -> FrameResult:  # fmt: skip
    result = unjudged_frame(card_file(f"{number}.DNG"), FileFacts())
    at = START + timedelta(seconds=1000.0 * number if at_s is None else at_s)
    told = (Finding(code, KINDS[code].severity, "Said.", value, channel="R"),) if code else ()
    return replace(
        result, findings=told, captured_at=at.isoformat(), verdict=Verdict.HELD, loss=Loss.NONE,
        exposure=ExposureFacts(time_s, TimeSource.APEX, time_s, 11.0, 100.0),
    )  # fmt: skip


def blown(
    number: int, share: float, everywhere: float, *, time_s: float = 0.25, at_s: float | None = None
) -> FrameResult:
    grade = "all channels" if everywhere >= 1e-3 else "channel"
    return replace(
        frame(number, time_s=time_s, at_s=at_s),
        verdict=Verdict.BLOWN, loss=Loss(grade), blown_fraction=share,
        blown_all_fraction=everywhere,
    )  # fmt: skip


def drawn(frames: Sequence[FrameResult], grouping: Grouping | None = None) -> tuple[Lesson, ...]:
    given = grouping or Grouping()
    filters = filter_verdicts(given.siblings)
    return draw_lessons({one.id: one for one in frames}, given, filters)


def pair(
    long: int, stops: float, *, placed: float = 0.0, matched_s: float | None = 25.0,
    cast: float = 0.0,
) -> SiblingPair:  # fmt: skip
    marking = nearest_marking(stops)
    return SiblingPair(
        "S01", "0.DNG", f"{long}.DNG", 0.0, stops, {"G": stops}, {"R": cast, "B": -cast}, None,
        marking, stops - marking.stops, matched_s, placed, 0.9, (),
    )  # fmt: skip


def advice(number: int, change: float) -> NextTime:
    return NextTime(
        time_s=2.0 ** round(change), f_number=11.0, iso=100.0, frame=f"{number}.DNG",
        change_stops=change, headroom_stops=1 / 3,
    )  # fmt: skip


def test_the_lines_stand_in_their_order() -> None:
    """Lost, filters, the frame that did not match, exposure, preview; the rest has no room."""
    frames = [
        frame(0, "preview-early", 0.6), blown(1, 0.3, 0.2),
        frame(2, "placement-off", -1.1, time_s=13.0), frame(3, "tripod-moved", 40.0),
    ]  # fmt: skip
    grouping = Grouping(
        setups=(Setup("S01", ("0.DNG",), None, 24.0, (None,), next_time=advice(0, 0.0)),),
        siblings=(pair(2, 9.7, placed=-1.1),),
    )
    told = drawn(frames, grouping)
    assert [one.code for one in told] == [
        "blown-area", "filter-off-marking", "placement-off", "headroom-left", "preview-early",
    ]  # fmt: skip
    assert drawn([frame(3, "tripod-moved", 40.0)])[0].text == "3.DNG: Said."


def test_damage_goes_before_all_while_the_card_is_there() -> None:
    told = drawn([blown(1, 0.3, 0.2), frame(2, "damaged-data", 0.1)])
    assert [one.code for one in told] == ["damaged-data", "blown-area"]


def test_what_was_lost_for_good_is_named_with_its_shares() -> None:
    (told,) = drawn([
        blown(1, 0.45, 0.223), blown(2, 0.012, 1e-4),
        replace(frame(3), verdict=Verdict.BLOCKED, blocked_fraction=0.028),
    ])  # fmt: skip
    assert told.text == (
        "Highlights are lost in every channel of 1.DNG (22.3 % of the frame). "
        "An area is blown, not in every channel, in 2.DNG (1.2 %, one channel): it may be "
        "rebuilt. Shadows are under the noise floor in 3.DNG (2.8 % of the frame)."
    )
    assert told.evidence == "3 of 3 frames"


@pytest.mark.parametrize("loss", ["glints", "patch", "none"])
def test_glitter_and_small_patches_take_no_line(loss: str) -> None:
    assert drawn([replace(frame(1), loss=Loss(loss), blown_fraction=9e-4)]) == ()


def test_a_mistake_put_right_at_once_takes_no_line() -> None:
    lost, again = blown(1, 0.45, 0.2, at_s=0.0, time_s=1.0), frame(2, at_s=15.0)
    assert drawn([lost, again]) == ()
    late = frame(2, at_s=600.0)
    assert [one.code for one in drawn([lost, late])] == ["blown-area"]
    dark = replace(frame(3, at_s=0.0), verdict=Verdict.BLOCKED, blocked_fraction=0.05)
    setup = Setup("S01", (dark.id, again.id), None, 24.0, (None, None))
    assert drawn([dark, again], Grouping(setups=(setup,))) == ()
    assert drawn([dark, again]) != (), "another set-up holds nothing of this one"


def test_the_frames_of_a_bracket_are_meant() -> None:
    lost = blown(1, 0.45, 0.2)
    bracket = Bracket("S01", (lost.id,), 1.0, 1.0, {}, (), ())
    assert drawn([lost], Grouping(brackets=(bracket,))) == ()


def test_each_filter_is_told_once_over_its_pairs_and_the_grad_with_them() -> None:
    pairs = [pair(1, 9.69), pair(2, 9.71), pair(3, 6.2, cast=-0.12), pair(4, 16.99)]
    grad = Grad("S01", "0.DNG", "5.DNG", 0.36, 3.001, 0.2)
    (told,) = drawn([frame(n) for n in range(6)], Grouping(siblings=tuple(pairs), grads=(grad,)))
    assert told.text == (
        "Your 6-stop filter measures 6.2 stops, warm; the 10-stop filter 9.7 stops; "
        "the 16⅔-stop filter 17.0 stops: calculate with these figures. "
        "The grad of 5.DNG (1/4 s) measures 3.0 stops, its edge 36 % from the top."
    )
    assert told.evidence == "4 pairs and 1 graduated filter"


@pytest.mark.parametrize(
    ("stops", "over", "with_it", "advised", "words"),
    [(3.0, 2.0, -0.9, 1.0, "measures 3.0 stops, 2 stops too strong: it left the sky 0.9 stop "
      "darker than the foreground; a 1-stop (0.3) soft grad leaves it about a stop brighter."),
     (1.0, 4.1, None, 3.0, "measures 1.0 stop, 2 stops too weak: the sky is 4.1 stops brighter "
      "than the foreground without it; a 3-stop (0.9) soft grad leaves it about a stop "
      "brighter."),
     (2.0, 0.9, -1.1, None, "2 stops too strong: it left the sky 1.1 stops darker than the "
      "foreground; none was needed."),
     (3.0, 4.0, 1.0, 3.0, "measures 3.0 stops, its edge 36 % from the top.")],
)  # fmt: skip
def test_a_grad_that_did_not_fit_is_told_with_what_would_have(
    stops: float, over: float, with_it: float | None, advised: float | None, words: str
) -> None:
    named = advised and GradAdvice(
        stops=advised, density=0.3 * advised, kind=GradKind.SOFT, edge_at=0.4
    )
    setup = Setup(
        "S01", ("0.DNG", "1.DNG"), None, 24.0, (None, None),
        next_time=replace(advice(1, 0.0), grad=named or None),
    )  # fmt: skip
    grouping = Grouping(
        setups=(setup,), grads=(Grad("S01", "0.DNG", "1.DNG", 0.36, stops, 0.2),),
        skies=(
            SkyBalance("0.DNG", over, horizon_at=0.4),
            SkyBalance("1.DNG", with_it, horizon_at=0.4),
        ),
    )  # fmt: skip
    told = drawn([frame(0), frame(1)], grouping)[0].text
    assert told.endswith(words)
    untold = replace(grouping, skies=(SkyBalance("0.DNG", over, horizon_at=0.4, at_least=True),))
    assert "too" not in drawn([frame(0), frame(1)], untold)[0].text, "the least it can be"


def test_one_verdict_a_filter_where_its_pairs_scatter_round_the_limit_of_a_cast() -> None:
    pairs = [pair(n, 9.7, cast=cast) for n, cast in enumerate((0.11, 0.12, 0.08, 0.11), 1)]
    (verdict,) = filter_verdicts(pairs)
    assert (verdict.pairs, verdict.cast) == (4, "cool")
    assert verdict.cast_stops == {"R": 0.11, "B": -0.11}
    assert len(filter_verdicts([pair(1, 9.4), pair(2, 9.7)])) == 1
    assert len(filter_verdicts([pair(1, 9.3), pair(2, 9.7)])) == 2
    for confidence, verdicts in ((0.4, 0), (0.6, 1)):
        told = filter_verdicts([replace(pair(1, 9.7), confidence=confidence)])
        assert len(told) == verdicts


def test_the_frame_that_missed_most_is_told_with_the_time_that_would_have_matched() -> None:
    frames = [frame(1, "placement-off", -0.6), frame(2, "placement-off", 1.1, time_s=13.0)]
    pairs = (pair(1, 9.7, placed=-0.6), pair(2, 9.7, placed=1.1))
    told = next(
        one for one in drawn(frames, Grouping(siblings=pairs)) if one.code == "placement-off"
    )
    assert told.text == (
        "2.DNG (13 s, 10-stop filter) came out 1.1 stops brighter than 0.DNG: 25 s would have "
        "matched. Also 1.DNG (0.6 stop darker)."
    )


def test_frames_behind_one_grad_at_one_height_are_told_once() -> None:
    def text(edge: float, stops: float) -> str:
        grads = (Grad("S01", "0.DNG", "1.DNG", 0.36, 2.0, 0.2),
                 Grad("S01", "0.DNG", "2.DNG", edge, stops, 0.2))  # fmt: skip
        return drawn([frame(n) for n in range(3)], Grouping(grads=grads))[0].text

    assert text(0.40, 2.2) == (
        "The grad of 1.DNG and 2.DNG measures 2.0 stops, its edge 36 % from the top."
    )
    for moved in ((0.42, 2.0), (0.42, 2.2), (0.36, 2.9)):
        assert text(*moved).count("The grad of") == 2


def test_a_filtered_frame_that_was_tried_again_at_once_and_matched_takes_no_line() -> None:
    first = frame(1, "placement-off", -1.1, time_s=13.0, at_s=0.0)

    def told(at_s: float, stops: float = 9.7, code: str = "") -> list[str]:
        second = frame(2, code, -0.6, time_s=30.0, at_s=at_s)
        pairs = (pair(1, 9.7, placed=-1.1), pair(2, stops, placed=-0.2))
        found = drawn([first, second], Grouping(siblings=pairs))
        return [name for one in found if one.code == "placement-off" for name in one.frames]

    assert told(40.0) == []
    assert told(300.0) == told(40.0, 6.2) == ["1.DNG"], "much later, or behind another filter"
    assert told(40.0, code="placement-off") == ["1.DNG", "2.DNG"]


def test_the_exposure_habit_counts_set_ups_and_says_which_were_off_by_how_much() -> None:
    setups = tuple(
        Setup(f"S0{n}", (f"{n}.DNG",), None, 24.0, (None,), next_time=advice(n, change))
        for n, change in enumerate((0.0, 1.0, 0.33), 1)
    )
    spare = replace(frame(4, "headroom-left", 1.5), headroom_stops=1.5)
    grouping = Grouping(setups=setups, siblings=(pair(4, 9.7),))
    short = replace(frame(0), headroom_stops=1.0)
    told = next(one for one in drawn([short, spare], grouping) if one.code == "headroom-left")
    assert told.text == (
        "Exposure without a filter was within a third of a stop in 2 of 3 set-ups. Next time: "
        "1.0 stop more in set-up 2 (2 s). 1 of 1 frame behind filters could take 1.5 stops more: "
        "smoothed water clips later."
    )
    assert told.frames == ("2.DNG", "4.DNG")
    alike = replace(short, headroom_stops=1.1)
    for other, placed in ((alike, 0.0), (short, -0.5)):
        paired = replace(grouping, siblings=(pair(4, 9.7, placed=placed),))
        text = next(one.text for one in drawn([other, spare], paired) if "within" in one.text)
        assert "behind filters" not in text, "the short one is as dark; not matched"
    blown_too = replace(blown(3, 0.3, 0.2), id="3.DNG")
    joint = tuple(replace(one, next_time=replace(one.next_time, joint=one.frames))
                  for one in setups if one.next_time)  # fmt: skip
    text = drawn([blown_too], replace(grouping, setups=joint, siblings=()))[1].text
    assert text.startswith("Exposure without a filter was within a third of a stop in 1 of 3")


def habit(*advices: NextTime) -> str:
    setups = tuple(
        Setup(f"S0{n}", (f"{n}.DNG",), None, 24.0, (None,), next_time=one)
        for n, one in enumerate(advices, 1)
    )
    told = drawn([frame(n) for n in range(1, 4)], Grouping(setups=setups))
    return told[0].text if told else ""


def test_where_no_set_up_was_placed_right_only_the_change_is_told() -> None:
    lost = remark(RemarkCode.ALL_LOST, frame="1.DNG", time_s=1.0, frames=1)
    assert habit(replace(advice(1, -1.0), remarks=(lost,))) == (
        "Next time: at least 1.0 stop less in set-up 1 (0.5 s)."
    )
    opened = remark(RemarkCode.WIDER, f_number=8.0, before=11.0)
    raised = remark(RemarkCode.HIGHER_ISO, iso=200.0)
    other = replace(advice(1, 2.0), f_number=8.0, iso=200.0, remarks=(opened, raised))
    assert habit(other) == "Next time: 2.0 stops more in set-up 1 (4 s, f/8, ISO 200)."
    assert habit(advice(1, 0.0), advice(2, 0.0)).endswith("a third of a stop in both set-ups.")
    assert habit(advice(1, 0.0)) == "Exposure without a filter was within a third of a stop."


def test_where_the_dial_ends_nothing_is_praised() -> None:
    setup = Setup(
        "S01", ("1.DNG",), None, 24.0, (None,),
        next_time=replace(advice(1, 0.0), headroom_stops=1.1),
    )  # fmt: skip
    assert drawn([frame(1)], Grouping(setups=(setup,))) == ()


def test_a_high_iso_on_a_tripod_is_told_with_what_the_base_would_take() -> None:
    lower = remark(RemarkCode.LOWER_ISO, iso=100.0, before=1600.0)
    told = habit(replace(advice(1, 0.0), remarks=(lower,)), advice(2, 0.0))
    assert told.endswith(
        " ISO 1600 in 1 of 2 set-ups: at ISO 100 the sensor takes 4.0 stops more light."
    )
    third = remark(RemarkCode.LOWER_ISO, iso=100.0, before=125.0)
    assert "ISO" not in habit(replace(advice(1, 0.0), remarks=(third,)))


def test_a_filter_that_no_pair_measured_well_has_no_verdict() -> None:
    """Two filtered frames of one set-up, no unfiltered one: their difference is no filter."""
    assert filter_verdicts([replace(pair(1, 3.6), confidence=0.36)]) == ()
    (verdict,) = filter_verdicts([pair(1, 9.7), replace(pair(2, 9.5), confidence=0.36)])
    assert (verdict.stops, verdict.pairs) == (9.7, 2)


def test_the_preview_is_told_with_its_spread_and_what_it_hid() -> None:
    told = drawn([frame(n, "preview-early", v) for n, v in enumerate((0.5, 0.6, 1.5))])[0].text
    assert told.startswith(
        "The preview clips 0.6 stop before the raw data (median of 3 frames, 0.5 to 1.5 stops)"
    )
    assert "It hid blown highlights in 1.DNG." in drawn([frame(1, "preview-hides", 0.1)])[0].text


def test_copies_count_once() -> None:
    first = replace(blown(1, 0.4, 0.2), also_at=("2:1.DNG",))
    copy = replace(first, id="2:1.DNG", also_at=(first.id,))
    (told,) = drawn([first, copy])
    assert told.evidence == "1 of 1 frame"


@pytest.mark.parametrize("code", ["copy-elsewhere", "noise-unknown", "blown-points", "dark-frame"])
def test_what_needs_nothing_is_no_lesson(code: str) -> None:
    assert drawn([frame(1, code, 0.1)]) == ()


def test_a_file_not_read_is_to_be_copied_again_once() -> None:
    message = "The file ends before its picture does. Copy it from the card again."
    result = replace(
        unjudged_frame(card_file(), FileFacts(), FrameStatus.UNREADABLE),
        error=FrameFailure("cut-off", message),
    )
    (told,) = drawn([result])
    assert "Copy from the card again" in told.text
    assert told.evidence == "The file ends before its picture does."
    (told,) = drawn([result, replace(result, id="2.DNG")])
    assert told.evidence == "The file ends before its picture does."
    empty = FrameFailure("empty", "It holds no bytes.")
    other = replace(result, id="2.DNG", error=empty)
    (told,) = drawn([other, result, replace(result, id="3.DNG")])
    assert told.evidence == (
        "2 files: The file ends before its picture does. 1 file: The file holds no bytes."
    )


def test_only_what_another_copy_may_cure_is_to_be_copied_again() -> None:
    codes = ("internal", "unsupported", "interrupted", "input-error", "cut-off", "cut-off")
    told = drawn(
        [
            replace(
                unjudged_frame(card_file(f"{number}.DNG"), FileFacts(), FrameStatus.UNREADABLE),
                error=FrameFailure(code, "It is so."),
            )
            for number, code in enumerate(codes)
        ]
    )
    assert [lesson.text.partition(" could not be")[0] for lesson in told] == [
        "3 files (3.DNG, 4.DNG and 5.DNG)", "1.DNG", "0.DNG",
    ]  # fmt: skip
    assert ["from the card" in lesson.text for lesson in told] == [True, False, False]
    assert "fault of this program" in told[2].text
    assert sum(len(lesson.frames) for lesson in told) == len(codes) - 1, "not reached is not lost"
