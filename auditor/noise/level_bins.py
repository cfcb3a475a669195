"""Blocks of a plane gathered by level, and level_bins by how calm they are."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from auditor.model.arrays import F32, F64, I64, Bool
from auditor.model.measurement import Histogram
from auditor.noise.blocks import Blocks
from auditor.noise.limits import CODES_GROW, CODES_RULE, CUT_SHARE, LEAST_BLOCKS
from auditor.sensor.code_gaps import COARSE, WINDOW, code_step_at, code_steps_dn

GROUPS, BAND_GROUPS = 48, 6


TRIMMING_ROUNDS = 3
LOWER_QUARTILE = 0.288
MEAN_WITHIN = 0.925
"""A block's coarse variance rests on two differences: a quarter of such values lie under 0.288 of
the true one, and those up to four times it have a mean of 0.925 of it (chi-squared, two degrees
of freedom)."""


@dataclass(frozen=True, slots=True, eq=False)
class LevelBins:
    """Blocks that can be used, in groups of like level.

    Parameters
    ----------
    signal_dn, noise_dn2, texture_variance_dn2, coarse_dn2, down, across : array of float64
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
    coarse_dn2: F64
    down: F64
    across: F64
    group: I64
    rank: F64
    sizes: I64
    degrees_of_freedom: float


def rank_blocks(blocks: Blocks, clip_dn: float, floor_dn: float = 0.0) -> LevelBins | None:
    """Gather the blocks in groups of like level and rank each group's by their unrest.

    Parameters
    ----------
    blocks : Blocks
    clip_dn : float
        Raw DN at and above which pixels may be clipped. Groups that reach it, or that reach
        down to the floor, are left out whole, lest noise chooses the blocks.
    floor_dn : float
        Raw DN at which noise is cut off: 0, or black where it was cut off there.

    Returns
    -------
    LevelBins or None
        None where no group is left.
    """
    order = _order(blocks.signal_dn)
    count = max(1, min(GROUPS, len(order) // int(LEAST_BLOCKS)))
    group = np.arange(len(order)) * count // len(order)
    cut = ((blocks.top_dn >= clip_dn) | (blocks.low_dn <= floor_dn))[order]
    sizes = np.bincount(group, minlength=count)
    kept = np.bincount(group, weights=cut, minlength=count) <= CUT_SHARE * sizes
    kept &= sizes >= LEAST_BLOCKS // 2
    if not kept.any():
        return None
    order, group = order[kept[group]], (np.cumsum(kept) - 1)[group[kept[group]]]
    order = order[_order(blocks.texture_variance_dn2[order], group)]
    sizes = sizes[kept]
    first = np.concatenate([[0], np.cumsum(sizes)[:-1]])
    return LevelBins(
        signal_dn=blocks.signal_dn[order].astype(np.float64),
        noise_dn2=blocks.noise_dn2[order].astype(np.float64),
        texture_variance_dn2=blocks.texture_variance_dn2[order].astype(np.float64),
        coarse_dn2=blocks.coarse_dn2[order].astype(np.float64),
        down=blocks.down[order].astype(np.float64),
        across=blocks.across[order].astype(np.float64),
        group=group,
        rank=(np.arange(len(order)) - first[group]) / sizes[group],
        sizes=sizes,
        degrees_of_freedom=blocks.degrees_of_freedom,
    )


def _order(values: F32, group: I64 | int = 0) -> I64:
    """Return the stable order of values within their groups.

    Values and their places are sorted as one whole number: several times as fast as places alone.
    """
    place_bits = 24  # far more than blocks of a sample
    bits = (values + np.float32(0.0)).view(np.int32)  # no negative zero
    bits ^= (
        bits >> 31 & 0x7FFFFFFF
    )  # those of negative values the other way round: sorts as they do
    keys = np.left_shift(group, 32) + bits
    keys = np.sort((keys << place_bits) + np.arange(len(values)))
    order: I64 = keys & (1 << place_bits) - 1
    return order


def part_of(level_bins: LevelBins, chosen: Bool) -> LevelBins:
    """Return the chosen blocks, in the groups that they are in."""
    own = replace(
        level_bins,
        **{
            name: getattr(level_bins, name)[chosen]
            for name in (
                "signal_dn", "noise_dn2", "texture_variance_dn2", "coarse_dn2", "down", "across",
                "group", "rank",
            )
        },
    )  # fmt: skip
    return replace(own, sizes=np.bincount(own.group, minlength=len(level_bins.sizes)))


def whiteness(level_bins: LevelBins, calm: Bool, model_dn2: F64) -> float:
    """Return fine noise over coarser noise of calm places, as their calmer levels have it.

    1 for the white noise of a sensor, whatever the slope; under it where pixels were
    interpolated, smoothed or packed with loss, for that takes the finest noise away first,
    everywhere. Texture lowers it as well, but not on all levels: the upper quartile over the
    levels is what counts.

    Parameters
    ----------
    calm : array of bool
        The blocks to ask.
    model_dn2 : array of float64
        The variance that each block's level has.
    """
    bands = level_bins.group // BAND_GROUPS
    fine = level_bins.noise_dn2 / model_dn2
    coarse = level_bins.coarse_dn2 / model_dn2
    found = [
        _fine_over_coarse(fine[own], coarse[own])
        for band in range(int(bands.max(initial=0)) + 1)
        if np.count_nonzero(own := calm & (bands == band)) >= LEAST_BLOCKS
    ]
    if not found and np.count_nonzero(calm) >= LEAST_BLOCKS:
        found = [_fine_over_coarse(fine[calm], coarse[calm])]
    return float(np.quantile(found, 0.75)) if found else 0.0


def darkest_whiteness(level_bins: LevelBins, calm: Bool, model_dn2: F64) -> float:
    """Return the same for the darkest levels that have enough calm places; 1 where none do."""
    bands = level_bins.group // BAND_GROUPS
    dark_blocks = 100  # so many places tell how white their noise is within a tenth
    for band in range(int(bands.max(initial=0)) + 1):
        own = calm & (bands == band)
        if np.count_nonzero(own) >= dark_blocks:
            fine, coarse = level_bins.noise_dn2[own], level_bins.coarse_dn2[own]
            return _fine_over_coarse(fine / model_dn2[own], coarse / model_dn2[own])
    return 1.0


def _fine_over_coarse(fine: F64, coarse: F64) -> float:
    """Compare variances of one pixel, places whose coarse one is far off the others left out."""
    scale = float(np.quantile(coarse, 0.25)) / LOWER_QUARTILE
    kept = np.ones(len(coarse), dtype=np.bool_)
    far_off = 4.0  # times the true variance: MEAN_WITHIN is that of what lies under it
    for _ in range(TRIMMING_ROUNDS):
        kept = coarse <= far_off * scale
        scale = float(coarse[kept].mean()) / MEAN_WITHIN if kept.any() else 0.0
    return float(fine[kept].mean()) / scale if scale > 0 else 1.0


def without_code_noise(blocks: Blocks, histogram: Histogram, black_dn: float) -> Blocks | None:
    """Take the noise of coarse codes, ``(step² - 1) / 12``, off the noise of blocks.

    Returns
    -------
    Blocks or None
        Without the blocks in which it rules; None where none are left that tell.
    """
    level = np.maximum(blocks.signal_dn.astype(np.float64) + black_dn, 0.0)
    step = code_step_at(code_steps_dn(histogram), level)
    coarse = step >= COARSE
    if not coarse.any():
        return blocks
    excess = np.where(coarse, (step**2 - 1.0) / 12.0, 0.0).astype(np.float32)
    # by windows of levels, lest chance keeps the noisier blocks
    window = level.astype(np.int64) // WINDOW
    total = np.bincount(window, blocks.noise_dn2) / np.maximum(np.bincount(window), 1)
    kept = excess < CODES_RULE * total[window]
    # codes that grow as fast as the noise rule between levels in which they do not: these tell
    # nothing either, for their noise is no rounding's any more
    if not kept.any() or np.mean(~kept & (level > np.quantile(level[kept], 0.1))) > CODES_GROW:
        return None
    return replace(
        blocks,
        signal_dn=blocks.signal_dn[kept],
        noise_dn2=(blocks.noise_dn2 - excess)[kept],
        texture_variance_dn2=(blocks.texture_variance_dn2 - excess)[kept],
        coarse_dn2=(blocks.coarse_dn2 - excess)[kept],
        low_dn=blocks.low_dn[kept],
        top_dn=blocks.top_dn[kept],
        down=blocks.down[kept],
        across=blocks.across[kept],
    )
