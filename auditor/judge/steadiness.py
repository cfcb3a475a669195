"""How sharp the frames of one composition are where nothing moves, compared with each other.

Fine detail is measured against noise, so it says more the more light there is. Here the noise
is taken out again: what is left is contrast of neighbouring pixels as a share of the signal,
the same for every exposure of one subject, and less where the camera shook.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from auditor.model.arrays import F32
from auditor.model.measurement import Level, MosaicMeasurement

STRUCTURED = 1.6
"""Detail (1 is noise alone) from which a tile holds structure."""

LIT_FLOORS = 8.0
"""Noise floors above which a tile's contrast is trusted."""

LEAST_TILES = 40
"""Fewer tiles with structure tell nothing."""

SOFT_PATCH = 0.6
"""A tile this much softer than in the sharpest sibling has moved by itself."""


@dataclass(frozen=True, slots=True, eq=False)
class Contrast:
    """Fine contrast of one frame, tile by tile; NaN where it cannot be told.

    Parameters
    ----------
    share : array of float32, shape (rows, cols)
        Standard deviation of neighbouring pixels as a share of the signal, noise taken out.
    structured : array of bool, shape (rows, cols)
    """

    share: F32
    structured: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]


@dataclass(frozen=True, slots=True)
class Steadiness:
    """One frame against the sharpest of its siblings.

    Parameters
    ----------
    sharpness : float
        Middle of the ratio of contrasts over tiles that hold structure in most frames; the
        sharpest frame has 1.
    moved_share : float
        Share of these tiles that are much softer than the frame as a whole.
    """

    sharpness: float
    moved_share: float


def contrast_of(mosaic: MosaicMeasurement, levels: Sequence[Level]) -> Contrast:
    """Return the fine contrast of one frame.

    Formula: ``sqrt(detail² - 1) σ / S`` with ``σ² = g S + r²``; where noise was not measured,
    ``1 / sqrt(S)`` stands for ``σ / S`` (shot noise).
    """
    names = [plane.name for plane in mosaic.planes]
    greens = [i for i, name in enumerate(names) if name.startswith("G")] or [0]
    signal = np.maximum(mosaic.maps.mean_dn[greens].mean(axis=0), 1e-3)
    noise = mosaic.planes[greens[0]].noise
    floor = noise.floor_dn or 0.0
    clipped = np.any([mosaic.maps.max_dn[i] >= levels[i].blown_from_dn for i in greens], axis=0) & (
        mosaic.maps.over_share[greens].max(axis=0) > 0.004
    )
    if noise.gain_dn_per_e is None or noise.read_noise_dn is None:
        noise_share = 1.0 / np.sqrt(signal)
    else:
        noise_share = np.sqrt(noise.gain_dn_per_e * signal + noise.read_noise_dn**2) / signal
    detail = mosaic.maps.detail
    told = np.isfinite(detail) & (signal >= LIT_FLOORS * floor) & ~clipped
    with np.errstate(invalid="ignore"):
        share = np.sqrt(np.maximum(detail**2 - 1.0, 0.0)) * noise_share
        structured = told & (detail >= STRUCTURED)
    return Contrast(np.where(told, share, np.nan).astype(np.float32), structured)


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
    shares = np.stack([contrast.share for contrast in frames.values()])
    counted = np.stack([contrast.structured for contrast in frames.values()]).sum(axis=0)
    common = counted >= max(1, len(frames) // 2)
    if int(common.sum()) < LEAST_TILES:
        return {}
    best = np.nanmax(np.where(np.isfinite(shares), shares, 0.0), axis=0)
    ratios = [share[common & np.isfinite(share)] / best[common & np.isfinite(share)]
              for share in shares]  # fmt: skip
    middles = {
        name: float(np.median(ratio))
        for name, ratio in zip(frames, ratios, strict=True)
        if len(ratio) >= LEAST_TILES
    }
    if not middles:
        return {}
    top = max(middles.values())
    return {
        name: Steadiness(middles[name] / top, float((ratio < SOFT_PATCH * middles[name]).mean()))
        for name, ratio in zip(frames, ratios, strict=True)
        if name in middles
    }


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
    both = frame.structured & sibling.structured
    if int(both.sum()) < LEAST_TILES:
        return None
    return float(np.median(frame.share[both] / np.maximum(sibling.share[both], 1e-6)))
