"""By how much the picture moved between two frames, and how alike they are there.

The correlation of their structure (:mod:`auditor.group.structure`) over all shifts is worked out
at once by Fourier transforms, with masks for blown and blocked parts ("Masked object registration
in the Fourier domain", IEEE Transactions on Image Processing, 2012); then blocks of tiles vote.
"""

from __future__ import annotations

from collections import OrderedDict

import numpy as np

from auditor.group.fine_shift import FineShift, refined
from auditor.group.likeness import Likeness
from auditor.group.structure import (
    C64,
    Structure,
    row_likeness,
    structure_of,
    structure_stops,
    votes,
)
from auditor.group.tile_image import TileImage
from auditor.model.arrays import F32

LEAN = 0.01
"""Correlation that a shift must gain a tile: tripods hold still and clouds do not."""


KEPT = 32
"""Structures of so many images are kept: each is compared with those before it."""


class Comparer:
    """Compares images, and keeps the structure of the latest ones."""

    def __init__(self) -> None:
        self._kept: OrderedDict[int, tuple[TileImage, Structure]] = OrderedDict()

    def structure(self, image: TileImage) -> Structure:
        """Return the structure of a image, worked out once while it is in use."""
        key = id(image)
        if key not in self._kept:
            self._kept[key] = (image, structure_of(image))
            if len(self._kept) > KEPT:
                self._kept.popitem(last=False)
        self._kept.move_to_end(key)
        return self._kept[key][1]

    def compare(
        self,
        first: TileImage,
        second: TileImage,
        reach: tuple[float, float],
        *,
        least_overlap: float = 0.1,
        lean: float = LEAN,
    ) -> Likeness:
        """Find the best shift within ``reach`` (shares of height and width) and judge it.

        ``lean`` is what a shift must gain in correlation a tile: 0 where the camera was turned
        (parts of a tile do not matter then and are not refined).
        """
        if first.shape != second.shape:
            return Likeness()
        a, b = self.structure(first), self.structure(second)
        rows, cols = first.shape
        down = min(rows - 1, max(1, round(reach[0] * rows)))
        right = min(cols - 1, max(1, round(reach[1] * cols)))
        scores, shares = correlations(a, b, down, right, least_overlap)
        # how far each shift lies from none
        far = np.hypot(*np.ogrid[-down : down + 1, -right : right + 1]).astype(np.float32)
        best = np.unravel_index(int(np.argmax(scores - lean * far)), scores.shape)
        y, x = int(best[0]), int(best[1])
        ballot = votes(a, b, y - down, x - right)
        rough = y - down + _peak(scores[:, x], y), x - right + _peak(scores[y], x)
        worth = lean > 0 and float(scores[y, x]) >= 0.4 and ballot.agreeing >= 3
        fine = refined(a, b, rough, (y - down, x - right)) if worth else FineShift(*rough)
        return Likeness(
            correlation=float(scores[y, x]),
            ballot=ballot,
            overlap=float(shares[y, x]),
            right=fine.right,
            down=fine.down,
            error_tiles=fine.error_tiles,
            level_rows=row_likeness(a.row_steps, b.row_steps),
        )

    def compare_still(self, first: TileImage, second: TileImage) -> Likeness:
        """Compare without any shift, over nothing but what both record.

        Where most of a frame is lost, the edges of what is left distort its structure; here
        both frames get the same edges.
        """
        if first.shape != second.shape:
            return Likeness()
        known = np.isfinite(structure_stops(first)) & np.isfinite(structure_stops(second))
        a, b = structure_of(first, known), structure_of(second, known)
        scores, shares = correlations(a, b, 0, 0, 0.0)
        ballot = votes(a, b, 0, 0)
        return Likeness(float(scores[0, 0]), ballot, float(shares[0, 0]))


def correlations(
    a: Structure, b: Structure, down: int, right: int, least_overlap: float
) -> tuple[F32, F32]:
    """Correlate two structures over all shifts within reach.

    Returns
    -------
    correlation, overlap : arrays, shape (2 down + 1, 2 right + 1)
        Middle element: no shift. Correlation is -1 where the overlap is too small.
    """
    from scipy import fft  # noqa: PLC0415 - slow to load, and a lone frame needs none

    rows, cols = a.values.shape
    # as wide as a shift within reach needs, so that no edge meets the other one
    size = tuple(fft.next_fast_len(n, real=True) for n in (rows + down, cols + right))
    (first, squared, there), (second, other_squared, other_there) = map(
        Structure.spectra, (a, b), (size, size)
    )

    lines, across = np.arange(-down, down + 1), np.arange(-right, right + 1)

    def over_shifts(one: C64, other: C64) -> F32:
        whole = fft.irfft2(np.conj(one) * other, size)
        part: F32 = whole.take(lines, 0, mode="wrap").take(across, 1, mode="wrap")
        return part

    shares = over_shifts(there, other_there) / (rows * cols)
    energy = over_shifts(squared, other_there) * over_shifts(there, other_squared)
    scale = np.sqrt(np.maximum(energy, 1e-9))
    scores = over_shifts(first, second) / np.maximum(scale, 1e-3)
    return np.where(shares >= least_overlap, scores, np.float32(-1.0)), shares


def _peak(line: F32, at: int) -> float:
    """Return the top of a parabola through a peak and its neighbours, relative to the peak."""
    if not 0 < at < len(line) - 1:
        return 0.0
    left, top, right = (float(v) for v in line[at - 1 : at + 2])
    bend = left - 2.0 * top + right
    if bend >= -1e-9 or min(left, right) <= -1.0:
        return 0.0
    return min(0.5, max(-0.5, 0.5 * (left - right) / bend))
