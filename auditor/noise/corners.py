"""Corners that the camera brightened in the raw data, as it corrects its lens: their noise tells.

Levels multiplied after digitising, by a factor that grows from the centre, carry its square in
their variance: at one level, noise grows towards the corners. Light does not do that, whatever
the lens, and texture does not do it alike on both sides. Nor does it differ from row to row, as
where rows were multiplied.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from auditor.model.arrays import F64, Bool
from auditor.noise.level_bins import LevelBins
from auditor.noise.limits import (
    CORNERS_LEAST,
    CORNERS_SIDES,
    CORNERS_SURE,
    ROWS_SURE,
    ROWS_UNLIKE,
)
from auditor.noise.photon_transfer import LEAST_MODEL_DN2, TransferFit, calm_places


@dataclass(frozen=True, slots=True)
class _Growth:
    """How much more noise a level has in the corners than in the centre, as a share; its error."""

    share: float
    error: float


def corner_growth(planes: Sequence[tuple[LevelBins, TransferFit]]) -> float:
    """Return by what share the variance at one level grows from the centre to the corners.

    Returns
    -------
    float
        What all planes of one sensor tell together; 0 where it is not sure.
    """
    told = [_growth(level_bins, fit, np.ones(1, np.bool_)) for level_bins, fit in planes]
    whole = _joined(told)
    if whole.share < max(CORNERS_LEAST, CORNERS_SURE * whole.error):
        return 0.0
    sides = [
        _joined(
            [_growth(level_bins, fit, level_bins.across * side > 0) for level_bins, fit in planes]
        )
        for side in (-1.0, 1.0)
    ]
    return whole.share if min(side.share for side in sides) >= CORNERS_SIDES * whole.share else 0.0


def _growth(level_bins: LevelBins, fit: TransferFit, where: Bool) -> _Growth:
    """Fit a straight line over the squared radius, level by level, to what is calm."""
    calm = np.flatnonzero(calm_places(level_bins, fit) & where)
    model = np.maximum(fit.variance_dn2(level_bins.signal_dn[calm]), LEAST_MODEL_DN2)
    ratio = level_bins.noise_dn2[calm] / model
    radius2 = level_bins.down[calm] ** 2 + level_bins.across[calm] ** 2
    group, groups = level_bins.group[calm], len(level_bins.sizes)
    count = np.maximum(np.bincount(group, minlength=groups), 1)
    apart = radius2 - (np.bincount(group, radius2, groups) / count)[group]
    spread = float(apart @ apart)
    if spread <= 0.0:
        return _Growth(0.0, np.inf)
    slope = float(apart @ ratio) / spread
    centre = max(0.1, float(ratio.mean()) - slope * float(radius2.mean()))
    error = (2.0 / level_bins.degrees_of_freedom / spread) ** 0.5
    return _Growth(slope / centre, error / centre)


def _joined(told: Sequence[_Growth]) -> _Growth:
    weight = np.array([growth.error**-2 for growth in told])
    if not weight.sum():
        return _Growth(0.0, np.inf)
    share = np.average([growth.share for growth in told], weights=weight)
    return _Growth(float(share), float(weight.sum() ** -0.5))


def as_in_centre(level_bins: LevelBins, growth: float) -> LevelBins:
    """Return the noise that places would have in the centre of the sensor."""
    factor: F64 = 1.0 + growth * (level_bins.down**2 + level_bins.across**2)
    return replace(
        level_bins,
        noise_dn2=level_bins.noise_dn2 / factor,
        texture_variance_dn2=level_bins.texture_variance_dn2 / factor,
        coarse_dn2=level_bins.coarse_dn2 / factor,
    )


def rows_unlike(planes: Sequence[tuple[LevelBins, TransferFit]]) -> bool:
    """Tell whether the noise of one level differs from row to row beyond chance."""
    excess = weight = rows = chance = 0.0
    for level_bins, fit in planes:
        # light makes the noise of all but the darkest levels, and eight blocks of a row tell it
        lit = level_bins.signal_dn >= 0.1 * level_bins.signal_dn.max()
        # blocks of one value have no noise that could differ
        lit &= level_bins.noise_dn2 > 0.0
        calm = np.flatnonzero(calm_places(level_bins, fit) & lit)
        model = np.maximum(fit.variance_dn2(level_bins.signal_dn[calm]), LEAST_MODEL_DN2)
        ratio, group = level_bins.noise_dn2[calm] / model, level_bins.group[calm]
        usual = np.bincount(group, ratio) / np.maximum(np.bincount(group), 1)
        _, row = np.unique(level_bins.down[calm], return_inverse=True)
        count = np.bincount(row)
        told = count >= 8
        if not told.any():
            continue
        count, noise = count[told], np.bincount(row, ratio / usual[group])[told]
        off = noise / count - 1.0
        chance = 2.0 / level_bins.degrees_of_freedom
        excess += float(count @ off**2) - chance * len(count)
        weight += float(count.sum())
        rows += len(count)
    sure = ROWS_SURE * chance * (2.0 * rows) ** 0.5
    return weight > 0.0 and excess >= ROWS_UNLIKE**2 * weight + sure
