"""Whether the data of a JPEG are those of one: a lost cluster shows in them before it is decoded.

After ITU-T T.81: in the data of a scan a byte 0xFF is followed by 0x00, by a restart marker in its
turn (0xD0 to 0xD7), by more 0xFF or by the end (0xD9). A decoder passes over what breaks this, and
fills up with grey.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator

import numpy as np

from auditor.model.arrays import U8

_START, _END, _SCAN, _TABLES = 0xD8, 0xD9, 0xDA, 0xC4
_BASELINE = (0xC0, 0xC1)
LONGEST_FILL = 16
"""Bytes of 0xFF before a marker; erased cells of a card hold nothing else."""

LONGEST_ZEROS = 64
"""Bytes; two blocks and more of coefficients that are all alike."""


def scan_is_broken(content: bytes) -> bool:
    """Tell whether the data of a baseline JPEG with one scan hold what none can.

    Returns
    -------
    bool
        False also for every other kind of JPEG, and for data that cannot be told from sound ones.
    """
    segments = list(_segments(content))
    kinds = [kind for kind, _ in segments]
    if not kinds or kinds[-1] != _SCAN or not set(kinds) & set(_BASELINE):
        return False
    components = next(body[5] for kind, body in segments if kind in _BASELINE and len(body) > 5)
    head = segments[-1][1]
    if not head or head[0] != components:  # more scans follow
        return False
    begin = content.find(head) + len(head)
    data = np.frombuffer(content, dtype=np.uint8, offset=begin)
    return _breaks_rules(data) or (_zeros_are_nonsense(segments) and _has_zeros(data))


def _segments(content: bytes) -> Iterator[tuple[int, bytes]]:
    """Yield marker and body of the segments up to the first scan's, and nothing of no JPEG."""
    at = 2
    if content[:2] != bytes((0xFF, _START)):
        return
    while at + 4 <= len(content) and content[at] == 0xFF:
        kind, length = struct.unpack(">BH", content[at + 1 : at + 4])
        yield kind, content[at + 4 : at + 2 + length]
        if kind == _SCAN or length < 2:
            return
        at += 2 + length


def _breaks_rules(data: U8) -> bool:
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
    return not known.all() or not in_turn or bool(fill.max(initial=0) > LONGEST_FILL)


def _zeros_are_nonsense(segments: list[tuple[int, bytes]]) -> bool:
    """Tell whether bits of zero end no block of some table: each unit of the picture has one."""
    first = [
        symbol
        for kind, body in segments
        if kind == _TABLES
        for of_ac, symbol in _first_symbols(body)
        if of_ac
    ]
    return any(symbol not in (0x00, 0xF0) for symbol in first)


def _first_symbols(body: bytes) -> Iterator[tuple[bool, int]]:
    """Yield, of each table of codes, whether it is of AC coefficients and its all-zero code's."""
    at = 0
    while at + 18 <= len(body):
        yield body[at] >> 4 == 1, body[at + 17]
        at += 17 + sum(body[at + 1 : at + 17])


def _has_zeros(data: U8) -> bool:
    there = np.flatnonzero(data)
    return bool(np.diff(there).max(initial=0) > LONGEST_ZEROS)
