"""One file of each container that makers wrap sensor data in: an invented body's, pixels of noise.

Layouts after published descriptions of the containers; the numbers of makers' compressions as the
decoder's source names them. Each file has a serial number of its own.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from auditor.read.containers import MAKER_UUID
from sample_generation.tiff import ASCII, BYTE, LONG, SHORT, Directory, tiff_bytes
from tests.built_containers import (
    EXIF,
    IMAGE,
    Tags,
    box,
    ciff_heap,
    directory,
    exif_tiff,
    jpeg_with_exif,
    plain_tiff,
    x3f_file,
    x3f_picture,
)

HEIGHT, WIDTH = 48, 64
PIXELS = np.random.default_rng(7).integers(1, 256, 2 * HEIGHT * WIDTH).astype(np.uint8).tobytes()
PREVIEW = PIXELS[:600]


@dataclass(frozen=True, slots=True)
class Maker:
    """How a maker lays down a TIFF.

    Parameters
    ----------
    compression : int
        Of the sensor data.
    magic : bytes
        The first four bytes.
    between : bytes
        What stands between the header and the first directory.
    below : bool
        Whether the sensor data have a directory below the first one, which holds a preview.
    tags : mapping
        Besides the usual ones, of the sensor data.
    """

    compression: int = 1
    magic: bytes = b"II*\0"
    between: bytes = b""
    below: bool = True
    tags: Tags | None = None


DNG_VERSION: Tags = {50706: (BYTE, (1, 4, 0, 0))}
MAKERS: Mapping[str, Maker] = {
    "3fr": Maker(7),
    "arw": Maker(32767),
    "bay": Maker(1, below=False),
    "cr2": Maker(6, between=b"CR\2\0\0\0\0\0", below=False),
    "dcr": Maker(65000),
    "dcs": Maker(32867),
    "dng": Maker(60123, tags=DNG_VERSION, below=False),
    "erf": Maker(32769),
    "fff": Maker(7, below=False),
    "gpr": Maker(9, tags=DNG_VERSION, below=False),
    "iiq": Maker(1, between=b"IIII\0\0\0\0", below=False),
    "k25": Maker(262),
    "kdc": Maker(65000),
    "mdc": Maker(1),
    "mef": Maker(32769),
    "mos": Maker(7),
    "nef": Maker(34713),
    "nrw": Maker(34713),
    "orf": Maker(65535, b"IIRO", below=False),
    "ori": Maker(65535, b"IIRS", below=False),
    "pef": Maker(65535, below=False),
    "ptx": Maker(65535, below=False),
    "rw2": Maker(34316, b"IIU\0", below=False),
    "rwl": Maker(34316, b"IIU\0", below=False),
    "sr2": Maker(32767),
    "srf": Maker(1),
    "srw": Maker(32773),
    "tif": Maker(52546),
}


def tiff_of(suffix: str, maker: Maker) -> bytes:
    """Header and directories first, a preview, the sensor data last."""
    sizes = {256: (LONG, WIDTH), 257: (LONG, HEIGHT), 258: (SHORT, 16), 277: (SHORT, 1)}
    sensor = {254: (LONG, 0), 259: (SHORT, maker.compression), 262: (SHORT, 32803), **sizes}
    own = exif_of(suffix)

    def laid_down(begin: int) -> bytes:
        lies = begin + len(PREVIEW)
        placed: Tags = {
            **sensor, 273: (LONG, lies), 278: (LONG, HEIGHT), 279: (LONG, len(PIXELS)),
            **(maker.tags or {}),
        }  # fmt: skip
        if maker.magic == b"IIU\0":  # pixels are told by a tag of their own
            placed = {**placed, 273: (LONG, 0xFFFFFFFF), 280: (LONG, lies)}
        first = directory({**IMAGE, **({} if maker.below else placed)})
        if maker.below:
            first.put(513, LONG, begin)
            first.put(514, LONG, len(PREVIEW))
            first.point(330, directory(placed))
        first.point(0x8769, own)
        return tiff_bytes(first, maker.between)

    head = laid_down(len(laid_down(0)))
    return maker.magic + head[4:] + PREVIEW + PIXELS


def exif_of(suffix: str) -> Directory:
    """The Exif data of the body whose serial number is the suffix."""
    return directory({**EXIF, 0xA431: (ASCII, f"BW-{suffix}")})


def exif_stream(suffix: str) -> bytes:
    """A whole TIFF stream without sensor data."""
    return exif_tiff(exif={**EXIF, 0xA431: (ASCII, f"BW-{suffix}")})


def cr3() -> bytes:
    """An ISO base media file: the boxes of the maker, and the sensor data in the last one."""
    streams = {b"CMT1": IMAGE, b"CMT2": {**EXIF, 0xA431: (ASCII, "BW-cr3")}}
    told = b"".join(box(name, plain_tiff(tags)) for name, tags in streams.items())
    movie = box(b"moov", box(b"uuid", MAKER_UUID + told) + box(b"trak", b"\0" * 32))
    return box(b"ftyp", b"crx \0\0\0\1crx isom") + movie + box(b"mdat", PIXELS)


def raf() -> bytes:
    """A JPEG, tags of the sensor, and the sensor data."""
    jpeg, start = jpeg_with_exif(exif_stream("raf")), 160
    tags, data = start + len(jpeg), start + len(jpeg) + 64
    head = b"FUJIFILMCCD-RAW 0201FF000000".ljust(84, b"\0")
    parts = (start, len(jpeg), tags, 64, data, len(PIXELS))
    return (head + struct.pack(">6I", *parts)).ljust(start, b"\0") + jpeg + b"\0" * 64 + PIXELS


def mrw() -> bytes:
    """Blocks, of which the first tells the size and the second holds a TIFF; then the data."""
    size = b"27660001" + struct.pack(">4H3B", HEIGHT, WIDTH, HEIGHT, WIDTH, 16, 12, 0x59)
    blocks = struct.pack(">4sI", b"\0PRD", 24) + size.ljust(24, b"\0")
    stream = exif_stream("mrw")
    blocks += struct.pack(">4sI", b"\0TTW", len(stream)) + stream
    return struct.pack(">4sI", b"\0MRM", len(blocks)) + blocks + PIXELS


def crw() -> bytes:
    """A heap of the sensor data and of a heap with body and time."""
    inner = ciff_heap([
        (0x080A, b"Brackwell\0Brackwell F45\0"),
        (0x180E, struct.pack("<III", 1947177727, 0, 0)),
    ])  # fmt: skip
    outer = ciff_heap([(0x2005, PIXELS), (0x2807, inner)])
    return b"II" + struct.pack("<I", 26) + b"HEAPCCDR" + b"\0" * 12 + outer


def containers() -> dict[str, bytes]:
    """Every one, by its suffix."""
    return {suffix: tiff_of(suffix, maker) for suffix, maker in MAKERS.items()} | {
        "cr3": cr3(),
        "crw": crw(),
        "mrw": mrw(),
        "raf": raf(),
        "x3f": x3f_file([
            (b"IMA2", b"SECi".ljust(28, b"\0") + PIXELS),
            (b"IMA2", x3f_picture(exif_stream("x3f"))),
        ]),
    }  # fmt: skip
