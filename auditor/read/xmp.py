"""The XMP packet that a raw file itself holds: where camera or converter keep their own ratings."""

from __future__ import annotations

import errno
from pathlib import Path

from auditor.model.plain_file import open_plain
from auditor.read.tiff import MOST_VALUE_BYTES, open_tiff, source_of

XMP_PACKET = 700
"""The tag, in the first directory (ISO 16684-3; the DNG specification says the same)."""


def embedded_xmp(path: Path) -> bytes | None:
    """Return the packet in a TIFF-like raw file (DNG and most makers' own), without its padding.

    Returns
    -------
    bytes or None
        None where the file is not TIFF-like or holds none.

    Raises
    ------
    OSError
        The file cannot be read, or its packet lies outside it or is larger than any sidecar.
    """
    with open_plain(path) as stream:
        tiff = open_tiff(source_of(stream))
        first = None if tiff is None else tiff.first()
        entry = None if first is None else first.entries.get(XMP_PACKET)
        if first is None or entry is None or entry.size == 0:
            return None
        packet = first.raw(XMP_PACKET)
        if entry.size > MOST_VALUE_BYTES or len(packet) != entry.size:
            raise OSError(errno.EFBIG, "its XMP is cut off or too large", str(path))
        return packet.strip(b"\0 \r\n\t") or None
