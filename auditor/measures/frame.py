"""One frame while it is examined, and what the measures of the table take from it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, NoReturn

from auditor.detail.patches import PatchView, cut_patches
from auditor.detail.texture import detail_plane
from auditor.lens.shading import ShadingView, measure_shading
from auditor.measures.mosaic import MosaicView
from auditor.model.arrays import F32, U8, U16
from auditor.model.codes import Damage
from auditor.model.facts import FileFacts
from auditor.model.measurement import (
    DamageSign,
    HotPixels,
    MosaicMeasurement,
    Patches,
    Pictures,
    PlaneMeasurement,
    PreviewMeasurement,
)
from auditor.model.mosaic import CameraPreview
from auditor.model.optics import LensShading
from auditor.model.remark import Remark
from auditor.pictures.encode import encode_pictures
from auditor.preview.measure import measure_preview


@dataclass(slots=True, kw_only=True)
class FrameView:
    """One frame while it is examined.

    Parameters
    ----------
    facts : FileFacts
    decoder : str
    remarks : tuple of Remark
    preview : CameraPreview or None
        As it lies on the sensor.
    in_file : callable
        Returns signs of damage that only the way in which the data lie in the file tells.
    digest_holds : callable
        Tells whether the pixels are those of the digest that the file holds; None without one.
    thorough : bool
        Ask for the digest in any case, not on suspicion only.
    pixels : MosaicView or None
        The mosaic and what follows from it; None once the pixels are let go.
    pixel_aspect : float
        Width of a pixel over its height.
    """

    facts: FileFacts
    decoder: str
    remarks: tuple[Remark, ...]
    preview: CameraPreview | None
    in_file: Callable[[], tuple[DamageSign, ...]]
    digest_holds: Callable[[], bool | None]
    thorough: bool
    pixels: MosaicView | None
    pixel_aspect: float = 1.0
    _measurement: MosaicMeasurement | None = None
    _rgb: U8 | None = None

    @property
    def mosaic(self) -> MosaicView:
        """The mosaic, while its pixels are there."""
        return self.pixels or _gone()

    @property
    def measurement(self) -> MosaicMeasurement:
        """All that the pixels told."""
        if self._measurement is None:
            self._measurement = self.mosaic.measurement
        return self._measurement

    @property
    def rgb(self) -> U8:
        """A small picture of the raw data."""
        if self._rgb is None:
            self._rgb = self.mosaic.rgb
        return self._rgb

    def let_pixels_go(self) -> None:
        """Keep what the pixels told, and nothing of them."""
        self._measurement, self._rgb = self.measurement, self.rgb
        self.pixels, self.in_file, self.digest_holds = None, _gone, _gone


def _gone() -> NoReturn:
    raise RuntimeError("the pixels are gone: say in the table that the measure needs them")


def file_facts(frame: FrameView) -> tuple[Any, ...]:
    """Return what the file says of itself and of its mosaic."""
    mosaic = frame.mosaic.mosaic
    told = (mosaic.layout, mosaic.width, mosaic.height, mosaic.bit_depth)
    return (frame.facts, frame.decoder, frame.remarks, *told)


def planes(frame: FrameView) -> tuple[PlaneMeasurement, ...]:
    """Return the record of each plane."""
    return frame.mosaic.planes


def tiles(frame: FrameView) -> tuple[int, F32, U16, F32, F32, F32]:
    """Return the side of a tile, and means, maxima and blown shares per tile."""
    view = frame.mosaic
    over = view.over
    return view.tile_px, view.mean_dn, view.tops_dn, over.planes, over.any_plane, over.every_plane


def detail(frame: FrameView) -> tuple[F32, float | None]:
    """Return the detail per tile, and the upper quartile of it."""
    return frame.mosaic.detail, frame.mosaic.sharpness


def hot(frame: FrameView) -> HotPixels:
    """Return the hot pixels."""
    return frame.mosaic.hot


def damage(frame: FrameView) -> tuple[DamageSign, ...]:
    """Return the traces of data lost; where the file holds a digest it has the last word."""
    signs = (*frame.mosaic.damage, *frame.in_file())
    holds = frame.digest_holds() if signs or frame.thorough else None
    if holds is not None:
        signs = () if holds else (*signs, MISMATCH)
    broken = frame.preview is not None and frame.preview.broken
    return (*signs, BROKEN_PREVIEW) if broken else signs


BROKEN_PREVIEW = DamageSign(Damage.BROKEN_PREVIEW, 0.0)

MISMATCH = DamageSign(Damage.DIGEST_MISMATCH, 1.0)


def lens_shading(frame: FrameView) -> LensShading:
    """Measure how much darker the corners are, on green or the only plane."""
    view = frame.mosaic
    mosaic, green = view.mosaic, detail_plane(view.mosaic.layout)
    return measure_shading(
        ShadingView(
            view.mean_dn[green], view.over.planes[green] == 0,
            view.tile_px, mosaic.width, mosaic.height,
        )
    )  # fmt: skip


def patches(frame: FrameView) -> Patches:
    """Cut the patches by which frames are placed, of green or the only plane."""
    view = frame.mosaic
    mosaic, settled = view.mosaic, view.settled
    green = detail_plane(mosaic.layout)
    colour = mosaic.plane_names[green][0]
    lattice = next(lattice for lattice in view.lattices if green in lattice.planes)
    return cut_patches(
        PatchView(
            lattice=lattice,
            planes=tuple(i for i, name in enumerate(mosaic.plane_names) if name[0] == colour),
            blacks_dn=tuple(black.mean_dn for black in settled.blacks),
            cuts_dn=settled.clip_thresholds_dn,
            noise=settled.noises[green],
        )
    )


def preview(frame: FrameView) -> PreviewMeasurement | None:
    """Hold the camera's preview against the raw data."""
    if frame.preview is None:
        return None
    return measure_preview(frame.preview, frame.measurement, frame.pixel_aspect)


def pictures(frame: FrameView) -> Pictures:
    """Make the small pictures."""
    shown = None if frame.preview is None else frame.preview.pixels
    return encode_pictures(frame.rgb, shown, frame.facts.orientation, frame.pixel_aspect)
