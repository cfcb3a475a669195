"""Clipping told by a shorter frame of the same set-up: a signal that does not grow is clipped.

No gain is asked for, and no shape of a pile-up. Tiles that both frames record tell how much
brighter the one is than the other, whatever the settings say, so falling light and filters drop
out. Where the shorter frame then lets expect far more than the longer one records, by widely
differing amounts, and the longer one stands at one level with nothing beyond it, that level is
where it clips. Clouds that a long time evens out do that too; but then as many tiles that should
lie well under the level stand at it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from auditor.clipping.limits import (
    GROWN_AT_TOP,
    GROWN_FLAT,
    GROWN_LEAST_TILES,
    GROWN_OVER,
    GROWN_SPAN_STOPS,
    GROWN_TOO_DARK,
)
from auditor.clipping.modes import mode_at
from auditor.model.arrays import F64, Bool
from auditor.model.clip_evidence import ClipEvidence
from auditor.model.measurement import PileUp
from auditor.model.settled import SettledFrame
from auditor.model.shoot import ShootFrame

MOST_COMPARED = 4
"""Shorter frames of the set-up that a frame is held against, the nearest first."""

TOP_SHARE = 0.999


def with_growth(
    evidence: Mapping[str, ClipEvidence],
    frames: Mapping[str, ShootFrame],
    setups: Sequence[Sequence[str]],
) -> dict[str, ClipEvidence]:
    """Add the pile-ups that shorter frames tell; only frames that may be clipped are looked at.

    Parameters
    ----------
    evidence : mapping of frame id to ClipEvidence
    frames : mapping of frame id to ShootFrame
        With the levels settled so far.
    setups : sequence of sequence of str
        The frames of each set-up in order.

    Returns
    -------
    dict
        What was found, by frame id: empty where nothing was.
    """
    found: dict[str, ClipEvidence] = {}
    for setup in setups:
        for place, name in enumerate(setup):
            if any(level.may_clip for level in frames[name].levels):
                others = sorted((abs(i - place), other) for i, other in enumerate(setup))[1:]
                shorter = (frames[other].settled() for _, other in others[:MOST_COMPARED])
                long = frames[name].settled()
                pile_ups: list[PileUp | None] = [None] * len(long.planes)
                for short in shorter:
                    new = pile_ups_against(long, short)
                    pile_ups = [a or b for a, b in zip(pile_ups, new, strict=True)]
                    told = zip(pile_ups, long.planes, strict=True)
                    if all(heap or not plane.level.may_clip for heap, plane in told):
                        break
                if any(pile_ups):
                    known = zip(evidence[name].planes, pile_ups, strict=True)
                    planes = (replace(own, pile_up=new or own.pile_up) for own, new in known)
                    found[name] = replace(evidence[name], planes=tuple(planes))
    return found


def pile_ups_against(long: SettledFrame, short: SettledFrame) -> list[PileUp | None]:
    """Return the pile-up of each plane of a frame that may be clipped, told by a shorter one."""
    if long.mosaic.layout is not short.mosaic.layout or long.maps.shape != short.maps.shape:
        return [None] * len(long.planes)
    told: list[PileUp | None] = [None] * len(long.planes)
    for index, plane in enumerate(long.planes):
        if plane.level.may_clip:
            own, other = (frame.maps.mean_dn[index].astype(np.float64) for frame in (long, short))
            held = other < 0.5 * short.planes[index].span_dn
            level, black = ceiling_dn(own, np.where(held, other, np.nan)), plane.measured.black_dn
            if level is not None:
                told[index] = mode_at(plane.measured.histogram, black, black + level)
    return told


def ceiling_dn(long_dn: F64, short_dn: F64) -> float | None:
    """Return the signal beyond which a frame does not grow, by the tiles of a shorter frame.

    Parameters
    ----------
    long_dn, short_dn : array, shape (rows, cols)
        Mean signal a tile; NaN where the shorter frame does not tell it.

    Returns
    -------
    float or None
        None where the frame grows everywhere, or too few tiles tell.
    """
    told: Bool = np.isfinite(short_dn) & (short_dn > 0) & (long_dn > 0)
    if np.count_nonzero(told) < GROWN_LEAST_TILES:
        return None
    top = float(np.quantile(long_dn[told], TOP_SHARE))
    # shares of the top between which tiles tell how much brighter a frame is than another
    mid_tones = (0.1, 0.6)
    middle = told & (long_dn > mid_tones[0] * top) & (long_dn < mid_tones[1] * top)
    if np.count_nonzero(middle) < GROWN_LEAST_TILES:
        return None
    growth = float(np.median(long_dn[middle] / short_dn[middle]))
    expected = np.where(told, short_dn, 0.0) * growth
    over = expected >= GROWN_OVER * top
    least_growth = 1.2  # with hardly more light nothing is expected over the top
    if growth < least_growth or np.count_nonzero(over) < GROWN_LEAST_TILES:
        return None
    level = float(np.median(long_dn[over]))
    flat = np.abs(long_dn / level - 1.0) <= GROWN_FLAT
    low, high = np.quantile(expected[over], (0.1, 0.9))
    stands = (
        np.mean(flat[over]) >= GROWN_AT_TOP
        and math.log2(high / low) >= GROWN_SPAN_STOPS
        and np.count_nonzero(flat & told & (expected < level / GROWN_OVER))
        <= GROWN_TOO_DARK * np.count_nonzero(over)
    )
    return level if stands and top <= (1.0 + GROWN_FLAT) * level else None
