"""Pixels that repeat in a pattern of their own and record other light: those of phase detection.

Half covered, or corrected by the camera but not quite, they stand out from their neighbours by a
share of the signal, as texture does and noise does not. A picture folded by a length that the
usual patterns divide has them all in the same few places; of a scene nothing is left there.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from auditor.black.levels import PlaneBlack
from auditor.model.arrays import F64, MAD_TO_SIGMA
from auditor.noise.blocks import SAMPLE_PIXELS
from auditor.noise.limits import APART_PIXELS, APART_SURE
from auditor.sensor.lattice import SensorLattice

FOLD = 48
"""Pixels a side: a multiple of 2, 3, 4, 6, 8, 12, 16 and 24, and of every colour pattern."""

LEAST_SIGNAL_DN = 16.0
"""Under it the black of each place counts for more than its light."""


def planes_with_others(lattice: SensorLattice, blacks: Mapping[int, PlaneBlack]) -> set[int]:
    """Return the planes of a lattice in which some pixels, again and again, record other light."""
    height, width = (size // FOLD * FOLD for size in lattice.pixels.shape)
    bands = height // FOLD
    if bands < 2 or not width:
        return set()
    every = max(1, min(bands // 2, height * width // SAMPLE_PIXELS))
    own = lattice.pixels[:height, :width].reshape(bands, FOLD, width)[::every]
    down, across = lattice.pattern.shape
    planes = np.tile(lattice.pattern, (FOLD // down, FOLD // across))
    black_dn = np.zeros(planes.shape)
    for plane, black in blacks.items():
        black_dn[planes == plane] = black.mean_dn
    halves = []
    for half in (own[0::2], own[1::2]):
        # in 16 bits where nothing can overflow: several times as fast
        kind = np.uint16 if len(half) * int(half.max()) <= 0xFFFF else np.uint32
        sums = half.sum(axis=0, dtype=kind).reshape(FOLD, -1, FOLD).sum(axis=1, dtype=np.uint32)
        folded = sums / (half.size // FOLD**2)
        beside = [np.roll(folded, by, axis) for axis, by in ((0, down), (1, across))]
        beside += [np.roll(folded, -by, axis) for axis, by in ((0, down), (1, across))]
        level = np.median(beside, axis=0)
        halves.append((folded - level) / np.maximum(level - black_dn, LEAST_SIGNAL_DN))
    first, second = halves
    least: F64 = np.where(first * second > 0, np.minimum(np.abs(first), np.abs(second)), 0.0)
    scatter = MAD_TO_SIGMA * float(np.median(np.abs(np.concatenate(halves))))
    # what lies at the edge of the fold has light of elsewhere on one side
    inside = np.s_[down:-down, across:-across]
    told = least[inside] >= max(APART_PIXELS, APART_SURE * scatter)
    return set(planes[inside][told].tolist())
