"""The light of the scene over the shoot, read from the raw levels.

A frame's middle tone (the median of green) over saturation, with the exposure divided out and
the filter given back, is the scene's exposure value on the scale of ISO 12232's
saturation-based speed. Different compositions look at different things, so only frames of one
set-up tell how the light drifts.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import fmean, median

from auditor.light.exposure import scene_ev100
from auditor.light.sun import phase_of, sun_position
from auditor.model.audit import (
    ChannelFigures,
    FrameResult,
    Grad,
    LightPoint,
    Setup,
    SiblingPair,
)
from auditor.model.facts import FileFacts, Position

GREENS = ("G1", "G2", "G", "L")
MIDDLE_SHARE = 0.5
"""With this share of green blown the median is no measure any more."""

WINDOW_S = 20.0 * 60.0
"""Frames this far before and after tell the drift of a moment."""

SPAN_S = 30.0
"""Unfiltered frames within so long a time count as one: a bracket, a burst, a time lapse."""

LEAST_SPAN_S = 60.0
"""Two frames closer than this tell the shutter's error rather than the light's drift."""

LONG_S = 1.0
"""From this shutter time on it is worth telling how much the light moved meanwhile."""


@dataclass(frozen=True, slots=True)
class _Dot:
    point: LightPoint
    at_s: float | None
    time_s: float
    setup: str


def light_points(
    frames: Sequence[FrameResult],
    *,
    setups: Sequence[Setup] = (),
    siblings: Sequence[SiblingPair] = (),
    grads: Sequence[Grad] = (),
    place: Position | None = None,
) -> tuple[LightPoint, ...]:
    """Follow the light of the scene over the shoot.

    Parameters
    ----------
    frames : sequence of FrameResult
        Those that are unreadable, dark, flashed, blown in the middle or without exposure
        settings tell nothing and are left out.
    setups, siblings, grads
        What was grouped: drift is told within a set-up, the measured filter of a pair is given
        back, frames behind a graduated filter are left out.
    place : Position, optional
        Where the files hold no position of their own.

    Returns
    -------
    tuple of LightPoint
        In order of time; frames without a time come last, in their own order.
    """
    graded = {grad.with_ for grad in grads}
    filters = filter_stops(siblings)
    home = {frame: setup.id for setup in setups for frame in setup.frames}
    dots = [
        _dot(frame, filters.get(frame.id), home.get(frame.id, ""), place)
        for frame in frames
        if frame.id not in graded
    ]
    told = [dot for dot in dots if dot is not None]
    told.sort(key=lambda dot: math.inf if dot.at_s is None else dot.at_s)
    drifts = _Drifts(told)
    return tuple(_with_drift(dot, drifts) for dot in told)


def filter_stops(siblings: Iterable[SiblingPair]) -> dict[str, float]:
    """Return by frame the stops that its filter held back of green, as its best pair tells."""
    ranked = sorted(siblings, key=lambda pair: (pair.best, pair.confidence))
    return {pair.long: pair.filter_stops_by_channel.get("G", pair.filter_stops) for pair in ranked}


def middle_share(channels: Iterable[ChannelFigures]) -> float | None:
    """Return the median of green over saturation; the mean of both greens where there are two.

    None where half of a green plane is blown, or its median lies under the noise floor.
    """
    shares = [_share(channel) for channel in channels if channel.name in GREENS]
    known = [share for share in shares if share is not None]
    return sum(known) / len(known) if known and len(known) == len(shares) else None


def _share(channel: ChannelFigures) -> float | None:
    if channel.median_stops is None or channel.blown_fraction >= MIDDLE_SHARE:
        return None
    share = float(2.0**-channel.median_stops)
    full_dn = channel.saturation_dn - channel.black_dn
    if channel.noise_floor_dn is not None and share * full_dn < channel.noise_floor_dn:
        return None
    return share


def _dot(
    frame: FrameResult, held_stops: float | None, setup: str, place: Position | None
) -> _Dot | None:
    share = middle_share(frame.channels)
    if share is None or frame.verdict == "dark frame" or frame.exposure.flash:
        return None
    scene = scene_ev100(share, frame.exposure)
    if scene is None:
        return None
    facts = FileFacts(captured_at=frame.captured_at, exposure=frame.exposure)
    point = LightPoint(
        frame=frame.id,
        captured_at=frame.captured_at,
        scene_ev100=scene + (held_stops or 0.0),
        filtered=held_stops is not None,
    )
    lit = _with_sun(point, facts, frame.position or place)
    return _Dot(lit, facts.middle_s, frame.exposure.time_s or 0.0, setup)


def _with_sun(point: LightPoint, facts: FileFacts, place: Position | None) -> LightPoint:
    moment = facts.moment
    if moment is None or place is None:
        return point
    sun = sun_position(moment, place)
    if sun is None:
        return point
    return replace(point, sun_altitude_deg=sun.altitude_deg, phase=phase_of(sun))


def _with_drift(dot: _Dot, drifts: _Drifts) -> LightPoint:
    drift = None if dot.at_s is None else drifts.at(dot.at_s, dot.setup)
    moved = drift * dot.time_s / 60.0 if drift is not None and dot.time_s >= LONG_S else None
    return replace(dot.point, drift_stops_per_min=drift, moved_stops=moved)


class _Drifts:
    """The drift at any moment, from unfiltered frames, half a minute of them taken as one.

    A time lapse of thousands of frames then costs no more than its minutes.
    """

    def __init__(self, dots: Iterable[_Dot]) -> None:
        spans: dict[str, dict[int, list[tuple[float, float]]]] = {}
        for dot in dots:
            if dot.at_s is not None and dot.setup and not dot.point.filtered:
                spot = (dot.at_s, dot.point.scene_ev100)
                spans.setdefault(dot.setup, {}).setdefault(_span(dot.at_s), []).append(spot)
        self._spans = {
            setup: {span: _middle(spots) for span, spots in members.items()}
            for setup, members in spans.items()
        }
        self._known: dict[tuple[int, str], float | None] = {}

    def at(self, at_s: float, setup: str) -> float | None:
        """Tell the drift by the frame's own set-up, or by all that were in use about then."""
        key = (_span(at_s), setup)
        if key not in self._known:
            own = drift_of({setup: self._near(key[0], setup)})
            self._known[key] = own if own is not None else self._of_all(key[0])
        return self._known[key]

    def _of_all(self, span: int) -> float | None:
        key = (span, "")
        if key not in self._known:
            self._known[key] = drift_of({setup: self._near(span, setup) for setup in self._spans})
        return self._known[key]

    def _near(self, span: int, setup: str) -> list[tuple[float, float]]:
        reach = round(WINDOW_S / SPAN_S)
        members = self._spans.get(setup, {})
        return [spot for place, spot in members.items() if abs(place - span) <= reach]


def _span(at_s: float) -> int:
    return math.floor(at_s / SPAN_S)


def _middle(spots: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Return the mean moment and the median light of frames close together."""
    return fmean(at_s for at_s, _ in spots), median(light for _, light in spots)


def drift_of(series: Mapping[str, Collection[tuple[float, float]]]) -> float | None:
    """Return the drift in stops a minute over series of (seconds, exposure value).

    The median of the slopes between any two points of one series, each weighing as much as
    the time between them: a frame that does not belong does not sway it.

    Returns
    -------
    float or None
        None where no series spans a minute.
    """
    slopes = sorted(slope for points in series.values() for slope in _slopes(points))
    half, passed = sum(span for _, span in slopes) / 2.0, 0.0
    for slope, span in slopes:
        passed += span
        if passed >= half:
            return slope
    return None


def _slopes(points: Collection[tuple[float, float]]) -> Iterable[tuple[float, float]]:
    ordered = sorted(points)
    for place, (start_s, start) in enumerate(ordered):
        for end_s, end in ordered[place + 1 :]:
            if end_s - start_s >= LEAST_SPAN_S:
                yield (end - start) / (end_s - start_s) * 60.0, end_s - start_s
