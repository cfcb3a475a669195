"""The masked border: what the sensor records where no light comes in, plane by plane.

Taken against the black level that the file claims for each place, so that a pattern of black
levels does not count as noise.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from auditor.black.limits import (
    BORDER_AT_LOWEST,
    BORDER_CUT,
    BORDER_LIT,
    BORDER_PIXELS,
    BORDER_SIGMAS,
    GROWS_SURE,
    HOT_ALL_OVER,
    LIGHT_MATTERS,
    PARTS,
)
from auditor.model.arrays import F64, I64, MAD_TO_SIGMA, U16, Bool
from auditor.model.codes import Layout
from auditor.model.mosaic import MaskedArea, Mosaic
from auditor.sensor.code_gaps import COARSE

ENOUGH_PIXELS = 40_000
"""Of an area; more of them tell nothing more."""

SAMPLE = 20_000
"""Pixels that tell a robust scatter well enough."""

STEP_PIXELS = 4_000
"""Likewise for the distance of the values that occur."""

FINE_SHARES = 4.5
"""Neighbouring diagonal differences share pixels: the variance of their mean square is so many
times that of as many independent values (2 for a normal law, times 1 + 4/4 + 4/16)."""

ROUNDING_SIGMA_DN = 12.0**-0.5
"""Standard deviation of rounding to whole DN (1/12 DN², EMVA 1288)."""


@dataclass(frozen=True, slots=True)
class BorderLevel:
    """The masked border of one plane.

    Parameters
    ----------
    offset_dn : float
        Robust mean, less the black level that the file claims there.
    error_dn : float
        Its standard error, noise of whole rows and columns included.
    variance_dn2 : float
        Variance of single pixels, that of whole rows and columns left out.
    degrees_of_freedom : int
        Behind the variance.
    fine_share : float
        Variance told by the finest differences over all of it: 1 for white noise, under it
        where the border was smoothed.
    step_dn : float
        Widest distance of the values that occur; twice that where distances are uneven.
    codes_dn2 : float
        Variance that even distances of more than one DN added, and that was taken off.
    """

    offset_dn: float
    error_dn: float
    variance_dn2: float
    degrees_of_freedom: int
    fine_share: float = 1.0
    step_dn: float = 1.0
    codes_dn2: float = 0.0


@dataclass(frozen=True, slots=True)
class _Part:
    mean: float
    error: float
    variance: float
    degrees_of_freedom: int
    fine: float
    step: float
    codes_dn2: float
    lit: bool

    @property
    def error_of_variance(self) -> float:
        """Standard error of the variance."""
        return self.variance * math.sqrt(2.0 / self.degrees_of_freedom)


def border_levels(mosaic: Mosaic) -> dict[int, BorderLevel]:
    """Measure the masked border; a plane is absent where it has none that can be used."""
    if mosaic.layout is Layout.LINEAR:
        return {}
    parts: dict[int, list[_Part]] = {}
    for area in mosaic.masked:
        if not area.pixels.size:
            continue
        for plane, part in _area_parts(mosaic, area):
            parts.setdefault(plane, []).append(part)
    joined = {plane: _joined(found) for plane, found in parts.items()}
    return {plane: level for plane, level in joined.items() if level is not None}


def _area_parts(mosaic: Mosaic, area: MaskedArea) -> list[tuple[int, _Part]]:
    area, rows, cols = _thinned(area, mosaic)
    # less the black level that the file claims for each pixel
    black, (period_y, period_x) = mosaic.black, mosaic.pattern.shape
    down, across = black.pattern_dn.shape
    level = np.asarray(black.pattern_dn[np.ix_(rows % down, cols % across)], dtype=np.float64)
    if black.row_dn is not None:
        level = level + _line_dn(black.row_dn, rows, period_y)[:, None]
    if black.column_dn is not None:
        level = level + _line_dn(black.column_dn, cols, period_x)
    residual = area.pixels - level
    sound = _sound_lines(residual, area)
    steps_dn = _steps_dn(area.pixels[sound])
    found = []
    for y in range(min(period_y, residual.shape[0])):
        for x in range(min(period_x, residual.shape[1])):
            place = np.s_[y::period_y, x::period_x]
            plane = mosaic.pattern[(area.top + y) % period_y, (area.left + x) % period_x]
            cut = area.pixels[place] == 0
            part = _lattice_part(residual[place], sound[place], cut, steps_dn)
            if part is not None:
                found.append((int(plane), part))
    # what lights one place lights those between
    return [] if any(part.lit for _, part in found) else found


def _steps_dn(values: U16) -> tuple[float, float]:
    """Return the distance of the values that occur, on average, and the widest."""
    some = np.sort(values[:: max(1, values.size // STEP_PIXELS)])
    some = some[len(some) // 100 : len(some) - len(some) // 100]  # rare values at the ends left out
    often, count = np.unique(some, return_counts=True)
    apart = np.diff(often.astype(np.int64))
    step = max(1.0, float(apart.mean())) if len(apart) else 1.0
    # of values that are no accident: so many pixels have them, or a tenth of the commonest's
    no_accident = 0.02
    often = often[count >= min(no_accident * len(some), 0.1 * count.max(initial=0))]
    return step, float(np.diff(often.astype(np.int64)).max(initial=1))


def _thinned(area: MaskedArea, mosaic: Mosaic) -> tuple[MaskedArea, I64, I64]:
    """Cut a large area down along its longer side, whole periods of all patterns at a time.

    Also returns the rows and columns that are left, from the top-left visible pixel.
    """
    lines = [np.arange(size, dtype=np.int64) for size in area.pixels.shape]
    spare = area.pixels.size // ENOUGH_PIXELS
    if spare >= 2:
        axis = int(area.pixels.shape[0] < area.pixels.shape[1])
        period = int(np.lcm(mosaic.pattern.shape[axis], mosaic.black.pattern_dn.shape[axis]))
        lines[axis] = lines[axis][lines[axis] // period % spare == 0]
        area = MaskedArea(np.take(area.pixels, lines[axis], axis=axis), area.top, area.left)
    return area, area.top + lines[0], area.left + lines[1]


def _line_dn(lines_dn: F64, places: I64, period: int) -> F64:
    """Return what is added per row (or column); beside the picture, the mean over like lines."""
    beside = np.array([lines_dn[y::period].mean() for y in range(min(period, len(lines_dn)))])
    inside = (places >= 0) & (places < len(lines_dn))
    own = lines_dn[np.clip(places, 0, len(lines_dn) - 1)]
    return np.where(inside, own, beside[places % len(beside)])


def _sound_lines(residual: F64, area: MaskedArea) -> Bool:
    """Leave out rows and columns that are no masked pixels at all.

    Margins often hold lines of zeros, of test patterns, or lines into which light leaks.
    """
    sound = np.ones(residual.shape, dtype=np.bool_)
    some = residual.ravel()[:: max(1, residual.size // SAMPLE)]
    spread = MAD_TO_SIGMA * float(np.median(np.abs(some - np.median(some))))
    scatter = max(spread, ROUNDING_SIGMA_DN)
    for axis in (0, 1):
        lines = residual.mean(axis=axis)
        centre = float(np.median(lines))
        dead = np.ptp(area.pixels, axis=axis) == 0
        odd = np.abs(lines - centre) > BORDER_SIGMAS * scatter
        bad = (odd | dead) if residual.shape[axis] >= 4 else odd
        sound &= ~(bad[None, :] if axis == 0 else bad[:, None])
    return sound


def _lattice_part(
    values: F64, sound: Bool, cut: Bool, steps_dn: tuple[float, float]
) -> _Part | None:
    """Measure the pixels of one place of the pattern in one area; steps on average, and widest.

    None where zero, or black itself, cuts their noise off, or where light gets in, which is noisier
    on one side.
    """
    rows, cols = sound.any(axis=1), sound.any(axis=0)
    kept = values[rows][:, cols]
    if min(kept.shape, default=0) < 2 or kept.size < 16:
        return None
    step_dn, gap_dn = steps_dn
    centre, lowest = float(np.median(kept)), float(kept.min())
    cut_there = np.mean(kept == lowest) > BORDER_AT_LOWEST and kept.max() - centre >= 2.0 * step_dn
    if cut[rows][:, cols].mean() > BORDER_CUT or cut_there:
        return None
    scatter = MAD_TO_SIGMA * float(np.median(np.abs(kept - centre)))
    sigma = max(scatter, ROUNDING_SIGMA_DN)
    widest_dn = max(steps_dn)
    if not scatter and widest_dn > 1.0:  # more than half lie on one code
        sigma = widest_dn / 2.0
    even = abs(gap_dn / step_dn - 1.0) <= 0.1
    widest_dn *= 1.0 if even else 2.0  # values were moved to a code, or away from it
    hot = np.abs(kept - centre) > BORDER_SIGMAS * sigma
    clean = np.where(hot, centre, kept)
    dark = dark_lines(clean, hot)
    if dark is None:
        return None
    along = int(clean.shape[0] < clean.shape[1])
    clean, hot = np.compress(dark, clean, axis=along), np.compress(dark, hot, axis=along)
    down, across = clean.mean(axis=1), clean.mean(axis=0)
    alone = clean - down[:, None] - across[None, :] + clean.mean()
    degrees_of_freedom = (clean.shape[0] - 1) * (clean.shape[1] - 1) - int(hot.sum())
    if degrees_of_freedom < 1:
        return None
    error = max(float(np.std(line, ddof=1)) / len(line) ** 0.5 for line in (down, across))
    variance = float((alone**2).sum()) / degrees_of_freedom
    codes_dn2 = (step_dn**2 - 1.0) / 12.0 if even and step_dn >= COARSE else 0.0
    diagonal = clean[1:, 1:] - clean[1:, :-1] - clean[:-1, 1:] + clean[:-1, :-1]
    for axis in (0, 1):
        halves = np.array_split(diagonal**2, 2, axis=axis)
        if min(half.size for half in halves):
            low, high = sorted(float(half.mean()) for half in halves)
            error_share = 3.0 * math.sqrt(sum(FINE_SHARES / half.size for half in halves))
            # one half is noisier than the other, as where light gets in from one side
            if high > BORDER_LIT * (1.0 + error_share) * low:
                return None
    fine = float((diagonal**2).mean()) / 4.0
    return _Part(
        float(clean.mean()), error, variance, degrees_of_freedom, fine, widest_dn, codes_dn2,
        lit_across(clean, diagonal),
    )  # fmt: skip


def dark_lines(values: F64, hot: Bool) -> Bool | None:
    """Leave out lines of the brighter part of a border along which light, or warmth, gets in.

    Light is noisy and never less than none: where brighter parts are noisier, those alone tell
    black that are too near the darkest level for light to matter; none do where they are few, as
    light then reaches all of them. Levels choose them, not noise, which biases nothing. Parts that
    are hot all over are lit. Lines are those across the longer side.
    """
    along, count = int(values.shape[0] < values.shape[1]), int(PARTS)
    everywhere = np.ones(values.shape[along], dtype=np.bool_)
    parts = np.array_split(values, count, axis=along)
    if parts[-1].size < BORDER_PIXELS or min(parts[-1].shape) < 2:
        return everywhere
    dim = np.array([part.mean() <= HOT_ALL_OVER for part in np.array_split(hot, count, axis=along)])
    if np.count_nonzero(dim) < count // 2:
        return None
    noise = np.array([np.var(np.diff(np.diff(part, axis=0), axis=1)) for part in parts])
    level = np.array([part.mean() for part in parts])
    calmer = float(np.sort(noise[dim])[: count // 2].mean())
    apart = np.where(dim, level - level[dim].mean(), 0.0)
    # noise grows with the level more than chance makes it
    error = calmer * math.sqrt(FINE_SHARES / parts[-1].size * float(apart @ apart))
    if dim.all() and float(apart @ noise) <= GROWS_SURE * error:
        return everywhere
    grows = float(apart @ noise) / max(float(apart @ apart), 1e-12)
    dark = dim & (grows * (level - level[dim].min()) <= LIGHT_MATTERS * calmer)
    if np.count_nonzero(dark) < count // 2:
        return None
    return np.repeat(dark, [part.shape[along] for part in parts])


def lit_across(values: F64, diagonal: F64) -> bool:
    """Tell whether level and noise both climb from one long side of a border to the other.

    Light, or warmth, then reaches all of it.

    Parameters
    ----------
    values : array
    diagonal : array
        Differences of its diagonal neighbours, of one row and one column less.
    """
    along = int(values.shape[0] < values.shape[1])
    lines = values.mean(axis=along)
    level, noise = (lines[1:] + lines[:-1]) / 2.0, (diagonal**2).mean(axis=along)
    place, usual = np.arange(len(level)) - (len(level) - 1) / 2.0, float(noise.mean())
    grows, spread = float(place @ noise), float(place @ place)
    if float(place @ level) < 0.0:
        grows = -grows
    error = usual * math.sqrt(FINE_SHARES / diagonal.shape[along] * spread)
    matters = LIGHT_MATTERS * usual * spread / max(1, len(level) - 1)
    return grows > max(GROWS_SURE * error, matters)


def _joined(parts: list[_Part]) -> BorderLevel | None:
    """Join the areas and places of a plane by their degrees of freedom; None where too few tell.

    Areas that are noisier than the calmest are left out: light gets in there.
    """
    most = BORDER_LIT * min(part.variance + 3.0 * part.error_of_variance for part in parts)
    parts = [part for part in parts if part.variance - 3.0 * part.error_of_variance <= most]
    if sum(part.degrees_of_freedom for part in parts) < BORDER_PIXELS:
        return None
    weight = np.array([part.degrees_of_freedom for part in parts], dtype=np.float64)
    share = weight / weight.sum()
    means = np.array([part.mean for part in parts])
    mean = float(share @ means)
    within = float(np.sqrt((share**2 * np.square([part.error for part in parts])).sum()))
    between = float(np.sqrt((share**2 * (means - mean) ** 2).sum()))
    variance = float(share @ np.array([part.variance for part in parts]))
    fine = float(share @ np.array([part.fine for part in parts]))
    # a few pixels tell too little of it
    error = 3.0 * float(weight.sum() / FINE_SHARES) ** -0.5
    fine_share = min(1.0, fine / variance + error) if variance > 0 else 1.0
    step = max(part.step for part in parts)
    codes_dn2 = min(float(share @ np.array([part.codes_dn2 for part in parts])), variance)
    return BorderLevel(
        mean, max(within, between), variance - codes_dn2, int(weight.sum()), fine_share, step,
        codes_dn2,
    )  # fmt: skip
