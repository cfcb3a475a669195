"""Steps between the values that occur: one DN, or more where the file was packed with loss."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from auditor.model.arrays import F64, I64
from auditor.model.measurement import Histogram

COARSE = 1.5
"""Steps from which codes add to the noise; finer combs come from third-stop ISOs."""

WINDOW, WIDE_WINDOW = 64, 512
FEW_CODES = 4
ENOUGH = 8
"""Mean count a bin from which an empty one is no accident."""

NO_CHANCE_DN = 3.0
"""Of bins with one pixel each on average two in three are filled: so wide a step is no accident."""

TAIL = 0.01
"""Share of a window's pixels left out at each end: beyond lies what noise hardly reaches."""


@lru_cache(maxsize=8)  # of each plane of a mosaic: noise and clipping ask several times
def code_steps_dn(histogram: Histogram) -> F64:
    """Return the mean step between values that occur, one per window of 64 DN from DN 0.

    Lossy packing leaves gaps in the histogram, wider towards the bright end; so does
    multiplying the values for a third-stop ISO. Where counts are too few to tell, the step is 1.
    """
    filled = np.flatnonzero(histogram.counts > 0)
    steps, codes = _steps(histogram, filled, WINDOW)
    if (codes < FEW_CODES).any():  # so wide apart that a window holds one or two
        wide, _ = _steps(histogram, filled, WIDE_WINDOW)
        steps = np.where(codes < FEW_CODES, wide.repeat(WIDE_WINDOW // WINDOW)[: len(steps)], steps)
    return steps


def _steps(histogram: Histogram, filled: I64, window: int) -> tuple[F64, I64]:
    """Return the step in each window, and how many codes it holds; many where counts are few.

    Parameters
    ----------
    filled : array
        Places of the bins that are not empty.
    """
    windows = max(1, histogram.last_dn // window + 1)  # a frame of a pixel has empty planes
    below = histogram.below
    ends = np.arange(windows + 1) * window - histogram.first_dn
    under = below[ends.clip(0, len(below) - 1)]
    total = np.diff(under)
    low, high = np.floor(TAIL * total), np.ceil((1.0 - TAIL) * total)  # pixels are whole
    first = below[1:].searchsorted(under[:-1] + low.astype(np.int64), "right")
    end = below[1:].searchsorted(under[:-1] + high.astype(np.int64)) + 1
    width = np.where(total > 0, end - first, 0)
    occurring = filled.searchsorted(end) - filled.searchsorted(first)
    codes = np.where(total > 0, occurring, 0)
    steps: F64 = np.where(codes > 1, (width - 1) / np.maximum(codes - 1, 1), 1.0)
    told = (total >= ENOUGH * width) | ((total >= width) & (steps >= NO_CHANCE_DN))
    steps = np.where(told, steps, 1.0)
    # a window of one code, as clipping leaves it, has the step of the one below
    known = np.maximum.accumulate(np.where(told & (codes == 1), 0, np.arange(windows)))
    return steps[known], np.where(told, codes, window)


def code_step_at(steps_dn: F64, level_dn: F64) -> F64:
    """Return the step around each raw level."""
    window = np.clip(np.asarray(level_dn, dtype=np.int64) // WINDOW, 0, len(steps_dn) - 1)
    step: F64 = steps_dn[window]
    return step


def widest_gap_dn(histogram: Histogram, low_dn: float, high_dn: float) -> float:
    """Return the widest distance of neighbouring values that are no accident between two levels."""
    often = 0.02  # share of what lies between them from which on a value is none
    first = max(0, int(low_dn) - histogram.first_dn)
    counts = histogram.counts[first : max(first, int(high_dn) + 1 - histogram.first_dn)]
    occurring = np.flatnonzero(counts > often * max(1, int(counts.sum(dtype=np.int64))))
    return float(np.diff(occurring).max(initial=1))
