"""Which hot pixels are the sensor's own: those that stay while the view changes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from auditor.defects.lasting import MOST_LISTED, place_numbers, with_lasting_hot_pixels
from auditor.figures.frame import unjudged_frame
from auditor.model.audit import FrameResult, HotFigures, LastingHotPixels, Setup
from auditor.model.facts import CameraFacts, CardFile, ExposureFacts, FileFacts
from auditor.model.shoot import ShootFrame
from tests.memory_source import MemoryMeasurementSource

DEFECT, GLINT, OTHER = (40, 7), (41, 90), (3, 3)
Places = Sequence[tuple[int, int]]


def frame(name: str, minute: int, serial: str = "7") -> ShootFrame:
    file = CardFile(name, 0, name, name, "dng", 1, name)
    facts = FileFacts(
        camera=CameraFacts("Brackwell", "Brackwell F45", serial),
        exposure=ExposureFacts(time_s=8.0),
        captured_at=f"2031-09-14T18:{minute:02d}:00",
    )
    return ShootFrame(
        source=file, facts=facts, levels=(), noise=(), measurements=MemoryMeasurementSource({})
    )


def judged(
    frames: Sequence[ShootFrame],
    hot: Mapping[str, Places],
    *setups: Sequence[str],
    sensors: Mapping[str, str] | None = None,
) -> tuple[dict[str, FrameResult], tuple[LastingHotPixels, ...]]:
    results = {
        entry.id: replace(
            unjudged_frame(entry.source, entry.facts),
            hot_pixels=HotFigures(len(hot[entry.id]), 1.0),
        )
        for entry in frames
    }
    places = {
        name: place_numbers(np.array(pixels, dtype=np.uint32).reshape(-1, 2))
        for name, pixels in hot.items()
    }
    groups = [
        Setup(f"s{place}", tuple(names), None, None, (None,) * len(names))
        for place, names in enumerate(setups)
    ]
    own = {entry.id: "bayer 6000 × 4000, 14 bit" for entry in frames} | dict(sensors or {})
    return with_lasting_hot_pixels(results, frames, places, groups, own)


def test_frames_of_another_sensor_bear_no_witness() -> None:
    """A phone's other sensor, or a crop of this one, counts its pixels from elsewhere."""
    frames = [frame("a", 0), frame("b", 10), frame("c", 20)]
    hot = {name: [DEFECT] for name in "abc"}
    small = "bayer 4000 × 3000, 12 bit lens 4.25 mm"
    (lasting,) = judged(frames, hot, ["a"], ["b"], ["c"], sensors=dict.fromkeys("abc", small))[1]
    assert lasting.sensor == small
    assert not judged(frames, hot, ["a"], ["b"], ["c"], sensors={"a": small, "b": small})[1]


def test_a_pixel_hot_in_three_frames_of_two_views_stays() -> None:
    frames = [frame("a", 0), frame("b", 1), frame("c", 20)]
    hot = {"a": [DEFECT, OTHER], "b": [DEFECT], "c": [DEFECT]}
    results, (lasting,) = judged(frames, hot, ["a", "b"], ["c"])
    assert lasting == LastingHotPixels(
        "Brackwell F45 7", 3, 1, (DEFECT,), (3,), "bayer 6000 × 4000, 14 bit"
    )
    assert [results[name].hot_pixels for name in "abc"] == [
        HotFigures(2, 1.0, 1), HotFigures(1, 1.0, 1), HotFigures(1, 1.0, 1),
    ]  # fmt: skip


def test_a_pixel_hot_in_two_frames_may_be_two_glints() -> None:
    frames = [frame("a", 0), frame("b", 20), frame("c", 40)]
    hot = {"a": [DEFECT], "b": [DEFECT], "c": [OTHER]}
    assert judged(frames, hot, ["a"], ["b"], ["c"])[1] == ()


def test_a_glint_stands_still_only_while_the_camera_does() -> None:
    frames = [frame("a", 0), frame("b", 5), frame("c", 10), frame("d", 20)]
    hot = {"a": [GLINT], "b": [GLINT], "c": [GLINT], "d": [OTHER]}
    results, lasting = judged(frames, hot, ["a", "b", "c"], ["d"])
    assert lasting == ()
    assert all(result.hot_pixels and not result.hot_pixels.lasting for result in results.values())


def test_set_ups_within_two_minutes_may_show_one_view() -> None:
    hot = {"a": [GLINT], "b": [GLINT], "c": [GLINT]}
    knocked = [frame("a", 0), frame("b", 1), frame("c", 2)]
    assert judged(knocked, hot, ["a"], ["b", "c"])[1] == ()
    moved = [frame("a", 0), frame("b", 9), frame("c", 10)]
    assert judged(moved, hot, ["a"], ["b", "c"])[1] != ()


def test_coming_back_to_a_view_makes_no_new_one() -> None:
    frames = [frame("a", 0), frame("b", 15), frame("c", 30), frame("d", 45)]
    hot = {"a": [GLINT], "b": [], "c": [GLINT], "d": [GLINT]}
    assert judged(frames, hot, ["a", "c", "d"], ["b"])[1] == ()


def test_dark_frames_have_no_view_to_mislead() -> None:
    frames = [frame("a", 0), frame("b", 1), frame("c", 2)]
    (lasting,) = judged(frames, dict.fromkeys("abc", (DEFECT,)))[1]
    assert lasting.positions == (DEFECT,)


def test_frames_without_a_clock_are_parted_by_nothing() -> None:
    frames = [
        replace(entry, facts=replace(entry.facts, captured_at=None))
        for entry in (frame("a", 0), frame("b", 0), frame("c", 0))
    ]
    assert judged(frames, dict.fromkeys("abc", (DEFECT,)), ["a"], ["b"], ["c"])[1] == ()


def test_bodies_are_counted_apart() -> None:
    frames = [frame("a", 0), frame("b", 20), frame("c", 40, serial="8")]
    assert judged(frames, dict.fromkeys("abc", (DEFECT,)), ["a"], ["b"], ["c"])[1] == ()


def test_those_hot_most_often_come_first_and_the_list_ends() -> None:
    frames = [frame(str(number), 10 * number) for number in range(5)]
    many = [(row, 5) for row in range(MOST_LISTED + 50)]
    hot = {
        entry.id: [*many, DEFECT] if place < 3 else [DEFECT] for place, entry in enumerate(frames)
    }
    (lasting,) = judged(frames, hot, *[[entry.id] for entry in frames])[1]
    assert lasting.count == MOST_LISTED + 51
    assert len(lasting.positions) == MOST_LISTED == len(lasting.seen)
    assert (lasting.positions[0], lasting.seen[0]) == (DEFECT, 5)


def test_set_ups_are_as_far_apart_as_from_the_end_of_one_exposure_to_the_next() -> None:
    hot = {"a": [GLINT], "b": [GLINT], "c": [GLINT]}
    for time_s, told in ((90.0, False), (30.0, True)):
        first = frame("a", 0)
        facts = replace(first.facts, exposure=ExposureFacts(time_s=time_s))
        frames = [replace(first, facts=facts), frame("b", 3), frame("c", 4)]
        assert bool(judged(frames, hot, ["a"], ["b", "c"])[1]) is told
