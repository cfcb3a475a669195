"""The tags of a DNG's raw picture, each as the DNG specification 1.7 defines it.

LibRaw gives one black level a colour, whole numbers only, and one white level; it puts the mean
of the masked pixels in place of the file's black level, and passes over noise profile and
baseline exposure. So levels come from here whoever decodes the pixels.
"""

from __future__ import annotations

import math
import struct
from dataclasses import dataclass

from auditor.model.arrays import FileBytes
from auditor.model.remark import Remark, RemarkCode, remark
from auditor.read.tiff import Directory, open_tiff, source_in

CFA, LINEAR_RAW = 32803, 34892
PLAIN, JPEG, DEFLATE, OLD_DEFLATE, LOSSY_JPEG, JPEG_XL = 1, 7, 8, 32946, 34892, 52546
"""Compression (tag 259): plain, lossless JPEG, deflate under two numbers, 8-bit JPEG, JPEG XL."""

FLOATING = 3
MOST_PATTERN = 64
"""Rows and columns of a black pattern beyond this are a mistake, not a pattern."""

MOST_OPCODES, MOST_OPCODE_BYTES = 64, 1 << 20

_SUBFILE, _WIDTH, _HEIGHT, _BITS, _COMPRESSION, _PHOTOMETRIC = 254, 256, 257, 258, 259, 262
_SAMPLES, _SAMPLE_FORMAT, _FILL_ORDER, _PLANAR, _PREDICTOR = 277, 339, 266, 284, 317
_CFA_DIM, _CFA_PATTERN, _CFA_LAYOUT, _VERSION = 33421, 33422, 50711, 50706
_ORIGINAL_SIZES = (51090, 51089)
"""OriginalBestQualityFinalSize and OriginalDefaultFinalSize: a file that holds one is a proxy."""

_ROW_FIELDS, _COLUMN_FIELDS, _NEUTRAL, _SCALE, _LENS = 50975, 52547, 50728, 50718, 50736
_TABLE, _BLACK_DIM, _BLACK, _BLACK_H, _BLACK_V, _WHITE = 50712, 50713, 50714, 50715, 50716, 50717
_BASELINE_EXPOSURE, _LINEAR_LIMIT = 50730, 50734
_STRIP_OFFSETS, _STRIP_HEIGHT, _STRIP_LENGTHS = 273, 278, 279
_TILE_WIDTH, _TILE_HEIGHT, _TILE_OFFSETS, _TILE_LENGTHS = 322, 323, 324, 325
_ACTIVE, _MASKED, _PLANE_COLOURS = 50829, 50830, 50710
_DIGEST, _NEW_DIGEST, _NOISE, _OPCODES_2 = 50972, 51111, 51041, 51009

Rectangle = tuple[int, int, int, int]
"""Top, left, bottom, right; bottom and right excluded."""


@dataclass(frozen=True, slots=True)
class Chunks:
    """The tiles or strips of a picture: the size of one, and offset and length of each."""

    height: int
    width: int
    parts: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Storage:
    """How samples are put away, beside the compression itself.

    Parameters
    ----------
    order : str
        Byte order of samples of two bytes, "<" or ">".
    interleaved : bool
        The samples of a pixel lie side by side (PlanarConfiguration 1).
    predictor : int
        Of deflated data: 1 none, 2 the neighbour; 34892, 34893 the second and fourth neighbour.
    high_bit_first : bool
        FillOrder 1.
    fields : (int, int)
        RowInterleaveFactor and ColumnInterleaveFactor: so many smaller pictures lie below and
        beside one another, each of every n-th row and column.
    square : bool
        Colours lie in rows and columns (CFALayout 1).
    version : tuple of int
        DNGVersion.
    """

    order: str = "<"
    interleaved: bool = True
    predictor: int = 1
    high_bit_first: bool = True
    fields: tuple[int, int] = (1, 1)
    square: bool = True
    version: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class DngTags:
    """The raw picture of a DNG as its directory describes it.

    Parameters
    ----------
    height, width, samples, bits : int
        As stored: the masked border counts.
    floating, linear : bool
        Floating-point samples; demosaiced (or monochrome) data.
    black_dim : tuple of int
        BlackLevelRepeatDim: rows and columns of the pattern, from the top left of the active
        area.
    black : tuple of float or None
        BlackLevel: rows x columns x samples, samples fastest; None where the tag is damaged.
    black_columns, black_rows : tuple of float
        BlackLevelDeltaH (a value a column) and DeltaV (a value a row) of the active area; empty
        where absent.
    white : tuple of float
        WhiteLevel, one or one a sample, black not subtracted.
    linear_limit : float or None
        LinearResponseLimit, a fraction of the range from black to white; None where it is 1.
    noise_profile : tuple of (float, float)
        S and O: ``sigma² = S x + O``, x from 0 at black to 1 at white; one or one a colour.
    plane_colours : tuple of int
        CFAPlaneColor: 0 red, 1 green, 2 blue.
    digest, new_digest : bytes
        RawImageDigest and NewRawImageDigest; empty where absent.
    table : tuple of int
        LinearizationTable; empty where absent.
    opcodes : tuple of (int, int, bytes)
        Number, flags and parameters of OpcodeList2.
    chunks : Chunks or None
    pattern : tuple of tuple of int
        CFAPattern row by row from the top left of the active area: 0 red, 1 green, 2 blue; empty
        where the tags do not fit each other.
    storage : Storage
    baseline_exposure_stops : float or None
        BaselineExposure: by how much the zero point is moved, positive for brighter; None where
        absent, or where no camera moves it so far.
    neutral : tuple of float
        AsShotNeutral: what a grey place gives in each colour; empty where absent.
    pixel_aspect : float
        Width of a pixel over its height (DefaultScale).
    """

    height: int
    width: int
    samples: int
    bits: int
    compression: int
    floating: bool
    linear: bool
    active: Rectangle
    white: tuple[float, ...]
    black_dim: tuple[int, int] = (1, 1)
    black: tuple[float, ...] | None = (0.0,)
    black_columns: tuple[float, ...] = ()
    black_rows: tuple[float, ...] = ()
    linear_limit: float | None = None
    masked: tuple[Rectangle, ...] = ()
    noise_profile: tuple[tuple[float, float], ...] = ()
    plane_colours: tuple[int, ...] = (0, 1, 2)
    baseline_exposure_stops: float | None = None
    digest: bytes = b""
    new_digest: bytes = b""
    table: tuple[int, ...] = ()
    opcodes: tuple[tuple[int, int, bytes], ...] = ()
    chunks: Chunks | None = None
    pattern: tuple[tuple[int, ...], ...] = ()
    storage: Storage = Storage()
    neutral: tuple[float, ...] = ()
    pixel_aspect: float = 1.0
    lens: tuple[float, ...] = ()
    remarks: tuple[Remark, ...] = ()


def read_dng(data: FileBytes) -> tuple[DngTags, ...]:
    """Read the tags of every raw picture in a DNG, the main one first.

    Returns
    -------
    tuple of DngTags
        Empty where no directory describes a raw picture.
    """
    tiff = open_tiff(source_in(data))
    directories = list(tiff.directories()) if tiff else []
    raw = [found for found in directories if found.number(_PHOTOMETRIC) in _RAW]
    raw.sort(key=lambda one: -(one.number(_WIDTH) or 0) * (one.number(_HEIGHT) or 0))
    raw.sort(key=lambda one: (one.number(_SUBFILE) or 0) != 0)  # 0 is the main picture
    return tuple(_read(found, directories[0]) for found in raw)


_RAW = (CFA, LINEAR_RAW)


def for_shape(pictures: tuple[DngTags, ...], height: int, width: int) -> DngTags | None:
    """Choose the picture that the decoder has decoded, by its size; None where none fits."""
    for tags in pictures:
        if (tags.height, tags.width) == (height, width):
            return tags
    return None


def _read(raw: Directory, first: Directory) -> DngTags:
    remarks: list[Remark] = []
    samples = min(8, max(1, _whole(raw, _SAMPLES, 1)))
    bits = _whole(raw, _BITS, 16)
    height, width = _whole(raw, _HEIGHT, 0), _whole(raw, _WIDTH, 0)
    dim, black = _black(raw, samples, remarks)
    limit, moved = first.number(_LINEAR_LIMIT), first.number(_BASELINE_EXPOSURE)
    scale = raw.numbers(_SCALE, 2) or first.numbers(_SCALE, 2)
    sound = len(scale) == 2 and all(0.1 <= value <= 10.0 for value in scale)
    sizes = [size for tag in _ORIGINAL_SIZES if len(size := first.whole(tag, 2)) == 2]
    larger = next((size for size in sizes if size[0] * size[1] > width * height), None)
    if larger:
        remarks.append(remark(RemarkCode.PROXY, width=larger[0], height=larger[1]))
    return DngTags(
        height=height,
        width=width,
        samples=samples,
        bits=bits,
        compression=_whole(raw, _COMPRESSION, 1),
        floating=raw.number(_SAMPLE_FORMAT) == FLOATING,
        linear=raw.number(_PHOTOMETRIC) == LINEAR_RAW,
        active=_rectangle(raw.whole(_ACTIVE, 4), height, width) or (0, 0, height, width),
        white=_finite(raw.numbers(_WHITE, 8)) or (2.0 ** min(bits, 32) - 1.0,),
        black_dim=dim,
        black=black,
        black_columns=_finite(raw.numbers(_BLACK_H)),
        black_rows=_finite(raw.numbers(_BLACK_V)),
        linear_limit=limit if limit is not None and 0 < limit < 1 else None,
        masked=_masked(raw, height, width, remarks),
        noise_profile=_noise(raw) or _noise(first),
        plane_colours=raw.whole(_PLANE_COLOURS, 8) or (0, 1, 2),
        baseline_exposure_stops=moved if moved is not None and abs(moved) <= 10.0 else None,
        digest=_digest(first, _DIGEST),
        new_digest=_digest(first, _NEW_DIGEST),
        table=raw.whole(_TABLE),
        opcodes=_opcodes(raw.raw(_OPCODES_2, MOST_OPCODE_BYTES)),
        chunks=chunks_of(raw, height, width),
        pattern=_pattern(raw),
        storage=Storage(
            order=raw.order,
            interleaved=_whole(raw, _PLANAR, 1) == 1,
            predictor=_whole(raw, _PREDICTOR, 1),
            high_bit_first=_whole(raw, _FILL_ORDER, 1) == 1,
            fields=(_whole(raw, _ROW_FIELDS, 1), _whole(raw, _COLUMN_FIELDS, 1)),
            square=_whole(raw, _CFA_LAYOUT, 1) == 1,
            version=first.whole(_VERSION, 4),
        ),
        neutral=_finite(first.numbers(_NEUTRAL, 8)),
        pixel_aspect=scale[0] / scale[1] if sound else 1.0,
        lens=_finite(first.numbers(_LENS, 4)),
        remarks=tuple(remarks),
    )


def _pattern(raw: Directory) -> tuple[tuple[int, ...], ...]:
    dim, codes = raw.whole(_CFA_DIM, 2), raw.whole(_CFA_PATTERN, MOST_PATTERN * MOST_PATTERN)
    if len(dim) != 2 or min(dim) < 1 or dim[0] * dim[1] != len(codes):
        return ()
    return tuple(codes[at : at + dim[1]] for at in range(0, len(codes), dim[1]))


def _whole(directory: Directory, tag: int, default: int) -> int:
    value = directory.number(tag)
    return default if value is None or not math.isfinite(value) else int(value)


def _finite(values: tuple[float, ...]) -> tuple[float, ...]:
    return values if all(math.isfinite(value) for value in values) else ()


def _black(
    raw: Directory, samples: int, remarks: list[Remark]
) -> tuple[tuple[int, int], tuple[float, ...] | None]:
    """Return the pattern's size and values; absent means 0 (the tag's default)."""
    if _BLACK not in raw:
        return (1, 1), (0.0,) * samples
    dim = raw.whole(_BLACK_DIM, 2) or (1, 1)
    values = _finite(raw.numbers(_BLACK, MOST_PATTERN * MOST_PATTERN * 8))
    sound = len(dim) == 2 and all(0 < side <= MOST_PATTERN for side in dim)
    if not sound or len(values) != dim[0] * dim[1] * samples or min(values) < 0:
        remarks.append(remark(RemarkCode.BLACK_TAG_UNFIT))
        return (1, 1), None
    return (dim[0], dim[1]), values


def _rectangle(sides: tuple[int, ...], height: int, width: int) -> Rectangle | None:
    if len(sides) != 4:
        return None
    top, left, bottom, right = sides
    if not (0 <= top < bottom <= height and 0 <= left < right <= width):
        return None
    return top, left, bottom, right


def _masked(
    raw: Directory, height: int, width: int, remarks: list[Remark]
) -> tuple[Rectangle, ...]:
    sides = raw.whole(_MASKED, 64)
    areas = [_rectangle(sides[at : at + 4], height, width) for at in range(0, len(sides), 4)]
    if None in areas:
        remarks.append(remark(RemarkCode.MASKED_OUTSIDE))
    return tuple(area for area in areas if area is not None)


def _noise(directory: Directory) -> tuple[tuple[float, float], ...]:
    values = _finite(directory.numbers(_NOISE, 16))
    pairs = tuple(zip(values[::2], values[1::2], strict=False))
    sound = len(values) % 2 == 0 and all(s > 0 and o >= 0 for s, o in pairs)
    return pairs if sound else ()


def chunks_of(raw: Directory, height: int, width: int) -> Chunks | None:
    """Return where the tiles or strips of a picture lie; None where that is not told."""
    offsets, lengths = raw.whole(_TILE_OFFSETS), raw.whole(_TILE_LENGTHS)
    size = _whole(raw, _TILE_HEIGHT, 0), _whole(raw, _TILE_WIDTH, 0)
    if not offsets:
        offsets, lengths = raw.whole(_STRIP_OFFSETS), raw.whole(_STRIP_LENGTHS)
        size = min(height, _whole(raw, _STRIP_HEIGHT, height)), width
    if not offsets or len(offsets) != len(lengths) or min(size) <= 0:
        return None
    return Chunks(*size, tuple(zip(offsets, lengths, strict=True)))


def _opcodes(content: bytes) -> tuple[tuple[int, int, bytes], ...]:
    """Take an opcode list apart (always high byte first); what does not fit ends it."""
    found: list[tuple[int, int, bytes]] = []
    count = int.from_bytes(content[:4], "big")
    at = 4
    while len(found) < min(count, MOST_OPCODES) and at + 16 <= len(content):
        number, _, flags, length = struct.unpack_from(">4I", content, at)
        if at + 16 + length > len(content):
            break
        found.append((number, flags, content[at + 16 : at + 16 + length]))
        at += 16 + length
    return tuple(found)


def _digest(first: Directory, tag: int) -> bytes:
    content = first.raw(tag, 16)
    return content if len(content) == 16 and any(content) else b""
