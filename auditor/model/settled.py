"""A frame with its measurement, its clipping levels and its noise: joined once, asked by all.

Judging, pairing, choosing, pages and pictures work on a :class:`SettledFrame`; none of them zips
planes, levels and noise together again. Where it is blown or blocked is one further question,
answered for all of them by :func:`auditor.clipping.maps.clip_maps`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from auditor.model.audit import FrameResult
from auditor.model.codes import BlackSource
from auditor.model.measurement import (
    FrameMeasurement,
    Level,
    MosaicMeasurement,
    NoiseEstimate,
    PlaneMeasurement,
    TileMaps,
)

FLOOR_UNKNOWN_STOPS = 10.0
"""Where the noise floor was not measured, tones this far under saturation are left alone."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class SettledPlane:
    """One colour plane with what the shoot settled for it.

    Parameters
    ----------
    measured : PlaneMeasurement
        As the frame itself told it.
    level : Level
        Where it clips.
    noise : NoiseEstimate
        Its own, or that of its sisters where it could not tell.
    """

    measured: PlaneMeasurement
    level: Level
    noise: NoiseEstimate

    @property
    def name(self) -> str:
        """The plane's name, "R", "G1" ..."""
        return self.measured.name

    @property
    def span_dn(self) -> float:
        """Saturation over black: 1 DN at the least, whatever a damaged file claims."""
        return max(1.0, self.level.saturation_dn - self.measured.black_dn)

    @property
    def blown_pixels(self) -> int:
        """Pixels at or above the lower edge of the clipping level."""
        return self.measured.histogram.at_or_above(self.level.blown_from_dn)

    @property
    def floor_dn(self) -> float | None:
        """Noise floor over black; None where noise was not measured."""
        return self.noise.floor_dn

    @property
    def least_dn(self) -> float:
        """The noise floor, or a cautious guess where noise was not measured."""
        floor = self.floor_dn
        return self.span_dn * 2.0**-FLOOR_UNKNOWN_STOPS if floor is None else floor


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class SettledFrame:
    """One measured frame with levels and noise settled.

    Parameters
    ----------
    measurement : FrameMeasurement
    planes : tuple of SettledPlane
        In the sensor's order.
    """

    measurement: FrameMeasurement
    planes: tuple[SettledPlane, ...]

    @property
    def mosaic(self) -> MosaicMeasurement:
        """What the pixels told."""
        return self.measurement.mosaic

    @property
    def maps(self) -> TileMaps:
        """The picture in tiles, sensor orientation."""
        return self.measurement.mosaic.maps

    @property
    def orientation(self) -> int | None:
        """EXIF orientation."""
        return self.measurement.facts.orientation

    @property
    def upright_size(self) -> tuple[int, int]:
        """(height, width) of the upright picture, pixels."""
        size = self.mosaic.height, self.mosaic.width
        return (size[1], size[0]) if self.orientation in (5, 6, 7, 8) else size

    def indices(self, colour: str) -> list[int]:
        """Return which planes are of a colour: both greens for "G"."""
        return [i for i, plane in enumerate(self.planes) if plane.name[0] == colour]


def settle(
    measurement: FrameMeasurement, levels: Sequence[Level], noise: Sequence[NoiseEstimate]
) -> SettledFrame:
    """Join a measurement with one level and one noise estimate a plane, in order."""
    planes = tuple(
        SettledPlane(measured=plane, level=level, noise=own)
        for plane, level, own in zip(measurement.mosaic.planes, levels, noise, strict=True)
    )
    return SettledFrame(measurement=measurement, planes=planes)


def as_judged(result: FrameResult, measurement: FrameMeasurement) -> SettledFrame:
    """Join a measurement with the levels and the noise that a finished audit tells of its frame.

    Reports draw from it, so that what is drawn is what was judged.
    """
    levels = [Level(c.saturation_dn, c.blown_from_dn, c.saturation_source) for c in result.channels]
    noise = [
        NoiseEstimate(c.read_noise_dn, c.gain_dn_per_e, c.noise_source) for c in result.channels
    ]
    blacks = [channel.black_dn for channel in result.channels]
    if blacks != [plane.black_dn for plane in measurement.mosaic.planes]:
        measurement = with_blacks(measurement, blacks, result.channels[0].black_source)
    return settle(measurement, levels, noise)


def with_blacks(
    measurement: FrameMeasurement, blacks_dn: Sequence[float], source: BlackSource
) -> FrameMeasurement:
    """Return a measurement as it is over other black levels, one a plane, in order."""
    mosaic, preview = measurement.mosaic, measurement.preview
    moved = [new - plane.black_dn for plane, new in zip(mosaic.planes, blacks_dn, strict=True)]
    planes = tuple(
        replace(plane, black_dn=new, black_source=source)
        for plane, new in zip(mosaic.planes, blacks_dn, strict=True)
    )
    maps = mosaic.maps
    if maps.mean_dn.size:
        lower = np.array(moved, dtype=np.float32)[:, None, None]
        maps = replace(maps, mean_dn=maps.mean_dn - lower)
    if preview is not None:
        by_colour = {plane.name[0]: by for plane, by in zip(planes, moved, strict=True)}
        by_colour.setdefault("G", by_colour.get("L", 0.0))
        preview = replace(
            preview,
            clip_signal_dn={
                c: dn - by_colour.get(c, 0.0) for c, dn in preview.clip_signal_dn.items()
            },
            block_signal_dn={
                c: dn - by_colour.get(c, 0.0) for c, dn in preview.block_signal_dn.items()
            },
        )
    return replace(measurement, mosaic=replace(mosaic, planes=planes, maps=maps), preview=preview)
