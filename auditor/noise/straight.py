"""Whether noise grows with the signal as that of light does: on one line, but for unevenness.

Where the response bends, or places were amplified each by its own factor, or bright pixels were
read otherwise, the photon-transfer relation ``r² + g S + (p S)²`` is followed over a part of the
levels only, and what is fitted to all of them is no gain. Two terms that a straight response has
not tell it, held against their own errors: one of the third power of the signal, and noise
without light that is not the masked border's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from auditor.black.border import BorderLevel
from auditor.model.arrays import F64
from auditor.noise.level_bins import LevelBins
from auditor.noise.limits import (
    CURVED_ABOVE,
    CURVED_BELOW,
    CURVED_GAIN,
    CURVED_SURE,
    EVEN_APART,
    EVEN_BLOCKS,
    EVEN_LEVELS,
    EVEN_LEVELS_OFF,
)
from auditor.noise.photon_transfer import (
    DROPPING_ROUNDS,
    LEAST_MODEL_DN2,
    MODEL_SLACK,
    LevelGroups,
    TransferFit,
    calm_places,
    levels_of,
)

POWERS = 4


@dataclass(frozen=True, slots=True)
class _Freed:
    """What becomes of a fit that is given one term more.

    Parameters
    ----------
    errors : float
        The term in standard errors.
    gain_moves : float
        By what share the gain changes with it.
    """

    errors: float
    gain_moves: float


def straight(
    planes: Sequence[tuple[LevelBins, TransferFit, BorderLevel | None]],
    uneven: tuple[float, float],
    *,
    even: bool = True,
) -> bool:
    """Tell whether noise grows with the signal as light's does, as all planes tell together.

    Parameters
    ----------
    planes : sequence of (LevelBins, TransferFit, BorderLevel or None)
    uneven : (float, float)
        What is known of ``p²``, and its error.
    even : bool
        Whether levels that seem even are asked: not where corners were brightened.
    """
    cubes: list[_Freed] = []
    darks: list[_Freed] = []
    off = [found for own in planes if (found := even_levels_off(*own[:2])) is not None]
    if even and off and float(np.median(off)) > EVEN_LEVELS_OFF:
        return False
    for level_bins, fit, border in planes:
        levels = levels_of(level_bins, calm_places(level_bins, fit))
        if not len(levels.signal_dn[POWERS:]):
            continue
        cubes.append(_freed(levels, fit, border, uneven, term=3))
        if border is not None and border.variance_dn2 > 0:
            darks.append(_freed(levels, fit, border, uneven, term=0))
    return not any(_sure(told) for told in (cubes, darks))


def even_levels_off(level_bins: LevelBins, fit: TransferFit) -> float | None:
    """Return how far the noise of even levels lies over a fit, as a share; None where few are even.

    The levels furthest off are asked: a bent response leaves the fit on one side of its bend, and
    the levels on the other are taken for texture. But texture is in some places, and stirs quads
    more across and down than aslant; all blocks of an even level have the same white noise.
    """
    group, sizes = level_bins.group, level_bins.sizes
    calmer = level_bins.rank < 0.5
    calm_dn2, loud_dn2 = (
        np.bincount(group[half], level_bins.noise_dn2[half], len(sizes))
        / np.maximum(np.bincount(group[half], minlength=len(sizes)), 1)
        for half in (calmer, ~calmer)
    )
    count = np.maximum(sizes, 1)
    noise_dn2, signal_dn = (
        np.bincount(group, values, len(sizes)) / count
        for values in (level_bins.noise_dn2, level_bins.signal_dn)
    )
    middle_dn2 = np.full(len(sizes), np.inf)  # blocks are in order of their unrest
    loud = np.flatnonzero(~calmer)[::-1]
    middle_dn2[group[loud]] = level_bins.texture_variance_dn2[loud]
    even = (sizes >= EVEN_BLOCKS) & (loud_dn2 <= (1.0 + EVEN_APART) * calm_dn2)
    even &= np.abs(middle_dn2 - noise_dn2) <= EVEN_APART * noise_dn2
    off = noise_dn2[even] / np.maximum(fit.variance_dn2(signal_dn[even]), LEAST_MODEL_DN2) - 1.0
    asked = int(EVEN_LEVELS)
    return float(np.sort(off)[-asked:].mean()) if len(off) >= asked else None


def _sure(told: Sequence[_Freed]) -> bool:
    if not told:
        return False
    errors = sum(own.errors for own in told) / len(told) ** 0.5
    moves = float(np.median([own.gain_moves for own in told]))
    return abs(errors) >= CURVED_SURE and abs(moves) >= CURVED_GAIN


def _freed(
    levels: LevelGroups,
    fit: TransferFit,
    border: BorderLevel | None,
    uneven: tuple[float, float],
    *,
    term: int,
) -> _Freed:
    """Fit with and without a term: the cube of the signal, or dark noise besides the border's."""
    signal = levels.signal_dn / levels.signal_dn.max()
    top = float(levels.signal_dn.max())
    model = np.maximum(fit.variance_dn2(levels.signal_dn), LEAST_MODEL_DN2)
    error = model * np.sqrt(2.0 / levels.degrees_of_freedom + MODEL_SLACK**2)
    rows = np.stack([signal**power for power in range(POWERS)], axis=1) / error[:, None]
    wanted = levels.noise_dn2 / error
    # what is known besides: unevenness, and the noise of the border
    known = [np.array([0.0, 0.0, 1.0, 0.0, uneven[0] * top**2]) / (uneven[1] * top**2)]
    if border is not None and border.variance_dn2 > 0 and term:
        off = border.variance_dn2 * (2.0 / border.degrees_of_freedom + MODEL_SLACK**2) ** 0.5
        known.append(np.array([1.0, 0.0, 0.0, 0.0, border.variance_dn2]) / off)
    powers = list(range(POWERS if term else POWERS - 1))
    kept = np.ones(len(wanted), dtype=np.bool_)
    values, errors = np.zeros(len(powers)), np.ones(len(powers))
    for _ in range(DROPPING_ROUNDS):
        values, errors = _solved(rows[kept], wanted[kept], known, powers)
        off_line = wanted - rows[:, powers] @ values
        kept = (off_line < CURVED_ABOVE) & (off_line > -CURVED_BELOW)
    told = values[term] - (0.0 if term or border is None else border.variance_dn2)
    return _Freed(
        float(told / errors[term]), float(values[1] / top / max(fit.gain_dn_per_e, 1e-9) - 1.0)
    )


def _solved(rows: F64, wanted: F64, known: Sequence[F64], powers: list[int]) -> tuple[F64, F64]:
    """Least squares, with standard errors."""
    own = np.array(known)
    matrix = np.concatenate([rows, own[:, :-1]])[:, powers]
    covariance = np.linalg.pinv(matrix.T @ matrix)
    values: F64 = covariance @ (matrix.T @ np.concatenate([wanted, own[:, -1]]))
    return values, np.sqrt(np.maximum(np.diag(covariance), 1e-300))
