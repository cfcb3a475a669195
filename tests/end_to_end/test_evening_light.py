"""The light of the sample evening as the audit tells it, against what the evening was made with."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from sample_generation.coast import Dusk, coast_radiance
from sample_generation.places import PLACES
from sample_generation.views import Composition, still, work_size
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


SIZE = (384, 256)


def light_on_the_land(place: Composition, from_s: float, to_s: float) -> float:
    """Return by how many stops the green light from what stands still changed.

    More than the ambient light of the truth: with the sun the colours of sky and land change too.
    """
    first, last = (
        coast_radiance(place, Dusk(), at_s, 0.05, SIZE)[..., 1] for at_s in (from_s, to_s)
    )
    solid = Image.fromarray(still(place, *work_size(*SIZE)).solid).resize(SIZE)
    return float(np.median(np.log2(last / first)[np.asarray(solid)]))


def test_the_chained_light_is_that_on_what_stands_still(evening: Evening) -> None:
    truth = {frame["name"]: frame for frame in evening.truth["frames"]}
    places = {place.name: place for place in PLACES}
    points = {point.frame: point for point in evening.end.audit.light}
    checked = 0
    for setup in evening.end.audit.setups:
        chain = [
            (points[frame].chain_stops, truth[evening.name(frame)])
            for frame in setup.frames
            if frame in points and points[frame].chain is not None and not points[frame].filtered
        ]
        if not chain or chain[0][1]["setup"] not in places:
            continue
        (_, first), (stops, last) = chain[0], chain[-1]
        wanted = light_on_the_land(
            places[first["setup"]], *(one["at_s"] + one["time_s"] / 2.0 for one in (first, last))
        )
        assert stops == pytest.approx(wanted, rel=0.02, abs=0.01), setup.id
        checked += abs(wanted) > 0.2
    assert checked >= 4
