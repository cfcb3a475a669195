"""Lossy DNG (8-bit JPEG, compression 34892): decoded here, because the decoder's values mislead.

Such a file stores codes on a curve. The DNG specification 1.7 says how light is had back: take
off the black level, divide by the range from black to white, then apply OpcodeList2, whose
MapPolynomial straightens the curve. The decoder applies the polynomial to the code itself, black
still on it, and claims a white level of 65535: neither its values nor the tags' levels fit them.

Here each code goes through a table of 256 entries worked out as the specification says. The
values are linear: black lies at :data:`PEDESTAL`, what the tags call white at 65535.

Known limits: of the opcodes only MapPolynomial (8) and MapTable (7) over the whole picture are
known; another one that is not optional, or a file with neither tiles nor strips, is refused.
"""

from __future__ import annotations

import io
import struct
from dataclasses import replace

import numpy as np
from PIL import Image

from auditor.model.arrays import F64, U8, U16
from auditor.model.errors import UnreadableFile
from auditor.read.dng import DngTags

PEDESTAL = 1024.0
WHITE_DN = 65535.0
CODES = 256
_MAP_TABLE, _MAP_POLYNOMIAL = 7, 8
_OPTIONAL = 1
_AREA_BYTES = 32


def read_lossy(data: bytes, tags: DngTags) -> tuple[U16, DngTags]:
    """Decode a lossy DNG into linear values.

    Returns
    -------
    pixels : array of uint16, shape (height, width, 3)
    tags : DngTags
        The same with the levels that fit these values.

    Raises
    ------
    UnreadableFile
        It is cut off, damaged, or stored in a way that is not known here.
    """
    if tags.samples != 3 or tags.chunks is None:
        raise _unknown("its samples are not laid out as three a pixel in tiles or strips")
    codes = _codes(data, tags)
    tables = np.stack([_table(tags, plane) for plane in range(3)], axis=1)
    pixels = np.empty(codes.shape, dtype=np.uint16)
    for plane in range(3):
        np.take(tables[:, plane], codes[:, :, plane], out=pixels[:, :, plane])
    note = (
        "Lossy 8-bit data on a curve, straightened as the file itself says: black lies at "
        f"{PEDESTAL:.0f} DN, the file's white level at {WHITE_DN:.0f} DN."
    )
    fitting = replace(
        tags,
        black_dim=(1, 1),
        black=(PEDESTAL,) * 3,
        black_rows=(),
        black_columns=(),
        white=(WHITE_DN,),
        notes=(*tags.notes, note),
    )
    return pixels, fitting


def _unknown(what: str) -> UnreadableFile:
    return UnreadableFile("unsupported", f"This lossy DNG cannot be read here: {what}.")


def _codes(data: bytes, tags: DngTags) -> U8:
    """Decode all chunks into one picture of codes."""
    chunks = tags.chunks
    assert chunks is not None
    across = -(-tags.width // chunks.width)
    down = -(-tags.height // chunks.height)
    if len(chunks.parts) != across * down:
        raise UnreadableFile("damaged", "The tiles do not cover the picture.")
    codes = np.zeros((tags.height, tags.width, 3), dtype=np.uint8)
    for place, (offset, length) in enumerate(chunks.parts):
        top, left = place // across * chunks.height, place % across * chunks.width
        tile = _decode(data, offset, length)
        wanted = codes[top : top + chunks.height, left : left + chunks.width]
        wanted[:] = _cut(tile, wanted.shape[:2])
    return codes


def _decode(data: bytes, offset: int, length: int) -> U8:
    if offset + length > len(data):
        raise UnreadableFile("cut-off", "The file ends before its picture does. Copy it again.")
    try:
        with Image.open(io.BytesIO(data[offset : offset + length]), formats=("JPEG",)) as picture:
            return np.asarray(picture.convert("RGB"))
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError) as error:
        raise UnreadableFile("damaged", "A tile of the picture cannot be decoded.") from error


def _cut(tile: U8, shape: tuple[int, int]) -> U8:
    if tile.shape[0] < shape[0] or tile.shape[1] < shape[1]:
        raise UnreadableFile("damaged", "A tile of the picture is smaller than it should be.")
    return tile[: shape[0], : shape[1]]


def _table(tags: DngTags, plane: int) -> U16:
    """Work out the linear value of each code of one plane."""
    black = 0.0 if tags.black is None else _mean_black(tags, plane)
    white = tags.white[plane] if len(tags.white) > plane else tags.white[0]
    if white <= black:
        raise UnreadableFile("damaged", "Its white level does not lie above its black level.")
    linear = (np.array(_stored(tags), dtype=np.float64) - black) / (white - black)
    for opcode in tags.opcodes:
        linear = _apply(opcode, linear, tags, plane)
    values = PEDESTAL + linear * (WHITE_DN - PEDESTAL)
    return np.clip(np.rint(values), 0, WHITE_DN).astype(np.uint16)


def _stored(tags: DngTags) -> tuple[int, ...]:
    """Return what each code stands for before the black level is taken off."""
    if not tags.table:
        return tuple(range(CODES))
    last = tags.table[-1]
    return tuple(tags.table[:CODES]) + (last,) * (CODES - len(tags.table))


def _mean_black(tags: DngTags, plane: int) -> float:
    levels = np.array(tags.black).reshape(-1, tags.samples)
    return float(levels[:, plane].mean())


def _apply(opcode: tuple[int, int, bytes], linear: F64, tags: DngTags, plane: int) -> F64:
    """Apply one opcode of OpcodeList2 to the table of one plane."""
    number, flags, content = opcode
    if number not in (_MAP_TABLE, _MAP_POLYNOMIAL):
        if flags & _OPTIONAL:
            return linear
        raise _unknown(f"opcode {number} changes its values in an unknown way")
    try:
        area = struct.unpack(">8I", content[:_AREA_BYTES])
        if not area[4] <= plane < area[4] + area[5]:
            return linear
        if area[:4] != (0, 0, tags.height, tags.width) or area[6:] != (1, 1):
            raise _unknown("a curve covers a part of the picture only")
        count = struct.unpack(">I", content[_AREA_BYTES : _AREA_BYTES + 4])[0]
        rest = content[_AREA_BYTES + 4 :]
        return _polynomial(rest, count, linear) if number == 8 else _mapped(rest, count, linear)
    except struct.error as error:
        raise UnreadableFile("damaged", "Its opcode list is damaged.") from error


def _polynomial(content: bytes, degree: int, linear: F64) -> F64:
    if degree > 8:
        raise UnreadableFile("damaged", "Its opcode list is damaged.")
    coefficients = struct.unpack(f">{degree + 1}d", content[: 8 * (degree + 1)])
    with np.errstate(all="ignore"):  # what comes of hostile coefficients is refused below
        curve: F64 = np.polynomial.polynomial.polyval(linear, coefficients)
    if not np.isfinite(curve).all():
        raise UnreadableFile("damaged", "Its opcode list is damaged.")
    return curve


def _mapped(content: bytes, count: int, linear: F64) -> F64:
    """Look values up in a table of 16-bit entries, the last one for all beyond."""
    if not 0 < count <= 65536:
        raise UnreadableFile("damaged", "Its opcode list is damaged.")
    table = np.array(struct.unpack(f">{count}H", content[: 2 * count]), dtype=np.float64)
    index = np.clip(np.rint(linear * 65535.0), 0, count - 1).astype(np.int64)
    mapped: F64 = table[index] / 65535.0
    return mapped
