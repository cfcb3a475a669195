"""Large pictures beside the page: their files' names, and what the page is told of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from auditor.model.large import KeptPicture, PictureKind
from auditor.report.frame_names import file_stems

PICTURES_FOLDER = "report-pictures"


@dataclass(frozen=True, slots=True, kw_only=True)
class LargeFile:
    """The whole frame, upright: its address relative to the page, and its size in pixels."""

    src: str
    width: int
    height: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CropFile:
    """A place at the sensor's own pixels; where it lies as fractions of the upright frame."""

    kind: str
    src: str
    left: float
    top: float
    width: float
    height: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureFiles:
    """The large pictures of one frame.

    Parameters
    ----------
    sources : mapping of str to Path
        Address of each to the file that holds it now.
    """

    large: LargeFile
    crops: tuple[CropFile, ...]
    sources: Mapping[str, Path]


def picture_files(
    frame_ids: Sequence[str], kept: Mapping[str, Sequence[KeptPicture]]
) -> dict[str, PictureFiles]:
    """Name the files of each frame's large pictures, all different.

    Parameters
    ----------
    frame_ids : sequence of str
        All frames of the audit, in order.
    kept : mapping of frame id to sequence of KeptPicture
        Frames without are left out.
    """
    endings = [f"{_ending(kind)}.jpg" for kind in PictureKind]
    stems = file_stems([frame_id for frame_id in frame_ids if kept.get(frame_id)], endings)
    found = {}
    for frame_id, stem in stems.items():
        named = [
            (f"{PICTURES_FOLDER}/{stem}{_ending(one.place.kind)}.jpg", one)
            for one in kept[frame_id]
        ]
        (src, whole), *others = sorted(
            named, key=lambda pair: pair[1].place.kind is not PictureKind.WHOLE
        )
        crops = [
            CropFile(
                kind=one.place.kind.value, src=crop, left=one.place.left, top=one.place.top,
                width=one.place.width, height=one.place.height,
            )
            for crop, one in others
        ]  # fmt: skip
        found[frame_id] = PictureFiles(
            large=LargeFile(src=src, width=whole.place.width_px, height=whole.place.height_px),
            crops=tuple(crops),
            sources={src: one.path for src, one in named},
        )
    return found


def all_sources(files: Mapping[str, PictureFiles]) -> Iterator[tuple[str, Path]]:
    """Yield every picture's address and the file that holds it now."""
    for one in files.values():
        yield from one.sources.items()


def files_data(files: PictureFiles) -> dict[str, Any]:
    """Return what the page's script works on."""
    return {"large": asdict(files.large), "crops": [asdict(crop) for crop in files.crops]}


def _ending(kind: PictureKind) -> str:
    return "" if kind is PictureKind.WHOLE else f"-{kind.value}"
