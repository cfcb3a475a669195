"""How sharp the frames of one composition are where nothing moves, compared with each other.

Fine detail is measured against noise, so it says more the more light there is. Here the noise
is taken out again: what is left is contrast of neighbouring pixels as a share of the signal,
the same for every exposure of one subject, and less where the camera shook.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from auditor.clipping.maps import cut_tiles
from auditor.detail.limits import (
    FOCUS_RATIO,
    LIT_FLOORS,
    MOST,
    MOVED_TILES,
    SAME_TONE_STOPS,
    SOFT_PATCH,
    STEADY_TILES,
    STRUCTURED,
)
from auditor.model.arrays import F32, F64, Bool
from auditor.model.half_sample_mode import half_sample_mode
from auditor.model.orientation import upright
from auditor.model.settled import SettledFrame

MOVED_CELLS = 24
"""A drawing of where something moved needs no more cells along its longer side."""


@dataclass(frozen=True, slots=True, eq=False)
class Contrast:
    """Fine contrast of one frame, tile by tile; NaN where it cannot be told.

    Parameters
    ----------
    share : array of float32, shape (rows, cols)
        Standard deviation of neighbouring pixels as a share of the signal, noise taken out.
    structured : array of bool, shape (rows, cols)
        Where there is more than noise.
    tone_stops : array of float32, shape (rows, cols)
        log2 of the mean signal: what holds still keeps it from frame to frame.
    """

    share: F32
    structured: Bool
    tone_stops: F32


@dataclass(frozen=True, slots=True, eq=False)
class Steadiness:
    """One frame against the sharpest of its siblings.

    Parameters
    ----------
    sharpness : float
        Middle of the ratio of contrasts over tiles that hold still and hold structure; the
        sharpest frame has 1.
    moved_share : float
        Share of these tiles that are much softer than the frame as a whole.
    moved : array of float32, shape (rows, cols)
        1 in these, 0 in the others, NaN where there is nothing to be told by.
    """

    sharpness: float
    moved_share: float
    moved: F32


def contrast_of(frame: SettledFrame) -> Contrast:
    """Return the fine contrast of one frame.

    Formula: ``sqrt(detail² - 1) σ / S`` with ``σ² = g S + r²``; where noise was not measured,
    ``1 / sqrt(S)`` stands for ``σ / S`` (shot noise).
    """
    greens = frame.indices("G") or [0]
    signal = np.maximum(frame.maps.mean_dn[greens].mean(axis=0), 1e-3)
    noise = frame.planes[greens[0]].noise
    floor = noise.floor_dn or 0.0
    clipped = cut_tiles(frame)[greens].any(axis=0)
    if noise.gain_dn_per_e is None or noise.read_noise_dn is None:
        noise_share = 1.0 / np.sqrt(signal)
    else:
        noise_share = np.sqrt(noise.gain_dn_per_e * signal + noise.read_noise_dn**2) / signal
    detail = frame.maps.detail
    told = np.isfinite(detail) & (signal >= LIT_FLOORS * floor) & ~clipped
    with np.errstate(invalid="ignore"):
        share = np.sqrt(np.maximum(detail**2 - 1.0, 0.0)) * noise_share
        structured = told & (detail >= STRUCTURED)
    tone = np.where(told, np.log2(signal), np.nan)
    return Contrast(
        np.where(told, share, np.nan).astype(np.float32), structured, tone.astype(np.float32)
    )


def compare_steadiness(frames: Mapping[str, Contrast]) -> dict[str, Steadiness]:
    """Compare frames of one composition and one kind.

    Parameters
    ----------
    frames : mapping of frame id to Contrast

    Returns
    -------
    dict
        Frame id to :class:`Steadiness`; empty where there are fewer than two frames or too few
        tiles with structure. Frames that cannot be told are absent.
    """
    shapes = {contrast.share.shape for contrast in frames.values()}
    if len(frames) < 2 or len(shapes) > 1:
        return {}
    looks = tuple(frames.values())
    shares = np.stack([look.share for look in looks])
    counted = np.stack([look.structured for look in looks]).sum(axis=0)
    common = (counted >= max(1, len(looks) // 2)) & holds_still(looks)
    best = np.max(np.nan_to_num(shares), axis=0)
    ratios = {
        name: np.where(common, look.share / np.maximum(best, 1e-6), np.nan)
        for name, look in frames.items()
    }
    middles = {
        name: float(np.nanmedian(ratio))
        for name, ratio in ratios.items()
        if np.count_nonzero(np.isfinite(ratio)) >= STEADY_TILES
    }
    top = max(middles.values(), default=1.0)
    found = {}
    for name, middle in middles.items():
        softer = (ratios[name] < SOFT_PATCH * middle).astype(np.float32)
        moved = np.where(np.isfinite(ratios[name]), softer, np.float32(np.nan))
        found[name] = Steadiness(middle / top, float(np.nanmean(moved)), moved)
    return found


def moved_places(
    steady: Steadiness, orientation: int | None
) -> tuple[tuple[bool | None, ...], ...]:
    """Draw together where a frame's static structure blurred by itself.

    Parameters
    ----------
    steady : Steadiness
    orientation : int or None
        Exif orientation.

    Returns
    -------
    tuple of tuples
        Upright, cells of the picture, at most :data:`MOVED_CELLS` along the longer side: whether
        half of what tells there moved; None where too little tells. Empty where no clump holds
        :data:`MOVED_TILES` tiles that are told all round: at the edge of water foam comes and goes.
    """
    from scipy import ndimage  # noqa: PLC0415 - slow to load, and a lone frame needs none

    moved = np.nan_to_num(upright(steady.moved, orientation))
    told = np.isfinite(upright(steady.moved, orientation))
    around = ndimage.uniform_filter(moved, 3, mode="nearest")
    known = ndimage.uniform_filter(told.astype(np.float32), 3, mode="nearest")
    soft = (moved > 0) & (around >= MOST * known)
    clumps, count = ndimage.label(soft)
    inner = np.bincount(clumps[soft & (known > 0.99)], minlength=count + 1)
    clumped = soft & (inner >= MOVED_TILES)[clumps]
    if not clumped.any():
        return ()
    step = math.ceil(max(moved.shape) / MOVED_CELLS)
    starts = [np.arange(0, side, step) for side in moved.shape]

    def sums(tiles: Bool) -> F64:
        rows = np.add.reduceat(tiles.astype(np.float64), starts[0], axis=0)
        return np.asarray(np.add.reduceat(rows, starts[1], axis=1), dtype=np.float64)

    hit, of = sums(clumped), sums(told)
    return tuple(
        tuple(None if n == 0 else bool(h >= n / 2.0) for h, n in zip(*row, strict=True))
        for row in zip(hit, of, strict=True)
    )


def focus_ends(frames: Mapping[str, Contrast], orientation: int | None) -> tuple[str, str] | None:
    """Tell two frames between which focus was moved from front to back.

    Held against each other are the nearest and the farthest of eight bands of the height that hold
    enough of what is static and has structure. One frame must be the sharper in front, the other
    at the back.

    Parameters
    ----------
    frames : mapping of frame id to Contrast
        Of one composition and one kind.
    orientation : int or None
        Exif orientation.

    Returns
    -------
    (str, str) or None
        The frame sharpest in front and the one sharpest at the back; None where none are.
    """
    looks = tuple(frames.values())
    if len(looks) < 2 or len({look.share.shape for look in looks}) > 1:
        return None
    shares = np.stack([upright(look.share, orientation) for look in looks])
    sharp = np.stack([upright(look.structured, orientation) for look in looks]).any(axis=0)
    told = sharp & upright(holds_still(looks), orientation) & (shares > 0.0).all(axis=0)
    focus_bands = 8  # front and back are told apart by bands of the height
    bands = np.nonzero(told)[0] * focus_bands // told.shape[0]
    full = np.flatnonzero(np.bincount(bands, minlength=focus_bands) >= STEADY_TILES)
    if len(full) < 2:
        return None
    stops = np.log2(shares[:, told])
    front, back = (np.median(stops[:, bands == band], axis=1) for band in (full[-1], full[0]))
    near, far = int(np.argmax(front - back)), int(np.argmin(front - back))
    if min(front[near] - front[far], back[far] - back[near]) < np.log2(FOCUS_RATIO):
        return None
    names = list(frames)
    return names[near], names[far]


@lru_cache(maxsize=1)  # asked twice of each kind of frames: for focus, and for steadiness
def holds_still(looks: tuple[Contrast, ...]) -> Bool:
    """Tell where the tone stays the same from frame to frame, light and exposure divided out.

    Against the frame that tells most, most of the others must agree, and so must the tiles
    round about: a wave may be as bright as the one before it in one tile, not in nine.
    """
    first = max(looks, key=lambda look: int(np.isfinite(look.tone_stops).sum()))
    agree = [_same_tone(first, look) for look in looks if look is not first]
    told = [mask for mask in agree if mask is not None]
    if not told:
        return np.zeros(first.share.shape, dtype=bool)
    still: Bool = np.mean(told, axis=0) >= MOST
    return still


def _same_tone(first: Contrast, other: Contrast) -> Bool | None:
    from scipy import ndimage  # noqa: PLC0415 - slow to load, and a lone frame needs none

    change = other.tone_stops - first.tone_stops
    core = half_sample_mode(change)
    if core is None:
        return None
    same: Bool = np.abs(change - core.value) <= SAME_TONE_STOPS
    around: Bool = ndimage.uniform_filter(same.astype(np.float32), 3, mode="nearest") >= MOST
    return np.asarray(same & around)


def softer_than(frame: Contrast, sibling: Contrast) -> float | None:
    """Return a frame's contrast against a sibling's over tiles with structure in both.

    Water that a long exposure smoothed drops out, for it has no structure left there.

    Returns
    -------
    float or None
        1 where both are as sharp; None where too few tiles tell.
    """
    if frame.share.shape != sibling.share.shape:
        return None
    both = frame.structured & sibling.structured & holds_still((frame, sibling))
    if int(both.sum()) < STEADY_TILES:
        return None
    return float(np.median(frame.share[both] / np.maximum(sibling.share[both], 1e-6)))
