"""Borders of 512 bytes at which a picture breaks: to the pixel, in one row alone.

No lens draws finer than two rows, so an edge of the scene that crosses a row crosses those around
it too, and it goes on or turns where it likes. What begins at a border of a sector breaks off there
and nowhere else: the differences of its row to the next ones of the same colours, above and below,
step at it alike, and those of other rows do not.

Two things may step: the mean of the differences, where other data are lighter or darker, and their
size, where they are rougher or smoother.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from auditor.defects.limits import BREAK_ALONE, BREAK_EXACT, BREAK_RATIO, BREAK_SIGMAS
from auditor.model.arrays import F32, F64, I64, U16, Bool

SECTOR_PX = 256
STRIDE_PX = 16
"""Of a sector every so many pixels are looked at, to find where to look closely."""

MOST_CLOSE = 2000
"""Borders that are looked at closely, those that step most: it bounds the time."""

COARSE_LOUDER, COARSE_ALONE = 0.3, 1.2
NEAR_PX, SIDE_PX = 16, 64
"""Pixels on each side of a border, at a closer look and at the closest."""

SIZE_EXACT = 2.0
"""Sizes scatter more than means: where they step is known so much less well."""


@dataclass(frozen=True, slots=True, eq=False)
class Samples:
    """Every sixteenth pixel of the whole sectors, and those of the row of their colours above.

    Parameters
    ----------
    begin : int
        Place of the first.
    own, above : array of uint16, shape (16, sectors)
    """

    begin: int
    own: U16
    above: U16


@dataclass(frozen=True, slots=True, eq=False)
class _Look:
    """What differences to the rows above and below do at some borders.

    ``sigmas`` is the step of their mean in its own noise, ``one_sided`` the same from the side
    that tells less, ``alike`` the cosine of the two over the colours of the row. ``rougher`` is the
    logarithm of how much larger they are than where they are least, seen from either side;
    ``size`` is how large they are from the side on which that steps.
    """

    change: F32
    size: F32
    sigmas: F32
    one_sided: F32
    alike: F32
    rougher: F32


def sample_sectors(flat: U16, first: int, above: int) -> Samples:
    """Take the samples of all sectors that have a row above.

    Parameters
    ----------
    flat : array of uint16
        Pixels, row after row.
    first : int
        Place of the first border of a sector.
    above : int
        Pixels to the row of the same colours above.
    """
    begin = first + -(-max(0, above - first) // SECTOR_PX) * SECTOR_PX
    end = begin + max(0, len(flat) - begin) // SECTOR_PX * SECTOR_PX
    own, over = (
        np.ascontiguousarray(part.copy().reshape(-1, SECTOR_PX // STRIDE_PX).T)
        for part in (flat[begin:end:STRIDE_PX], flat[begin - above : end - above : STRIDE_PX])
    )
    return Samples(begin, own, over)


def begins_row(places: I64, width: int) -> Bool:
    """Tell where a row begins: there all begins that lies level, as courses of bricks or banding.

    A closer look would reach over the end of the row.

    Parameters
    ----------
    places : array of int64
        Of pixels.
    width : int
        Length of a row.
    """
    near: Bool = np.abs((places + NEAR_PX) % width - NEAR_PX) < NEAR_PX
    return near


def find_breaks(flat: U16, samples: Samples, width: int, period: int) -> I64:
    """Find the borders of sectors at which a picture breaks.

    Parameters
    ----------
    width : int
        Length of a row.
    period : int
        Height of the colour pattern.

    Returns
    -------
    array of int64
        The first pixel behind each, in the order of the file.
    """
    above = period * width
    places = _most_stepping(samples, width)
    places = places[~begins_row(places, width)]
    near_sigmas, near_ratio, near_alike = 2.0, 1.3, 0.3  # what is worth the closest look
    near = _look(flat, places, above, NEAR_PX)
    by_level = (near.one_sided >= near_sigmas) & (near.alike >= near_alike)
    by_size = near.rougher >= np.log(near_ratio)
    keep = by_level | by_size
    places, by_level, by_size = places[keep], by_level[keep], by_size[keep]
    look = _look(flat, places, above, SIDE_PX)
    # where a row ends beside the border, its two ends may be what differs
    beside = np.abs(places % width - width / 2) > width / 2 - SIDE_PX
    exact = np.where(beside, 1.0, float(BREAK_EXACT))
    # least share of the sigmas that a step has from one side alone, and least cosine of the steps
    # from both sides over the colours of the row
    one_sided, alike = 0.6, 0.7
    by_level &= (look.sigmas >= BREAK_SIGMAS) & (look.alike >= alike)
    by_level &= look.one_sided >= one_sided * BREAK_SIGMAS
    by_level &= _steps_here(look.change, exact)
    by_size &= look.rougher >= np.log(float(BREAK_RATIO))
    # on a slope of the scene the row lies over the one below as far as under the one above
    by_size &= (look.alike > -alike) | (look.one_sided < near_sigmas)
    by_size &= _steps_here(look.size, SIZE_EXACT * exact)

    keep = by_level | by_size
    places, by_level, by_size = places[keep], by_level[keep], by_size[keep]
    sigmas, rougher = _elsewhere(flat, places, above, width)
    by_level &= look.sigmas[keep] > BREAK_ALONE * sigmas
    by_size &= look.rougher[keep] > BREAK_ALONE * rougher
    found: I64 = places[by_level | by_size]
    return found


def _elsewhere(flat: U16, places: I64, above: int, width: int) -> tuple[F32, F32]:
    """Return the largest breaks in the rows around, and beside on the side where they are less."""
    groups = []
    for shifts in (
        (-3 * width, -width, width, 3 * width),
        (-2 * SIDE_PX, -SIDE_PX),
        (SIDE_PX, 2 * SIDE_PX),
    ):
        looks = [_look(flat, places + shift, above, SIDE_PX) for shift in shifts]
        groups.append([(look.sigmas, look.rougher) for look in looks])
    around, before, behind = (np.max(group, axis=0) for group in groups)
    sigmas, rougher = np.maximum(around, np.minimum(before, behind))
    return sigmas, rougher


def _most_stepping(samples: Samples, width: int) -> I64:
    """Return the borders at which sectors differ most from the one before, rows around aside."""
    change = samples.own.astype(np.float32) - samples.above
    count, sectors = change.shape
    if sectors < 2:
        return np.empty(0, dtype=np.int64)
    means = change.mean(axis=0)
    variances = np.maximum(np.einsum("ps,ps->s", change, change) / count - means**2, 0.0)
    noise = np.sqrt((variances[1:] + variances[:-1] + 1.0) / (count - 1))
    sizes = np.log(np.abs(change).mean(axis=0) + 1.0)
    score = np.zeros(sectors - 1, dtype=np.float32)
    for values, least in ((means, noise), (sizes, COARSE_LOUDER)):
        steps = np.abs(np.diff(values))
        around = _around(steps, width)
        score = np.maximum(score, steps / (least + COARSE_ALONE * around))
    rank = min(len(score) - 1, MOST_CLOSE)
    least_score = max(1.0, -np.partition(-score, rank)[rank])
    found: I64 = samples.begin + SECTOR_PX * (np.flatnonzero(score >= least_score) + 1)
    return found


def _around(steps: F32, width: int) -> F32:
    """Return the largest steps in the rows above, or in those below, whichever are less."""
    pad = 3 * (width // SECTOR_PX + 1)
    padded = np.pad(steps, pad, mode="edge")
    above_far, above, below, below_far = (
        padded[pad + round(rows * width / SECTOR_PX) :][: len(steps)] for rows in (-3, -1, 1, 3)
    )
    least: F32 = np.minimum(np.maximum(above_far, above), np.maximum(below, below_far))
    return least


def _look(flat: U16, places: I64, above: int, side_px: int) -> _Look:
    """Hold pixels around some borders against the rows above and below."""
    at = places[:, None] + np.arange(-side_px, side_px)
    own, over, under = (
        flat[np.clip(at + rows, 0, len(flat) - 1)].astype(np.float32) for rows in (0, -above, above)
    )
    up, down = _sides(own - over), _sides(own - under)
    means_up, means_down = up.mean(axis=2), down.mean(axis=2)
    steps_up, steps_down = (means[:, 1] - means[:, 0] for means in (means_up, means_down))
    size = np.sqrt((steps_up**2).sum(axis=1) * (steps_down**2).sum(axis=1) + 1e-9)
    # of the louder side the quieter half, and the other way round: no step within a side
    sizes = np.stack([_sizes(part) for part in (up, down)], axis=1)
    least, most = sizes.min(axis=3), sizes.max(axis=3)
    loud, quiet = least.max(axis=2), most.min(axis=2)
    by_down = loud[:, 1] * quiet[:, 0] > loud[:, 0] * quiet[:, 1]
    return _Look(
        change=up + down,
        size=np.abs(np.where(by_down[:, None, None, None], down, up)),
        sigmas=_sigmas(up + down),
        one_sided=np.minimum(_sigmas(up), _sigmas(down)),
        alike=(steps_up * steps_down).sum(axis=1) / size,
        rougher=0.5 * np.log(loud.min(axis=1) / quiet.min(axis=1)),
    )


def _sides(change: F32) -> F32:
    """Part differences by the side of the border, and by colour: (n, 2, pixels, 2)."""
    sides: F32 = change.reshape(len(change), 2, change.shape[1] // 4, 2)
    return sides


def _sizes(sides: F32) -> F32:
    """Return the mean square in each half of each side: (n, 2, 2); at least what rounding makes."""
    halves = sides.reshape(len(sides), 2, 2, -1) if len(sides) else np.empty((0, 2, 2, 1))
    sizes: F32 = np.einsum("nshp,nshp->nsh", halves, halves) / halves.shape[3] + 0.25
    return sizes


def _sigmas(sides: F32) -> F32:
    """Return the step of the mean in its own noise, both colours together."""
    means = sides.mean(axis=2)
    squares = np.einsum("nspc,nspc->nsc", sides, sides) / sides.shape[2]
    variances = np.maximum(squares - means**2, 0.0) + 0.25  # at least what rounding makes
    steps = (means[:, 1] - means[:, 0]) ** 2 / variances.sum(axis=1)
    sigmas: F32 = np.sqrt(steps.sum(axis=1) * (sides.shape[2] - 1) / 2.0)
    return sigmas


def _steps_here(sides: F32, times: F64) -> Bool:
    """Tell whether a step at the border leaves about as little unexplained as one beside it."""
    near = NEAR_PX // 2
    values = np.concatenate([sides[:, 0, -near:], sides[:, 1, :near]], axis=1)
    sums = np.cumsum(values - values.mean(axis=1, keepdims=True), axis=1)[:, :-1]
    before = np.arange(1, 2 * near)[:, None]
    spread = values.var(axis=1, keepdims=True) + 1e-3
    # the share of the variance that a step leaves, the mean of both colours
    left = 1.0 - (sums**2 / (before * (2 * near - before)) / spread).mean(axis=2)
    # a step at the end of what is looked at is of single pixels
    here: Bool = left[:, near - 1] <= times * left[:, 2:-2].min(axis=1, initial=1.0)
    return here
