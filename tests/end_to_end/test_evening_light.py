"""The light of the sample evening as the audit tells it, against what the evening was made with."""

from __future__ import annotations

import numpy as np

from tests.evening_audit import Evening

LEAST_SPAN_S = 60.0
NEAR_STOPS_PER_MIN = 0.07
"""The pace about a moment looks a quarter of an hour around, and the light falls ever faster."""


def true_drifts(evening: Evening) -> dict[str, float]:
    """Frame to the slope of the ambient light over its set-up, stops a minute."""
    truth = {frame["name"]: frame for frame in evening.truth["frames"]}
    drifts: dict[str, float] = {}
    for setup in evening.end.audit.setups:
        at_s, stops = np.array(
            [
                (truth[evening.name(frame)]["at_s"], truth[evening.name(frame)]["ambient_stops"])
                for frame in setup.frames
            ]
        ).T
        if np.ptp(at_s) >= LEAST_SPAN_S:
            slope = 60.0 * float(np.polyfit(at_s, stops, 1)[0])
            drifts |= dict.fromkeys(setup.frames, slope)
    return drifts


def test_the_drift_of_each_frame_is_that_of_the_light(evening: Evening) -> None:
    true = true_drifts(evening)
    told = {
        point.frame: point.drift_stops_per_min
        for point in evening.end.audit.light
        if point.frame in true
    }
    assert len(told) > 20
    for frame, drift in told.items():
        assert drift is not None, frame
        assert abs(drift - true[frame]) <= NEAR_STOPS_PER_MIN, frame


def test_no_frame_rose_in_brightness_meanwhile_whose_pair_says_that_the_light_fell(
    evening: Evening,
) -> None:
    moved = {point.frame: point.moved_stops for point in evening.end.audit.light}
    fell = [
        pair.long
        for pair in evening.end.audit.siblings
        if pair.best and (pair.light_drift_stops or 0.0) < 0 and moved.get(pair.long) is not None
    ]
    assert fell
    assert all((moved[frame] or 0.0) < 0 for frame in fell)
