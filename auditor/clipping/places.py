"""Whether a sensor clips at one level everywhere: a pile-up tells nothing of what clips below.

Rows that take turns with two amplifiers, halves read out apart, full wells that shrink towards
the corners and lens corrections that multiply the raw data leave more than one level. Three signs
tell it: lines that are equally bright but clip by turns, runs that stay under the level yet are
steadier than any light, and patches as steady that stand at levels of their own. None is made of
a scene.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np

from auditor.clipping.limits import (
    APART_FAR_SHARE,
    APART_LEAST_LINES,
    APART_LEAST_SHARE,
    APART_LINES,
    APART_SHARE,
    LEAST_SIGMA_DN,
    LEVELS_APART,
    LEVELS_SPREADS,
    LINE_LEAST_PIXELS,
    MIDDLE,
    NEAR_TOP,
    NOISE_SHARE,
    PATCH_SLOPE,
    PATCH_STEADY,
    PATCHES_APART,
    PATCHES_LEAST,
    PATCHES_MIDDLE,
    PATCHES_MOST,
    PATCHES_STEPS,
    RUNS_AT,
    RUNS_UNDER,
    STEADIEST,
    WHOLE_FEW,
    WHOLE_LINE,
    WHOLE_MOST,
)
from auditor.model.arrays import F64, I64, U16, Bool
from auditor.model.measurement import PileUp
from auditor.model.remark import RemarkCode, remark
from auditor.noise.estimate import NoiseModel, PlaneView
from auditor.sensor.code_gaps import code_step_at, code_steps_dn

BANDS, BAND_ROWS = 12, 24
"""Rows of pixels that are looked at: whole periods of every colour pattern."""

SEVERAL_GAINS = {RemarkCode.LINES_TAKE_TURNS, RemarkCode.CORNERS_BRIGHTENED}
"""What noise tells of a sensor that clips at more than one level."""

RUN = 4 * 4
"""Pixels side by side."""

PATCH, PATCHES, PATCHES_BETWEEN = 4, 6000, (0.02, 0.98)
"""Same-coloured pixels a side; so many patches tell enough; shares of them that are left out."""

SLOPES = np.stack([axis.ravel() - (PATCH - 1) / 2 for axis in np.indices((PATCH, PATCH))], axis=1)
SLOPES /= np.sqrt((SLOPES**2).sum(axis=0))
"""Even slopes down and across a patch, each a column of length one, shape (pixels, 2)."""

DARKEST = 0.1
"""Share of the signal at the top of the plane under which a steady tile is none that clips."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class PlaneTop:
    """The top of one plane, and where in the picture it lies.

    Parameters
    ----------
    tops_dn : array, shape (rows, cols)
        Largest DN of each tile.
    tile_px : int
        Side of a tile.
    """

    view: PlaneView
    noise: NoiseModel
    pile_up: PileUp | None
    tops_dn: U16
    tile_px: int


def clips_apart(planes: Sequence[PlaneTop]) -> bool:
    """Tell whether some lines or places of a sensor clip elsewhere than at its pile-ups."""
    shares = [0.0 if plane.pile_up is None else plane.pile_up.share for plane in planes]
    said = {told.code for plane in planes for told in plane.noise.estimate.remarks}
    if max(shares) > 0.0 and said & SEVERAL_GAINS:
        return True
    bends = [plane.noise.bends_from_dn for plane in planes]
    bend = min((signal for signal in bends if signal is not None), default=np.inf)
    fullest = planes[int(np.argmax(shares))]
    return any(
        _levels_apart(plane, bend) or _lines_apart(plane) or _whole_lines(plane) for plane in planes
    ) or (max(shares) > 0.0 and _patches_apart(fullest, bend))


def _whole_lines(plane: PlaneTop) -> bool:
    """Whether a pile-up is mostly that of a few bright columns or rows, as defects make them."""
    if plane.pile_up is None:
        return False
    (y, x), pattern = plane.view.lattice.places(plane.view.plane)[0], plane.view.lattice.pattern
    own = plane.view.lattice.pixels[y :: len(pattern), x :: pattern.shape[1]]
    # places along a line tell whether it is bright all over; the lines beside it are not
    samples, most_beside = 96, 0.1
    reached: Bool = plane.tops_dn >= plane.pile_up.from_dn
    for lines, tiles, first, step in (
        (own, reached, x, pattern.shape[1]),
        (own.T, reached.T, y, len(pattern)),
    ):
        every, count = max(1, lines.shape[0] // samples), lines.shape[1]
        # lines through no tile that reaches the level hold nothing: reading them is what costs
        tile = (first + step * np.arange(count)) // plane.tile_px
        asked = np.flatnonzero(np.logical_or.reduce(tiles)[tile])
        over = lines[::every, asked] >= plane.pile_up.from_dn
        shares = np.zeros(count)
        shares[asked] = over.mean(axis=0)
        whole = shares >= WHOLE_LINE
        ends = np.flatnonzero(whole[1:] != whole[:-1])
        beside = np.minimum(shares[ends], shares[ends + 1])
        if (
            0 < whole.mean() <= WHOLE_FEW
            and shares[whole].sum() >= WHOLE_MOST * shares.sum()
            and beside.max(initial=0.0) <= most_beside
        ):
            return True
    return False


def _lines_apart(plane: PlaneTop) -> bool:
    """Whether lines as bright as both beside them, or next but one, clip far less or far more.

    Fewer tell it that do not come near to the level either: rows at random do.
    """
    if plane.pile_up is None or plane.pile_up.share < APART_LEAST_SHARE:
        return False
    black_dn, from_dn = plane.view.black.mean_dn, plane.pile_up.from_dn
    rows = np.flatnonzero((plane.tops_dn >= from_dn).any(axis=1))
    ends_dn = (from_dn, black_dn + (1.0 - NEAR_TOP) * (from_dn - black_dn))
    turns, told = np.zeros((2, 2, 2), np.int64), np.zeros((2, 2, 2), np.int64)
    shown = 0.6  # share of the clipping level from which a pixel counts as bright
    alike = 0.8  # lines on either side hold as many bright pixels: no edge of the scene
    for part in _bands(plane, rows, BAND_ROWS):
        bright = part >= black_dn + shown * (from_dn - black_dn)
        for (end, end_dn), (axis, along) in product(enumerate(ends_dn), enumerate(((2,), (0, 1)))):
            clip, lit = (
                np.count_nonzero(flags, axis=along).reshape(-1, flags.shape[1 + axis])
                for flags in (part >= end_dn, bright)
            )
            for at, step in enumerate((1, 2)):  # lines that take turns one by one, or by two
                own, beside = clip[:, step:-step], (clip[:, : -2 * step], clip[:, 2 * step :])
                near = (lit[:, step:-step], lit[:, : -2 * step], lit[:, 2 * step :])
                fewest, most = np.minimum(*beside), np.maximum(*beside)
                even = np.minimum.reduce(near) >= alike * np.maximum.reduce(near)
                even &= np.maximum(own, most) >= LINE_LEAST_PIXELS
                fewer = (own <= APART_LINES * fewest) & (fewest >= LINE_LEAST_PIXELS)
                more = (most <= APART_LINES * own) & (own >= LINE_LEAST_PIXELS)
                told[end, axis, at] += np.count_nonzero(even)
                turns[end, axis, at] += np.count_nonzero(even & (fewer | more))
    least = np.array([APART_SHARE, APART_FAR_SHARE])[:, None, None] * told
    return bool((turns >= np.maximum(APART_LEAST_LINES, least)).any())


def _levels_apart(plane: PlaneTop, bends_from_dn: float) -> bool:
    """Whether runs of pixels that are steadier than light stand at more than one level.

    Sixteen pixels side by side, the brightest of them next to the faintest, are no light. Where
    they lie under the pile-up they are clipped and not counted; where they stand at two levels,
    what lies between these is counted and may be light.
    """
    noise, lattice, black_dn = plane.noise, plane.view.lattice, plane.view.black.mean_dn
    smoothed = noise.smoothed or remark(RemarkCode.SMOOTHED) in noise.estimate.remarks
    if smoothed and plane.pile_up is None:
        return False
    tops_dn: F64 = plane.tops_dn.max(axis=1) - black_dn
    rows = np.flatnonzero(tops_dn >= DARKEST * tops_dn.max())
    height = RUN * len(lattice.pattern)
    from_dn = np.inf if plane.pile_up is None else plane.pile_up.from_dn
    parts = _bands(plane, rows, height)
    for turned in (False, True):
        if turned and len(lattice.places(plane.view.plane)) > 1:  # a single one is alike both ways
            parts = _bands(plane, rows, height, turned=True)
        runs = [_steady(plane, part, 1 if turned else 2, bends_from_dn) for part in parts]
        tops, lines = (np.concatenate(found) for found in zip(*runs, strict=True))
        middle = np.count_nonzero(tops - black_dn < MIDDLE * tops_dn.max())
        if smoothed and middle > PATCHES_MIDDLE * len(tops):
            # then what lies under the level may be light
            tops, lines = tops[tops >= from_dn], lines[tops >= from_dn]
        step_dn = code_step_at(code_steps_dn(plane.view.histogram), tops.max(initial=0.0))
        if turned:
            lines %= parts[0].shape[2]  # the same column in every band
        if _two_levels(tops, lines, from_dn, float(step_dn)):
            return True
    return False


def _steady(plane: PlaneTop, bands: U16, axis: int, bends_from_dn: float) -> tuple[F64, I64]:
    """Return the tops of runs that are steadier than light, and the line of each.

    Parameters
    ----------
    bands : array of uint16, shape (bands, rows, cols)
    axis : int
        Along which runs lie: 1 down columns, 2 along rows. Lines are counted band by band.
    """
    top, lowest = (_over_runs(bands, axis, join) for join in (np.maximum, np.minimum))
    black_dn, highest_dn = plane.view.black.mean_dn, float(top.max(initial=0))
    within = 0.9  # sigma: of 16 pixels the extremes lie so near by a chance of 5e-7 (normal law)
    # few are as near one another as at the brightest; the others need no closer look
    most_dn = within * NOISE_SHARE * _least_sigma(plane, np.array(highest_dn - black_dn))
    near = (top - lowest <= most_dn) & (top >= black_dn + DARKEST * highest_dn)
    line, place = np.nonzero(near)
    tops = top[line, place].astype(np.float64)
    spread, signal = tops - lowest[line, place], tops - black_dn
    steady = _steadier(plane, spread, signal, within, bends_from_dn)
    return tops[steady], line[steady]


def _over_runs(bands: U16, axis: int, join: np.ufunc) -> U16:
    """Join the pixels of each run, shape (lines, runs).

    Whole rows are joined. Along rows all places are, four to a run and then four of these: much
    faster than many short runs one by one.
    """
    if axis == 1:
        count, rows, width = bands.shape
        own = bands[:, : rows // RUN * RUN].reshape(count, rows // RUN, RUN, width)
        joined = join.reduce(own, axis=2)
        runs: U16 = joined.transpose(0, 2, 1)
    else:
        runs = bands
        for _ in range(2):
            pairs = join(runs[..., :-1], runs[..., 1:])
            runs = join(pairs[..., :-2], pairs[..., 2:])[..., ::4]
    return runs.reshape(runs.shape[0] * runs.shape[1], runs.shape[2])


def _steadier(
    plane: PlaneTop, spread_dn: F64, signal_dn: F64, sigmas: float, bends_from_dn: float
) -> Bool:
    """Flag signals that spread by less than so much of the least noise that light has there."""
    sigma = _least_sigma(plane, signal_dn)
    steady: Bool = (spread_dn <= sigmas * NOISE_SHARE * sigma) & (signal_dn < bends_from_dn)
    if steady.any():
        level = signal_dn + plane.view.black.mean_dn
        steady &= sigma >= code_step_at(code_steps_dn(plane.view.histogram), level)
    return steady


def _least_sigma(plane: PlaneTop, signal_dn: F64) -> F64:
    """Return the least noise that light has at some signals; it grows with them."""
    known = plane.noise.estimate.gain_dn_per_e is not None
    sigma = plane.noise.shot_sigma_dn(signal_dn) if known else STEADIEST * signal_dn
    return np.maximum(sigma, LEAST_SIGMA_DN)


def _patches_apart(plane: PlaneTop, bends_from_dn: float) -> bool:
    """Whether patches steadier than light stand at levels that differ from place to place.

    A level that grows over the frame is even in a patch once its slope is taken out, whatever the
    scene beside it. Where middle tones are as steady the data were smoothed, and where most of
    what clips is not the patches that are were chosen by chance.
    """
    black_dn = plane.view.black.mean_dn
    tops_dn: F64 = plane.tops_dn.max(axis=1) - black_dn
    top_dn = float(tops_dn.max(initial=0))
    bright_dn = MIDDLE * top_dn
    rows, lattice = np.flatnonzero(tops_dn >= bright_dn), plane.view.lattice
    few = max(3, PATCHES * PATCH**2 * lattice.pattern.shape[1] // (RUN * lattice.pixels.shape[1]))
    rows = rows[np.linspace(0, len(rows) - 1, min(few, len(rows))).astype(np.int64)]
    bands = _bands(plane, rows, RUN * len(lattice.pattern))[0]
    across = bands.shape[2] // PATCH
    down = len(bands) * bands.shape[1] // PATCH
    own = bands[:, :, : across * PATCH].reshape(down, PATCH, across * PATCH)
    top, low = (
        join.reduce([rows[:, place::PATCH] for place in range(PATCH)])
        for join in (np.maximum, np.minimum)
        for rows in [join.reduce([own[:, place] for place in range(PATCH)])]
    )
    even = top - black_dn >= DARKEST * top_dn
    even &= low - black_dn >= (1.0 - PATCH_SLOPE) * (top - black_dn)
    line, place = np.nonzero(even)
    pixels = own.reshape(down, PATCH, across, PATCH)[line, :, place].reshape(-1, PATCH**2)
    level = pixels.mean(axis=1)
    signal, off = level - black_dn, pixels - level[:, None]
    # not by matrix products, whose threads cost more here than they save
    sloping = (np.einsum("ij,jk->ik", off, SLOPES) ** 2).sum(axis=1)
    sigma = np.sqrt(((off**2).sum(axis=1) - sloping).clip(0) / (PATCH**2 - 3))
    steady = _steadier(plane, sigma, signal, PATCH_STEADY, bends_from_dn)
    middle, told = signal < bright_dn, steady & (signal >= bright_dn)
    levels = np.sort(level[told])
    smoothed = np.count_nonzero(steady & middle) > PATCHES_MIDDLE * np.count_nonzero(middle)
    if len(levels) < PATCHES_LEAST or smoothed:
        return False
    lowest, highest = levels[[int(share * len(levels)) for share in PATCHES_BETWEEN]]
    if len(levels) < PATCHES_MOST * np.count_nonzero(level >= lowest):
        return False
    # levels of rows or columns of their own differ as much from one patch to the next
    grid = np.full(top.shape, np.nan)
    grid[line[told], place[told]] = level[told]
    banded = grid.reshape(len(bands), -1, across)
    beside = (np.diff(banded, axis=axis) for axis in (1, 2))
    each = [own[np.isfinite(own)] for own in beside]
    steps_dn2 = max(float(own @ own) / max(1, len(own)) for own in each)
    least_dn = max(PATCHES_APART * highest, PATCHES_STEPS * steps_dn2**0.5)
    return bool(highest - lowest >= least_dn)


def _two_levels(tops: F64, lines: I64, from_dn: float, step_dn: float) -> bool:
    """Tell whether many runs lie under the level, or whether they gather about two."""
    under = tops < from_dn
    if _many(under, lines, RUNS_UNDER):
        return True
    order = np.argsort(tops[~under])
    tops, lines = tops[~under][order], lines[~under][order]
    count = len(tops)
    if count < APART_LEAST_LINES:
        return False
    below, sums = np.arange(1, count), np.cumsum(tops)
    distance = (sums[-1] - sums[:-1]) / (count - below) - sums[:-1] / below
    between = below * (count - below) / count**2 * distance**2  # Otsu 1979
    best = int(np.argmax(between))
    within = max(float(np.var(tops)) - float(between[best]), 1.0 / 12.0) ** 0.5
    upper = np.arange(count) > best
    least = max(LEVELS_APART * from_dn, LEVELS_SPREADS * within, 1.5 * step_dn)
    return bool(distance[best] >= least and all(_many(u, lines, RUNS_AT) for u in (upper, ~upper)))


def _many(flags: Bool, lines: I64, share: float) -> bool:
    """Whether a share of all runs is flagged, on enough lines: one column may be stuck."""
    return bool(
        np.count_nonzero(flags) >= share * len(flags)
        and len(np.unique(lines[flags])) >= APART_LEAST_LINES
    )


def _bands(plane: PlaneTop, rows: I64, height: int, *, turned: bool = False) -> list[U16]:
    """Return bands of rows spread over some rows of tiles, for each row of the pattern.

    Parameters
    ----------
    turned : bool
        For each column of the pattern.

    Returns
    -------
    list of array, shape (bands, rows, cols)
        The pixels of the plane alone in such rows, or columns, side by side.
    """
    pattern, pixels = plane.view.lattice.pattern, plane.view.lattice.pixels
    firsts = rows * plane.tile_px
    firsts = firsts[firsts + height <= len(pixels)]
    chosen = np.linspace(0, len(firsts) - 1, min(BANDS, len(firsts))).astype(np.int64)
    some = [pixels[first : first + height] for first in firsts[chosen]] or [pixels[:0]]
    own = pattern == plane.view.plane
    found = []
    for line in np.flatnonzero(own.any(axis=int(not turned))):
        # places of the plane along the line; a slice where there is one, which copies nothing
        places = np.flatnonzero(own[:, line] if turned else own[line])
        period = pattern.shape[0 if turned else 1]
        beside: Any = slice(places[0], None, period)
        if len(places) > 1:
            length = some[0].shape[0 if turned else 1]
            beside = np.flatnonzero(np.isin(np.arange(length) % period, places))
        across = slice(line, None, pattern.shape[1 if turned else 0])
        found.append(
            np.stack([band[beside, across] if turned else band[across, beside] for band in some])
        )
    return found
