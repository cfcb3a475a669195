"""Steps between the values that occur: one DN, or more where the file was packed with loss."""

from __future__ import annotations

import numpy as np

from auditor.model.arrays import F64
from auditor.model.measurement import Histogram

WINDOW = 64
ENOUGH = 30
"""Mean count a bin from which an empty one is no accident."""


def code_step_dn(histogram: Histogram, level_dn: F64) -> F64:
    """Return the mean step between values that occur around each raw level.

    Lossy packing leaves gaps in the histogram, wider towards the bright end; so does
    multiplying the values for a third-stop ISO. Where counts are too few to tell, the step is 1.
    """
    filled = np.concatenate([[0], np.cumsum(histogram.counts > 0)])
    pixels = np.concatenate([[0], np.cumsum(histogram.counts, dtype=np.int64)])
    bins = len(histogram.counts)
    centre = np.rint(level_dn).astype(np.int64) - histogram.first_dn
    low = np.clip(centre - WINDOW // 2, 0, bins)
    high = np.clip(centre + WINDOW // 2, 0, bins)
    width = np.maximum(high - low, 1)
    occupied = np.maximum(filled[high] - filled[low], 1)
    dense = (pixels[high] - pixels[low]) >= ENOUGH * width
    step: F64 = np.where(dense, width / occupied, 1.0)
    return step
