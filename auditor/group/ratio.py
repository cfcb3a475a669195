"""How much light one frame was held back against others, channel by channel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from auditor.group.evenness import (
    by_tone,
    corner_fall_off,
    radius_squared,
    scattered_light,
    unevenness,
)
from auditor.group.horizon import Horizon, find_horizon
from auditor.group.limits import (
    CAST_UNEVEN_STOPS,
    DEEP_FLOORS,
    DETAIL_CHANGE,
    DETAIL_SPEAKS,
    SKY_APART_STOPS,
    TONE_STOPS,
)
from auditor.group.tile_image import TileImage
from auditor.model.arrays import F32, F64, Bool, median_known
from auditor.model.half_sample_mode import Core, half_sample_mode

FLOORS = (8.0, 4.0, 2.0)
"""Tones are trusted from this many noise floors on; the strictest that leaves enough tiles."""

ENOUGH_TILES = 250

LEAST_STILL = 60
"""Tiles without a change of detail below which such changes are not looked at."""

STEADY_TILES = 0.15
"""A shift smaller than this is within what shifts can be told by."""


LEAST_WATER_ROWS = 8
"""Rows of water from which their mean is taken, not what most tiles agree on."""

WATER_ROWS = 3
"""Rows of tiles over which the light of moving water is summed."""

CLEAR_STOPS = 0.02
"""Below this density a graduated filter is clear."""


@dataclass(frozen=True, slots=True, eq=False)
class AlignedFrame:
    """A frame as one of several that a filtered frame is held against.

    Parameters
    ----------
    image : TileImage
    settings_stops : float
        What its settings record, on any common scale.
    shift : (right, down)
        Tiles, on any common scale.
    """

    image: TileImage
    settings_stops: float
    shift: tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Attenuation:
    """What was measured of a frame against what others say it should have recorded.

    Parameters
    ----------
    stops : dict
        Colour to stops held back; colours that cannot be told are absent.
    core : Core
        Of the main colour (green): value, spread, tiles.
    overlap : float
        Share of the frame's tiles that all record between floor and saturation.
    uneven_stops : float
        How far the parts of the picture that were used disagree: a filter holds back evenly, a
        cloud does not.
    tiles : array of float32, shape (rows, cols)
        Stops held back in the main colour, tile by tile, where nothing moved; NaN elsewhere.
    filled : array of float32, shape (rows, cols)
        The same, with moving water by whole rows, and with ground near the noise floor by the
        means of its tiles.
    by_water : bool
        Whether nothing static was enough, so that moving water told it.
    sky_more_stops : float
        By how much more the sky was held back than what lies below the horizon, which then
        tells the filter alone; 0 where both agree.
    sky_alone : bool
        Whether nothing below the horizon could be measured.
    corner_stops : float
        By how much more the corners were held back than the middle, which is the filter's.
    scattered_stops : float
        By how much scattered light lifts the median tone that was used; it is taken out.
    colour_uneven_stops : float
        How far parts of the picture disagree about the cast.
    by_tone_stops : float
        How far bright and dark places of the ground that lie side by side disagree.
    """

    stops: dict[str, float]
    core: Core
    overlap: float
    uneven_stops: float
    tiles: F32
    filled: F32
    by_water: bool = False
    sky_more_stops: float = 0.0
    sky_alone: bool = False
    corner_stops: float = 0.0
    scattered_stops: float = 0.0
    colour_uneven_stops: float = 0.0
    by_tone_stops: float = 0.0

    @property
    def main(self) -> float:
        """Stops of the main colour."""
        return self.core.value


def measure_attenuation(
    frame: AlignedFrame,
    others: Sequence[tuple[AlignedFrame, float]],
    density: F64 | None = None,
) -> Attenuation | None:
    """Measure by how much a frame got less light than the weighted mean of others tells.

    Formula per tile and colour: ``Σ w (log2 signal - settings) - (log2 signal - settings)``,
    then the half-sample mode over static tiles; where sky and ground disagree, over the ground.
    A fall-off to the corners is fitted on the same tiles and taken out, and light that was
    scattered over the picture. The cast is taken as the difference of the colours on the tiles
    that agree.

    Parameters
    ----------
    frame : AlignedFrame
    others : sequence of (AlignedFrame, weight)
        Weights sum to 1.
    density : array or None, shape (rows,)
        Stops of graduated filters over the height that only some of the frames had.

    Returns
    -------
    Attenuation or None
        None where too little is well recorded by all.
    """
    them = [other for other, _ in others]
    green, floors = _main_difference(frame, others)
    moved = _moved(frame, them)
    still = np.where(moved, np.float32(np.nan), green)
    filled = _filled(frame, others, green, moved)
    plain, water = _clear_of(density, still, filled)
    by_water = plain is water or int(np.isfinite(plain).sum()) < LEAST_STILL
    horizon = _horizon(frame, them)
    part = _chosen(water if by_water else plain, water, horizon)
    if part is None:
        return None
    by_water = by_water or part.by_water
    corner = 0.0 if by_water else corner_fall_off(part.tiles, part.core)
    used = part.tiles - np.float32(corner) * radius_squared(part.tiles.shape)
    expected = _expected(frame, others, frame.image.main, floors)
    lift = scattered_light(used, expected)
    ground = slice(green.shape[0] // 2 if horizon is None else max(0, horizon + 1), None)
    tones = expected - np.asarray(still, dtype=np.float32) / np.float32(2.0)
    tone = by_tone((plain + lift)[ground], tones[ground])
    used = used + lift
    core = core_of_rows(used) if by_water else half_sample_mode(used)
    if core is None:
        return None
    scattered = float(np.median(lift[np.isfinite(used)]))
    near = np.abs(used - core.value) <= max(0.08, 2.0 * core.spread)
    tints = _tints(frame, others, green + lift, floors, scattered=scattered > 0)
    uneven = max((unevenness(tint) for tint in tints.values()), default=0.0)
    stops = {frame.image.colours[frame.image.main]: core.value}
    for name, tint in (
        tints.items() if max(uneven - CAST_UNEVEN_STOPS, tone - TONE_STOPS) <= 0 else ()
    ):
        cast = half_sample_mode(tint[near])
        if cast is not None:
            stops[name] = core.value + cast.value
    sky = _only(plain + lift, slice(0, part.sky_rows))
    return Attenuation(
        stops=stops,
        core=core,
        overlap=float(np.isfinite(green).mean()),
        uneven_stops=unevenness(used),
        tiles=still if int(np.isfinite(still).sum()) >= LEAST_STILL else green,
        filled=filled,
        by_water=by_water,
        sky_more_stops=_sky_more(sky, core),
        sky_alone=part.sky_alone,
        corner_stops=corner,
        scattered_stops=scattered,
        colour_uneven_stops=uneven,
        by_tone_stops=tone,
    )


def _tints(
    frame: AlignedFrame,
    others: Sequence[tuple[AlignedFrame, float]],
    green: F32,
    floors: float,
    *,
    scattered: bool,
) -> dict[str, F32]:
    """Return by how much more than the main colour each other one was held back."""
    tints = {}
    for colour, name in enumerate(frame.image.colours):
        if colour != frame.image.main:
            theirs = _difference(frame, others, colour, floors)
            if scattered:
                theirs = theirs + scattered_light(theirs, _expected(frame, others, colour, floors))
            tints[name] = theirs - green
    return tints


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Part:
    """The tiles that tell a filter, and what speaks against them."""

    tiles: F32
    core: Core
    by_water: bool = False
    sky_rows: int = 0
    """Rows of sky that were held back more, and are left out."""
    sky_alone: bool = False


def _chosen(tiles: F32, filled: F32, horizon: int | None) -> _Part | None:
    """Choose all tiles, or those below the horizon where the sky was held back more.

    A sky that was held back less is no graduated filter's doing: that is left to unevenness. A
    difference within what the ground's own tiles are apart, as of a camera that was knocked, says
    nothing of the sky.
    """
    core = half_sample_mode(tiles)
    if core is None:
        return None
    whole = _Part(tiles=tiles, core=core)
    if horizon is None:
        return whole
    rows = tiles.shape[0]
    sky_rows = max(0, horizon - 1)
    sky = _only(tiles, slice(0, sky_rows))
    ground = _only(tiles, slice(min(rows, horizon + 1), rows))
    by_water = int(np.isfinite(ground).sum()) < LEAST_STILL
    if by_water:
        ground = _only(filled, slice(min(rows, horizon + 1), rows))
    above, below = half_sample_mode(sky), half_sample_mode(ground)
    if above is None or above.count < LEAST_STILL:
        return whole
    if below is None or int(np.isfinite(ground).sum()) < LEAST_STILL:
        return _Part(tiles=tiles, core=core, sky_alone=True)
    if _sky_more(sky, below) == 0.0:
        return whole
    return _Part(tiles=ground, core=below, by_water=by_water, sky_rows=sky_rows)


def core_of_rows(tiles: F32) -> Core | None:
    """Return the mean of the middle half of the rows' values, for water: waves scatter evenly."""
    rows = np.sort(median_known(tiles[np.isfinite(tiles).any(axis=1)], axis=1))
    if len(rows) < LEAST_WATER_ROWS:
        return half_sample_mode(tiles)
    middle = float(rows[len(rows) // 4 : -(len(rows) // 4)].mean())
    spread = max(1e-3, 1.4826 * float(np.median(np.abs(rows - middle))))
    known = tiles[np.isfinite(tiles)]
    near = np.abs(known - middle) <= max(3.0 * spread, 0.05)
    return Core(middle, spread, int(near.sum()), known.size)


def _sky_more(sky: F32, ground: Core) -> float:
    """Return by how much more the sky was held back; 0 within what the ground is apart itself."""
    core = half_sample_mode(sky)
    more = 0.0 if core is None else core.value - ground.value
    return more if more > max(SKY_APART_STOPS, 2.0 * ground.spread) else 0.0


def _horizon(frame: AlignedFrame, others: Sequence[AlignedFrame]) -> int | None:
    """Return the first row of tiles below the horizon, on the grid that frames are held on."""
    found = find_horizon(others[0].image)
    down = others[0].shift[1] - _half_way(frame, others)[1]
    return round(found.middle - down) if isinstance(found, Horizon) else None


def _filled(
    frame: AlignedFrame,
    others: Sequence[tuple[AlignedFrame, float]],
    green: F32,
    moved: Bool,
) -> F32:
    """Return stops held back with what moved taken by rows, and dark rows by their tiles' means.

    A wave is here in one frame and there in the other, but over whole rows the light of water is
    the same: the ratio of the sums is asked, which a logarithm of each tile would bend. The mean
    of a tile's pixels is known far better than one pixel's noise.
    """
    from scipy import ndimage  # noqa: PLC0415 - slow to load, and a lone frame needs none

    grid = _half_way(frame, [other for other, _ in others])
    main = frame.image.main
    own = _onto(frame, grid, main, DEEP_FLOORS)
    each = _each_expected(frame, others, main, DEEP_FLOORS)
    deep = _mean_stops(each, others) - own
    rows_known = np.isfinite(green).sum(axis=1) >= green.shape[1] / 12.0
    filled = np.where(rows_known[:, None], green, deep).astype(np.float32)
    water = moved & np.isfinite(filled)
    if not water.any():
        return filled

    def of_rows(stops: F32) -> F64:
        light = np.where(water, np.exp2(stops), 0.0).sum(axis=1)
        near = ndimage.uniform_filter1d(light, WATER_ROWS)
        return np.asarray(np.log2(np.maximum(near, 1e-30)))

    lit = sum(weight * of_rows(part) for part, (_, weight) in zip(each, others, strict=True))
    enough = ndimage.uniform_filter1d(water.sum(axis=1).astype(np.float64), WATER_ROWS) >= 4.0
    by_row = np.where(enough, lit - of_rows(own), np.nan).astype(np.float32)
    return np.where(water, by_row[:, None], filled)


def _clear_of(density: F64 | None, still: F32, filled: F32) -> tuple[F32, F32]:
    """Take a graduated filter out of what is static, and of that with moving water.

    Only what lies below it is kept, where that is enough: static, else water; clouds above it
    moved. Else its density is taken off each row.
    """
    if density is None:
        return still, filled
    clear = np.abs(density) <= CLEAR_STOPS
    below, water = (np.where(clear[:, None], part, np.float32(np.nan)) for part in (still, filled))
    if int(np.isfinite(below).sum()) >= ENOUGH_TILES:
        return below, water
    if int(np.isfinite(water).sum()) >= ENOUGH_TILES:
        return water, water
    off = density[:, None].astype(np.float32)
    return still - off, filled - off


def _main_difference(
    frame: AlignedFrame, others: Sequence[tuple[AlignedFrame, float]]
) -> tuple[F32, float]:
    """Return the main colour's stops held back, and the noise floors it was trusted from."""
    for floors in FLOORS:
        green = _difference(frame, others, frame.image.main, floors)
        if int(np.isfinite(green).sum()) >= ENOUGH_TILES:
            break
    return green, floors


def _difference(
    frame: AlignedFrame, others: Sequence[tuple[AlignedFrame, float]], colour: int, floors: float
) -> F32:
    """Return stops held back, tile by tile; NaN where any fails to record.

    All are brought to a place half-way between, so that a shift by a part of a tile softens
    the frame and the others alike.
    """
    grid = _half_way(frame, [other for other, _ in others])
    return _expected(frame, others, colour, floors) - _onto(frame, grid, colour, floors)


def _expected(
    frame: AlignedFrame, others: Sequence[tuple[AlignedFrame, float]], colour: int, floors: float
) -> F32:
    """Return the stops that the others let expect, less settings, on the common grid."""
    return _mean_stops(_each_expected(frame, others, colour, floors), others)


def _each_expected(
    frame: AlignedFrame, others: Sequence[tuple[AlignedFrame, float]], colour: int, floors: float
) -> list[F32]:
    them = [other for other, _ in others]
    grid = _half_way(frame, them)
    return [_onto(other, grid, colour, floors) for other in them]


def _mean_stops(parts: Sequence[F32], others: Sequence[tuple[AlignedFrame, float]]) -> F32:
    weighted = [np.float32(weight) * part for part, (_, weight) in zip(parts, others, strict=True)]
    return np.asarray(np.sum(weighted, axis=0), dtype=np.float32)


def _half_way(frame: AlignedFrame, others: Sequence[AlignedFrame]) -> tuple[float, float]:
    right = sum(other.shift[0] for other in others) / len(others)
    down = sum(other.shift[1] for other in others) / len(others)
    apart = max(abs(right - frame.shift[0]), abs(down - frame.shift[1]))
    if apart < STEADY_TILES:
        return right, down
    return (right + frame.shift[0]) / 2.0, (down + frame.shift[1]) / 2.0


def _onto(seen: AlignedFrame, grid: tuple[float, float], colour: int, floors: float) -> F32:
    """Return a frame's stops less its settings, moved by parts of tiles onto a grid."""
    from scipy import ndimage  # noqa: PLC0415 - slow to load, and a lone frame needs none

    right, down = seen.shift[0] - grid[0], seen.shift[1] - grid[1]
    if max(abs(right), abs(down)) < STEADY_TILES:
        return seen.image.stops(colour, floors) - np.float32(seen.settings_stops)
    signal = seen.image.signal(colour)
    least = max(floors * seen.image.floor_dn[colour], 1e-3)
    signal = np.where(signal >= least, signal, np.float32(np.nan))
    moved = ndimage.shift(signal, (-down, -right), order=1, mode="constant", cval=np.nan)
    stops: F32 = np.log2(moved) - np.float32(seen.settings_stops)
    return stops


def _moved(frame: AlignedFrame, others: Sequence[AlignedFrame]) -> Bool:
    """Tell where fine detail came or went: water that flowed, leaves that shook."""
    moved = np.zeros(frame.image.shape, dtype=bool)
    own = _structure(frame.image)
    for other in others:
        right, down = (round(a - b) for a, b in zip(other.shift, frame.shift, strict=True))
        theirs = _rolled(_structure(other.image), -down, -right)
        highest, lowest = np.fmax(own, theirs), np.fmin(own, theirs)
        speaks = highest >= np.sqrt(DETAIL_SPEAKS**2 - 1.0)
        with np.errstate(invalid="ignore"):
            moved |= speaks & (highest > DETAIL_CHANGE * np.maximum(lowest, 0.05))
    return moved


def _structure(image: TileImage) -> F32:
    """Fine detail with the noise taken out of it, against the square root of the signal.

    Detail is noise-normalised, so the same structure shows more of it the more light there is:
    as the square root, where shot noise rules.
    """
    detail = image.detail.astype(np.float32)
    signal = np.maximum(image.signal(image.main), image.floor_dn[image.main])
    structure = np.sqrt(np.maximum(detail**2 - 1.0, 0.0))
    level = np.sqrt(signal * (8.0 / image.room_dn[image.main]))
    return np.asarray(structure / level, dtype=np.float32)


def _rolled(picture: F32, down: int, right: int) -> F32:
    rolled: F32 = np.roll(picture, (down, right), axis=(0, 1))
    return rolled


def _only(picture: F32, rows: slice) -> F32:
    kept = np.full_like(picture, np.nan)
    kept[rows] = picture[rows]
    return kept
