"""Whether pixels know of their neighbours, or small differences were shrunk: no noise does that.

Noise of one pixel is independent of that of the next, whatever its colour, and follows a normal
law. Colours mixed with those beside them, and charge that trails into the next pixel, leave each
plane white by itself, but the noise of two planes alike; what is left of texture is so as well,
in all directions. Noise reduction that takes small differences back leaves too many large ones.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from auditor.model.arrays import F32, U16, Bool
from auditor.noise.blocks import BANDS_AT_ONCE, BLOCK, pooled, sample_bands
from auditor.noise.limits import (
    EVEN_UNREST,
    NEIGHBOURS_ALIKE,
    NEIGHBOURS_SURE,
    TAILS,
    TAILS_FROM,
    TAILS_SURE,
)
from auditor.noise.photon_transfer import LEAST_MODEL_DN2, TransferFit
from auditor.sensor.lattice import SensorLattice

QUADS = BLOCK * BLOCK
FARTHEST = 4.0
"""Standard deviations: what lies further off is no noise, and counts as if it lay there."""


@dataclass(frozen=True, slots=True, eq=False)
class Diagonals:
    """Diagonal differences of one plane's quads, shape (bands, rows, columns), in sigmas.

    Parameters
    ----------
    calm : array of bool, shape (bands, columns of blocks)
        Blocks without texture, at levels that the relation of noise to light holds for.
    lit : array of bool
        Those of them in which light makes most of the noise.
    """

    values: F32
    calm: Bool
    lit: Bool

    def of(self, blocks: Bool) -> F32:
        """Return the values within some blocks, shape (blocks, quads)."""
        bands, rows, cols = self.values.shape
        parts = self.values.reshape(bands, rows, cols // BLOCK, BLOCK).transpose(0, 2, 1, 3)
        return parts[blocks].reshape(-1, QUADS)


def altered(lattice: SensorLattice, planes: Sequence[tuple[int, float, TransferFit]]) -> bool:
    """Tell whether noise is alike in neighbours, or not of a normal law.

    Parameters
    ----------
    planes : sequence of (plane, black in DN, TransferFit)
        All planes of the lattice; of other patterns than two by two nothing is told.
    """
    rows, cols = lattice.pattern.shape
    fits = {plane: (black_dn, fit) for plane, black_dn, fit in planes}
    if (rows, cols) != (2, 2) or len(fits) < rows * cols:
        return False
    bands = sample_bands(lattice, 2 * BLOCK * rows)
    width = bands.shape[2] // (2 * BLOCK * cols) * (2 * BLOCK * cols)
    found = {
        (y, x): _diagonals(bands[:, y::rows, x:width:cols], *fits[int(lattice.pattern[y, x])])
        for y in range(rows)
        for x in range(cols)
    }
    return long_tailed(list(found.values())) or mixed_planes(found)


def _diagonals(pixels: U16, black_dn: float, fit: TransferFit) -> Diagonals:
    """Take some bands at a time: all of them would take as much again as is kept, four times."""
    parts = [
        _of_bands(pixels[start : start + BANDS_AT_ONCE], black_dn, fit)
        for start in range(0, max(1, len(pixels)), BANDS_AT_ONCE)
    ]
    values, calm, lit = (np.concatenate(column) for column in zip(*parts, strict=True))
    return Diagonals(values, calm, lit)


def _of_bands(pixels: U16, black_dn: float, fit: TransferFit) -> tuple[F32, Bool, Bool]:
    own = pixels.astype(np.float32)
    a, b, c, d = own[:, ::2, ::2], own[:, ::2, 1::2], own[:, 1::2, ::2], own[:, 1::2, 1::2]
    ab, cd, a_b, c_d = a + b, c + d, a - b, c - d
    # a block's unrest, slopes taken out, for one pixel
    squares = sum(
        pooled(one**2, np.add) - pooled(one, np.add) ** 2 / QUADS for one in (a_b + c_d, ab - cd)
    )
    unrest_dn2 = squares / (8.0 * (QUADS - 1))
    level = pooled(ab + cd, np.add) / (4.0 * QUADS) - black_dn
    model = np.maximum(fit.variance_dn2(level.astype(np.float64)), LEAST_MODEL_DN2)
    calm = (unrest_dn2 <= EVEN_UNREST * model) & (unrest_dn2 > 0.0)
    top_dn = fit.darkest_dn + fit.span_dn
    calm &= (level >= fit.darkest_dn) & (level <= top_dn)
    # light makes the noise of all but the darkest levels, over whose model black may be off
    lit = calm & (fit.gain_dn_per_e * level >= fit.read_dn2) & (level >= TAILS_FROM * top_dn)
    sigma = np.repeat(2.0 * np.sqrt(model), BLOCK, axis=1)[:, None].astype(np.float32)
    values: F32 = np.clip((a_b - c_d) / sigma, -FARTHEST, FARTHEST)
    return values, calm, lit


def mixed_planes(planes: Mapping[tuple[int, int], Diagonals]) -> bool:
    """Tell whether planes beside or below each other are more alike than those aslant."""
    beside, below, aslant = (
        np.mean([_alike(planes[first], planes[second]) for first, second in pairs], axis=0)
        for pairs in (
            (((0, 0), (0, 1)), ((1, 0), (1, 1))),
            (((0, 0), (1, 0)), ((0, 1), (1, 1))),
            (((0, 0), (1, 1)), ((0, 1), (1, 0))),
        )
    )
    share = float(max(beside[0], below[0]) - aslant[0])
    error = float((max(beside[1], below[1]) + aslant[1]) / 2.0) ** 0.5
    return share >= NEIGHBOURS_ALIKE and share >= NEIGHBOURS_SURE * error


def _alike(first: Diagonals, second: Diagonals) -> tuple[float, float]:
    """Return the correlation of two planes, and its variance."""
    both = first.calm & second.calm
    one, other = first.of(both), second.of(both)
    if not one.size:
        return 0.0, np.inf
    spread = float((one**2).mean(dtype=np.float64) * (other**2).mean(dtype=np.float64)) ** 0.5
    return float((one * other).mean(dtype=np.float64)) / spread, 1.0 / one.size


def long_tailed(planes: Sequence[Diagonals]) -> bool:
    """Tell whether the fourth power of the noise is more than a normal law's, 3 variances²."""
    count, excess = 0, 0.0
    for own in planes:
        squares = own.of(own.lit) ** 2
        if squares.size:
            mean = float(squares.mean(dtype=np.float64))
            fourth = float((squares**2).mean(dtype=np.float64))
            count, excess = count + squares.size, excess + squares.size * (fourth / mean**2 - 3.0)
    return excess >= TAILS * count and excess > TAILS_SURE * (24.0 * count) ** 0.5
