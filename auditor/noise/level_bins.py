"""Blocks of a plane gathered by level, and level_bins by how calm they are."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from auditor.model.arrays import F64, I64
from auditor.noise.blocks import Blocks

GROUPS = 48

LEAST_BLOCKS = 24
"""Blocks a group of like level must hold."""

CUT_SHARE = 0.02

CALMEST = 0.1
"""Share of a group's blocks, calmest first, that noise is first looked for in."""


@dataclass(frozen=True, slots=True, eq=False)
class LevelBins:
    """Blocks that can be used, in groups of like level.

    Parameters
    ----------
    signal_dn, noise_dn2, texture_variance_dn2 : array of float64
        As in :class:`auditor.noise.blocks.Blocks`.
    group : array of int64
        Group of each block, 0 for the darkest.
    rank : array of float64
        Share of the group's blocks that are calmer.
    sizes : array of int64
        Blocks a group.
    degrees_of_freedom : float
        Independent quads a block.
    """

    signal_dn: F64
    noise_dn2: F64
    texture_variance_dn2: F64
    group: I64
    rank: F64
    sizes: I64
    degrees_of_freedom: float


def rank_blocks(blocks: Blocks, clip_dn: float) -> LevelBins | None:
    """Gather the blocks in groups of like level and rank each group's by their unrest.

    Parameters
    ----------
    blocks : Blocks
    clip_dn : float
        Raw DN at and above which pixels may be clipped. Groups that reach it, or that reach
        down to DN 0, are left out whole, lest noise chooses the blocks.

    Returns
    -------
    LevelBins or None
        None where no group is left.
    """
    order = np.argsort(blocks.signal_dn, kind="stable")
    count = max(1, min(GROUPS, len(order) // LEAST_BLOCKS))
    group = np.arange(len(order)) * count // len(order)
    cut = ((blocks.top_dn >= clip_dn) | (blocks.low_dn <= 0))[order]
    sizes = np.bincount(group, minlength=count)
    kept = np.bincount(group, weights=cut, minlength=count) <= CUT_SHARE * sizes
    kept &= sizes >= LEAST_BLOCKS // 2
    if not kept.any():
        return None
    order, group = order[kept[group]], (np.cumsum(kept) - 1)[group[kept[group]]]
    order = order[np.lexsort((blocks.texture_variance_dn2[order], group))]
    sizes = sizes[kept]
    first = np.concatenate([[0], np.cumsum(sizes)[:-1]])
    return LevelBins(
        signal_dn=blocks.signal_dn[order].astype(np.float64),
        noise_dn2=blocks.noise_dn2[order].astype(np.float64),
        texture_variance_dn2=blocks.texture_variance_dn2[order].astype(np.float64),
        group=group,
        rank=(np.arange(len(order)) - first[group]) / sizes[group],
        sizes=sizes,
        degrees_of_freedom=blocks.degrees_of_freedom,
    )


def fine_over_coarse(level_bins: LevelBins) -> float:
    """Return fine noise over coarse noise of the calmest places of the calmer levels.

    At least 1 for the white noise of a sensor; far below where pixels were interpolated or
    smoothed, for that takes the finest noise away first, everywhere. Slopes and texture lower it
    as well, but not on all levels: the upper quartile over the levels is what counts.
    """
    calmest, groups = level_bins.rank < CALMEST, len(level_bins.sizes)
    group = level_bins.group[calmest]
    fine = np.bincount(group, weights=level_bins.noise_dn2[calmest], minlength=groups)
    coarse = np.bincount(group, weights=level_bins.texture_variance_dn2[calmest], minlength=groups)
    told = coarse > 0
    return float(np.quantile(fine[told] / coarse[told], 0.75)) if told.any() else np.inf
