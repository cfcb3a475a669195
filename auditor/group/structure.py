"""What is compared of two frames: their structure.

The logarithm of the signal (so exposure, filters and overall light only add a constant),
band-passed, with the mean of each row taken off: a horizon, a graduated filter or a sky's
fall-off match nothing by themselves.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from auditor.group.likeness import Ballot
from auditor.group.limits import BLOCK_AGREES, BLOCK_STOPS, BLOCK_STRONG_STOPS
from auditor.group.tile_image import TileImage
from auditor.model.arrays import F32, Bool, median_of

C64: TypeAlias = NDArray[np.complex64]

FINE_TILES, COARSE_TILES = 0.8, 5.0
"""Band that is compared, in tiles: finer is noise and sub-tile shifts, coarser is light."""

MOST_STOPS = 1.5
"""Structure is cut off here, so that one bright thing cannot decide alone."""

SKY_WEIGHT = 0.4
"""Weight of the top row against the bottom row: the ground holds still, the sky does not."""

BLOCK = 8
"""Tiles a side of the blocks that vote."""


@dataclass(frozen=True, slots=True, eq=False)
class Structure:
    """Structure of one image.

    Parameters
    ----------
    values : array of float32, shape (rows, cols)
        Zero where unknown.
    known : array of float32
        1 where the tile is well recorded, else 0.
    row_steps : array of float32, shape (rows - 1,)
        Steps of the mean from row to row, over tiles known in both; NaN where there are none.
    """

    values: F32
    known: F32
    row_steps: F32
    _spectra: dict[tuple[int, ...], tuple[C64, ...]] = field(default_factory=dict)

    def spectra(self, size: tuple[int, ...]) -> tuple[C64, ...]:
        """Return the spectra of weighted values, of their squares, of ``known``; kept by size."""
        from scipy import fft  # noqa: PLC0415 - slow to load, and a lone frame needs none

        if size not in self._spectra:
            ramp = np.linspace(SKY_WEIGHT, 1.0, len(self.values), dtype=np.float32)[:, None]
            weighted = self.values * np.sqrt(ramp)
            parts = [fft.rfft2(part, size) for part in (weighted, weighted**2)]
            whole = _spectrum_of_all(self.known.shape, size) if self.known.all() else None
            parts.append(fft.rfft2(self.known, size) if whole is None else whole)
            self._spectra[size] = tuple(parts)
        return self._spectra[size]


def structure_stops(image: TileImage) -> F32:
    """Return the stops that structure is made from; NaN where blown or under two floors."""
    return image.stops(image.main, floors=2.0)


def structure_of(image: TileImage, where: Bool | None = None) -> Structure:
    """Work out the structure of one image, of tiles in ``where`` only if that is given."""
    stops = structure_stops(image)
    there = np.isfinite(stops) if where is None else where & np.isfinite(stops)
    known = there.astype(np.float32)
    values = np.where(there, stops, np.float32(0.0))
    band = _smooth(values, known, FINE_TILES) - _smooth(values, known, COARSE_TILES)
    rows = (band * known).sum(axis=1) / np.maximum(1.0, known.sum(axis=1))
    band = np.clip((band - rows[:, None]) * known, -MOST_STOPS, MOST_STOPS).astype(np.float32)
    both = known[1:] * known[:-1]
    count = both.sum(axis=1)
    steps = ((values[1:] - values[:-1]) * both).sum(axis=1) / np.maximum(1.0, count)
    enough = count >= 0.2 * known.shape[1]
    steps = np.where(enough, steps, np.float32(np.nan)).astype(np.float32)
    return Structure(band, known, steps)


def row_likeness(first: F32, second: F32) -> float:
    """Correlate two columns of steps; a soft step may fall between rows, hence the smoothing."""
    from scipy import ndimage  # noqa: PLC0415 - slow to load, and a lone frame needs none

    known = np.isfinite(first) & np.isfinite(second)
    if int(known.sum()) < 8:
        return 0.0
    a, b = (ndimage.gaussian_filter1d(np.nan_to_num(line), 0.7)[known] for line in (first, second))
    a, b = a - median_of(a), b - median_of(b)
    return float((a @ b) / max(1e-9, float(np.sqrt((a @ a) * (b @ b)))))


def _smooth(values: F32, known: F32, sigma: float) -> F32:
    """Gaussian mean over what is known."""
    from scipy import ndimage  # noqa: PLC0415 - slow to load, and a lone frame needs none

    total: F32 = ndimage.gaussian_filter(values * known, sigma, mode="nearest")
    if known.all():
        return total
    mass = ndimage.gaussian_filter(known, sigma, mode="nearest")
    smooth: F32 = total / np.maximum(mass, 1e-4)
    return smooth


@lru_cache(maxsize=8)
def _spectrum_of_all(shape: tuple[int, ...], size: tuple[int, ...]) -> C64:
    """Return the spectrum of what is known where all is."""
    from scipy import fft  # noqa: PLC0415 - slow to load, and a lone frame needs none

    spectrum: C64 = fft.rfft2(np.ones(shape, np.float32), size)
    return spectrum


def votes(a: Structure, b: Structure, down: int, right: int) -> Ballot:
    """Let the blocks vote at a whole-tile shift; each where both frames record most of it."""
    first, second = overlapping(a.values, b.values, down, right)
    known_a, known_b = overlapping(a.known, b.known, down, right)
    known = in_blocks(known_a * known_b)
    count = known.sum(axis=1)
    x, y = _centred(in_blocks(first), known), _centred(in_blocks(second), known)
    xx, yy, xy = (np.einsum("bi,bi->b", p, q) for p, q in ((x, x), (y, y), (x, y)))
    agreement = xy / np.sqrt(np.maximum(xx * yy, 1e-12))
    whole = count >= BLOCK**2 * 0.6
    voting = whole & (np.minimum(xx, yy) >= count * BLOCK_STOPS**2)
    in_first, in_second = (whole & (one >= count * BLOCK_STRONG_STOPS**2) for one in (xx, yy))
    strong, *each = (
        (int(where.sum()), float(median_of(agreement[where])) if where.any() else 0.0)
        for where in (in_first | in_second, in_first, in_second)
    )
    return Ballot(
        int((voting & (agreement >= BLOCK_AGREES)).sum()),
        int(voting.sum()),
        *strong,
        *each,
    )


def overlapping(first: F32, second: F32, down: int, right: int) -> tuple[F32, F32]:
    """Cut both pictures to the part they share when the second lies ``down`` and ``right``."""
    rows, cols = first.shape[-2:]
    a = first[..., max(0, -down) : rows - max(0, down), max(0, -right) : cols - max(0, right)]
    b = second[..., max(0, down) : rows - max(0, -down), max(0, right) : cols - max(0, -right)]
    return a, b


def in_blocks(picture: F32) -> F32:
    """Cut a picture into blocks, shape (blocks, tiles of one); what is left over is dropped."""
    rows, cols = (n // BLOCK for n in picture.shape)
    cut = picture[: rows * BLOCK, : cols * BLOCK].reshape(rows, BLOCK, cols, BLOCK)
    blocks: F32 = cut.swapaxes(1, 2).reshape(rows * cols, BLOCK * BLOCK)
    return blocks


def _centred(blocks: F32, known: F32) -> F32:
    mean = (blocks * known).sum(axis=1) / np.maximum(1.0, known.sum(axis=1))
    centred: F32 = (blocks - mean[:, None]) * known
    return centred
