"""Graduated filters: the density over the height, from a pair without and with."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from auditor.group.aligned import AlignedFrame
from auditor.group.drift import UNKNOWN_GAP_S
from auditor.group.grad_curve import Curve, fit_curve, row_medians
from auditor.group.levels import Levels
from auditor.group.limits import (
    BRIGHTER_STOPS,
    FASTEST_STOPS_PER_S,
    GRAD_LEAST_STOPS,
    GRAD_LONGEST_GAP_S,
    OFF_CURVE_STOPS,
    SCREEN_STOPS,
    SHARPEST,
    SIDES_AGREE,
    SKY_DRIFT_STOPS_PER_S,
    TONE_STOPS,
)
from auditor.group.ratio import measure_attenuation
from auditor.group.refusals import Refusals
from auditor.group.setups import SetupShots
from auditor.model.arrays import F32, F64, Bool, median_known
from auditor.model.audit import Grad
from auditor.model.rejected import GroupKind, Reason, Why
from auditor.model.remark import RemarkCode, remark

NEIGHBOURS = 4
"""A pair lies this many frames apart at most."""

TRIES = 3
"""Frames without a filter that one with a filter is held against before it is given up."""


TOP_ROWS = 2
"""Rows that tell the density at the top where it is not the curve's, as of reverse filters."""

NEAR_ROWS = 2
"""Rows above and below that a row is held against."""


@dataclass(frozen=True, slots=True, eq=False)
class GradPair:
    """A graduated filter found between two frames of a set-up, by their indices."""

    without: int
    with_: int
    curve: Curve
    profile_stops: tuple[float, ...]
    side_spread_stops: float
    by_water: bool = False
    """Whether nothing static was enough to tell it."""


def find_grads(
    setup: SetupShots,
    seen: Sequence[AlignedFrame | None],
    levels: Levels,
    flagged: Bool,
    refusals: Refusals,
) -> list[GradPair]:
    """Find every frame of a set-up with a graduated filter, with its nearest frame without.

    Frames are gone through from the brightest sky over its ground to the darkest, so whether a
    frame has no filter is known before it is asked to show what another's filter did.
    """
    tops = levels.sky_stops
    found: dict[int, GradPair] = {}
    told = (i for i, top in enumerate(tops) if not math.isnan(top))
    for i in sorted(told, key=lambda i: -tops[i]):
        frame = seen[i]
        # frames near in time whose sky stands higher over the ground, the nearest first
        near = [
            j
            for j in range(max(0, i - NEIGHBOURS), min(len(tops), i + NEIGHBOURS + 1))
            if tops[j] - tops[i] >= SCREEN_STOPS and _gap_s(setup, i, j) <= GRAD_LONGEST_GAP_S
        ]
        for j in sorted(near, key=lambda j: _gap_s(setup, i, j))[:TRIES]:
            other = seen[j]
            if frame is None or other is None or j in found:
                continue
            pair = _pair(frame, other, i, j)
            why = _not_sudden(setup, pair, flagged) if isinstance(pair, GradPair) else pair
            ids = tuple(setup.shots[place].id for place in sorted((i, j)))
            if isinstance(pair, GradPair) and why is None:
                found[i] = pair
                break
            if why is not None:
                refusals.add(GroupKind.GRAD, ids, why)
    return [found[i] for i in sorted(found)]


def _not_sudden(setup: SetupShots, pair: GradPair, flagged: Bool) -> Why | None:
    """Tell whether the light can have done it by itself in the time between the two frames.

    Nor may the frame with the filter have got more light all over: then the light changed, if
    the other frame was not held back by a filter of its own.
    """
    gap_s = _gap_s(setup, pair.with_, pair.without)
    least = GRAD_LEAST_STOPS + SKY_DRIFT_STOPS_PER_S * gap_s
    if pair.curve.top < least:
        return Why(Reason.TOO_WEAK, pair.curve.top, least)
    brighter = BRIGHTER_STOPS + FASTEST_STOPS_PER_S * gap_s
    if pair.curve.base < -brighter and not flagged[pair.without]:
        return Why(Reason.LIGHT_CHANGED, -pair.curve.base, brighter)
    return None


def _gap_s(setup: SetupShots, i: int, j: int) -> float:
    a, b = setup.shots[i].middle_s, setup.shots[j].middle_s
    return abs(i - j) * UNKNOWN_GAP_S if a is None or b is None else abs(a - b)


def _pair(frame: AlignedFrame, other: AlignedFrame, i: int, j: int) -> GradPair | Why:
    held = measure_attenuation(frame, [(other, 1.0)])
    if held is None:
        return Why(Reason.LITTLE_SHARED)
    y = frame.image.row_shares()
    tiles = held.tiles
    curve = fit_curve(y, tiles)
    if curve is None:
        tiles = held.filled
        curve = fit_curve(y, tiles)
    if curve is None:
        return Why(Reason.NO_EDGE)
    if held.by_tone_stops > TONE_STOPS or not _can_be_glass(curve, tiles, other, y):
        return Why(Reason.FOLLOWS_THE_SCENE)
    # how far left, middle and right disagree: at the top; about the edge, where a filter that
    # stands aslant shows; below it, where a part of the ground may lie in the sun
    sides = [row_medians(part) for part in np.array_split(tiles, 3, axis=1)]
    tops = [top for top in (side_top(y, rows, curve) for rows in sides) if top is not None]
    spread = max(tops) - min(tops) if len(tops) >= 2 else math.inf
    half, lower = max(0.04, curve.transition / 2.0), 0.0
    for zone in (np.abs(y - curve.edge_at) <= half, y > curve.edge_at + half):
        off = [(rows - curve.base - curve.stops(y))[zone & np.isfinite(rows)] for rows in sides]
        told = [float(np.median(one)) for one in off if len(one) >= 3]
        lower = max(lower, max(told) - min(told) if len(told) >= 2 else 0.0)
    for apart, share in ((spread, SIDES_AGREE), (lower, 2.0 * SIDES_AGREE)):
        allowed = max(0.25, share * curve.top)
        if apart > allowed:
            return Why(Reason.SIDES_DISAGREE, apart, allowed)
    profile = profile_of(y, tiles, curve)
    return GradPair(j, i, curve, tuple(round(float(v), 3) for v in profile), spread, held.by_water)


def profile_of(y: F64, tiles: F32, curve: Curve) -> F64:
    """Return the density over the height, row by row, the curve where a row does not tell.

    A row tells where its tiles agree, and where it stands off the curve as its neighbours do:
    the row of the horizon holds sky and ground, and whichever has more of it sets its median.

    Parameters
    ----------
    y : array, shape (rows,)
        Shares of the height from the top.
    tiles : array of float32, shape (rows, cols)
        Stops held back; NaN where unknown.
    curve : Curve
        As fitted to them.
    """
    rows, expected = row_medians(tiles), curve.stops(y)
    scatter = np.full(len(rows), np.inf)
    known = np.isfinite(rows)
    scatter[known] = median_known(np.abs(tiles[known] - rows[known, None]), axis=1)
    # rows that scatter by more than this hold waves or clouds: the curve stands for them
    firm_stops = 0.12
    off = np.where(scatter <= firm_stops, rows - curve.base - expected, 0.0)
    padded = np.pad(off, NEAR_ROWS, mode="edge")
    around = np.median(np.lib.stride_tricks.sliding_window_view(padded, 2 * NEAR_ROWS + 1), axis=1)
    # a row that leaves the curve by so much more than its neighbours holds two tones
    lone_stops = 0.05
    return np.asarray(expected + np.where(np.abs(off - around) <= lone_stops, off, around))


def _can_be_glass(curve: Curve, tiles: F32, other: AlignedFrame, y: F64) -> bool:
    """Tell a filter from a change of the light: it does not care what it covers.

    Rocks and headlands are held back like the sky beside them; where the sky itself dimmed,
    they are not. Rows round the edge that hold both are asked. And no edge so
    near before the lens is sharp in the picture.
    """
    if curve.transition < SHARPEST:
        return False
    stops = other.image.stops(other.image.main)
    apart = []
    above, below = 0.12, 0.04  # shares of the height in which sky and ground are compared
    near = (y >= curve.edge_at - above) & (y <= curve.edge_at + below)
    side_tiles = 4  # tiles of sky and of ground that a row must hold to be asked
    for row in np.flatnonzero(near):
        known = np.isfinite(stops[row]) & np.isfinite(tiles[row])
        if int(known.sum()) < 2 * side_tiles:
            continue
        tone, held = stops[row][known], tiles[row][known]
        bright = tone > np.percentile(tone, 90) - 0.7
        dark = tone < np.percentile(tone, 90) - 1.3
        if min(int(bright.sum()), int(dark.sum())) >= side_tiles:
            apart.append(float(np.median(held[bright]) - np.median(held[dark])))
    return len(apart) < 2 or float(np.median(np.abs(apart))) <= 0.4 * curve.top


def side_top(y: F64, rows: F64, curve: Curve) -> float | None:
    """Return the density at the top told by some columns alone, for a curve of known place."""
    shape = curve.stops(y) / curve.top
    upper = np.isfinite(rows) & (shape > 0.6)
    if int(upper.sum()) < 3:
        return None
    return float(np.median((rows[upper] - curve.base) / shape[upper]))


def grad_record(pair: GradPair, setup: SetupShots, setup_id: str) -> Grad:
    """Make the public record of a graduated filter."""
    curve = pair.curve
    remarks = []
    if abs(curve.base) >= GRAD_LEAST_STOPS:
        code = RemarkCode.LESS_LIGHT if curve.base > 0 else RemarkCode.MORE_LIGHT
        remarks.append(remark(code, stops=abs(curve.base)))
    if pair.side_spread_stops >= 0.2:
        remarks.append(remark(RemarkCode.SIDES_DIFFER, stops=pair.side_spread_stops))
    if pair.by_water:
        remarks.append(remark(RemarkCode.GRAD_BY_WATER))
    profile = np.array(pair.profile_stops)
    rows = setup.shots[0].image.row_shares()[:TOP_ROWS]
    off_top = float(np.median(profile[:TOP_ROWS] - curve.stops(rows)))
    top = curve.top + (off_top if abs(off_top) > OFF_CURVE_STOPS else 0.0)
    if float(profile.max()) - top >= GRAD_LEAST_STOPS:
        remarks.append(remark(RemarkCode.DENSEST_BELOW, stops=float(profile.max())))
    return Grad(
        setup=setup_id,
        without=setup.shots[pair.without].id,
        with_=setup.shots[pair.with_].id,
        edge_at=round(curve.edge_at, 4),
        stops_at_top=round(top, 3),
        transition=round(curve.transition, 4),
        profile_stops=pair.profile_stops,
        remarks=tuple(remarks),
    )
