"""How much light one frame was held back against others, channel by channel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from auditor.group.aligned import AlignedFrame, Comparison
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
    ENOUGH_TILES,
    LEAST_STILL,
    SKY_APART_STOPS,
    TONE_STOPS,
)
from auditor.group.moving import core_of_rows, filled, moved_tiles
from auditor.model.arrays import F32, F64, Bool
from auditor.model.half_sample_mode import Core, half_sample_mode

FLOORS = (8.0, 4.0, 2.0)
"""Tones are trusted from this many noise floors on; the strictest that leaves enough tiles."""


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
        tells the filter alone; negative where it was held back less, and all of it tells; 0 where
        both agree.
    sky_alone : bool
        Whether nothing below the horizon could be measured.
    corner_stops : float
        By how much more the corners were held back than the middle, which is the filter's.
    scattered_stops : float
        By how much scattered light lifts the median tone; it is taken out.
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
    pair, main = Comparison(frame, others), frame.image.main
    for floors in FLOORS:
        green = pair.difference(main, floors)
        if int(np.isfinite(green).sum()) >= ENOUGH_TILES:
            break
    moved = moved_tiles(pair)
    still = np.where(moved, np.float32(np.nan), green)
    whole = filled(pair, green, moved)
    plain, water = _clear_of(density, still, whole)
    by_water = plain is water or int(np.isfinite(plain).sum()) < LEAST_STILL
    found = find_horizon(others[0][0].image)
    down = others[0][0].shift[1] - pair.grid[1]
    horizon = round(found.middle - down) if isinstance(found, Horizon) else None
    part = _chosen(water if by_water else plain, water, horizon)
    if part is None:
        return None
    by_water = by_water or part.by_water
    corner = 0.0 if by_water else corner_fall_off(part.tiles, part.core)
    used = part.tiles - np.float32(corner) * radius_squared(part.tiles.shape)
    expected = pair.expected(main, floors)
    lift = scattered_light(used, expected)
    ground = slice(green.shape[0] // 2 if horizon is None else max(0, horizon + 1), None)
    tones = expected - np.asarray(still, dtype=np.float32) / np.float32(2.0)
    tone = by_tone((plain + lift)[ground], tones[ground])
    used = used + lift
    core = core_of_rows(used) if by_water else half_sample_mode(used)
    if core is None:
        return None
    scattered = float(np.nanmedian(lift))
    near = np.abs(used - core.value) <= max(0.08, 2.0 * core.spread)
    tints = _tints(pair, green + lift, floors, scattered=scattered > 0)
    uneven = max((unevenness(tint) for tint in tints.values()), default=0.0)
    stops = {frame.image.colours[main]: core.value}
    for name, tint in (
        tints.items() if max(uneven - CAST_UNEVEN_STOPS, tone - TONE_STOPS) <= 0 else ()
    ):
        cast = _cast(tint, near, in_corners=corner != 0.0)
        if cast is not None:
            stops[name] = core.value + cast.value
    sky = _only(plain + lift, slice(0, part.sky_rows))
    return Attenuation(
        stops=stops,
        core=core,
        overlap=float(np.isfinite(green).mean()),
        uneven_stops=unevenness(used),
        tiles=still if int(np.isfinite(still).sum()) >= LEAST_STILL else green,
        filled=whole,
        by_water=by_water,
        sky_more_stops=_sky_more(sky, core) - part.sky_less_stops,
        sky_alone=part.sky_alone,
        corner_stops=corner,
        scattered_stops=scattered,
        colour_uneven_stops=uneven,
        by_tone_stops=tone,
    )


def _cast(tint: F32, near: Bool, *, in_corners: bool) -> Core | None:
    """Return the cast of the middle: corners that were held back more have one of their own."""
    cast = half_sample_mode(tint[near])
    if cast is None or not in_corners:
        return cast
    fall_off = np.float32(corner_fall_off(tint, cast))
    return half_sample_mode((tint - fall_off * radius_squared(tint.shape))[near])


def _tints(pair: Comparison, green: F32, floors: float, *, scattered: bool) -> dict[str, F32]:
    """Return by how much more than the main colour each other one was held back."""
    tints = {}
    image = pair.frame.image
    for colour, name in enumerate(image.colours):
        if colour != image.main:
            theirs = pair.difference(colour, floors)
            if scattered:
                theirs = theirs + scattered_light(theirs, pair.expected(colour, floors))
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
    sky_less_stops: float = 0.0
    """By how much less the sky was held back than the ground, if it was."""


def _chosen(tiles: F32, water: F32, horizon: int | None) -> _Part | None:
    """Choose all tiles, or those below the horizon where the sky was held back more.

    A sky that was held back less is no graduated filter's doing: it brightened, or the sun left
    the ground, and nothing tells which. A difference within what the ground's own tiles are apart,
    as of a camera that was knocked, says nothing of the sky.
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
        ground = _only(water, slice(min(rows, horizon + 1), rows))
    above, below = half_sample_mode(sky), half_sample_mode(ground)
    if above is None or above.count < LEAST_STILL:
        return whole
    if below is None or int(np.isfinite(ground).sum()) < LEAST_STILL:
        return _Part(tiles=tiles, core=core, sky_alone=True)
    more = _sky_more(sky, below)
    if more <= 0.0:
        return replace(whole, sky_less_stops=-more)
    return _Part(tiles=ground, core=below, by_water=by_water, sky_rows=sky_rows)


def _sky_more(sky: F32, ground: Core) -> float:
    """Return by how much more the sky was held back, or less (negative).

    0 within what the ground is apart itself.
    """
    core = half_sample_mode(sky)
    if core is None:
        return 0.0
    more = core.value - ground.value
    apart = ground.spread if more > 0 else max(ground.spread, core.spread)  # clouds move
    return more if abs(more) > max(SKY_APART_STOPS, 2.0 * apart) else 0.0


def _clear_of(density: F64 | None, still: F32, whole: F32) -> tuple[F32, F32]:
    """Take a graduated filter out of what is static, and of that with moving water.

    Only what lies below it is kept, where that is enough: static, else water; clouds above it
    moved. Else its density is taken off each row.
    """
    if density is None:
        return still, whole
    clear = np.abs(density) <= 0.02  # stops: there the filter is clear
    below, water = (np.where(clear[:, None], part, np.float32(np.nan)) for part in (still, whole))
    if int(np.isfinite(below).sum()) >= ENOUGH_TILES:
        return below, water
    if int(np.isfinite(water).sum()) >= ENOUGH_TILES:
        return water, water
    off = density[:, None].astype(np.float32)
    return still - off, whole - off


def _only(picture: F32, rows: slice) -> F32:
    kept = np.full_like(picture, np.nan)
    kept[rows] = picture[rows]
    return kept
