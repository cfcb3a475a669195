"""The order of frames and a clock that is set in the middle of a trip."""

from __future__ import annotations

from dataclasses import replace

import pytest

from auditor.group.shots import Shot, by_body, closing_stamps, counter_of, follows, gap_s
from auditor.group.tile_image import tile_image
from auditor.model.facts import CameraFacts
from tests.shoot_maker import EVENING, Shoot


def ordered(shoot: Shoot) -> list[list[Shot]]:
    return by_body((frame, tile_image(frame)) for frame in shoot.frames)


def numbered(*frames: tuple[int, float | None], folder: str = "100BRACK") -> Shoot:
    """Make dark frames by (number, second on the clock)."""
    shoot = Shoot()
    for number, clock_s in frames:
        name = f"DCIM/{folder}/BRK_{number:04d}.DNG"
        shoot.take(None, 0.0, name=name, clock_s=clock_s, clock=clock_s is not None)
    return shoot


def numbers(shots: list[Shot]) -> list[int]:
    return [shot.counter[1] for shot in shots if shot.counter is not None]


def seconds(shots: list[Shot]) -> list[float]:
    first = shots[0].start_s
    assert first is not None
    return [round(shot.start_s - first, 3) for shot in shots if shot.start_s is not None]


@pytest.mark.parametrize(
    ("file", "counter"),
    [
        ("DCIM/100BRACK/BRK_0017.DNG", ("BRK_", 17)),
        ("_DSC9999.dng", ("_DSC", 9999)),
        ("evening 12.dng", None),
        ("no number.dng", None),
    ],
)
def test_the_camera_counts_in_the_name(file: str, counter: tuple[str, int] | None) -> None:
    assert counter_of(file) == counter


def test_counts_follow_each_other_over_the_roll_over_too() -> None:
    assert follows(("A", 1), ("A", 2))
    assert follows(("A", 9999), ("A", 1))
    assert not follows(("A", 2), ("A", 1))
    assert not follows(("A", 1), ("B", 2))
    assert not follows(None, ("B", 2))


def stamped(*frames: tuple[float, float]) -> list[float]:
    """Starts of frames given as (stamp, shutter time)."""
    shoot = Shoot()
    for stamp_s, time_s in frames:
        shoot.take(None, stamp_s, time_s)
    late = closing_stamps([f.source for f in shoot.frames], {f.id: f.facts for f in shoot.frames})
    told = [
        replace(f.facts, exposure=replace(f.facts.exposure, stamp_at_end=f.id in late))
        for f in shoot.frames
    ]
    return [(facts.start_s or 0.0) - EVENING.timestamp() for facts in told]


def test_stamps_that_would_let_exposures_overlap_are_the_shutters_closing() -> None:
    # a minute, and the next frame closes five seconds after it
    assert stamped((60.0, 60.0), (65.0, 0.5), (130.0, 60.0)) == [0.0, 64.5, 70.0]


def test_stamps_at_the_opening_stay() -> None:
    assert stamped((0.0, 60.0), (62.0, 0.5), (70.0, 60.0)) == [0.0, 62.0, 70.0]


def test_stamps_that_fit_neither_way_stay() -> None:
    assert stamped((0.0, 60.0), (5.0, 0.5), (8.0, 60.0)) == [0.0, 5.0, 8.0]


def test_frames_are_put_in_order_of_time() -> None:
    (shots,) = ordered(numbered((3, 20.0), (1, 0.0), (2, 10.0)))
    assert numbers(shots) == [1, 2, 3]
    assert gap_s(shots[0], shots[1]) == pytest.approx(10.0 - 0.125)


def test_a_clock_set_back_by_an_hour_is_undone() -> None:
    (shots,) = ordered(numbered((1, 4000.0), (2, 4010.0), (3, 420.0), (4, 440.0)))
    assert numbers(shots) == [1, 2, 3, 4]
    assert seconds(shots) == pytest.approx([0.0, 10.0, 15.125, 35.125])
    assert [shot.clock_was_set for shot in shots] == [False, False, True, False]


def test_names_that_do_not_follow_leave_the_clock_alone() -> None:
    (shots,) = ordered(numbered((1, 4000.0), (7, 420.0), (8, 440.0)))
    assert numbers(shots) == [7, 8, 1]
    assert not any(shot.clock_was_set for shot in shots)


def test_a_counter_that_rolls_over_in_one_folder_is_no_clock_set_back() -> None:
    (shots,) = ordered(numbered((1, 120.0), (2, 130.0), (9998, 100.0), (9999, 110.0)))
    assert numbers(shots) == [9998, 9999, 1, 2]
    assert not any(shot.clock_was_set for shot in shots)


def test_frames_without_a_clock_stay_where_their_names_put_them() -> None:
    (shots,) = ordered(numbered((2, None), (10, None), (1, 0.0), (3, 50.0)))
    assert numbers(shots) == [1, 2, 3, 10]


def test_two_bodies_are_two_lists_and_a_nameless_frame_joins_the_only_one() -> None:
    shoot = numbered((1, 0.0))
    shoot.take(None, 5.0, camera=CameraFacts(), name="DCIM/100BRACK/BRK_0002.DNG")
    assert [numbers(shots) for shots in ordered(shoot)] == [[1, 2]]
    shoot.take(None, 7.0, camera=CameraFacts("Brackwell", "Brackwell F24"), name="F_0001.DNG")
    assert sorted(len(shots) for shots in ordered(shoot)) == [1, 1, 1]


def test_hostile_names_sort_and_do_no_harm() -> None:
    shoot = Shoot()
    for name in ("²x.dng", "1²3.dng", "a" + "9" * 200 + ".dng", "../../x.dng", "٣٤٥.dng"):
        shoot.take(None, 0.0, name=name)
    (shots,) = ordered(shoot)
    assert len(shots) == 5
