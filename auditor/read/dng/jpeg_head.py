"""What a JPEG stream says of itself, read before a byte of memory is asked for its picture.

Layout of the segments: ITU-T T.81, annex B.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass, replace

import numpy as np

from auditor.read.jpeg_scan import jpeg_segments

LOSSLESS = 0xC3
_FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_SCAN, _END, _INTERVAL, _CODES = 0xDA, 0xD9, 0xDD, 0xC4
_RESTARTS = range(0xD0, 0xD8)
_FILL = 0xFF
"""Begins a marker, unless zero or another of it follows."""

MOST_LEFT = 16
"""Bytes other than zero behind the end of a picture that may be chance."""


@dataclass(frozen=True, slots=True)
class JpegHead:
    """The frame header, and where the scan begins.

    Parameters
    ----------
    process : int
        The SOF marker: 0xC3 for lossless Huffman.
    bits, height, width, components : int
    scan_at : int
        Offset of the first byte of the scan's own data.
    restarts : bool
        The scan is cut by restart marks.
    tables, scan : bytes
        The tables of codes, one after the other, and the header of the scan.
    """

    process: int
    bits: int
    height: int
    width: int
    components: int
    scan_at: int = 0
    restarts: bool = False
    tables: bytes = b""
    scan: bytes = b""

    @property
    def shape(self) -> tuple[int, ...]:
        """Shape of the array that a decoder returns."""
        flat = (self.height, self.width)
        return flat if self.components == 1 else (*flat, self.components)

    def ends_well(self, content: memoryview) -> bool | None:
        """Tell whether the scan goes on to its end mark, and the end mark to the end.

        A decoder only warns where it meets a marker in the midst of a scan, and fills up what is
        missing.

        Returns
        -------
        bool or None
            None where there is no end mark at all.
        """
        scan = np.frombuffer(content, np.uint8, offset=self.scan_at)
        marks = scan[:-1] == _FILL
        marks &= scan[1:] != 0
        # without restarts the first mark is the end: no need to list what is not there
        first = int(marks.argmax()) if len(marks) else 0
        for at in (np.flatnonzero(marks[first:]) + first + 1).tolist():
            marker = int(scan[at])
            if marker == _FILL:
                continue
            if marker == _END:
                return len(bytes(content[self.scan_at + at + 1 :]).strip(b"\0")) <= MOST_LEFT
            if marker not in _RESTARTS or not self.restarts:
                return False
        return None


def read_jpeg_head(content: memoryview) -> JpegHead | None:
    """Return the frame header of a JPEG stream.

    Returns
    -------
    JpegHead or None
        None where there is none before the scan, where its components are sampled unequally, or
        where the height is told only after the scan.
    """
    head, restarts, tables = None, False, b""
    for marker, at, body in jpeg_segments(content):
        if marker in _FRAMES:
            head = _frame(marker, body)
        elif marker == _INTERVAL:
            restarts = any(body[:2])
        elif marker == _CODES:
            tables += body
        elif marker == _SCAN:
            begin = at + len(body)
            return head and replace(
                head, scan_at=begin, restarts=restarts, tables=tables, scan=body
            )
    return None


def _frame(marker: int, segment: bytes) -> JpegHead | None:
    if len(segment) < 6:
        return None
    bits, height, width, components = struct.unpack_from(">BHHB", segment)
    factors = segment[7::3]
    if len(factors) != components or not height * width * components:
        return None
    # one component alone lies row by row whatever its factors
    if marker == LOSSLESS and components > 1 and any(factor != 0x11 for factor in factors):
        return None
    return JpegHead(marker, bits, height, width, components)
