"""The digests that a DNG file may carry of its own raw picture."""

from __future__ import annotations

import hashlib

import numpy as np

from auditor.model.arrays import U16

TILE = 256


def raw_image_digest(stored: U16) -> bytes:
    """MD5 over all pixels in row order, 16 bits each, little-endian (DNG tag 50972)."""
    little = np.ascontiguousarray(stored, dtype="<u2")
    return hashlib.md5(little.data, usedforsecurity=False).digest()


def new_raw_image_digest(stored: U16) -> bytes:
    """MD5 over the MD5s of tiles (DNG tag 51111).

    Tiles of at most 256 x 256 are cut off at the edges, written plane after plane in 16 bits
    little-endian, and taken row by row. The DNG specification leaves the details to the
    reference code of its publisher; this follows published descriptions of that code.
    """
    whole = hashlib.md5(usedforsecurity=False)
    planar = stored[None] if stored.ndim == 2 else np.moveaxis(stored, 2, 0)
    for top in range(0, stored.shape[0], TILE):
        for left in range(0, stored.shape[1], TILE):
            tile = planar[:, top : top + TILE, left : left + TILE]
            little = np.ascontiguousarray(tile, dtype="<u2")
            whole.update(hashlib.md5(little.data, usedforsecurity=False).digest())
    return whole.digest()
