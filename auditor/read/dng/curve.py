"""Codes made linear: LinearizationTable and the curves of lossy DNG, a table of values by code.

A lossy file (8-bit JPEG, or JPEG XL with a curve) stores codes on a curve. The DNG specification
1.7 says how light is had back: take off the black level, divide by the range from black to white,
then apply OpcodeList2, whose MapPolynomial straightens the curve. LibRaw applies the polynomial to
the code itself, black still on it, and claims a white level of 65535: neither its values nor the
tags' levels fit them.

So each code goes through a table worked out as the specification says. The values are linear:
black lies at :data:`PEDESTAL`, what the tags call white at 65535.

Known limits: of the opcodes only MapPolynomial (8) and MapTable (7) over the whole picture are
known; another one that is not optional is refused.
"""

from __future__ import annotations

import struct
from dataclasses import replace

import numpy as np

from auditor.model.arrays import F64, U16
from auditor.model.remark import RemarkCode, remark
from auditor.read.dng.tags import JPEG_XL, LOSSY_JPEG, DngTags
from auditor.words import unread

PEDESTAL = 1024.0
WHITE_DN = 65535.0
_MAP_TABLE, _MAP_POLYNOMIAL = 7, 8
_OPTIONAL = 1
_AREA_BYTES = 32


def on_curve(tags: DngTags) -> bool:
    """Tell whether the codes of a file stand on a curve that its opcodes straighten."""
    mapped = any(number in (_MAP_TABLE, _MAP_POLYNOMIAL) for number, _, _ in tags.opcodes)
    return tags.compression == LOSSY_JPEG or (tags.compression == JPEG_XL and mapped)


def sample_tables(tags: DngTags) -> U16 | None:
    """Return the value of each code.

    Returns
    -------
    array of uint16, shape (1, codes) or (samples, codes), or None
        One table for all samples or one for each; None where codes are values. The last entry
        counts for all codes beyond.

    Raises
    ------
    UnreadableFile
        The curve is damaged or of a kind that is not known here.
    """
    if on_curve(tags):
        return np.stack([_table(tags, plane) for plane in range(tags.samples)])
    if tags.table:
        return np.array(tags.table, dtype=np.int64).clip(0, 65535).astype(np.uint16)[None]
    return None


def straightened(tags: DngTags) -> DngTags:
    """Return tags whose levels fit the values that :func:`sample_tables` makes of the codes."""
    if not on_curve(tags):
        return tags
    told = remark(RemarkCode.CURVE_STRAIGHTENED, black_dn=PEDESTAL, white_dn=WHITE_DN)
    return replace(
        tags,
        black_dim=(1, 1),
        black=(PEDESTAL,) * tags.samples,
        black_rows=(),
        black_columns=(),
        white=(WHITE_DN,),
        remarks=(*tags.remarks, told),
    )


def _table(tags: DngTags, plane: int) -> U16:
    """Work out the linear value of each code of one plane."""
    blacks = np.zeros((1, tags.samples)) if tags.black is None else np.array(tags.black)
    black = float(blacks.reshape(-1, tags.samples)[:, plane].mean())
    white = tags.white[plane] if len(tags.white) > plane else tags.white[0]
    if white <= black:
        raise unread.WHITE_UNDER_BLACK.error()
    stored = tags.table or tuple(range(1 << tags.bits))  # before the black level is taken off
    linear = (np.array(stored, dtype=np.float64) - black) / (white - black)
    for opcode in tags.opcodes:
        linear = _apply(opcode, linear, tags, plane)
    values = PEDESTAL + linear * (WHITE_DN - PEDESTAL)
    return np.clip(np.rint(values), 0, WHITE_DN).astype(np.uint16)


def _apply(opcode: tuple[int, int, bytes], linear: F64, tags: DngTags, plane: int) -> F64:
    """Apply one opcode of OpcodeList2 to the table of one plane."""
    number, flags, content = opcode
    if number not in (_MAP_TABLE, _MAP_POLYNOMIAL):
        if flags & _OPTIONAL:
            return linear
        what = f"opcode {number} changes its values in an unknown way"
        raise unread.CURVE.error(what=what)
    try:
        area = struct.unpack(">8I", content[:_AREA_BYTES])
        if not area[4] <= plane < area[4] + area[5]:
            return linear
        if area[:4] != (0, 0, tags.height, tags.width) or area[6:] != (1, 1):
            raise unread.CURVE.error(what="a curve covers a part of the picture only")
        count = struct.unpack(">I", content[_AREA_BYTES : _AREA_BYTES + 4])[0]
        if number == _MAP_TABLE and 0 < count <= 65536:
            entries = struct.unpack_from(f">{count}H", content, _AREA_BYTES + 4)
            index = np.clip(np.rint(linear * 65535.0), 0, count - 1).astype(np.int64)
            mapped: F64 = np.array(entries, dtype=np.float64)[index] / 65535.0
            return mapped
        if number == _MAP_POLYNOMIAL and count <= 8:
            coefficients = struct.unpack_from(f">{count + 1}d", content, _AREA_BYTES + 4)
            with np.errstate(all="ignore"):  # what comes of hostile ones is refused below
                curve: F64 = np.polynomial.polynomial.polyval(linear, coefficients)
            if np.isfinite(curve).all():
                return curve
    except struct.error as error:
        raise unread.OPCODES.error() from error
    raise unread.OPCODES.error()
