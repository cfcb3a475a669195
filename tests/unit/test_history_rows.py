from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pytest

from auditor.history.habits import find_habits
from auditor.history.rows import (
    exposure_rows,
    hot_rows,
    lower_quartile,
    preview_rows,
    sensor_rows,
    spread_of,
    staying_pixels,
)
from auditor.history.shots import Shot, gather
from auditor.history.summarise import summarise
from auditor.model.audit import Audit, Bracket, FrameResult, LightPoint, PreviewStory
from auditor.model.codes import FrameStatus, LevelSource, Verdict
from auditor.model.errors import FrameFailure
from auditor.model.facts import CameraFacts
from auditor.model.history import Habit, History, PreviewRow
from auditor.model.settings import JudgeSettings
from auditor.report.history_tables import single_rows
from auditor.words.cautions import FILTERS_AND_EYES
from auditor.words.history import habit_with_words, history_with_words, thirds_text
from tests.evenings import SANDS, ZONE, audit_of, frame_at, lost

NOON = datetime(2031, 9, 14, 12, tzinfo=ZONE)


def frames(count: int, *, spare: float = 0.5, start: datetime = NOON) -> list[FrameResult]:
    return [
        frame_at(f"S{place}.dng", start + timedelta(seconds=10 * place), spare=spare)
        for place in range(count)
    ]


def told_history(audits: Iterable[Audit]) -> History:
    return history_with_words(summarise(audits))


def told_habits(*given: Any) -> list[Habit]:
    return list(map(habit_with_words, find_habits(*given)))


def shots(members: list[FrameResult], **known: object) -> list[Shot]:
    return [Shot(frame, 0, JudgeSettings(), **known) for frame in members]  # type: ignore[arg-type]


def test_a_spread_never_goes_without_its_count() -> None:
    told = spread_of([1.0, None, 3.0, 2.0])
    assert told is not None
    assert (told.count, told.mean, told.median, told.least, told.most) == (3, 2.0, 2.0, 1.0, 3.0)
    assert told.spread == pytest.approx(1.0)
    assert told.error == pytest.approx(3**-0.5)
    single = spread_of([4.0])
    assert single is not None
    assert (single.spread, single.error) == (None, None)
    assert spread_of([None]) is None


def test_lower_quartile() -> None:
    assert lower_quartile([5.0]) == 5.0
    assert lower_quartile([4.0, 1.0, 3.0, 2.0, 5.0]) == 2.0
    assert lower_quartile([0.0, 1.0]) == 0.25


def test_brackets_and_dark_frames_are_no_choice_of_exposure() -> None:
    members = frames(6)
    members[5] = replace(members[5], verdict=Verdict.DARK_FRAME)
    bracket = Bracket("s", ("S0.dng", "S1.dng", "S2.dng"), 2.0, 1.0, {}, (), ())
    history = told_history([audit_of(members, brackets=(bracket,))])
    assert history.exposure[0].frames == 2
    assert history.frames == 6
    assert any(": 4 frames (of brackets, or dark frames)." in note for note in history.notes)


def test_a_frame_audited_twice_counts_once_as_its_latest_audit_judged_it() -> None:
    first = audit_of(frames(4), made_at="2031-09-15T08:00:00+01:00")
    again = audit_of([lost(frame) for frame in frames(4)], made_at="2031-09-16T08:00:00+01:00")
    history = told_history([again, first])
    assert (history.frames, history.shoots) == (4, 1)
    assert history.exposure[0].lost == 4
    assert any("holds the same frames: 4 older results." in note for note in history.notes)


def test_frames_without_a_clock_are_never_taken_for_copies() -> None:
    blind = [replace(frame, captured_at=None) for frame in frames(3)]
    assert gather([audit_of(blind), audit_of(blind)]).again == 0


def test_unreadable_files_are_counted_apart() -> None:
    broken = replace(
        frames(1)[0], status=FrameStatus.UNREADABLE, error=FrameFailure("empty", "x"), channels=(),
        verdict=Verdict.UNREADABLE,
    )  # fmt: skip
    history = told_history([audit_of([*frames(2, start=NOON + timedelta(hours=1)), broken])])
    assert (history.frames, history.unreadable) == (2, 1)


def test_headings_split_by_body_lens_phase_and_filter() -> None:
    other = [
        replace(frame, camera=CameraFacts("Brackwell", "Brackwell F24", "0007"))
        for frame in frames(3)
    ]
    rows = exposure_rows([*shots(frames(5), phase="day"), *shots(other, phase="night")])
    assert rows[0].frames == 8
    assert {row.body: row.frames for row in rows if row.body and not row.lens} == {
        "Brackwell F45 0042": 5,
        "Brackwell F24 0007": 3,
    }
    assert {row.phase: row.frames for row in rows if row.phase and not row.body} == {
        "day": 5,
        "night": 3,
    }
    deepest = [row for row in rows if row.body and row.lens and row.phase]
    assert sum(row.frames for row in deepest) == 8


def test_lost_channels_are_counted_by_colour() -> None:
    members = frames(4)
    mixed = [lost(members[0]), lost(members[1], colour="G1"), *members[2:]]
    row = exposure_rows(shots(mixed))[0]
    assert (row.lost, row.lost_by_channel) == (2, {"G": 1, "R": 1})
    assert row.lost_share == 0.5
    assert row.spare is not None
    assert row.spare.count == 2


def test_the_lights_phase_is_used_where_the_audit_knew_it() -> None:
    blind = [replace(frame, position=None) for frame in frames(2)]
    told = replace(
        audit_of(blind),
        light=(LightPoint("S0.dng", blind[0].captured_at, 9.0, phase="after sunset"),),
    )
    assert [shot.phase for shot in gather([told]).shots] == ["after sunset", None]
    assert [shot.phase for shot in gather([told], SANDS).shots] == ["after sunset", "day"]


def test_a_body_of_unknown_iso_has_no_sensor_row() -> None:
    members = [replace(frame, exposure=replace(frame.exposure, iso=None)) for frame in frames(2)]
    assert sensor_rows(shots(members)) == ()


@pytest.mark.parametrize("source", ["metadata", "shoot", "history"])
def test_saturation_that_was_claimed_or_lent_is_no_measurement(source: str) -> None:
    claimed = [
        replace(
            frame,
            channels=tuple(
                replace(entry, saturation_source=LevelSource(source)) for entry in frame.channels
            ),
        )
        for frame in frames(3)
    ]
    row = sensor_rows(shots(claimed))[0]
    assert row.saturation_dn is None
    assert row.full_well_e is None
    assert row.dynamic_range_stops is None
    assert row.read_noise_dn is not None


def test_false_alarms_of_the_preview_are_those_the_raw_data_refute() -> None:
    held, gone = frames(2, spare=0.2), [lost(frame) for frame in frames(2)]
    (row,) = preview_rows(shots([*held, *gone]))
    assert (row.frames, row.false_alarms) == (4, 2)
    assert preview_rows(shots([replace(held[0], preview=None)])) == ()


def test_a_dark_frame_tells_nothing_of_the_preview() -> None:
    lit, dark = frames(2)
    (row,) = preview_rows(shots([lit, replace(dark, verdict=Verdict.DARK_FRAME)]))
    assert row.frames == 1


def test_hot_pixels_of_long_exposures_stand_apart() -> None:
    short = [replace(frame, exposure=replace(frame.exposure, time_s=0.01)) for frame in frames(2)]
    (row,) = hot_rows(shots([*short, *frames(3)]))
    assert row.per_megapixel.count == 5
    assert row.long_per_megapixel is not None
    assert row.long_per_megapixel.count == 3
    assert row.staying is None


def test_pixels_that_stay_are_hot_in_half_the_frames_of_two_shoots() -> None:
    def places(*pixels: tuple[int, int]) -> np.ndarray:
        return np.array(pixels, dtype=np.uint32).reshape(-1, 2)

    stays, leaves, rare = (3, 4), (9, 9), (1, 1)
    known = [
        (0, places(stays, leaves)), (0, places(stays, leaves)), (0, places(rare)),
        (1, places(stays, rare)), (1, places(stays)), (1, places()),
    ]  # fmt: skip
    assert staying_pixels(known) == 1
    assert staying_pixels(known[:3]) is None
    (row,) = hot_rows(shots(frames(2)), {"Brackwell F45 0042": known})
    assert row.staying == 1


def test_nothing_is_said_from_too_few_frames() -> None:
    history = told_history([audit_of(frames(5, spare=2.5))])
    assert history.habits == ()
    assert any("Habits need 8 frames" in note for note in history.notes)


def test_leaving_light_unused_everywhere_is_said_once() -> None:
    found = told_habits(shots(frames(20, spare=1.4), phase="day"), [], [])
    assert [habit.code for habit in found] == ["headroom-left"]
    assert found[0].text == ("Your frames end 1.4 stops under saturation: give one stop more.")


def test_losing_a_channel_often_is_a_habit_with_its_channel() -> None:
    members = frames(12, spare=0.3)
    mixed = [*(lost(frame) for frame in members[:5]), *members[5:]]
    found = told_habits(shots(mixed, phase="before sunset"), [], [])
    assert [habit.code for habit in found] == ["channels-lost"]
    assert "lose a channel 5 times in 12" in found[0].text
    assert "one stop less" in found[0].text
    assert "red in 5" in found[0].evidence


def test_losing_both_ends_often_asks_for_a_bracket() -> None:
    members = frames(10, spare=0.3)
    both = [*(lost(frame, verdict=Verdict.BOTH) for frame in members[:4]), *members[4:]]
    found = told_habits(shots(both), [], [])
    assert {habit.code for habit in found} == {"channels-lost", "both-ends-lost"}
    assert all(habit.caution for habit in found if habit.code == "both-ends-lost")


def test_a_preview_that_clips_late_is_a_warning() -> None:
    late = spread_of([-0.5, -0.4, -0.6] * 4)
    assert late is not None
    (found,) = told_habits([], [PreviewRow("Brackwell F24", 12, {"G": late}, 0, late)], [])
    assert found.code == "preview-late"
    assert "clips 0.5 stop after the sensor does" in found.text


def test_the_preview_is_told_as_an_audit_tells_it() -> None:
    """Red blinks 1.5 stops early, 1.0 of it by white balance: neutral green would bear 0.5.

    Red alone is told by the pictures here; to follow its 1.5 stops would blow neutral green.
    """
    story = PreviewStory(
        width=1620, height=1080, blown_fraction=0.0, blocked_fraction=0.0,
        early_by_channel_stops={"R": 1.5}, early_stops=0.5,
        by_white_balance_stops={"R": 1.0, "G": 0.0, "B": 0.6}, counts={},
    )  # fmt: skip
    members = [replace(frame, preview=story) for frame in frames(12)]
    (row,) = preview_rows(shots(members))
    assert row.neutral is not None
    assert row.neutral.mean == pytest.approx(0.5)
    (found,) = (habit for habit in told_habits([], [row], []))
    assert found.value_stops == pytest.approx(0.5)
    assert found.figures["give_stops"] == pytest.approx(1 / 3)
    assert "clips 0.5 stop before the sensor does" in found.text
    assert "a third of a stop more" in found.text
    unknown = replace(story, early_stops=None, early_by_channel_stops={})
    (silent,) = preview_rows(shots([replace(frame, preview=unknown) for frame in frames(12)]))
    assert silent.neutral is None
    assert told_habits([], [silent], []) == []


def test_a_habit_tells_what_changed_since_the_evenings_before() -> None:
    before = frames(10, spare=1.6) + frames(10, spare=1.6, start=NOON - timedelta(days=7))
    (found,) = told_habits(
        shots(before + frames(10, spare=1.2, start=NOON + timedelta(days=3))), [], []
    )
    assert (found.last, found.before) == pytest.approx((1.2, 1.6))
    assert "on the latest evening 1.2, before it 1.6" in found.evidence
    (alone,) = told_habits(shots(frames(10, spare=1.6)), [], [])
    assert (alone.last, alone.before) == (None, None)
    assert "latest evening" not in alone.evidence


def test_losses_tell_what_changed_too() -> None:
    members = frames(10, start=NOON - timedelta(days=7)) + frames(10)
    members = [*(lost(frame) for frame in members[:4]), *members[4:10],
               *(lost(frame) for frame in members[10:12]), *members[12:]]  # fmt: skip
    (found,) = [h for h in told_habits(shots(members), [], []) if h.code == "channels-lost"]
    assert (found.last, found.before) == pytest.approx((0.2, 0.4))
    assert found.evidence.endswith("On the latest evening 20 %, before it 40 %.")


def test_a_kind_that_all_frames_are_of_is_told_once() -> None:
    rows = exposure_rows(shots(frames(9)))
    assert len(rows) > 3
    assert [row.frames for row in single_rows(rows)] == [9]


@pytest.mark.parametrize(
    ("stops", "text"),
    [(1 / 3, "a third of a stop"), (2 / 3, "two thirds of a stop"), (1.0, "one stop"),
     (4 / 3, "one and a third stops"), (2.0, "two stops"), (0.0, "nothing")],
)  # fmt: skip
def test_thirds_in_words(stops: float, text: str) -> None:
    assert thirds_text(stops) == text


def test_a_kind_does_not_stand_out_by_what_its_scatter_could_make() -> None:
    """The medians lie 0.4 stop apart, but so they might by chance."""
    wild = [frame for spare in (1.2, 3.2) * 4 for frame in frames(1, spare=spare)]
    tame = [frame for spare in (1.0, 2.6) * 4 for frame in frames(1, spare=spare)]
    found = told_habits([*shots(wild, phase="night"), *shots(tame, phase="day")], [], [])
    assert [habit.text.partition(" end ")[0] for habit in found] == ["Your frames"]


def test_lost_channels_are_told_in_one_order() -> None:
    gone = [lost(lost(lost(frame), colour="B"), colour="G1") for frame in frames(8)]
    (found,) = told_habits(shots(gone), [], [])
    assert "Lost: blue in 8, green in 8, red in 8 (a frame may lose several)." in found.evidence


def test_a_stop_less_that_may_leave_a_blown_area_is_not_told_to_hold_or_not() -> None:
    left = [
        replace(
            frame,
            channels=tuple(replace(entry, blown_one_stop_less=2e-3) for entry in frame.channels),
        )
        for frame in map(lost, frames(8))
    ]
    (found,) = told_habits(shots(left), [], [])
    assert "would have held them is not known" in found.evidence
    assert "held 0" not in found.evidence
    assert "bracket, or take a graduated filter" in found.text
    assert found.caution == FILTERS_AND_EYES


def test_a_frame_lost_by_a_patch_names_its_channel() -> None:
    """A patch counts from 0.02 % on, many points from 0.5 % on; less in every channel: the most."""
    for share in (1e-3, 1e-4):
        frame = lost(frames(1)[0])
        channels = tuple(
            replace(entry, blown_fraction=share if entry.name == "B" else share / 1e3)
            for entry in frame.channels
        )
        (shot,) = shots([replace(frame, channels=channels, blown_fraction=share)])
        assert shot.lost_channels == {"B"}


def test_a_frame_that_held_lost_no_channel() -> None:
    (shot,) = shots(frames(1))
    assert shot.lost_channels == frozenset()


def test_what_some_frames_surely_held_is_told_with_what_cannot_be() -> None:
    sure = [lost(frame) for frame in frames(6)]
    unsure = [
        replace(
            frame,
            channels=tuple(replace(entry, blown_one_stop_less=2e-3) for entry in frame.channels),
        )
        for frame in map(lost, frames(2))
    ]
    (found,) = told_habits(shots([*sure, *unsure]), [], [])
    assert "would have held 6 of the 8; of the others it is not known" in found.evidence
    assert "several" not in found.evidence


def test_a_preview_told_by_one_frame_has_no_scatter() -> None:
    many, one = spread_of([-0.5, -0.4, -0.6] * 4), spread_of([-0.7])
    assert many is not None
    assert one is not None
    row = PreviewRow("unknown camera", 12, {"R": one, "G": many}, 0, many)
    (found,) = told_habits([], [row], [])
    assert "red −0.7 (1), green −0.5 ± 0.09 (12)" in found.evidence
    assert found.text.startswith("The preview of an unknown camera clips")


def test_a_single_frame_is_counted_as_one() -> None:
    dark = replace(frames(1)[0], verdict=Verdict.DARK_FRAME)
    notes = " ".join(told_history([audit_of([dark, *frames(2)[1:]])]).notes)
    assert ": 1 frame (of brackets, or dark frames)." in notes
    assert "so far: 1." in notes
