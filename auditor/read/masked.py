"""Masked borders: rectangles that the file names, or margins that behave like masked pixels.

Margins of some bodies hold junk: test patterns, constants, half-lit columns. A margin of a file
that names no masked area is kept only where its lines lie near the black level and vary as noise
does; what is left out is told in a note. How much is near and what is noise: common practice.
"""

from __future__ import annotations

import numpy as np

from auditor.model.arrays import Bool
from auditor.model.mosaic import BlackLevels, MaskedArea
from auditor.model.remark import Remark, RemarkCode, remark
from auditor.read.decoded import Decoded
from auditor.read.dng.tags import DngTags, Rectangle

LEAST_LINES = 8
INNER_LINES = 2
"""Lines next to the picture are left out: light leaks into them."""

NEAR_SHARE, NEAR_LEAST_DN = 0.005, 4.0
"""A line is near black within this share of the range from black to white."""

NOISY_SHARE = 0.01
"""Noise beyond this share of the range is no read noise."""

SAMPLED_PIXELS = 512


def masked_areas(
    decoded: Decoded,
    tags: DngTags | None,
    black: BlackLevels,
    white_dn: float,
    remarks: list[Remark],
) -> tuple[MaskedArea, ...]:
    """Return copies of the masked pixels, placed relative to the top-left visible pixel."""
    if decoded.stored.ndim != 2:
        return ()
    if tags is None or not tags.masked:
        return tuple(_found_areas(decoded, black, white_dn, remarks))
    areas = []
    for top, left, bottom, right in tags.masked:
        apart = (
            bottom <= decoded.top
            or right <= decoded.left
            or top >= decoded.top + decoded.height
            or left >= decoded.left + decoded.width
        )
        if apart:
            areas.append(_area(decoded, (top, left, bottom, right)))
        else:
            remarks.append(remark(RemarkCode.MASKED_INSIDE))
    return tuple(areas)


def _area(decoded: Decoded, sides: Rectangle) -> MaskedArea:
    top, left, bottom, right = sides
    pixels = decoded.stored[top:bottom, left:right].copy()
    return MaskedArea(pixels, top - decoded.top, left - decoded.left)


def _found_areas(
    decoded: Decoded, black: BlackLevels, white_dn: float, remarks: list[Remark]
) -> list[MaskedArea]:
    rows, cols = decoded.stored.shape
    top, left = decoded.top, decoded.left
    bottom, right = top + decoded.height, left + decoded.width
    margins: tuple[tuple[str, Rectangle, bool, bool], ...] = (
        ("left", (top, 0, bottom, left), True, True),
        ("upper", (0, left, top, right), False, True),
        ("right", (top, right, bottom, cols), True, False),
        ("lower", (bottom, left, rows, right), False, False),
    )
    areas = []
    for name, sides, across, inner_last in margins:
        upper, first, lower, last = sides
        if min(lower - upper, last - first) < LEAST_LINES:
            continue
        run = _longest_run(_sound_lines(decoded, sides, across, black, white_dn), inner_last)
        if run is None:
            remarks.append(remark(RemarkCode.MARGIN_UNUSED, margin=name))
        elif across:
            areas.append(_area(decoded, (upper, first + run[0], lower, first + run[1])))
        else:
            areas.append(_area(decoded, (upper + run[0], first, upper + run[1], last)))
    return areas


def _sound_lines(
    decoded: Decoded, sides: Rectangle, across: bool, black: BlackLevels, white_dn: float
) -> Bool:
    """Tell which lines lie near black and vary as noise does; each is sampled along its length.

    Lines run along the picture: columns ``across`` the left and right margins, else rows.
    """
    top, left, bottom, right = sides
    length = (bottom - top) if across else (right - left)
    step = max(1, length // SAMPLED_PIXELS) | 1  # odd, so that every colour is met
    rows = np.arange(top, bottom, step if across else 1)
    cols = np.arange(left, right, 1 if across else step)
    down = (rows - decoded.top) % black.pattern_dn.shape[0]
    along = (cols - decoded.left) % black.pattern_dn.shape[1]
    # stored values less the black level of each one's own place
    residual = decoded.stored[np.ix_(rows, cols)] - black.pattern_dn[np.ix_(down, along)]
    sample = residual.T if across else residual
    span = max(1.0, white_dn - float(black.pattern_dn.mean()))
    middle = np.median(sample, axis=1)
    low, high = np.percentile(sample, (15.87, 84.13), axis=1)  # one sigma either side
    sigma = (high - low) / 2.0
    varies = sample.max(axis=1) > sample.min(axis=1)
    near = np.abs(middle) <= max(NEAR_LEAST_DN, NEAR_SHARE * span)
    sound: Bool = near & varies & (sigma <= max(NEAR_LEAST_DN, NOISY_SHARE * span))
    return sound


def _longest_run(sound: Bool, inner_last: bool) -> tuple[int, int] | None:
    """Return first and last (excluded) line of the longest sound run, light leaks cut off.

    The innermost line is the last one or the first.
    """
    edges = np.flatnonzero(np.diff(np.concatenate(([False], sound, [False])).astype(np.int8)))
    runs = list(zip(edges[::2], edges[1::2], strict=True))
    if not runs:
        return None
    first, last = max(runs, key=lambda run: run[1] - run[0])
    if inner_last:
        last = min(last, len(sound) - INNER_LINES)
    else:
        first = max(first, INNER_LINES)
    return (int(first), int(last)) if last - first >= LEAST_LINES else None
