"""What is measured on one frame. These are the facts the store keeps; opinions come later.

Nothing here is larger than a histogram or a small picture. All maps are in sensor
orientation; :mod:`auditor.model.orientation` turns them upright.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from auditor.model.arrays import F32, F64, I64, U16, U32
from auditor.model.codes import BlackSource, Damage, Layout, LevelSource, NoiseSource
from auditor.model.facts import FileFacts
from auditor.model.findings import Figure, Figures
from auditor.model.optics import LensShading
from auditor.model.remark import Remark


@dataclass(frozen=True, slots=True, eq=False)
class Histogram:
    """Counts per raw DN (black not subtracted), trimmed at both ends.

    Parameters
    ----------
    first_dn : int
        DN of the first bin.
    counts : array of uint32, shape (n,)
        One bin a DN; first and last bin are not empty (n may be 0).
    """

    first_dn: int
    counts: U32

    @property
    def below(self) -> I64:
        """How many pixels lie below each bin, and all of them: one value more than bins."""
        return count_below(self)

    @property
    def total(self) -> int:
        """All pixels counted."""
        return int(self.counts.sum(dtype=np.int64))

    @property
    def last_dn(self) -> int:
        """DN of the last bin; ``first_dn - 1`` when empty."""
        return self.first_dn + len(self.counts) - 1

    def at_or_above(self, level_dn: float) -> int:
        """Count the pixels whose DN is at least ``level_dn``."""
        start = max(0, int(np.ceil(level_dn)) - self.first_dn)
        return int(self.counts[start:].sum(dtype=np.int64))

    def at_or_below(self, level_dn: float) -> int:
        """Count the pixels whose DN is at most ``level_dn``."""
        stop = int(np.floor(level_dn)) - self.first_dn + 1
        return int(self.counts[: max(0, stop)].sum(dtype=np.int64))

    def dn_with_above(self, few: int) -> int:
        """Return the highest DN at or above which more than a few pixels lie.

        One less than the first where all are no more than that.
        """
        return self.first_dn - 1 + int(self.below[:-1].searchsorted(int(self.below[-1]) - few))

    def last_under(self, dn: int) -> int | None:
        """Return the highest DN under one that occurs; None where none does."""
        under = int(self.below[min(max(0, dn - self.first_dn), len(self.counts))])
        return self.first_dn - 1 + int(self.below.searchsorted(under)) if under else None


@lru_cache(maxsize=8)  # of each plane of a mosaic: whoever looks at one asks many times
def count_below(histogram: Histogram) -> I64:
    """Return how many pixels lie below each bin, and all of them."""
    sums = np.zeros(len(histogram.counts) + 1, dtype=np.int64)
    histogram.counts.cumsum(dtype=np.int64, out=sums[1:])
    return sums


@dataclass(frozen=True, slots=True)
class PileUp:
    """The pile-up of clipped pixels at the top of one plane's histogram.

    Parameters
    ----------
    level_dn : float
        Centre of the pile-up, raw DN.
    from_dn : int
        Lowest DN that belongs to it: pixels at or above are clipped.
    spread_dn : float
        Standard deviation of the pile-up.
    share : float
        Of the plane's pixels.
    """

    level_dn: float
    from_dn: int
    spread_dn: float
    share: float


@dataclass(frozen=True, slots=True)
class NoiseEstimate:
    """Read noise and gain of one plane; each None where it cannot be had, the remarks say why.

    From one frame: read noise holds the fixed pattern of dark pixels (DSNU) as well.
    """

    read_noise_dn: float | None = None
    gain_dn_per_e: float | None = None
    source: NoiseSource | None = None
    remarks: tuple[Remark, ...] = ()
    darkest_dn: float | None = None
    """Noise of one pixel at the darkest level that tells: read noise where there is no light."""

    @property
    def floor_dn(self) -> float | None:
        """Signal at which SNR is 1, ``(g + sqrt(g² + 4 r²)) / 2`` DN (EMVA 1288)."""
        if self.read_noise_dn is None or self.gain_dn_per_e is None:
            return None
        gain, read = self.gain_dn_per_e, self.read_noise_dn
        return (gain + float(np.hypot(gain, 2.0 * read))) / 2.0


@dataclass(frozen=True, slots=True, eq=False)
class PlaneMeasurement:
    """One colour plane.

    Parameters
    ----------
    black_dn : float
        Mean black over the plane's places, the one used for every signal.
    black_source : str
        "metadata" or "masked border".
    white_dn : float
        Saturation as the file claims it, raw DN.
    clip_threshold_dn : float
        Raw DN at and above which :class:`TileMaps` counted a pixel as over.
    hot_dn : array of uint16
        Raw DN of the pixels recognised as hot, sorted, at most 4096 (the brightest).
    hot_count : int
        All pixels recognised as hot.
    bends_from_dn : float or None
        Raw DN from which the response was seen to bend over, under the clipping level.
    clips_apart : bool
        Whether some lines or places clip below the pile-up.
    """

    name: str
    pixels: int
    black_dn: float
    black_source: BlackSource
    white_dn: float
    linear_limit_dn: float | None
    histogram: Histogram
    pile_up: PileUp | None
    noise: NoiseEstimate
    clip_threshold_dn: float
    hot_dn: U16
    hot_count: int
    black_tag_dn: float | None = None
    masked_black_dn: float | None = None
    masked_black_error_dn: float | None = None
    remarks: tuple[Remark, ...] = ()
    bends_from_dn: float | None = None
    clips_apart: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class TileMaps:
    """The picture in tiles: what grouping, pairing and clip maps are made from.

    Tiles are square, ``tile_px`` sensor pixels a side; the last row and column of tiles may
    cover less. At most 192 tiles on the longer side.

    Parameters
    ----------
    tile_px : int
    mean_dn : array of float32, shape (planes, rows, cols)
        Mean signal, black subtracted, hot pixels left out where known.
    max_dn : array of uint16, shape (planes, rows, cols)
        Largest raw DN.
    over_share : array of float32, shape (planes, rows, cols)
        Share of the tile's pixels of that plane at or above the plane's ``clip_threshold_dn``.
    any_over_share, all_over_share : array of float32, shape (rows, cols)
        Share of the tile's pattern cells in which any plane, and every plane, is over.
    detail : array of float32, shape (rows, cols)
        Fine detail on green: standard deviation of same-coloured neighbour differences
        divided by what noise alone would give there; 1 where there is nothing but noise,
        NaN where it could not be told.
    """

    tile_px: int
    mean_dn: F32
    max_dn: U16
    over_share: F32
    any_over_share: F32
    all_over_share: F32
    detail: F32

    @property
    def shape(self) -> tuple[int, int]:
        """(rows, cols) of tiles."""
        return int(self.mean_dn.shape[1]), int(self.mean_dn.shape[2])


@dataclass(frozen=True, slots=True, eq=False)
class HotPixels:
    """Isolated pixels far above their same-coloured neighbours.

    Parameters
    ----------
    positions : array of uint32, shape (n, 2)
        (row, column) on the visible sensor, at most 4096.
    """

    count: int
    per_megapixel: float
    positions: U32


@dataclass(frozen=True, slots=True)
class DamageSign(Figures):
    """A trace of data lost without an error: what, how much of the frame, and its figures.

    :mod:`auditor.words.notes` says each.
    """

    kind: Damage
    share: float
    figures: Mapping[str, Figure] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class PreviewMeasurement:
    """What the camera's own preview shows.

    Parameters
    ----------
    blown_share, blocked_share : float
        Share of the preview in which any channel is at 254 or more; every channel at 1 or less.
    clip_signal_dn : dict
        "R", "G", "B": the raw signal (black subtracted) at which that channel of the preview
        reaches 254; a channel is absent where nothing in the picture tells it.
    block_signal_dn : dict
        The raw signal under which that channel of the preview is at 1 or less; likewise.
    counts : dict
        "R", "G", "B" to 64 counts over the codes 0 to 255.
    """

    width: int
    height: int
    blown_share: float
    blocked_share: float
    clip_signal_dn: dict[str, float]
    block_signal_dn: dict[str, float]
    counts: dict[str, tuple[int, ...]]
    remarks: tuple[Remark, ...] = ()


@dataclass(frozen=True, slots=True)
class Pictures:
    """Small pictures, upright, as JPEG bytes; about 360 pixels on the longer side.

    Parameters
    ----------
    thumb : bytes
        The raw data in a plain neutral rendering.
    preview : bytes or None
        The camera's own preview.
    """

    thumb: bytes
    preview: bytes | None = None
    width: int = 0
    height: int = 0


@dataclass(frozen=True, slots=True)
class Patches:
    """Small patches of one colour at fixed places of the sensor, sample by sample.

    :mod:`auditor.detail.patches` makes and unpacks them.

    Parameters
    ----------
    pitch_px : int
        Sensor pixels from one sample to the next.
    side : int
        Samples each way.
    places : tuple of (int, int)
        Row and column of the first pixel of each, on the visible sensor; only of those kept.
    packed : bytes
        Deflated: a byte a sample, row by row, patch by patch.
    """

    pitch_px: int
    side: int
    places: tuple[tuple[int, int], ...]
    packed: bytes


@dataclass(frozen=True, slots=True, eq=False)
class MosaicMeasurement:
    """All that the pixels of one mosaic tell: the work of :mod:`auditor.measures.mosaic`."""

    layout: Layout
    width: int
    height: int
    bit_depth: int
    planes: tuple[PlaneMeasurement, ...]
    maps: TileMaps
    hot: HotPixels
    damage: tuple[DamageSign, ...]
    sharpness: float | None
    """Upper quartile of the detail over tiles that hold some; None where none does."""

    @property
    def tile_area(self) -> F64:
        """Share of the frame that each tile covers, shape (rows, cols); sums to 1."""
        return _tile_area(self.maps.shape, self.maps.tile_px, self.height, self.width)


@lru_cache(maxsize=8)
def _tile_area(shape: tuple[int, int], tile_px: int, height: int, width: int) -> F64:
    tall = np.clip(height - np.arange(shape[0]) * tile_px, 0, tile_px)
    wide = np.clip(width - np.arange(shape[1]) * tile_px, 0, tile_px)
    area: F64 = np.outer(tall, wide) / max(1.0, float(tall.sum() * wide.sum()))
    area.flags.writeable = False  # all frames of one size share it
    return area


@dataclass(frozen=True, slots=True, eq=False)
class FrameMeasurement:
    """Everything measured on one file."""

    facts: FileFacts
    mosaic: MosaicMeasurement
    preview: PreviewMeasurement | None
    pictures: Pictures
    decoder: str = ""
    """The decoder and its version."""
    remarks: tuple[Remark, ...] = ()
    shading: LensShading | None = None
    patches: Patches | None = None


@dataclass(frozen=True, slots=True)
class Level:
    """Where one plane of one frame clips, as settled over the shoot.

    Parameters
    ----------
    saturation_dn : float
        The clipping level, raw DN.
    blown_from_dn : float
        Pixels at or above are blown: the lower edge of the clipping level's spread.
    source : str
        "metadata", "measured" (this frame), "channels" (this frame's others), "shoot" or
        "history".
    may_clip : bool
        Whether the level is only claimed, and many pixels lie at the top of what is recorded.
    bends_from_dn : float or None
        Raw DN from which the response bends over before it clips, as the shoot tells it.
    """

    saturation_dn: float
    blown_from_dn: float
    source: LevelSource
    remarks: tuple[Remark, ...] = ()
    may_clip: bool = False
    bends_from_dn: float | None = None
