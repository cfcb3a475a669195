"""The camera's own preview: what it shows as blown and blocked, and at which raw signal.

The preview is laid over the tiles of the raw data; the signal from which a channel is white is
the one that best parts the places where it is white from those where it is not. Only even places
are asked: in texture a place is part white and part not, and lossy compression blurs the two.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from PIL import Image

from auditor.model.arrays import F64, I64, U8, Bool
from auditor.model.measurement import MosaicMeasurement, PreviewMeasurement
from auditor.model.mosaic import CameraPreview
from auditor.model.remark import RemarkCode, remark
from auditor.preview.limits import (
    ASPECT_SLACK,
    BAR_CODE,
    CORNERS_LIFTED,
    CROP_SLACK,
    EVEN_RATIO,
    LARGEST_GAP,
    LEAST_AGREEMENT,
    LEAST_PLACES,
    NOISE_SIGMAS,
    PURE_SHARE,
    WORST_PARTING,
)

WHITE_CODE, BLACK_CODE = 254, 1
"""From the one on and up to the other a pixel of 8 bits is shown as blown and as blocked."""

CHANNELS = {"R": ("R",), "G": ("G", "G1", "G2"), "B": ("B",)}
"""Planes that a channel of the preview shows; every channel shows a single plane "L"."""

BINS = 64


@dataclass(frozen=True, slots=True, eq=False)
class _Grid:
    """Which place of a common grid each row and column of a picture falls on."""

    rows: I64
    cols: I64
    shape: tuple[int, int]

    def mean(self, values: F64) -> F64:
        """Return means over the places, shape of the grid; NaN where nothing falls."""
        flat = (self.rows[:, None] * self.shape[1] + self.cols[None, :]).ravel()
        size = self.shape[0] * self.shape[1]
        sums = np.bincount(flat, weights=values.ravel(), minlength=size)
        counts = np.bincount(flat, minlength=size)
        with np.errstate(invalid="ignore"):
            means: F64 = (sums / counts).reshape(self.shape)
        return means

    def mean_of_codes(self, codes: U8) -> F64:
        """Return the same for a large picture of which every place holds something."""
        down, across = np.bincount(self.rows), np.bincount(self.cols)
        stops = np.cumsum(down).tolist()
        rows = [
            codes[start:stop].sum(axis=0, dtype=np.uint32)
            for start, stop in zip([0, *stops[:-1]], stops, strict=True)
        ]
        sums = np.add.reduceat(np.array(rows), np.cumsum(across) - across, axis=1)
        counts = np.outer(down, across)
        means: F64 = sums / counts
        return means


def measure_preview(
    preview: CameraPreview, measurement: MosaicMeasurement, pixel_aspect: float = 1.0
) -> PreviewMeasurement:
    """Measure the preview against the raw data.

    Parameters
    ----------
    preview : CameraPreview
    measurement : MosaicMeasurement
        Of the raw data of the same file.
    pixel_aspect : float
        Width of a pixel of the raw data over its height; those of a preview are square.
    """
    shape = pixel_aspect * measurement.width / measurement.height
    picture, odd = _without_bars(preview.pixels, shape)
    other_section = odd is RemarkCode.OTHER_SECTION
    channels = [np.ascontiguousarray(picture[:, :, i]) for i in range(3)]
    clip, block, apart = ({}, {}, None) if other_section else _thresholds(channels, measurement)
    by_channel = dict(zip("RGB", _codes(picture).reshape(3, -1), strict=True))
    notes = [remark(code) for code in (odd, apart) if code]
    rows, cols = preview.pixels.shape[:2]
    if max(rows, cols) < max(preview.width, preview.height):
        size = {"width": preview.width, "height": preview.height}
        notes.append(
            remark(RemarkCode.COUNTED_SMALL, **size, counted_width=cols, counted_height=rows)
        )
    highest = _codes(np.maximum(np.maximum(channels[0], channels[1]), channels[2]))
    return PreviewMeasurement(
        width=preview.width,
        height=preview.height,
        blown_share=float(highest[WHITE_CODE:].sum() / highest.sum()),
        blocked_share=float(highest[: BLACK_CODE + 1].sum() / highest.sum()),
        clip_signal_dn=clip,
        block_signal_dn=block,
        counts={
            name: tuple(int(count) for count in own.reshape(BINS, -1).sum(axis=1))
            for name, own in by_channel.items()
        },
        remarks=tuple(notes),
    )


def _codes(picture: U8) -> I64:
    """Count the codes of each channel, one channel after the other."""
    return np.array(Image.fromarray(picture).histogram())


def _without_bars(preview: U8, aspect: float) -> tuple[U8, RemarkCode | None]:
    """Cut off the black bars that bring a preview to another shape than the sensor's."""
    height, width = preview.shape[:2]
    shape = width / height
    if abs(shape / aspect - 1) <= ASPECT_SLACK:
        return preview, None
    if shape > aspect:
        bar = int((width - height * aspect) / 2)
        sides, inner = (preview[:, :bar], preview[:, width - bar :]), preview[:, bar : width - bar]
    else:
        bar = int((height - width / aspect) / 2)
        sides, inner = (preview[:bar], preview[height - bar :]), preview[bar : height - bar]
    if bar and all(int(np.percentile(side, 99)) <= BAR_CODE for side in sides):
        return inner, RemarkCode.BARS_LEFT_OUT
    cropped = abs(shape / aspect - 1) > CROP_SLACK
    return preview, RemarkCode.OTHER_SECTION if cropped else None


def _thresholds(
    channels: Sequence[U8], measurement: MosaicMeasurement
) -> tuple[dict[str, float], dict[str, float], RemarkCode | None]:
    white = [codes >= WHITE_CODE for codes in channels]
    black = [codes <= BLACK_CODE for codes in channels]
    on_raw, on_picture = _common_grid(channels[0].shape, measurement)
    signals, even = _signals(measurement, on_raw)
    green = on_picture.mean_of_codes(channels[1])
    if not _show_the_same(green, signals):
        return {}, {}, RemarkCode.NOT_LAID_OVER
    if len(measurement.planes) > 1 and _is_grey(channels):
        return {}, {}, RemarkCode.GREY_PREVIEW
    clip: dict[str, float] = {}
    block: dict[str, float] = {}
    if _lifted_corners_stops(green, even["G"]) > CORNERS_LIFTED and all(
        _lifted_corners_stops(on_picture.mean_of_codes(own), even[name]) > CORNERS_LIFTED
        for name, own in (("R", channels[0]), ("B", channels[2]))
    ):
        return {}, {}, RemarkCode.CORNERS_LIFTED
    for i, name in enumerate("RGB"):
        for found, flags, rising in ((clip, white[i], True), (block, black[i], False)):
            if not flags.any():
                continue
            share = on_picture.mean_of_codes(flags.view(np.uint8))
            if rising:
                mixed = (share > PURE_SHARE) & (share < 1.0 - PURE_SHARE)
                pure = np.where(mixed, np.nan, np.round(share))
                level = parting_signal_dn(even[name], pure)
            else:
                level = parting_signal_dn(signals[name], 1.0 - share)
            if level is not None:
                found[name] = level
    return clip, block, None


def _common_grid(size: tuple[int, ...], measurement: MosaicMeasurement) -> tuple[_Grid, _Grid]:
    """Grids for the tiles and for a preview of that size, no finer than either allows."""
    maps = measurement.maps
    rows = max(1, min(maps.shape[0], size[0] // 2))
    cols = max(1, min(maps.shape[1], size[1] // 2))
    raw_rows = (np.arange(maps.shape[0]) + 0.5) * maps.tile_px / measurement.height
    raw_cols = (np.arange(maps.shape[1]) + 0.5) * maps.tile_px / measurement.width
    own_rows = (np.arange(size[0]) + 0.5) / size[0]
    own_cols = (np.arange(size[1]) + 0.5) / size[1]
    return (
        _Grid(_places(raw_rows, rows), _places(raw_cols, cols), (rows, cols)),
        _Grid(_places(own_rows, rows), _places(own_cols, cols), (rows, cols)),
    )


def _places(positions: F64, count: int) -> I64:
    return np.minimum((positions * count).astype(np.int64), count - 1)


def _signals(measurement: MosaicMeasurement, grid: _Grid) -> tuple[dict[str, F64], dict[str, F64]]:
    """Return the mean raw signal of each channel on the grid; and with NaN where it is uneven."""
    signals, even, maps = {}, {}, measurement.maps
    for name, planes in CHANNELS.items():
        own = [i for i, plane in enumerate(measurement.planes) if plane.name in planes]
        signals[name] = grid.mean(np.mean(maps.mean_dn[own] if own else maps.mean_dn, axis=0))
        uneven = grid.mean(uneven_places(measurement, planes).astype(np.float64)) > 0.0
        even[name] = np.where(uneven, np.nan, signals[name])
    return signals, even


def uneven_places(measurement: MosaicMeasurement, names: tuple[str, ...]) -> Bool:
    """Tell the tiles in which some pixel stands out: in texture white and not white mix."""
    maps, planes = measurement.maps, measurement.planes
    own = [i for i, plane in enumerate(planes) if plane.name in names] or list(range(len(planes)))
    uneven: Bool = np.zeros(maps.shape, dtype=np.bool_)
    for i in own:
        mean_dn = np.maximum(maps.mean_dn[i], 0.0)
        read, gain = planes[i].noise.read_noise_dn, planes[i].noise.gain_dn_per_e
        most_dn = EVEN_RATIO * mean_dn
        if read is not None and gain is not None:
            most_dn = most_dn + NOISE_SIGMAS * np.sqrt(read**2 + gain * mean_dn)
        uneven = uneven | (maps.max_dn[i] - planes[i].black_dn > most_dn)
    return uneven


def _show_the_same(codes: F64, signals: dict[str, F64]) -> bool:
    level = np.log1p(np.maximum(sum(signals.values()), 0.0))
    known = np.isfinite(level) & np.isfinite(codes)
    codes, level = codes[known], level[known]
    if len(codes) < LEAST_PLACES or codes.std() < 0.5 or level.std() == 0.0:
        return False
    return bool(np.corrcoef(codes, level)[0, 1] >= LEAST_AGREEMENT)


def _is_grey(channels: Sequence[U8]) -> bool:
    """Tell whether all three channels show the same, but for rounding."""
    red, green, blue = (own[::4, ::4].astype(np.int16) for own in channels)
    rounding = 2
    return bool(max(np.abs(red - green).max(), np.abs(blue - green).max()) <= rounding)


def _lifted_corners_stops(codes: F64, signal_dn: F64) -> float:
    """Return by how much, at least, the corners are shown brighter at the same signal.

    0 where the two have too few codes in common. One channel alone may show another colour.
    """
    rows, cols = codes.shape
    down, across = ((2.0 * np.arange(size) + 1.0 - size) / size for size in (rows, cols))
    aside = (down[:, None] ** 2 + across**2) / 2.0
    middle_codes = (20.0, 235.0)  # whose tone curve bends least
    with np.errstate(invalid="ignore"):
        told = (codes >= middle_codes[0]) & (codes <= middle_codes[1]) & (signal_dn > 0)
    # by the squared distance from the middle, 1 in the corners
    inner, outer = told & (aside < 0.3), told & (aside > 0.5)
    order = np.argsort(codes[inner], kind="stable")
    code, level = codes[inner][order], np.log2(signal_dn[inner][order])
    # so many places are asked, so many are to answer, by places whose codes are alike
    asked_places, least_corners, like_codes = 150, 20, 3.0
    asked = slice(None, None, max(1, np.count_nonzero(outer) // asked_places))
    own, own_level = codes[outer][asked], np.log2(signal_dn[outer][asked])
    first, last = (np.searchsorted(code, own + side) for side in (-like_codes, like_codes))
    lifted = []
    for start, stop, mine in zip(first, last, own_level, strict=True):
        if stop - start >= LEAST_PLACES:
            like = np.sort(level[start:stop])
            lifted.append(float(like[(len(like) - 1) // 2] + like[len(like) // 2]) / 2.0 - mine)
    if len(lifted) < least_corners:
        return 0.0
    middle = float(np.median(lifted))
    scatter = float(np.median(np.abs(np.array(lifted) - middle)))
    sure_errors = 5.6  # three of a median: 1.2533 times those of a mean, MAD_TO_SIGMA in each
    return middle - sure_errors * scatter / float(len(lifted) ** 0.5)


def parting_signal_dn(signal_dn: F64, share: F64) -> float | None:
    """Return the signal that best parts places with a share of 0 from those with 1.

    Parameters
    ----------
    signal_dn, share : array of float64
        Signal, and share of the place that counts, rising with the signal; NaN is left out.

    Returns
    -------
    float or None
        None where one side is missing, where the two sides mix, or where no place lies near.
    """
    known = np.isfinite(signal_dn) & np.isfinite(share)
    signal, counted = signal_dn[known], share[known]
    some, lacking = signal[counted > 0.0], signal[counted < 1.0]
    if len(signal) < 2 * LEAST_PLACES or not len(some) or not len(lacking):
        return None
    # only where the two sides meet does the order count: elsewhere every place is on its side
    low, high = sorted((some.min(), lacking.max()))
    low, high = signal[signal < low].max(initial=-np.inf), signal[signal > high].min(initial=np.inf)
    near = np.flatnonzero((signal >= low) & (signal <= high))
    near = near[np.argsort(signal[near], kind="stable")]
    under = np.concatenate([[0.0], np.cumsum(counted[near])])
    over = np.concatenate([np.cumsum((1.0 - counted[near])[::-1])[::-1], [0.0]])
    wrong = under + over
    part = int(wrong.argmin())
    before = part + int(np.count_nonzero(signal < low))
    if not LEAST_PLACES <= before <= len(signal) - LEAST_PLACES:
        return None
    smaller = min(float(counted.sum()), float((1.0 - counted).sum()))
    below, above = float(signal[near[part - 1]]), float(signal[near[part]])
    if wrong[part] > WORST_PARTING * smaller or above > LARGEST_GAP * max(below, 1.0):
        return None
    return (below + above) / 2.0
