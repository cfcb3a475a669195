"""What a file says of itself: camera, lens, exposure, time and place. No pixel is decoded.

The only module that imports exifread. Its header class is used a directory at a time, with two
fences that it lacks: only tags that are wanted are read, and reading ends after a bounded number
of steps, whatever counts and pointers a damaged file holds.

Known limits: BigTIFF is not read. Of CRW (CIFF) and X3F the containers' own lists are read where
there is no Exif; what those lack the decoder may know. Temperature and focus distance are told
where the standard tags or one maker's open notes hold them, None otherwise.
"""

from __future__ import annotations

import logging
import math
from typing import Any, BinaryIO, cast

from exifread.core.exif_header import ExifHeader
from exifread.core.ifd_tag import IfdTag
from exifread.utils import Ratio

from auditor.model.arrays import FileBytes
from auditor.model.facts import CameraFacts, FileFacts, LensFacts
from auditor.read.containers import Streams, find_streams
from auditor.read.exif_tags import (
    EXIF,
    EXPOSURE_TAGS,
    GPS,
    GPS_TAGS,
    IMAGE,
    MOMENT_TAGS,
    ExifTags,
    Value,
    captured_at,
    exposure_facts,
    named,
    position,
)
from auditor.read.maker import EXIF_POINTER, maker_facts
from auditor.read.own_lists import ciff_facts, x3f_facts
from auditor.read.tiff import OutOfBounds, Source, open_tiff, source_in

MAKE, MODEL, ORIENTATION = 0x010F, 0x0110, 0x0112
GPS_POINTER = 0x8825
FOCAL_LENGTH, FOCAL_35MM, SUBJECT_DISTANCE = 0x920A, 0xA405, 0x9206
BODY_SERIAL, LENS_MODEL, AMBIENT_TEMPERATURE = 0xA431, 0xA434, 0x9400
UNIQUE_MODEL, DNG_SERIAL = 0xC614, 0xC62F

_SHARED = EXPOSURE_TAGS | MOMENT_TAGS | {FOCAL_LENGTH, SUBJECT_DISTANCE}
WANTED: dict[str, frozenset[int]] = {
    # TIFF/EP keeps the exposure in the first directory, so both are looked through
    IMAGE: _SHARED
    | {MAKE, MODEL, ORIENTATION, EXIF_POINTER, GPS_POINTER, UNIQUE_MODEL, DNG_SERIAL},
    EXIF: _SHARED | {FOCAL_35MM, BODY_SERIAL, LENS_MODEL, AMBIENT_TEMPERATURE},
    GPS: GPS_TAGS,
}
MOST_VALUES = 1024
MOST_READS = 40_000

# its warnings are for developers; what they would tell shows as absent facts
logging.getLogger("exifread").addHandler(logging.NullHandler())
logging.getLogger("exifread").propagate = False


def read_facts(data: FileBytes, kind: str) -> FileFacts:
    """Read the metadata of one raw file.

    Parameters
    ----------
    data : bytes
        The whole file.
    kind : str
        The container, as :mod:`auditor.read.card` told it.

    Returns
    -------
    FileFacts
        Whatever can be read; a damaged header gives fewer facts, not an error.
    """
    source = source_in(data)
    if kind == "crw":
        return ciff_facts(source)
    streams = find_streams(source, kind)
    if streams.image is None and kind == "x3f":
        return x3f_facts(source)
    tags = ExifTags(_groups(streams))
    maker = maker_facts(streams.image, streams.maker, kind)
    model = tags.text(MODEL, IMAGE) or tags.text(UNIQUE_MODEL, IMAGE)
    ambient_c = tags.between(AMBIENT_TEMPERATURE, -100.0, 150.0)
    orientation = tags.between(ORIENTATION, 1, 8, IMAGE)
    serials = (tags.text(BODY_SERIAL, EXIF), tags.text(DNG_SERIAL, IMAGE), maker.serial)
    serial = next((text for text in serials if named(text, "0")), None)
    return FileFacts(
        camera=CameraFacts(make=tags.text(MAKE, IMAGE), model=model, serial=serial),
        lens=LensFacts(
            model=named(tags.text(LENS_MODEL, EXIF)) or named(maker.lens),
            focal_mm=tags.between(FOCAL_LENGTH, 0.1, 100_000.0),
            focal_35mm=tags.between(FOCAL_35MM, 1.0, 65_534.0, EXIF),
            # 0 stands for unknown, 0xFFFFFFFF over anything for infinity
            focus_distance_m=tags.between(SUBJECT_DISTANCE, 0.001, 100_000.0)
            or maker.focus_distance_m,
        ),
        exposure=exposure_facts(tags),
        captured_at=captured_at(tags),
        orientation=None if orientation is None else int(orientation),
        position=position(tags),
        temperature_c=ambient_c if maker.temperature_c is None else maker.temperature_c,
    )


def _groups(streams: Streams) -> dict[str, dict[int, Value]]:
    """Read the directories of all streams into one set of groups."""
    groups: dict[str, dict[int, Value]] = {IMAGE: {}, EXIF: {}, GPS: {}}
    for source, name in ((streams.image, IMAGE), (streams.exif, EXIF), (streams.gps, GPS)):
        tiff = open_tiff(source) if source is not None else None
        if source is None or tiff is None:
            continue
        header = _FencedHeader(_FencedStream(source), "I" if tiff.order == "<" else "M")
        header.dump_fenced(tiff.first_offset, name)
        pointer = header.tags.get("Image ExifOffset")
        # damaged files point by text, fractions and nothing over nothing
        place = pointer.values[0] if pointer is not None and pointer.values else None
        if name == IMAGE and isinstance(place, int):
            header.dump_fenced(place, EXIF)
        for key, tag in header.tags.items():
            groups[key.split(" ", 1)[0]].setdefault(tag.tag, _value(tag))
    return groups


def _value(tag: IfdTag) -> Value:
    """Turn exifread's value into a text or plain numbers."""
    values = tag.values
    if isinstance(values, bytes):  # text that is no UTF-8
        return values.decode("latin-1")
    if isinstance(values, str):
        return values
    numbers: list[float | None] = []
    for value in values:
        number = value[0] if isinstance(value, tuple) and value else value  # floats, as of struct
        if isinstance(value, Ratio):
            number = value.num / value.den if value.den else None
        sound = isinstance(number, int) or (isinstance(number, float) and math.isfinite(number))
        numbers.append(number if sound else None)
    return tuple(numbers)


class _Spent(Exception):
    """The steps allowed for one stream are used up."""


class _FencedStream:
    """A stream for exifread: reads within a window, and not for ever."""

    def __init__(self, source: Source) -> None:
        self._source = source
        self._at = 0
        self._left = MOST_READS

    def seek(self, position: int) -> None:
        """Go to an offset of the window."""
        self._at = position

    def read(self, length: int) -> bytes:
        """Return up to ``length`` bytes; fewer at the end, none beyond it."""
        self._left -= 1
        if self._left < 0:
            raise _Spent
        there = max(0, self._source.size - self._at)
        try:
            return self._source.read(self._at, min(length, MOST_VALUES, there))
        except OutOfBounds:  # it begins beyond the end
            return b""


class _FencedHeader(ExifHeader):
    """exifread's header, which reads wanted tags only and survives each of them."""

    def __init__(self, stream: _FencedStream, endian: str) -> None:
        super().__init__(cast(BinaryIO, stream), endian, 0, 0, strict=False, detailed=False)

    def dump_fenced(self, offset: int, name: str) -> None:
        """Read one directory as far as the steps allow."""
        try:
            self.dump_ifd(offset, name)
        except (_Spent, ValueError, TypeError, OverflowError):
            return

    def _process_tag(  # noqa: PLR0917 - the library calls it so
        self,
        ifd: int,
        ifd_name: str,
        tag_entry: Any,
        entry: int,
        tag: int,
        tag_name: str,
        relative: bool,
        stop_tag: str,
    ) -> None:
        wanted = WANTED.get(ifd_name, frozenset())
        if tag not in wanted or f"{ifd_name} {tag_name}" in self.tags:
            return
        if self.s2n(entry + 4, 4) > MOST_VALUES:
            return
        try:
            super()._process_tag(ifd, ifd_name, tag_entry, entry, tag, tag_name, relative, stop_tag)
        except _Spent:
            raise
        except Exception:  # one odd tag must not cost the others
            self.tags.pop(f"{ifd_name} {tag_name}", None)
