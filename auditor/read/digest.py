"""Digests that a DNG carries of its own pixels, checked against the pixels read.

RawImageDigest (tag 50972): MD5 of all samples in rows, each 16 bits, low byte first.
NewRawImageDigest (tag 51111): the picture is cut into tiles of 256 x 256 (less at the right and
lower edge); of each tile the MD5 of its samples, plane by plane, 16 bits, low byte first; then
the MD5 of all these in the order of reading. After the DNG specification 1.7.

On 45 megapixels one check takes about an eighth of a second, a quarter of the decoding of a
lossless file, so it is made on demand only.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from auditor.model.arrays import U16
from auditor.read.dng.tags import JPEG_XL, LOSSY_JPEG, DngTags

if TYPE_CHECKING:
    from hashlib import _Hash

TILE = 256


def digest_holds(stored: U16, tags: DngTags) -> bool | None:
    """Tell whether the pixels are those that were written.

    Parameters
    ----------
    stored : array of uint16
        The whole picture as stored, margins included.

    Returns
    -------
    bool or None
        None where there is nothing to compare: no digest, lossy or linearised data (the stored
        samples are then not at hand), or a picture of another size.
    """
    if tags.compression in (LOSSY_JPEG, JPEG_XL) or tags.table:
        return None
    if stored.shape[:2] != (tags.height, tags.width):
        return None
    if tags.new_digest:
        return new_digest(stored, narrow=tags.bits <= 8) == tags.new_digest
    return old_digest(stored) == tags.digest if tags.digest else None


def old_digest(stored: U16) -> bytes:
    """Return the RawImageDigest of a picture."""
    return _md5(_bytes_of(stored, "<u2")).digest()


def new_digest(stored: U16, *, narrow: bool = False) -> bytes:
    """Return the NewRawImageDigest of a picture; ``narrow`` for 8-bit samples."""
    planes = stored if stored.ndim == 3 else stored[:, :, None]
    whole = _md5()
    for top in range(0, planes.shape[0], TILE):
        for left in range(0, planes.shape[1], TILE):
            tile = planes[top : top + TILE, left : left + TILE].transpose(2, 0, 1)
            samples = _bytes_of(tile, "u1" if narrow else "<u2")
            whole.update(_md5(samples).digest())
    return whole.digest()


def _md5(content: bytes | memoryview = b"") -> _Hash:
    # four megabytes of a worker's memory, which few audits ask for
    from hashlib import md5  # noqa: PLC0415

    return md5(content, usedforsecurity=False)


def _bytes_of(samples: U16, kind: str) -> memoryview:
    return np.ascontiguousarray(samples, dtype=kind).data.cast("B")
