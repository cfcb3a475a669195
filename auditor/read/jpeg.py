"""What a JPEG says of itself, and whether its data are those of one, before it is decoded.

After ITU-T T.81: in the data of a scan a byte 0xFF is followed by 0x00, by a restart marker in its
turn (0xD0 to 0xD7), by more 0xFF or by the end (0xD9). A decoder passes over what breaks this, and
fills up with grey. Data that are a JPEG's, but another's, hold another number of units (the blocks
of all colours that are coded together): asked for one row of units more than there is, a decoder
fills it with grey if the data end where they should, and else with what is left over.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from auditor.model.arrays import U8, Bool

_START, _END, _SCAN, _TABLES = 0xD8, 0xD9, 0xDA, 0xC4
MOST_SEGMENTS = 4096
"""Of a JPEG; sound ones have some hundreds at most."""

LOSSLESS = 0xC3
_FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_INTERVAL = 0xDD
_RESTARTS = range(0xD0, 0xD8)
_FILL = 0xFF
"""Begins a marker, unless zero or another of it follows."""

MOST_LEFT = 16
"""Bytes other than zero behind the end of a picture that may be chance."""

_BASELINE = (0xC0, 0xC1)
LONGEST_FILL = 16
"""Bytes of 0xFF before a marker; erased cells of a card hold nothing else."""

LONGEST_ZEROS = 64
"""Bytes; two blocks and more of coefficients that are all alike."""

_GREY = 128
MOST_BEHIND = 1
"""Units behind the last: the bits that fill up the last byte may make one."""

FILLING = bytes(range(1, 255)) * 4
"""Data that no picture ends with."""

LEAST_UNITS = 8
"""In a row; fewer tell too little."""


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
        elif marker == _TABLES:
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


@dataclass(frozen=True, slots=True)
class GrownScan:
    """A JPEG that claims one row of units more than it holds.

    Parameters
    ----------
    height, width : int
        Of the picture, without that row.
    unit : (int, int)
        Rows and columns of pixels in a unit.
    """

    content: bytes
    height: int
    width: int
    unit: tuple[int, int]

    def ends_from(self, scale: int) -> int:
        """Return the row of pixels in which the last row of units begins."""
        return (-(-self.height // self.unit[0]) - 1) * (self.unit[0] // scale)

    def goes_on(self, pixels: U8, scale: int) -> bool:
        """Tell whether the data hold more units than the picture has.

        Parameters
        ----------
        pixels : array of uint8, shape (rows, cols, 3)
            The last row of units and the one added, at one pixel for so many.
        """
        filled = np.flatnonzero(~self._grey(pixels, scale, 1))
        return bool(filled.max(initial=-1) >= MOST_BEHIND)

    def may_end_early(self, pixels: U8, scale: int) -> bool:
        """Tell whether the last units are grey, as those are that the data do not reach."""
        return bool(self._grey(pixels, scale, 0)[-1])

    def _grey(self, pixels: U8, scale: int, row: int) -> Bool:
        """Tell which units of one of the two rows are grey throughout."""
        rows, cols = (side // scale for side in self.unit)
        across = -(-pixels.shape[1] // cols)
        grey = (pixels[row * rows : (row + 1) * rows] == _GREY).all(axis=2)
        missing = ((0, rows - grey.shape[0]), (0, across * cols - grey.shape[1]))
        grown = np.pad(grey, missing, constant_values=True).reshape(rows, across, cols)
        # colours run over the edge of a unit by a pixel
        inner = grown[rows > 2 : rows - (rows > 2), :, cols > 2 : cols - (cols > 2)]
        return np.asarray(inner.all(axis=(0, 2)))


def grown_scan(content: bytes) -> GrownScan | None:
    """Claim one row of units more than a JPEG holds.

    Returns
    -------
    GrownScan or None
        None for any but a baseline JPEG in colours with one scan, and for one that is too small.
    """
    scan = _only_scan(content)
    if scan is None:
        return None
    at, head = scan.frame
    height, width = struct.unpack_from(">HH", head, 1)
    factors = [divmod(one, 16) for one in head[7::3]]
    if len(factors) < 2:
        return None
    across, down = (max(one) for one in zip(*factors, strict=True))
    unit = (8 * down, 8 * across)
    # the row that is added begins where the last row of units ends
    taller = -(-height // max(1, unit[0])) * unit[0] + unit[0]
    if not across or not down or width < LEAST_UNITS * unit[1] or not 0 < height < taller <= 0xFFFF:
        return None
    grown = content[: at + 1] + struct.pack(">H", taller) + content[at + 3 :]
    return GrownScan(grown, height, width, unit)


def with_filling(content: bytes) -> bytes:
    """Put data before the end of a JPEG that are not missed where nothing else is."""
    end = content.rfind(bytes((0xFF, _END)))
    return content[:end] + FILLING + content[end:]


def scan_is_broken(content: bytes) -> bool:
    """Tell whether the data of a baseline JPEG with one scan hold what none can.

    Returns
    -------
    bool
        False also for every other kind of JPEG, and for data that cannot be told from sound ones.
    """
    scan = _only_scan(content)
    if scan is None:
        return False
    data = np.frombuffer(content, dtype=np.uint8, offset=scan.begin)
    marks = np.flatnonzero(data[:-1] == 0xFF)
    after = data[marks + 1]
    ends = np.flatnonzero(after == _END)
    if not len(ends):
        return True
    after = after[: ends[0]]
    restarts = after[(after >= 0xD0) & (after <= 0xD7)].astype(np.int64)
    known = (after == 0) | (after == 0xFF) | ((after >= 0xD0) & (after <= 0xD7))
    in_turn = bool((restarts == 0xD0 + np.arange(len(restarts)) % 8).all())
    fill = np.diff(np.flatnonzero(np.concatenate([[True], after != 0xFF, [True]]))) - 1
    if not known.all() or not in_turn or fill.max(initial=0) > LONGEST_FILL:
        return True
    # bits of zero end no block of some table of AC coefficients, and each unit has such blocks
    nonsense = False
    for body in scan.tables:
        at = 0
        while at + 18 <= len(body):
            nonsense |= body[at] >> 4 == 1 and body[at + 17] not in (0x00, 0xF0)
            at += 17 + sum(body[at + 1 : at + 17])
    return nonsense and bool(np.diff(np.flatnonzero(data)).max(initial=0) > LONGEST_ZEROS)


@dataclass(frozen=True, slots=True)
class _Scan:
    """The one scan of a baseline JPEG: its frame's header and where that lies, tables, begin."""

    frame: tuple[int, bytes]
    tables: list[bytes]
    begin: int


def _only_scan(content: bytes) -> _Scan | None:
    segments = list(jpeg_segments(content))
    frames = [(at, body) for kind, at, body in segments if kind in _BASELINE and len(body) > 5]
    if not frames or segments[-1][0] != _SCAN:
        return None
    _, at, head = segments[-1]
    if not head or head[0] != frames[0][1][5]:  # more scans follow
        return None
    return _Scan(frames[0], [body for kind, _, body in segments if kind == _TABLES], at + len(head))


def jpeg_segments(content: bytes | memoryview) -> Iterator[tuple[int, int, bytes]]:
    """Yield marker, place and body of the segments up to the first scan's; nothing of no JPEG."""
    at = 2
    if content[:2] != bytes((0xFF, _START)):
        return
    for _ in range(MOST_SEGMENTS):
        if at + 4 > len(content) or content[at] != 0xFF:
            return
        kind, length = struct.unpack_from(">BH", content, at + 1)
        yield kind, at + 4, bytes(content[at + 4 : at + 2 + length])
        if kind == _SCAN or length < 2:
            return
        at += 2 + length
