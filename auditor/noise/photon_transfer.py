"""Gain and read noise from one frame: local variance against local mean, texture kept out.

The variance of a pixel is ``r² + g S + (p S)²``: read noise (rounding included), shot noise of
the signal ``S`` in DN with the gain ``g`` in DN per electron, uneven response ``p`` (the
photon-transfer relation of EMVA 1288; there two frames take ``p`` out, here the fit does).

Texture only ever adds to the variance. The fit starts from the calmest places of each level
and then takes in every place whose unrest is no more than the noise found so far: of places
with nothing but noise that is the calmer half, of places with texture it is hardly any. Unrest
and noise are independent measures of a place (see ``quads``), so the choice biases nothing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypedDict

import numpy as np

from auditor.black.border import BorderLevel
from auditor.model.arrays import F64, MAD_TO_SIGMA, Bool
from auditor.noise.level_bins import LevelBins, darkest_whiteness, whiteness
from auditor.noise.limits import (
    BORDER_OFF,
    BORDER_SURE,
    CALM_SHARE,
    CALMEST,
    EVEN_SHARE,
    EVEN_UNREST,
    RULED_BY_READ,
    UNDER_BLACK,
)

UNEVEN_UNKNOWN = (2e-5, 4e-5)
"""Expected ``p²`` and its error where the frame itself does not tell: common sensors respond
within 1 % (common practice)."""

BLOCK_PIXELS = 64.0
"""Pixels of one block (see ``blocks``)."""

MODEL_SLACK = 0.01
LEAST_MODEL_DN2 = 1e-3
ROUNDS = 4
DROPPING_ROUNDS = 3

RIDGE = 1e-12
"""Keeps the equations solvable where the levels tell nothing."""


@dataclass(frozen=True, slots=True, eq=False)
class LevelGroups:
    """Variance by level, one value a group of blocks.

    Parameters
    ----------
    signal_dn, noise_dn2 : array of float64
    degrees_of_freedom : array of float64
        Degrees of degrees_of_freedom behind each variance.
    """

    signal_dn: F64
    noise_dn2: F64
    degrees_of_freedom: F64
    of: int = 0
    """Groups of levels there were, calm or not; 0 where these are all."""


@dataclass(frozen=True, slots=True)
class TransferFit:
    """The photon-transfer relation of one plane, with standard errors.

    Parameters
    ----------
    read_dn2 : float
        Variance without light, DN².
    gain_dn_per_e : float
    uneven : float
        ``p²``.
    read_error_dn2, gain_error, uneven_error : float
    groups : int
        Levels that the fit kept.
    span_dn : float
        From the darkest to the brightest level that the fit kept.
    kept_share : float
        Share of all levels that it kept.
    ruled : int
        Levels at which read noise rules.
    darkest_dn : float
        The darkest level that the fit kept.
    begins_dn : float
        The signal at which the relation lets expect no noise at all, less four standard errors.
    """

    read_dn2: float
    gain_dn_per_e: float
    uneven: float
    read_error_dn2: float
    gain_error: float
    uneven_error: float
    groups: int = 0
    span_dn: float = 0.0
    kept_share: float = 0.0
    ruled: int = 0
    darkest_dn: float = 0.0
    begins_dn: float = 0.0

    @property
    def darkest_noise_dn(self) -> float:
        """Noise of a pixel at the darkest level."""
        return math.sqrt(max(0.0, float(self.variance_dn2(np.array(self.darkest_dn)))))

    def variance_dn2(self, signal_dn: F64) -> F64:
        """Return the variance of a pixel at a signal."""
        return _variance(np.array([self.read_dn2, self.gain_dn_per_e, self.uneven]), signal_dn)


def fit_transfer(
    level_bins: LevelBins, border: BorderLevel | None, uneven: tuple[float, float] = UNEVEN_UNKNOWN
) -> TransferFit | None:
    """Fit the photon-transfer relation; None where fewer than two groups are left.

    Texture only adds to the variance. Where the levels let expect less without light than the
    border has, light begins at another black than the border's, which then is not used.

    Parameters
    ----------
    level_bins : LevelBins
    border : BorderLevel or None
        What the masked border says of the noise without light.
    uneven : (float, float)
        What is known beforehand of ``p²``, and its error.
    """
    fit = fit_groups(levels_of(level_bins, level_bins.rank < CALMEST), border, uneven)
    settled = 0.002  # share of the gain that another round may change and is not worth one more
    for _ in range(ROUNDS):
        if fit is None:
            return None
        before = fit.gain_dn_per_e
        fit = fit_groups(levels_of(level_bins, calm_places(level_bins, fit)), border, uneven)
        if fit is not None and abs(fit.gain_dn_per_e - before) <= settled * abs(before):
            break
    # share of the border's variance: a fit that comes nearer has no quarrel with the border
    strained = 0.97
    if fit is None or border is None or fit.read_dn2 >= strained * border.variance_dn2:
        return fit
    free = fit_groups(levels_of(level_bins, calm_places(level_bins, fit)), None, uneven)
    least = (1.0 - BORDER_OFF) * border.variance_dn2
    if free is not None and free.read_dn2 + BORDER_SURE * free.read_error_dn2 < least:
        return fit_transfer(level_bins, None, uneven)  # the picture has another black
    return fit


def calm_whiteness(level_bins: LevelBins, fit: TransferFit) -> float:
    """Return how white the noise is where it is calm (see :func:`whiteness`)."""
    model = np.maximum(fit.variance_dn2(level_bins.signal_dn), LEAST_MODEL_DN2)
    return whiteness(level_bins, calm_places(level_bins, fit), model)


def dark_whiteness(level_bins: LevelBins, fit: TransferFit) -> float:
    """Return how white it is at the darkest levels that tell; a fit that rests on them is asked."""
    model = np.maximum(fit.variance_dn2(level_bins.signal_dn), LEAST_MODEL_DN2)
    calm = calm_places(level_bins, fit)
    if fit.ruled:
        calm |= level_bins.rank < CALMEST
    return darkest_whiteness(level_bins, calm, model)


def calm_places(level_bins: LevelBins, fit: TransferFit) -> Bool:
    """Blocks with no more unrest than the noise of their level; none where they are few.

    Where half of a group's blocks are calm there is no texture, and more of them can be used.
    """
    unrest, noise = level_bins.texture_variance_dn2, fit.variance_dn2(level_bins.signal_dn)
    count = np.bincount(level_bins.group[unrest <= noise], minlength=len(level_bins.sizes))
    enough = count >= np.maximum(4, CALM_SHARE * level_bins.sizes)
    limit = np.where(count >= EVEN_SHARE * level_bins.sizes, EVEN_UNREST, 1.0)
    flags: Bool = (unrest <= limit[level_bins.group] * noise) & enough[level_bins.group]
    return flags


def levels_of(level_bins: LevelBins, chosen: Bool) -> LevelGroups:
    """Mean level and noise of the chosen blocks of each group that has some."""
    places, groups = np.flatnonzero(chosen), len(level_bins.sizes)
    group = level_bins.group[places]
    count = np.bincount(group, minlength=groups)
    signal = np.bincount(group, weights=level_bins.signal_dn[places], minlength=groups)
    noise = np.bincount(group, weights=level_bins.noise_dn2[places], minlength=groups)
    some = count > 0
    return LevelGroups(
        signal[some] / count[some],
        noise[some] / count[some],
        (count[some] * level_bins.degrees_of_freedom).astype(np.float64),
        groups,
    )


def fit_groups(
    groups: LevelGroups, border: BorderLevel | None, uneven: tuple[float, float]
) -> TransferFit | None:
    """Fit groups of levels; those off the common relation are dropped, round after round."""
    kept = np.ones(len(groups.signal_dn), dtype=np.bool_)
    model = np.maximum(groups.noise_dn2, LEAST_MODEL_DN2)
    values, errors = np.zeros(3), np.zeros(3)
    powers = np.stack([np.ones_like(model), groups.signal_dn, groups.signal_dn**2], axis=1)
    # what is known of the values besides the levels: equations, results, errors
    equations, wanted, sigma = [[0.0, 0.0, 1.0]], [uneven[0]], [uneven[1]]
    if border is not None and border.variance_dn2 > 0:
        equations.append([1.0, 0.0, 0.0])
        wanted.append(border.variance_dn2)
        freedom = np.array([border.degrees_of_freedom])
        sigma += _sigma(np.array([border.variance_dn2]), freedom).tolist()
    known = np.array(equations), np.array(wanted), np.array(sigma)
    for _ in range(DROPPING_ROUNDS):
        if int(kept.sum()) < 2:
            return None
        values, covariance, spread = _solve(groups, powers, kept, model, known)
        errors = np.sqrt(np.diag(covariance)) * max(1.0, spread)
        model = np.maximum(_variance(values, groups.signal_dn), LEAST_MODEL_DN2)
        off = (groups.noise_dn2 - model) / (
            _sigma(model, groups.degrees_of_freedom) * max(1.0, spread)
        )
        kept = (off < 3.0) & (off > -5.0)
    return TransferFit(
        read_dn2=max(0.0, float(values[0])),
        gain_dn_per_e=float(values[1]),
        uneven=float(values[2]),
        read_error_dn2=float(errors[0]),
        gain_error=float(errors[1]),
        uneven_error=float(errors[2]),
        begins_dn=float(-values[0] - 4.0 * errors[0]) / max(float(values[1]), 1e-9),
        **_breadth(groups, kept, values),
    )


class _Breadth(TypedDict):
    groups: int
    span_dn: float
    kept_share: float
    ruled: int
    darkest_dn: float


def _breadth(groups: LevelGroups, kept: Bool, values: F64) -> _Breadth:
    """Tell on what levels a fit rests."""
    signal = groups.signal_dn[kept]
    if not len(signal):
        return _Breadth(groups=0, span_dn=0.0, kept_share=0.0, ruled=0, darkest_dn=0.0)
    read_dn2, gain = max(0.0, values[0]), max(values[1], 1e-9)
    ruled = np.abs(gain * signal) <= RULED_BY_READ * read_dn2
    # light cannot be less than none: what lies further under black than chance has another black
    lowest = UNDER_BLACK * read_dn2 / gain + 3.0 * read_dn2**0.5 / BLOCK_PIXELS**0.5
    if signal.min() < -lowest:
        ruled[:] = False
    return _Breadth(
        groups=len(signal),
        span_dn=float(np.ptp(signal)),
        kept_share=len(signal) / max(1, groups.of or len(kept)),
        ruled=int(np.count_nonzero(ruled)),
        darkest_dn=float(signal.min()),
    )


def common_unevenness(fits: Sequence[TransferFit | None]) -> tuple[float, float]:
    """Join what the planes of one sensor say of ``p²``; with its standard error."""
    weight = [1.0 / fit.uneven_error**2 for fit in fits if fit is not None]
    if not weight:
        return UNEVEN_UNKNOWN
    values = [fit.uneven for fit in fits if fit is not None]
    return float(np.average(values, weights=weight)), float(sum(weight) ** -0.5)


def _variance(values: F64, signal_dn: F64) -> F64:
    result: F64 = values[0] + values[1] * signal_dn + values[2] * signal_dn**2
    return result


def _sigma(model: F64, degrees_of_freedom: F64) -> F64:
    result: F64 = model * np.sqrt(2.0 / degrees_of_freedom + MODEL_SLACK**2)
    return result


def _solve(
    groups: LevelGroups, powers: F64, kept: Bool, model: F64, known: tuple[F64, F64, F64]
) -> tuple[F64, F64, float]:
    """Weighted least squares; returns values, covariance and the scatter in standard errors."""
    equations, wanted, sigma = known
    weight = 1.0 / np.concatenate([_sigma(model[kept], groups.degrees_of_freedom[kept]), sigma])
    matrix = np.concatenate([powers[kept], equations]) * weight[:, None]
    target = np.concatenate([groups.noise_dn2[kept], wanted]) * weight
    # the normal equations, columns scaled
    scale = np.maximum(np.abs(matrix).max(axis=0), 1e-150)  # its square is still a number
    scaled = matrix / scale
    normal, right = scaled.T @ scaled, scaled.T @ target
    normal.flat[:: len(scale) + 1] += RIDGE
    covariance = np.linalg.inv(normal) / (scale[:, None] * scale)
    values = np.linalg.solve(normal, right) / scale
    if values[2] < 0:
        # unevenness is never below zero; a read variance that is tells of a black level that is
        # off, and leaves the gain right
        free = [0, 1]
        values = np.zeros(3)
        values[free] = np.linalg.solve(normal[np.ix_(free, free)], right[free]) / scale[free]
    off = np.abs((target - matrix @ values)[: -len(sigma)])
    off.sort()
    return values, covariance, MAD_TO_SIGMA * float(off[len(off) // 2])
