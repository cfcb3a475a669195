"""The pictures of one frame, fetched one frame at a time, with maps of what is lost where."""

from __future__ import annotations

from dataclasses import dataclass

from auditor.clipping.maps import ClipMaps, clip_maps
from auditor.model.arrays import Bool
from auditor.model.audit import FrameResult
from auditor.model.gallery import Gallery
from auditor.model.settled import as_judged


@dataclass(frozen=True, slots=True, eq=False)
class FramePictures:
    """Upright pictures and maps.

    Parameters
    ----------
    thumb : bytes
        JPEG of the raw data.
    preview : bytes or None
        JPEG of the camera's own preview.
    width, height : int
        Of ``thumb``, pixels.
    maps : ClipMaps
        As the frame was judged.
    """

    thumb: bytes
    preview: bytes | None
    width: int
    height: int
    maps: ClipMaps

    @property
    def blown(self) -> Bool:
        """Tiles in which something is blown, areas and specks alike."""
        blown: Bool = self.maps.lost | self.maps.specks
        return blown

    @property
    def blocked(self) -> Bool | None:
        """Tiles under every channel's noise floor; None where a floor is unknown."""
        return self.maps.blocked


def frame_pictures(frame: FrameResult, gallery: Gallery) -> FramePictures | None:
    """Fetch the pictures of one frame; None for a frame that was not measured."""
    if frame.status != "measured":
        return None
    try:
        measured = gallery.measurement(frame.id)
    except KeyError:
        return None
    maps, pictures = clip_maps(as_judged(frame, measured)), measured.pictures
    return FramePictures(
        thumb=pictures.thumb,
        preview=pictures.preview,
        width=pictures.width or maps.lost.shape[1],
        height=pictures.height or maps.lost.shape[0],
        maps=maps,
    )
