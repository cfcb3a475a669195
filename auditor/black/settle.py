"""Black from the dark frames of a shoot, for bodies whose files hold no masked border.

A frame without any light tells black better than a tag. It is known by itself: nothing but noise
about one level, the same all over the frame and in all colours. Light through a lens is neither:
corners get less of it, and no light is alike behind three colours.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from statistics import median

import numpy as np

from auditor.black.border import ROUNDING_SIGMA_DN
from auditor.black.limits import (
    DARK_CUT,
    DARK_EVEN,
    DARK_EVEN_UNDER,
    DARK_LONGEST,
    DARK_WIDEST,
    DISAGREES_DN,
    LARGEST_DARK,
)
from auditor.model.clip_evidence import ClipEvidence, LevelKey
from auditor.model.codes import BlackSource
from auditor.model.measurement import FrameMeasurement, Histogram, PlaneMeasurement
from auditor.model.settled import with_blacks
from auditor.model.shoot import MeasurementSource, apart, without_maps

NARROW = (0.005, 0.1587, 0.8413, 0.995)
"""Shares of the pixels: of a normal law they lie 2.576, 1, -1 and -2.576 deviations off."""


@dataclass(frozen=True, slots=True)
class DarkFrame:
    """What a frame without light tells: how far each plane lies over the black it was given."""

    offsets_dn: tuple[float, ...]
    time_s: float


def unlit(planes: Sequence[PlaneMeasurement]) -> bool:
    """Tell from the histograms whether a frame may be a dark one, and has no border to tell it."""
    return all(plane.masked_black_dn is None and _noise_alone(plane) for plane in planes)


def _noise_alone(plane: PlaneMeasurement) -> bool:
    histogram, range_dn = plane.histogram, plane.white_dn - plane.black_dn
    total = max(1, histogram.total)
    if histogram.at_or_above(plane.black_dn + 2.0 * LARGEST_DARK * range_dn) > 0.005 * total:
        return False
    if histogram.at_or_below(0.0) > DARK_CUT * total:
        return False
    lowest, low, high, highest = _quantiles_dn(histogram)
    sigma = max((high - low) / 2.0, ROUNDING_SIGMA_DN)
    return highest - lowest <= DARK_WIDEST * sigma + 1.0


def _quantiles_dn(histogram: Histogram) -> list[float]:
    below = histogram.counts.cumsum(dtype=np.int64)
    return [float(np.searchsorted(below, share * below[-1])) for share in NARROW]


def dark_frame(measured: FrameMeasurement, time_s: float | None) -> DarkFrame | None:
    """Return what a frame tells of black; None where any light may have reached it."""
    planes, maps = measured.mosaic.planes, measured.mosaic.maps
    side = 6  # parts a side that the frame is cut in to see whether it is even
    if not unlit(planes) or min(maps.shape) < side:
        return None
    parts = []
    for mean_dn in maps.mean_dn:
        cells = [np.array_split(rows, side, axis=1) for rows in np.array_split(mean_dn, side)]
        parts.append([np.median(cell) for row in cells for cell in row])
    offsets = tuple(float(np.median(mean_dn)) for mean_dn in maps.mean_dn)
    middle = median(offsets)
    share = DARK_EVEN if middle > 0 else DARK_EVEN_UNDER  # light is never less than none
    part_errors = 6.0  # the highest and the lowest of 36 parts lie four to five errors of one apart
    same_offset_dn = 0.5  # rounding apart, and the pattern of black levels
    for plane, part, offset in zip(planes, parts, offsets, strict=True):
        _, low, high, _ = _quantiles_dn(plane.histogram)
        error = (high - low) / 2.0 / (plane.pixels / side**2) ** 0.5
        even = float(np.ptp(part)) <= share * abs(middle) + part_errors * error
        alike = abs(offset - middle) <= share * abs(middle) + same_offset_dn
        if not (even and alike and abs(offset) <= LARGEST_DARK * (plane.white_dn - plane.black_dn)):
            return None
    return DarkFrame(offsets, time_s or 0.0)


def settle_blacks(
    evidence: Mapping[str, ClipEvidence],
    times_s: Mapping[str, float | None],
    darks: Mapping[str, DarkFrame],
) -> dict[str, tuple[float, ...]]:
    """Return how far the black of each frame is to be moved; frames that keep theirs are absent.

    Parameters
    ----------
    evidence : mapping of frame id to ClipEvidence
        Tells which frames are sisters: same body, ISO and bit depth.
    times_s : mapping of frame id to float or None
        Shutter times: long dark frames hold the dark current of their own time.
    darks : mapping of frame id to DarkFrame
    """
    told: dict[LevelKey, list[DarkFrame]] = defaultdict(list)
    for frame_id, dark in darks.items():
        if evidence[frame_id].has_sisters:
            told[evidence[frame_id].key("")].append(dark)
    moved: dict[str, tuple[float, ...]] = {}
    for frame_id, frame in evidence.items():
        longest_s = max(DARK_LONGEST, times_s[frame_id] or 0.0)
        usable = [dark for dark in told.get(frame.key(""), ()) if dark.time_s <= longest_s]
        if usable:
            last_s = max(dark.time_s for dark in usable)
            near = [dark.offsets_dn for dark in usable if 2.0 * dark.time_s >= last_s]
            offsets = tuple(median(values) for values in zip(*near, strict=True))
            if max(map(abs, offsets)) >= DISAGREES_DN:
                moved[frame_id] = offsets
    return moved


class SettledBlacks:
    """A source of measurements with the black that the shoot's dark frames tell."""

    def __init__(
        self, measurements: MeasurementSource, moved: Mapping[str, tuple[float, ...]]
    ) -> None:
        self._measurements, self._moved = measurements, moved

    def measurement(self, frame_id: str) -> FrameMeasurement:
        """Return the whole measurement of a frame."""
        return self._with_black(frame_id, self._measurements.measurement(frame_id))

    def without_maps(self, frame_id: str) -> FrameMeasurement:
        """Return it without its maps."""
        return self._with_black(frame_id, without_maps(self._measurements, frame_id))

    def apart(self, frame_ids: Collection[str]) -> MeasurementSource | None:
        """Return the same of some frames, to be sent to another process."""
        own = apart(self._measurements, frame_ids)
        moved = {name: self._moved[name] for name in frame_ids if name in self._moved}
        return None if own is None else SettledBlacks(own, moved)

    def _with_black(self, frame_id: str, measured: FrameMeasurement) -> FrameMeasurement:
        moved, planes = self._moved.get(frame_id), measured.mosaic.planes
        if moved is None or any(plane.masked_black_dn is not None for plane in planes):
            return measured
        blacks = [plane.black_dn + own for plane, own in zip(planes, moved, strict=True)]
        return with_blacks(measured, blacks, BlackSource.DARK_FRAMES)
