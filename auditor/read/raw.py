"""Decoding: one raw file in, its mosaic and the facts to read it by out.

A DNG is decoded by :mod:`auditor.read.dng`; every other container, and a DNG that is stored in a
way not known there, by LibRaw. The only module that imports rawpy, and to be run in a process of
its own: a damaged file can crash or hang a decoder, and no exception can be caught then.

What LibRaw gives is not taken on trust: black, white and masked pixels of a DNG come from
its tags, colours from the decoder's place-by-place answer, invented metadata are refused, and a
picture of nothing but zeros is no picture.

Known limits: of files that hold several exposures (pixel shift, dual pixels) the first is read.
Diagonal sensors, floating-point DNG, small raws with colour already balanced and BigTIFF are
refused with a reason. The layers of stacked sensors count as R, G, B.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from datetime import datetime
from typing import BinaryIO, cast

import numpy as np
import rawpy

from auditor.defects.sectors import (
    PlainChunk,
    cut_off,
    empty_sectors,
    foreign_sectors,
    foreign_tiles,
)
from auditor.model.arrays import U8, FileBytes
from auditor.model.errors import UnreadableFile
from auditor.model.facts import FileFacts
from auditor.model.measurement import DamageSign
from auditor.model.mosaic import CameraPreview, Mosaic
from auditor.model.remark import Remark, RemarkCode, remark
from auditor.read.containers import raf_black
from auditor.read.decoded import BLOCK, Decoded, DecoderFacts, complete_facts
from auditor.read.dng.curve import on_curve
from auditor.read.dng.decode import decode_dng, digest_holds, told_by_tags
from auditor.read.dng.pixels import DECODER as OWN_DECODER
from auditor.read.dng.pixels import BrokenTile, DamagedTile, NotRead
from auditor.read.dng.tags import DngTags, for_shape, read_dng
from auditor.read.failures import (
    beyond_end,
    decoder_failure,
    ends_early,
    unknown_compression,
)
from auditor.read.mosaic import build_mosaic
from auditor.read.plain import plain_chunks
from auditor.read.preview import NoPreview, bitmap_preview, jpeg_preview
from auditor.read.refusals import (
    refuse_astray,
    refuse_float,
    refuse_lost,
    refuse_processed,
    refuse_size,
)
from auditor.words import unread

DECODER = "LibRaw " + ".".join(str(part) for part in rawpy.libraw_version)


@dataclass(frozen=True, slots=True, eq=False)
class RawFrame:
    """One decoded raw file.

    Parameters
    ----------
    mosaic : Mosaic
        Its pixels stay valid as long as they are held.
    facts : FileFacts
        Completed with what only the decoder knows.
    decoder : str
        The decoder and its version.
    remarks : tuple of Remark
        What was odd about the reading.
    """

    mosaic: Mosaic
    facts: FileFacts
    decoder: str
    remarks: tuple[Remark, ...]
    _decoded: Decoded
    _tags: DngTags | None
    _plain: tuple[PlainChunk, ...]
    _in_bytes: tuple[DamageSign, ...]

    def foreign_sectors(self) -> tuple[DamageSign, ...]:
        """Look for sectors or tiles that hold other data than those of the picture, or none."""
        stored = self._decoded.stored
        if self._plain:
            return foreign_sectors(stored, self._plain, len(self.mosaic.pattern))
        if self._tags is None or self._tags.chunks is None:
            return self._in_bytes
        chunks, (height, width) = self._tags.chunks, stored.shape[:2]
        down, across = range(0, height, chunks.height), range(0, width, chunks.width)
        places = [(row, col) for row in down for col in across]
        return (
            *self._in_bytes,
            *foreign_tiles(self._decoded.foreign_tiles, places),
        )

    def digest_holds(self) -> bool | None:
        """Check the digest that a DNG carries of its own pixels; None where there is none.

        Takes about an eighth of a second for 45 megapixels.
        """
        return None if self._tags is None else digest_holds(self._decoded.stored, self._tags)


def read_raw(data: FileBytes, kind: str, facts: FileFacts) -> RawFrame:
    """Decode one raw file.

    LibRaw is never told to close: that would pull the memory from under every view of its
    pixels. It goes when the last view goes.

    Parameters
    ----------
    data : bytes
        The whole file.
    kind : str
        The container, as :mod:`auditor.read.card` told it.
    facts : FileFacts
        What :func:`auditor.read.exif.read_facts` read of it.

    Raises
    ------
    UnreadableFile
        The file cannot be decoded or holds no linear sensor data; the code says which.
    MemoryError
        There was not enough memory.
    """
    pictures = read_dng(data) if kind == "dng" else ()
    refuse_float(pictures)
    if not pictures:
        return _by_libraw(data, kind, facts, pictures)
    refuse_astray(data, pictures[0])
    try:
        decoded, tags = decode_dng(data, pictures[0])  # as its tags describe it
    except NotRead as reason:
        return _after_all(data, facts, pictures, reason)
    facts = complete_facts(facts, told_by_tags(tags))
    return _frame(data, "dng", facts, _Read(OWN_DECODER, decoded, tags))


@dataclass(frozen=True, slots=True)
class _Held:
    """The bytes of a file, for a decoder that wants to read them itself."""

    data: FileBytes

    def read(self) -> FileBytes:
        """Return all of them: no copy."""
        return self.data


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep the decoder's own words off standard error: it writes them without being asked."""
    try:
        kept = os.dup(2)
    except OSError:  # there is no standard error
        yield
        return
    try:
        with suppress(Exception):
            sys.stderr.flush()
        with open(os.devnull, "wb") as nowhere:  # noqa: PTH123 - a device, not a path
            os.dup2(nowhere.fileno(), 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)


def read_preview(data: FileBytes, longest_px: int) -> CameraPreview:
    """Decode the camera's own preview.

    Read by itself, so that it takes no memory beside the pixels of the raw data.

    Parameters
    ----------
    longest_px : int
        Longest side wanted; a smaller preview stays as it is.

    Returns
    -------
    CameraPreview
        As it is stored; :func:`auditor.read.preview.as_on_sensor` turns it as the mosaic lies.

    Raises
    ------
    NoPreview
        There is none or it cannot be decoded; the code says which.
    """
    decoder = rawpy.RawPy()
    try:
        with _quiet():
            decoder.open_buffer(cast(BinaryIO, _Held(data)))
            thumb = decoder.extract_thumb()
    except (rawpy.LibRawNoThumbnailError, rawpy.LibRawUnsupportedThumbnailError) as error:
        raise NoPreview(RemarkCode.NO_PREVIEW) from error
    except (rawpy.LibRawError, NotImplementedError) as error:
        raise NoPreview(RemarkCode.PREVIEW_UNKNOWN) from error
    if thumb.format == rawpy.ThumbFormat.JPEG:
        return jpeg_preview(cast(bytes, thumb.data), longest_px)
    return bitmap_preview(cast(U8, thumb.data), longest_px)


def _after_all(
    data: FileBytes, facts: FileFacts, pictures: tuple[DngTags, ...], reason: NotRead
) -> RawFrame:
    """Let LibRaw read a DNG that could not be read as its tags describe it."""
    damaged = isinstance(reason, DamagedTile)
    why = (unread.TILE_DAMAGED if damaged else unread.STORED_OTHERWISE).error(reason=reason)
    if on_curve(pictures[0]):  # LibRaw's values of such a file mean something else
        raise why from reason
    try:
        note = remark(RemarkCode.READ_BY_LIBRAW, reason=str(reason))
        broken = (reason.number,) if isinstance(reason, BrokenTile) else ()
        return _by_libraw(data, "dng", facts, pictures, note, broken=broken)
    except UnreadableFile as error:
        told = unknown_compression(data, "dng")
        raise (told or why if error.code == "unsupported" else error) from reason


def _by_libraw(
    data: FileBytes,
    kind: str,
    facts: FileFacts,
    pictures: tuple[DngTags, ...],
    *remarks: Remark,
    broken: tuple[int, ...] = (),
) -> RawFrame:
    """Let LibRaw decode; what it loses of a DNG's tags is put right."""
    decoder = rawpy.RawPy()
    try:
        decoder.open_buffer(cast(BinaryIO, _Held(data)))
        sizes = decoder.sizes
        refuse_size(sizes.raw_height, sizes.raw_width)
        with _quiet():
            decoder.unpack()
        decoded = replace(_decoded(decoder), foreign_tiles=broken)
        facts = complete_facts(facts, _decoder_facts(decoder))
    except rawpy.LibRawError as error:
        raise decoder_failure(type(error).__name__, data, kind) from error
    tags = for_shape(pictures, *decoded.stored.shape[:2])
    refuse_processed(decoded, kind, tags)
    if pictures and tags is None:
        remarks = (*remarks, remark(RemarkCode.TAGS_UNFIT))
    if kind == "x3f":
        remarks = (*remarks, remark(RemarkCode.STACKED_LAYERS))
    return _frame(data, kind, facts, _Read(DECODER, decoded, tags, remarks))


@dataclass(frozen=True, slots=True, eq=False)
class _Read:
    """What one of the two decoders gave."""

    decoder: str
    decoded: Decoded
    tags: DngTags | None
    remarks: tuple[Remark, ...] = ()


def _frame(data: FileBytes, kind: str, facts: FileFacts, read: _Read) -> RawFrame:
    """Put together what the decoder and the tags tell."""
    remarks = list(read.remarks)
    mosaic = build_mosaic(
        read.decoded,
        read.tags,
        remarks,
        white_balance=facts.white_balance,
        own_black=raf_black(data) if kind == "raf" else None,
    )
    refuse_lost(mosaic, early=lambda: ends_early(data, kind))
    moved = None if read.tags is None else read.tags.baseline_exposure_stops
    exposure = replace(facts.exposure, baseline_exposure_stops=moved)
    facts = replace(facts, exposure=exposure, noise_profile=mosaic.noise_profile)
    plain = tuple(plain_chunks(data, kind, read.decoded.stored))
    chunks = None if read.tags is None else read.tags.chunks
    in_bytes: tuple[DamageSign, ...] = ()
    if not plain:  # looked for while the file's bytes are at hand: a frame keeps none of them
        in_bytes = (
            cut_off(*beyond_end(data, kind))
            if chunks is None
            else empty_sectors(data, chunks.parts)
        )
    return RawFrame(
        mosaic=mosaic,
        facts=facts,
        decoder=read.decoder,
        remarks=tuple(remarks),
        _decoded=read.decoded,
        _tags=read.tags,
        _plain=plain,
        _in_bytes=in_bytes,
    )


def _decoded(decoder: rawpy.RawPy) -> Decoded:
    """Take the decoder's answers as plain values."""
    try:
        stored = decoder.raw_image
    except RuntimeError as error:
        raise unread.NO_PIXELS_GIVEN.error() from error
    sizes = decoder.sizes
    flat = stored.ndim == 2
    if sizes.top_margin + sizes.height > stored.shape[0] or (
        sizes.left_margin + sizes.width > stored.shape[1]
    ):
        raise unread.DIAGONAL.error()
    # the ready-made pattern is wrong with some margins
    colours = [
        [decoder.raw_color(sizes.top_margin + y, sizes.left_margin + x) for x in range(BLOCK)]
        for y in range(BLOCK if flat else 0)
    ]
    limits = decoder.camera_white_level_per_channel
    return Decoded(
        stored=stored if flat else stored[:, :, :3],
        top=sizes.top_margin,
        left=sizes.left_margin,
        height=sizes.height,
        width=sizes.width,
        colours=np.array(colours, dtype=np.uint8) if flat else None,
        colour_letters=decoder.color_desc.decode("ascii", "replace"),
        colour_count=decoder.num_colors,
        black_dn=tuple(float(level) for level in decoder.black_level_per_channel),
        white_dn=float(decoder.white_level),
        linear_limit_dn=tuple(float(level) for level in limits) if limits else None,
        pixel_aspect=float(sizes.pixel_aspect) if 0.1 <= sizes.pixel_aspect <= 10.0 else 1.0,
    )


def _decoder_facts(decoder: rawpy.RawPy) -> DecoderFacts:
    timeless = DecoderFacts(
        lens=decoder.lens.model,
        flip=decoder.sizes.flip,
        white_balance=tuple(decoder.camera_whitebalance),
    )
    try:
        other = decoder.other
        moment: datetime | None = other.timestamp
    except (ValueError, OverflowError, OSError):  # a date that no calendar holds
        return timeless
    return replace(
        timeless,
        iso=other.iso_speed,
        time_s=other.shutter_speed,
        f_number=other.aperture,
        focal_mm=other.focal_length,
        moment=moment,
    )
