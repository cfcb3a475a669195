"""The light of the scene over the shoot, read from the raw levels, and chained over its gaps.

A frame's middle tone (the median of green) over saturation, with the exposure divided out and
the filter given back, is the scene's exposure value on the scale of ISO 12232's
saturation-based speed. It follows what passes before the lens as well, waves and clouds, so it
does not tell how the light drifts: that is read from what holds still in frames of one set-up, by
who groups them, and handed in.

Two framings in the very same light differ by a stop and more. Within a set-up the light is compared
by what is static; where nothing links two set-ups, nothing is claimed.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from auditor.light.exposure import scene_ev100
from auditor.light.sun import phase_of, sun_position
from auditor.model.audit import (
    ChannelFigures,
    FrameResult,
    Grad,
    LightPoint,
    SiblingPair,
)
from auditor.model.codes import Verdict
from auditor.model.facts import FileFacts, Position
from auditor.model.grouping import Grouping

GREENS = ("G1", "G2", "G", "L")
MIDDLE_SHARE = 0.5
"""With this share of green blown the median is no measure any more."""

MOVED_FROM_S = 1.0
"""From this shutter time on it is worth telling how much the light moved meanwhile."""


@dataclass(frozen=True, slots=True)
class _Dot:
    point: LightPoint
    at_s: float | None
    time_s: float


def light_points(
    frames: Sequence[FrameResult],
    *,
    siblings: Sequence[SiblingPair] = (),
    grads: Sequence[Grad] = (),
    drifts: Mapping[str, float] | None = None,
    place: Position | None = None,
) -> tuple[LightPoint, ...]:
    """Follow the light of the scene over the shoot.

    Parameters
    ----------
    frames : sequence of FrameResult
        Those that are unreadable, dark, flashed, blown in the middle or without exposure
        settings tell nothing and are left out.
    siblings, grads
        What was grouped: the measured filter of a pair is given back, frames behind a graduated
        filter are left out.
    drifts : mapping of str to float, optional
        Frame to the pace of the light about it, stops a minute, where unfiltered frames of a
        set-up tell it; a frame that is not in it has none.
    place : Position, optional
        Where the files hold no position of their own.

    Returns
    -------
    tuple of LightPoint
        In order of time; frames without a time come last, in their own order.
    """
    graded = {grad.with_ for grad in grads}
    filters = filter_stops(siblings)
    dots = [_dot(frame, filters.get(frame.id), place) for frame in frames if frame.id not in graded]
    told = [dot for dot in dots if dot is not None]
    told.sort(key=lambda dot: math.inf if dot.at_s is None else dot.at_s)
    points = []
    for dot in told:
        drift = (drifts or {}).get(dot.point.frame)
        moved = (
            drift * dot.time_s / 60.0 if drift is not None and dot.time_s >= MOVED_FROM_S else None
        )
        points.append(replace(dot.point, drift_stops_per_min=drift, moved_stops=moved))
    return tuple(points)


def filter_stops(siblings: Iterable[SiblingPair]) -> dict[str, float]:
    """Return by frame the stops that its filter held back of green, as its best pair tells."""
    ranked = sorted(siblings, key=lambda pair: (pair.best, pair.confidence))
    return {pair.long: pair.filter_stops_by_channel.get("G", pair.filter_stops) for pair in ranked}


def middle_share(channels: Iterable[ChannelFigures]) -> float | None:
    """Return the median of green over saturation; the mean of both greens where there are two.

    None where half of a green plane is blown, or its median lies under the noise floor.
    """
    shares = []
    for channel in (channel for channel in channels if channel.name in GREENS):
        if channel.median_stops is None or channel.blown_fraction >= MIDDLE_SHARE:
            return None
        shares.append(float(2.0**-channel.median_stops))
        median_dn = shares[-1] * (channel.saturation_dn - channel.black_dn)
        if channel.noise_floor_dn is not None and median_dn < channel.noise_floor_dn:
            return None
    return sum(shares) / len(shares) if shares else None


def _dot(frame: FrameResult, held_stops: float | None, place: Position | None) -> _Dot | None:
    share = middle_share(frame.channels)
    if share is None or frame.verdict == Verdict.DARK_FRAME or frame.exposure.flash:
        return None
    scene = scene_ev100(share, frame.exposure)
    if scene is None:
        return None
    facts = FileFacts(captured_at=frame.captured_at, exposure=frame.exposure)
    opened, stood = facts.opened, frame.position or place
    stamp = frame.captured_at
    if frame.exposure.stamp_at_end and opened is not None:
        stamp = opened.isoformat(timespec="milliseconds")
    sun = sun_position(opened, stood) if opened is not None and stood is not None else None
    point = LightPoint(
        frame=frame.id,
        captured_at=stamp,
        scene_ev100=scene + (held_stops or 0.0),
        filtered=held_stops is not None,
        sun_altitude_deg=sun.altitude_deg if sun else None,
        phase=phase_of(sun) if sun else None,
    )
    return _Dot(point, facts.middle_s, frame.exposure.time_s or 0.0)


def chained(points: Sequence[LightPoint], grouping: Grouping) -> tuple[LightPoint, ...]:
    """Put to each point the chain by which it may be compared with others.

    Parameters
    ----------
    points : sequence of LightPoint
        In order of time.
    grouping : Grouping
        Its levels tell unfiltered frames, its pairs the light at filtered ones.
    """
    levels = dict(grouping.levels)
    for pair in grouping.siblings:
        if pair.best and pair.light_drift_stops is not None and pair.short in levels:
            levels[pair.long] = levels[pair.short] + pair.light_drift_stops
    home = {frame: n for n, setup in enumerate(grouping.setups, 1) for frame in setup.frames}
    linked = [point.frame for point in points if point.frame in levels and point.frame in home]
    counts = Counter(home[frame] for frame in linked)
    first: dict[int, float] = {}
    for frame in linked:
        first.setdefault(home[frame], levels[frame])
    told = {
        frame: (home[frame], round(levels[frame] - first[home[frame]], 4))
        for frame in linked
        if counts[home[frame]] > 1
    }
    linked_points = []
    for point in points:
        chain, stops = told.get(point.frame, (None, None))
        linked_points.append(replace(point, chain=chain, chain_stops=stops))
    return tuple(linked_points)
