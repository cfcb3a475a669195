"""Hot pixels: single pixels far above all their same-coloured neighbours.

Time and warmth make them, light does not: a point of light is spread by the lens over pixels of
the other colours too, a hot pixel stands alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import as_strided
from numpy.typing import NDArray

from auditor.defects.limits import (
    CROWD_SHARE,
    HOT_CONTRAST,
    HOT_SIGMAS,
    SPREAD_SHARE,
    SPREAD_SIGMAS,
)
from auditor.model.arrays import F64, I64, U16
from auditor.model.measurement import HotPixels
from auditor.noise.estimate import NoiseModel
from auditor.sensor.lattice import SensorLattice, Stripe

KEPT = 4096
"""At most so many are listed: the brightest."""

REACH = 3
"""Pixels to each side that are looked at; the frame's outermost ones are not judged."""

ROWS_AT_ONCE = 24
"""So few that all arrays of a step stay in the fastest cache."""

WORD = 8
"""Flags looked at together."""


@dataclass(frozen=True, slots=True, eq=False)
class HotFound:
    """Hot pixels, one value a pixel.

    Parameters
    ----------
    planes, rows, cols : array of int64
    value_dn : array of float64
        Raw DN.
    neighbours_dn : array of float64
        Median of its same-coloured neighbours, raw DN.
    """

    planes: I64
    rows: I64
    cols: I64
    value_dn: F64
    neighbours_dn: F64


class HotCandidates:
    """Picks out pixels above their four nearest neighbours of the same place, stripe by stripe.

    A candidate stands over all four by ``least_dn`` and an eighth of their value: cheap to
    find, and nothing that would show is lost.

    Parameters
    ----------
    lattice : SensorLattice
    least_dn : int
    """

    def __init__(self, lattice: SensorLattice, least_dn: int) -> None:
        self._sheet = lattice
        self._least_dn = least_dn
        self._found: list[I64] = []
        # places are counted along lines of memory: one number a pixel, and none is divided
        self._all, self._line = _one_line(lattice.pixels)
        width = max(0, lattice.pixels.shape[1] - 2 * lattice.pattern.shape[1])
        self._work = np.empty((2, ROWS_AT_ONCE, width), dtype=np.uint16)
        self._flags = np.zeros(ROWS_AT_ONCE * self._line + WORD, dtype=np.bool_)

    def take(self, stripe: Stripe, top_dn: int) -> None:
        """Look at a stripe whose largest DN is ``top_dn``."""
        down, across = self._sheet.pattern.shape
        height, width = self._sheet.pixels.shape
        first = max(stripe.top, down, REACH)
        last = min(stripe.bottom, height - max(down, REACH))
        if width <= 2 * max(across, REACH):
            return
        found = [
            top * self._line + across
            + self._outstanding(self._sheet.pixels[top - down : end + down], top_dn)
            for top in range(first, last, ROWS_AT_ONCE)
            for end in [min(top + ROWS_AT_ONCE, last)]
        ]  # fmt: skip
        if any(map(len, found)):
            self._found.append(self._without_texture(np.concatenate(found)))

    def _outstanding(self, block: U16, top_dn: int) -> I64:
        """Return the places of a block that stand out, from its first inner pixel on."""
        (down, across), (height, width) = self._sheet.pattern.shape, block.shape
        many = CROWD_SHARE * (height - 2 * down) * (width - 2 * across)
        found = self._stands_out(block, top_dn)
        while len(found) > many:
            self._least_dn *= 2
            found = self._stands_out(block, top_dn)
        return found

    def _without_texture(self, places: I64) -> I64:
        """Quickly sort out most texture by the neighbours across the corners: two, then four."""
        (down, across), line = self._sheet.pattern.shape, self._line
        falling, rising = down * line + across, down * line - across
        for corners in ((falling, -falling), (falling, -falling, rising, -rising)):
            around = np.array([self._all[places + corner] for corner in corners], dtype=np.int32)
            brightest = around.max(axis=0)
            over = self._all[places] - brightest
            places = places[over > HOT_CONTRAST * (brightest - around.min(axis=0))]
        return places

    def _stands_out(self, block: U16, top_dn: int) -> I64:
        """Find pixels above their four neighbours at the pattern's distance."""
        down, across = self._sheet.pattern.shape
        centre = block[down:-down]
        limit, margin = (work[: len(centre)] for work in self._work)
        np.maximum(centre[:, : -2 * across], centre[:, 2 * across :], out=limit)
        np.maximum(limit, block[: -2 * down, across:-across], out=limit)
        np.maximum(limit, block[2 * down :, across:-across], out=limit)
        ceiling = (0xFFFF - self._least_dn) * 8 // 9
        if top_dn > ceiling:
            np.minimum(limit, np.uint16(max(0, ceiling)), out=limit)
        np.right_shift(limit, 3, out=margin)
        margin += np.uint16(min(self._least_dn, 0xFFFF))
        limit += margin
        count = len(centre) * self._line
        self._flags[count : count + WORD] = False  # of a higher block
        flags = self._flags[:count].reshape(-1, self._line)[:, : limit.shape[1]]
        np.greater(centre[:, across:-across], limit, out=flags)
        # most words of eight flags hold none
        words = self._flags[: -(-count // WORD) * WORD].view(np.uint64)
        some = np.flatnonzero(words != 0)
        places = np.flatnonzero(words[some].view(np.bool_))
        word = places // WORD
        found: I64 = (some[word] - word) * WORD + places
        return found

    def finish(self) -> tuple[I64, I64]:
        """Return rows and columns of the candidates, but for those at the frame's edges."""
        rows, cols = np.divmod(np.concatenate([np.zeros(0, np.int64), *self._found]), self._line)
        kept = (cols >= REACH) & (cols < self._sheet.pixels.shape[1] - REACH)
        return rows[kept], cols[kept]


def _one_line(pixels: U16) -> tuple[U16, int]:
    """Return pixels as they follow one another in memory, and how many lie from row to row."""
    down, across = pixels.strides
    if across <= 0 or down < across * pixels.shape[1] or down % across:
        pixels = np.ascontiguousarray(pixels)
        down, across = pixels.strides
    line = down // across
    size = max(0, (pixels.shape[0] - 1) * line + pixels.shape[1])
    return as_strided(pixels, (size,), (across,), writeable=False), line


def confirm_hot(
    lattice: SensorLattice,
    candidates: tuple[I64, I64],
    noises: Sequence[NoiseModel],
    blacks: Sequence[float],
) -> HotFound:
    """Keep the candidates that are hot pixels.

    Parameters
    ----------
    noises, blacks : sequence
        Noise and mean black level by plane.
    """
    rows, cols = candidates
    period_y, period_x = lattice.pattern.shape
    parts = []
    for y in range(period_y):
        for x in range(period_x):
            here = (rows % period_y == y) & (cols % period_x == x)
            if here.any():
                plane = int(lattice.pattern[y, x])
                site = _Site(lattice, (y, x), rows[here], cols[here])
                parts.append(_confirm_site(site, plane, noises[plane], blacks[plane]))
    return joined_hot(parts)


@dataclass(frozen=True, slots=True, eq=False)
class _Site:
    """Candidates that share one place of the pattern."""

    lattice: SensorLattice
    place: tuple[int, int]
    rows: I64
    cols: I64

    def values(self, offsets: Sequence[tuple[int, int]]) -> F64:
        """Return the pixels at some offsets, shape (offsets, candidates)."""
        found = [self.lattice.pixels[self.rows + dy, self.cols + dx] for dy, dx in offsets]
        return np.array(found, dtype=np.float64)

    def plane_at(self, offset: tuple[int, int]) -> int:
        """Return the plane at an offset."""
        rows, cols = self.lattice.pattern.shape
        y, x = self.place[0] + offset[0], self.place[1] + offset[1]
        return int(self.lattice.pattern[y % rows, x % cols])

    def like(self, plane: int, nearest: int, farthest: int) -> list[tuple[int, int]]:
        """Return the offsets of a plane's pixels between two distances."""
        span = range(-farthest, farthest + 1)
        return [
            (dy, dx)
            for dy in span
            for dx in span
            if nearest <= max(abs(dy), abs(dx)) and self.plane_at((dy, dx)) == plane
        ]

    def chosen(self, kept: NDArray[np.bool_]) -> _Site:
        """Return the site with some of its candidates."""
        return _Site(self.lattice, self.place, self.rows[kept], self.cols[kept])

    def nearest_alike(self, plane: int) -> list[tuple[int, int]]:
        """Same-coloured neighbours: the closest ring that holds at least six."""
        for reach in range(1, REACH + 1):
            around = self.like(plane, 1, reach)
            if len(around) >= 6:
                return around
        return self.like(plane, 1, REACH)

    def is_light(self, excess: F64, sigma: F64) -> NDArray[np.bool_]:
        """Tell whether the pixels around, of whatever colour, got light too."""
        gained = np.zeros(len(excess))
        beside = [(-1, 0), (1, 0), (0, -1), (0, 1)]
        for offset in beside:
            alike = self.like(self.plane_at(offset), 2, REACH)
            usual = np.median(self.values(alike), axis=0)
            gained += self.values([offset])[0] - usual
        share = gained > len(beside) * SPREAD_SHARE * excess
        certain = gained > SPREAD_SIGMAS * sigma * len(beside) ** 0.5
        light: NDArray[np.bool_] = share & certain
        return light


def _confirm_site(site: _Site, plane: int, noise: NoiseModel, black_dn: float) -> HotFound:
    around = site.nearest_alike(plane)
    neighbours = site.values(around)
    value = site.values([(0, 0)])[0]
    middle, brightest = np.median(neighbours, axis=0), neighbours.max(axis=0)
    contrast = brightest - neighbours.min(axis=0)
    if noise.known:
        sigma = noise.sigma_dn(middle - black_dn)
    else:  # from the neighbours' own scatter
        scatter: F64 = neighbours.std(axis=0, ddof=1)
        sigma = np.maximum(scatter, noise.estimate.read_noise_dn or 1.0)
    alone = (value - brightest > HOT_SIGMAS * sigma) & (value - brightest > HOT_CONTRAST * contrast)
    site, value, middle, sigma = site.chosen(alone), value[alone], middle[alone], sigma[alone]
    dark = ~site.is_light(value - middle, sigma)
    site = site.chosen(dark)
    count = len(site.rows)
    return HotFound(
        np.full(count, plane, np.int64), site.rows, site.cols, value[dark], middle[dark]
    )


def joined_hot(parts: Sequence[HotFound]) -> HotFound:
    """Join what was found at the places of one lattice, or on several lattices."""
    whole = [np.zeros(0, np.int64)] * 3 + [np.zeros(0)] * 2
    columns = [
        np.concatenate([empty, *(getattr(part, name) for part in parts)])
        for name, empty in zip(HotFound.__slots__, whole, strict=True)
    ]
    return HotFound(*columns)


def hot_summary(hot: HotFound, height: int, width: int) -> HotPixels:
    """Sum up: count, density, and the positions of the brightest."""
    order = np.argsort(hot.value_dn - hot.neighbours_dn, kind="stable")[::-1]
    places = np.stack([hot.rows, hot.cols], axis=1)[order]
    _, first = np.unique(places, axis=0, return_index=True)
    kept = places[np.sort(first)[:KEPT]]
    megapixels = height * width / 1e6
    return HotPixels(len(first), len(first) / megapixels, kept.astype(np.uint32))


def hot_values_dn(hot: HotFound, plane: int) -> tuple[U16, int]:
    """Return the raw DN of a plane's hot pixels, sorted, and how many there are."""
    values = np.sort(hot.value_dn[hot.planes == plane])
    return values[-KEPT:].astype(np.uint16), len(values)
