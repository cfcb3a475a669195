"""Whether a sensor clips at one level everywhere: a pile-up tells nothing of what clips below.

Rows that take turns with two amplifiers, halves read out apart, full wells that shrink towards
the corners and lens corrections that multiply the raw data leave more than one level. Two signs
tell it: lines that are equally bright but clip by turns, and tiles that stay under the level yet
are steadier than any light. Neither is made of a scene.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Any

import numpy as np

from auditor.clipping.limits import (
    APART_LEAST_PAIRS,
    APART_LEAST_SHARE,
    APART_LINES,
    APART_PAIRS,
    LEAST_SIGMA_DN,
    LINE_LEAST_PIXELS,
    NOISE_SHARE,
    STEADY_LEAST_SHARE,
)
from auditor.model.arrays import F32, F64, I64, U16, Bool
from auditor.model.measurement import PileUp
from auditor.model.remark import RemarkCode
from auditor.noise.estimate import NoiseModel, PlaneView
from auditor.sensor.code_gaps import code_step_at, code_steps_dn

BANDS, BAND_ROWS = 6, 24
"""Rows of pixels that are looked at: whole periods of every colour pattern."""

BRIGHT = 0.6
"""Share of the clipping level from which a pixel counts as bright: alike in adjoining lines."""

ALIKE = 0.8
CHANCE = 1e-6
"""That a tile of nothing but light is as steady as that."""

SEVERAL_GAINS = {RemarkCode.LINES_TAKE_TURNS, RemarkCode.CORNERS_BRIGHTENED}
"""What noise tells of a sensor that clips at more than one level."""

STEADY_PIXELS = 100.0
"""So many pixels of a plane tell whether a place is steadier than light."""

DARKEST = 0.1
"""Share of the signal at the top of the plane under which a steady tile is none that clips."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class PlaneTop:
    """The top of one plane, and where in the picture it lies.

    Parameters
    ----------
    mean_dn, tops_dn : array, shape (rows, cols)
        Mean signal and largest DN of each tile.
    tile_px : int
        Side of a tile.
    """

    view: PlaneView
    noise: NoiseModel
    pile_up: PileUp | None
    mean_dn: F32
    tops_dn: U16
    tile_px: int


def clips_apart(planes: Sequence[PlaneTop]) -> bool:
    """Tell whether some lines or places of a sensor clip below the pile-ups of its planes."""
    shares = [0.0 if plane.pile_up is None else plane.pile_up.share for plane in planes]
    said = {told.code for plane in planes for told in plane.noise.estimate.remarks}
    if (max(shares) > 0.0 and said & SEVERAL_GAINS) or any(map(_steady_under, planes)):
        return True
    return max(shares) >= APART_LEAST_SHARE and _lines_apart(planes[int(np.argmax(shares))])


def _lines_apart(plane: PlaneTop) -> bool:
    """Whether adjoining rows, or columns, are as bright as each other but clip by turns."""
    if plane.pile_up is None:
        return False
    pixels, pattern = plane.view.lattice.pixels, plane.view.lattice.pattern
    black_dn, from_dn = plane.view.black.mean_dn, plane.pile_up.from_dn
    firsts = np.flatnonzero((plane.tops_dn >= from_dn).any(axis=1)) * plane.tile_px
    firsts = firsts[firsts + BAND_ROWS <= len(pixels)]
    if not len(firsts):
        return False
    chosen = firsts[np.linspace(0, len(firsts) - 1, min(BANDS, len(firsts))).astype(np.int64)]
    bands = np.stack([pixels[first : first + BAND_ROWS] for first in chosen])
    turns, pairs = np.zeros(2, np.int64), np.zeros(2, np.int64)
    for y, x in plane.view.lattice.places(plane.view.plane):
        part = bands[:, y :: len(pattern), x :: pattern.shape[1]]
        over = _pairs(part >= from_dn)
        bright = _pairs(part >= black_dn + BRIGHT * (from_dn - black_dn))
        for axis, ((clip, clip_more), (lit, lit_more)) in enumerate(zip(over, bright, strict=True)):
            told = (clip_more >= LINE_LEAST_PIXELS) & (lit >= ALIKE * lit_more)
            pairs[axis] += np.count_nonzero(told)
            turns[axis] += np.count_nonzero(told & (clip <= APART_LINES * clip_more))
    return bool((turns >= np.maximum(APART_LEAST_PAIRS, APART_PAIRS * pairs)).any())


def _pairs(flags: Bool) -> list[tuple[I64, I64]]:
    """Count flags in rows, and in columns; return the fewer and the more of two adjoining."""
    rows = np.count_nonzero(flags, axis=2)
    columns = np.count_nonzero(flags, axis=(0, 1))[None]
    return [
        (np.minimum(lines[:, 1:], lines[:, :-1]), np.maximum(lines[:, 1:], lines[:, :-1]))
        for lines in (rows, columns)
    ]


def _steady_under(plane: PlaneTop) -> bool:
    """Whether tiles whose every pixel lies under the pile-up are steadier than light.

    Of as many pixels as a tile has, the brightest lies far over their mean: were it light, it
    would not lie so near to it but by chance.
    """
    view, noise = plane.view, plane.noise
    if noise.estimate.gain_dn_per_e is None or noise.smoothed:
        return False
    share = float((view.lattice.pattern == view.plane).mean())
    joined = max(1, math.ceil((STEADY_PIXELS / share) ** 0.5 / plane.tile_px))
    pixels = share * (plane.tile_px * joined) ** 2
    top, mean = _joined(plane.tops_dn, joined, np.max), _joined(plane.mean_dn, joined, np.mean)
    signal = top - view.black.mean_dn
    sigma = np.maximum(noise.shot_sigma_dn(mean), LEAST_SIGMA_DN)
    sigmas = NOISE_SHARE * NormalDist().inv_cdf(CHANCE ** (1.0 / pixels))
    steady = (signal - mean <= sigmas * sigma) & (signal >= DARKEST * signal.max(initial=0.0))
    steady &= top < (np.inf if plane.pile_up is None else plane.pile_up.from_dn)
    steady &= signal < (noise.bends_from_dn or np.inf)
    if steady.any():
        steady &= sigma >= code_step_at(code_steps_dn(view.histogram), top)
    return bool(np.count_nonzero(steady) >= max(1.0, STEADY_LEAST_SHARE * steady.size))


def _joined(values: F32 | U16, side: int, join: Callable[..., Any]) -> F64:
    """Join tiles in squares; what is left over at the far edges is left out, and broken tiles."""
    rows, cols = ((size - 1) // side for size in values.shape)
    squares = values[: rows * side, : cols * side].reshape(rows, side, cols, side)
    joined: F64 = join(squares, axis=(1, 3)).astype(np.float64)
    return joined
