from __future__ import annotations

import math
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest

from auditor.light.curve import light_points, middle_share
from auditor.light.exposure import GREY_SHARE
from auditor.model.audit import ChannelFigures, FrameResult, Grad
from auditor.model.codes import FrameStatus, Verdict
from tests.evenings import SANDS, ZONE, Habits, frame_at, pair_of

START = datetime(2031, 9, 14, 18, 40, tzinfo=ZONE)
GREY = -math.log2(GREY_SHARE)
START_EV = 9.0


def dusk(falls: float = -0.2, count: int = 7) -> list[FrameResult]:
    """Frames two minutes apart, each metered a bit off, in light that falls steadily."""
    frames = []
    for place in range(count):
        time_s = 2.0 ** (place // 2)
        metered = np.log2(2.0**7 / time_s)  # f/11 is truly 2^3.5
        scene = START_EV + falls * 2.0 * place + falls * time_s / 2 / 60
        frames.append(
            frame_at(
                f"S{place}", START + timedelta(minutes=2 * place), time_s=time_s,
                middle_stops=GREY - (scene - metered), position=None,
            )
        )  # fmt: skip
    return frames


def median_of(channel: ChannelFigures) -> float:
    assert channel.median_stops is not None
    return channel.median_stops


def darker(channels: tuple[ChannelFigures, ...], stops: float) -> tuple[ChannelFigures, ...]:
    """Channels whose middle lies so many stops further down."""
    return tuple(replace(entry, median_stops=median_of(entry) + stops) for entry in channels)


def test_light_that_falls_steadily_is_followed_whatever_the_settings() -> None:
    frames = dusk()
    points = light_points(frames, place=SANDS)
    assert [point.frame for point in points] == [frame.id for frame in frames]
    assert points[0].scene_ev100 == pytest.approx(START_EV, abs=0.02)
    assert points[-1].scene_ev100 == pytest.approx(START_EV - 2.4, abs=0.02)


def test_the_drift_is_what_it_was_told_and_not_the_slope_of_the_middle_tones() -> None:
    """Waves and clouds pass through the middle tone; what holds still tells the light."""
    frames = dusk(falls=0.1)
    points = light_points(frames, drifts={"S0": -0.08, "S6": -0.08})
    assert points[0].drift_stops_per_min == -0.08
    assert (points[1].drift_stops_per_min, points[1].moved_stops) == (None, None)


def test_a_long_exposure_tells_how_far_the_light_moved_meanwhile() -> None:
    frames = dusk()
    drifts = {frame.id: -0.2 for frame in frames}
    assert light_points(frames, drifts=drifts)[-1].moved_stops == pytest.approx(-0.2 * 8.0 / 60.0)
    short = [replace(frame, exposure=replace(frame.exposure, time_s=0.5)) for frame in frames]
    assert light_points(short, drifts=drifts)[0].moved_stops is None


def test_the_measured_filter_is_given_back() -> None:
    frames = dusk()
    rng = np.random.default_rng(0)
    long = frame_at("L", START + timedelta(minutes=5), time_s=64.0, middle_stops=GREY)
    pair = replace(pair_of(frames[2], long, Habits(), rng), filter_stops_by_channel={"G": 6.3})
    points = light_points([*frames, long], siblings=[pair])
    told = next(point for point in points if point.frame == "L")
    assert told.filtered
    assert told.scene_ev100 == pytest.approx(np.log2(128 / 64) + 6.3)


def test_frames_that_tell_nothing_of_the_light_are_left_out() -> None:
    frames = dusk()
    graded = Grad("a", without="S0", with_="S1", edge_at=0.4, stops_at_top=3.0, transition=0.1)
    frames[2] = replace(frames[2], verdict=Verdict.DARK_FRAME)
    frames[3] = replace(frames[3], exposure=replace(frames[3].exposure, flash=True))
    frames[4] = replace(frames[4], exposure=replace(frames[4].exposure, iso=None))
    frames[5] = replace(frames[5], status=FrameStatus.UNREADABLE, channels=())
    points = light_points(frames, grads=[graded])
    assert [point.frame for point in points] == ["S0", "S6"]


def test_a_middle_tone_that_is_blown_or_in_the_noise_is_none() -> None:
    channels = dusk()[0].channels
    assert middle_share(channels) == pytest.approx(2.0 ** -median_of(channels[1]))
    blown = [replace(entry, blown_fraction=0.6) for entry in channels]
    assert middle_share(blown) is None
    dark = [replace(entry, median_stops=13.5) for entry in channels]
    assert middle_share(dark) is None
    assert middle_share(()) is None


def test_the_sun_is_told_where_the_place_is_known() -> None:
    frames = dusk()
    known = light_points(frames, place=SANDS)[0]
    assert known.sun_altitude_deg == pytest.approx(3.0, abs=1.5)
    assert known.phase == "before sunset"
    unknown = light_points(frames)[0]
    assert (unknown.sun_altitude_deg, unknown.phase) == (None, None)


def test_frames_without_a_clock_come_last() -> None:
    frames = dusk()
    frames[0] = replace(frames[0], captured_at=None)
    last = light_points(frames, place=SANDS)[-1]
    assert last.frame == "S0"
    assert last.phase is None


def test_the_curve_is_in_order_of_time_whatever_the_order_of_the_files() -> None:
    frames = dusk()
    blind = replace(frames[0], id="blind", captured_at=None)
    told = light_points([blind, *frames[::-1]])
    assert [point.frame for point in told] == [*(frame.id for frame in frames), "blind"]


def test_stamps_of_the_closing_put_the_light_and_the_sun_where_the_shutter_opened() -> None:
    opened = frame_at("S1", START, time_s=240.0, middle_stops=3.0)
    closed = frame_at("S1", START + timedelta(seconds=240), time_s=240.0, middle_stops=3.0)
    closed = replace(closed, exposure=replace(closed.exposure, stamp_at_end=True))
    (first,), (second,) = light_points([opened], place=SANDS), light_points([closed], place=SANDS)
    assert first.sun_altitude_deg == second.sun_altitude_deg is not None
    assert second.captured_at == opened.captured_at
    (taken,) = light_points([replace(closed, exposure=opened.exposure)], place=SANDS)
    assert taken.sun_altitude_deg != first.sun_altitude_deg
