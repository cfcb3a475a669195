"""Gain and read noise from one frame: local variance against local mean, texture kept out.

The variance of a pixel is ``r² + g S + (p S)²``: read noise (rounding included), shot noise of
the signal ``S`` in DN with the gain ``g`` in DN per electron, uneven response ``p`` (the
photon-transfer relation of EMVA 1288; there two frames take ``p`` out, here the fit does).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from auditor.measure.border import MAD_TO_SIGMA, BorderLevel
from auditor.measure.quads import Blocks
from auditor.model.arrays import F64, Bool

GROUPS = 48
LEAST_BLOCKS = 40
"""Blocks a group of levels must hold."""

FLATTEST = (1.0, 0.5, 0.25, 0.12)
"""Shares of a group's blocks, flattest first, that are tried until texture has gone."""

TEXTURE_ERRORS = 2.5
RISE = 1.2
"""Variance grows with the level: a group this much above a brighter one holds texture."""

UNEVEN_UNKNOWN = (0.0, 1e-4)
"""Expected ``p²`` and its error where the frame itself does not tell: a response within 1 %."""

MODEL_SLACK = 0.01
ROUNDS = 8


@dataclass(frozen=True, slots=True, eq=False)
class LevelGroups:
    """Variance by level, one value a group of blocks.

    Parameters
    ----------
    signal_dn, noise_dn2 : array of float64
    freedom : array of float64
        Degrees of freedom behind each variance.
    whiteness : array of float64
        Fine noise over coarse noise; 1 for white noise, far less where pixels were smoothed.
    """

    signal_dn: F64
    noise_dn2: F64
    freedom: F64
    whiteness: F64


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
        Groups of levels that the fit kept.
    """

    read_dn2: float
    gain_dn_per_e: float
    uneven: float
    read_error_dn2: float
    gain_error: float
    uneven_error: float
    groups: int


def group_levels(blocks: Blocks, clip_dn: float) -> LevelGroups:
    """Gather blocks of like level and find the noise of each group's flattest.

    Parameters
    ----------
    blocks : Blocks
    clip_dn : float
        Raw DN at and above which pixels may be clipped; groups that reach it, or that reach
        down to DN 0, are left out whole, lest noise chooses the blocks.
    """
    order = np.argsort(blocks.signal_dn, kind="stable")
    count = max(1, min(GROUPS, len(order) // LEAST_BLOCKS))
    found = []
    for members in np.array_split(order, count):
        if len(members) < LEAST_BLOCKS // 2 or _is_cut(blocks, members, clip_dn):
            continue
        found.append(_flattest(blocks, members))
    columns = np.array(found, dtype=np.float64).reshape(-1, 4).T
    return LevelGroups(*columns)


def _is_cut(blocks: Blocks, members: np.ndarray, clip_dn: float) -> bool:
    cut = (blocks.top_dn[members] >= clip_dn) | (blocks.low_dn[members] <= 0)
    return bool(cut.mean() > 0.02)


def _flattest(blocks: Blocks, members: np.ndarray) -> tuple[float, float, float, float]:
    """Level, variance, freedom and whiteness of the flattest part that holds no texture."""
    ranked = members[np.argsort(blocks.unrest_dn2[members], kind="stable")]
    noise = np.cumsum(blocks.noise_dn2[ranked], dtype=np.float64)
    chosen = len(ranked)
    for share in FLATTEST:
        chosen = max(8, round(share * len(ranked)))
        inner = max(4, chosen // 2)
        allowed = 1.0 + TEXTURE_ERRORS * (2.0 / (inner * blocks.freedom)) ** 0.5
        if noise[chosen - 1] / chosen <= noise[inner - 1] / inner * allowed:
            break
    part = ranked[:chosen]
    unrest = float(blocks.unrest_dn2[part].mean())
    level = float(noise[chosen - 1] / chosen)
    return (
        float(blocks.signal_dn[part].mean()),
        level,
        float(chosen * blocks.freedom),
        level / unrest if unrest > 0 else 1.0,
    )


def fit_transfer(
    groups: LevelGroups,
    border: BorderLevel | None,
    uneven: tuple[float, float] = UNEVEN_UNKNOWN,
) -> TransferFit | None:
    """Fit the photon-transfer relation; None where fewer than two groups are left.

    Groups that stand above the relation hold texture and are dropped, one round after another.

    Parameters
    ----------
    groups : LevelGroups
    border : BorderLevel or None
        What the masked border says of the noise without light.
    uneven : (float, float)
        What is known beforehand of ``p²``, and its error.
    """
    kept = _rising(groups)
    values = np.array([0.0, 0.0, 0.0])
    model = groups.noise_dn2.copy()
    for _ in range(ROUNDS):
        if int(kept.sum()) < 2:
            return None
        values, covariance, spread = _solve(groups, kept, model, border, uneven)
        model = np.maximum(_variance(values, groups.signal_dn), 1e-3)
        sigma = _sigma(model, groups.freedom) * max(1.0, spread)
        off = (groups.noise_dn2 - model) / sigma
        kept = _rising(groups) & (off < 3.5) & (off > -6.0)
    errors = np.sqrt(np.diag(covariance)) * max(1.0, spread)
    return TransferFit(
        float(values[0]), float(values[1]), float(values[2]),
        float(errors[0]), float(errors[1]), float(errors[2]), int(kept.sum()),
    )  # fmt: skip


def common_unevenness(fits: Sequence[TransferFit | None]) -> tuple[float, float]:
    """Join what the planes of one sensor say of ``p²``; with its standard error."""
    weight = [1.0 / fit.uneven_error**2 for fit in fits if fit is not None]
    if not weight:
        return UNEVEN_UNKNOWN
    values = [fit.uneven for fit in fits if fit is not None]
    return float(np.average(values, weights=weight)), float(sum(weight) ** -0.5)


def _rising(groups: LevelGroups) -> Bool:
    """Drop groups whose variance exceeds that of a brighter group: texture."""
    upper = groups.noise_dn2 * (1.0 + 3.0 * np.sqrt(2.0 / groups.freedom))
    order = np.argsort(groups.signal_dn)
    least = np.minimum.accumulate(upper[order][::-1])[::-1]
    kept = np.ones(len(order), dtype=np.bool_)
    kept[order[:-1]] = groups.noise_dn2[order[:-1]] <= RISE * least[1:]
    return kept


def _variance(values: F64, signal_dn: F64) -> F64:
    result: F64 = values[0] + values[1] * signal_dn + values[2] * signal_dn**2
    return result


def _sigma(model: F64, freedom: F64) -> F64:
    result: F64 = model * np.sqrt(2.0 / freedom + MODEL_SLACK**2)
    return result


def _solve(
    groups: LevelGroups,
    kept: Bool,
    model: F64,
    border: BorderLevel | None,
    uneven: tuple[float, float],
) -> tuple[F64, F64, float]:
    """Weighted least squares; returns values, covariance and the scatter in standard errors."""
    signal = groups.signal_dn[kept]
    rows = [np.stack([np.ones_like(signal), signal, signal**2], axis=1)]
    sigma = [_sigma(model[kept], groups.freedom[kept])]
    wanted = [groups.noise_dn2[kept]]
    rows.append(np.array([[0.0, 0.0, 1.0]]))
    sigma.append(np.array([uneven[1]]))
    wanted.append(np.array([uneven[0]]))
    if border is not None and border.variance_dn2 > 0:
        rows.append(np.array([[1.0, 0.0, 0.0]]))
        sigma.append(_sigma(np.array([border.variance_dn2]), np.array([border.freedom])))
        wanted.append(np.array([border.variance_dn2]))
    weight = 1.0 / np.concatenate(sigma)
    matrix, target = np.concatenate(rows) * weight[:, None], np.concatenate(wanted) * weight
    values, covariance = _least_squares(matrix, target)
    off = (target - matrix @ values)[: len(signal)]
    spread = MAD_TO_SIGMA * float(np.median(np.abs(off)))
    return values, covariance, spread


def _least_squares(matrix: F64, target: F64) -> tuple[F64, F64]:
    """Solve with scaled columns; read noise and unevenness never below zero."""
    scale = np.maximum(np.abs(matrix).max(axis=0), 1e-300)
    scaled = matrix / scale
    covariance = np.linalg.pinv(scaled.T @ scaled) / np.outer(scale, scale)
    free = [0, 1, 2]
    while True:
        values = np.zeros(3)
        values[free] = np.linalg.lstsq(scaled[:, free], target, rcond=None)[0] / scale[free]
        below = [i for i in free if values[i] < 0 and i != 1]
        if not below:
            return values, covariance
        free.remove(below[-1])
