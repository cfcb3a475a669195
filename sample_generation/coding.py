"""What packing with loss and in-camera smoothing make of recorded values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from auditor.model.arrays import F64, U16, Bool

RINGING_PX = (0.7, 2.0)
"""Scales, in pixels of one colour, between which a codec rings about a sharp edge."""


@dataclass(frozen=True, slots=True)
class Coding:
    """How a file keeps its values; the default keeps them as they are.

    Parameters
    ----------
    smooth_px : float
        Standard deviation of a smoothing over pixels of one colour.
    wavelet_dn : float
        Differences of neighbours of one colour that are smaller are set to zero.
    ringing_dn : float
        How far the values overshoot where blown meets not blown.
    step_dn : int
        Distance of the values that occur.
    """

    smooth_px: float = 0.0
    wavelet_dn: float = 0.0
    ringing_dn: float = 0.0
    step_dn: int = 1

    def coded(
        self, values: U16, cut: Bool, pattern: NDArray[np.uint8], rng: np.random.Generator
    ) -> U16:
        """Return the values as the file holds them; ``cut`` tells which pixels were clipped."""
        if self == AS_RECORDED:
            return values
        coded = values.astype(np.float64)
        rows, cols = pattern.shape[:2]
        if self.smooth_px and pattern.size > pattern.max() + 1:
            coded = self._smoothed(coded, pattern)
        for y in range(rows):
            for x in range(cols):
                place = np.s_[y::rows, x::cols]
                alone = np.count_nonzero(pattern == pattern[y, x]) == 1
                coded[place] = self._coded(coded[place], cut[place], rng, smooth=alone)
        step = float(self.step_dn)
        kept: U16 = np.clip(np.rint(coded / step) * step, 0, 65535).astype(np.uint16)
        return kept

    def _smoothed(self, values: F64, pattern: NDArray[np.uint8]) -> F64:
        """Smooth each colour that has several places over its own nearest neighbours."""
        repeats = [-(-size // step) for size, step in zip(values.shape, pattern.shape, strict=True)]
        planes = np.tile(pattern, repeats)[: values.shape[0], : values.shape[1]]
        made = values.copy()
        for plane in np.unique(pattern):
            own = planes == plane
            width_px = self.smooth_px * (pattern.size / np.count_nonzero(pattern == plane)) ** 0.5
            total = gaussian_filter(np.where(own, values, 0.0), width_px)
            made[own] = (total / gaussian_filter(own.astype(np.float64), width_px))[own]
        return made

    def _coded(
        self, values: F64, cut: NDArray[Any], rng: np.random.Generator, *, smooth: bool
    ) -> F64:
        if self.smooth_px and smooth:
            values = gaussian_filter(values, self.smooth_px, axes=(0, 1))
        if self.wavelet_dn:
            values = without_fine_differences(values, self.wavelet_dn)
        if self.ringing_dn:
            mask = cut.astype(np.float64)
            fine, coarse = (gaussian_filter(mask, scale, axes=(0, 1)) for scale in RINGING_PX)
            edge = fine - coarse
            values = values + self.ringing_dn * edge
            noise = 0.05 * self.ringing_dn * rng.standard_normal(values.shape)
            values += noise * (np.abs(edge) > 0.02)
        return values


AS_RECORDED = Coding()
"""Nothing lost."""


def without_fine_differences(values: F64, least_dn: float) -> F64:
    """Set small differences within each two by two of one colour to zero (one Haar step)."""
    rows, cols = values.shape[0] // 2 * 2, values.shape[1] // 2 * 2
    a, b, c, d = (values[y:rows:2, x:cols:2] for y in (0, 1) for x in (0, 1))
    mean = (a + b + c + d) / 4.0
    across, down, diagonal = (a - b + c - d) / 4.0, (a + b - c - d) / 4.0, (a - b - c + d) / 4.0
    for part in (across, down, diagonal):
        part[np.abs(part) < least_dn] = 0.0
    made = values.copy()
    made[0:rows:2, 0:cols:2] = mean + across + down + diagonal
    made[0:rows:2, 1:cols:2] = mean - across + down - diagonal
    made[1:rows:2, 0:cols:2] = mean + across - down - diagonal
    made[1:rows:2, 1:cols:2] = mean - across - down + diagonal
    return made
