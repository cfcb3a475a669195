"""Whether a lossless JPEG ends with the samples that were decoded from it.

A decoder that meets foreign data within a tile goes on with wrong codes, finds its place again and
takes as many samples as it was asked for: but no longer from the same bits. What it took for the
last samples then lies before the end of the data, or beyond it, and it says nothing. So the last
samples that are not as foretold are encoded once more, which the codes of ITU-T T.81 (annex H)
allow in one way only, and looked for where their bits must lie before the end mark.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np

from auditor.model.arrays import I32
from auditor.read.jpeg import JpegHead

TOLD_BY = 12
"""Samples other than foretold, from the end on: some 100 bits, which chance does not repeat."""

LOOKED_AT = ((1, 64), (16, 1 << 16), (256, 1 << 16), (1 << 16, 1 << 16))
"""Rows and samples of a row in which they are looked for: a blown or padded end holds none."""

FROM_ABOVE = (2, 4, 6)
"""Predictors that foretell a row which repeats the one above to the last sample."""

LONGEST = 4096
"""Samples from the first of them to the last."""

MOST_PADDING_BITS = 8 * 4 + 7
"""A scan is filled up to whole bytes, and by some writers to whole words."""

USUAL_FILL = 16
"""Bytes behind the end mark, looked through before the whole tile is."""

_END_MARK = b"\xff\xd9"
_WHOLE_BITS = 16
"""A difference of so many bits has one value only, and no bits beside its code."""

Codes = dict[int, tuple[int, int]]
"""Of each size of a difference: its code, and the bits of the code."""


def ends_as_decoded(
    content: memoryview, head: JpegHead | None, samples: np.ndarray[Any, np.dtype[Any]]
) -> bool:
    """Tell whether the data end with the codes of the last samples.

    Parameters
    ----------
    content : memoryview
        One tile, with an end mark.
    head : JpegHead or None
        What it says of itself.
    samples : array
        What was decoded of it, in any shape.

    Returns
    -------
    bool
        True also where that cannot be told: with restart marks, point transforms, several scans.
    """
    codes = [] if head is None else _codes(head)
    if head is None or not codes:
        return True
    picture = samples.reshape(head.height, -1)
    told = picture[: _rows_told(picture, head)]
    differences = _last_differences(told, head)
    places = np.flatnonzero(differences)[-TOLD_BY:]
    places = places[places > places[-1] - LONGEST] if len(places) else places
    if not len(places):
        return True
    first, after = int(places[0]), int(places[-1]) + 1
    bits, length = 0, 0
    for back, difference in enumerate(differences[first:after].tolist(), first - len(differences)):
        size = abs(difference).bit_length()
        code, code_bits = codes[back % len(codes)].get(size, (0, 0))
        own = 0 if size == _WHOLE_BITS else size
        low = difference - (difference < 0) & (1 << own) - 1
        bits = bits << code_bits + own | code << own | low
        length += code_bits + own
    foretold = len(differences) - after + (len(picture) - len(told)) * picture.shape[1]
    whole, rest = divmod(foretold, len(codes))
    even = [table.get(0, (0, 0))[1] for table in codes]
    return _is_near_end(content, bits, length, whole * sum(even) + sum(even[len(even) - rest :]))


def _codes(head: JpegHead) -> list[Codes]:
    """Return the codes of each component; none where the end of the data tells nothing."""
    selected, (predictor, _, shift) = head.scan[2:-3:2], head.scan[-3:]
    tables = code_tables(head.tables)
    codes = [tables.get(one >> 4, {}) for one in selected]
    told = 1 <= predictor <= 7 and not shift and not head.restarts and head.height > 1
    return codes if told and len(codes) == head.components and all(codes) else []


@lru_cache(maxsize=64)
def code_tables(body: bytes) -> dict[int, Codes]:
    """Return the codes of each table (T.81, annex C): the shortest first, counted up."""
    tables: dict[int, Codes] = {}
    while len(body) > 16:
        code, at, codes = 0, 17, Codes()
        for bits, count in enumerate(body[1:17], 1):
            for size in body[at : at + count]:
                codes[size] = code, bits
                code += 1
            at, code = at + count, code << 1
        tables[body[0]] = codes
        body = body[at:]
    return tables


def _rows_told(picture: Any, head: JpegHead) -> int:
    """Count the rows without those at the end that are foretold whole: a tile is often padded."""
    last = picture[-1]
    if not np.array_equal(picture[-2], last):
        return len(picture)
    even = np.array_equal(last[head.components :], last[: -head.components])
    if not even and head.scan[-3] not in FROM_ABOVE:
        return len(picture)
    others = np.flatnonzero((picture != last).any(axis=1))
    return int(others[-1]) + 2 if len(others) else 1


def _last_differences(picture: Any, head: JpegHead) -> I32:
    """Return what the last samples differ from those that they are foretold by (T.81, H.1)."""
    found, components = np.empty(0, dtype=np.int32), head.components
    for rows, columns in LOOKED_AT if len(picture) > 1 else ():
        window = picture[-1 - min(rows, len(picture) - 1) :, -columns * components :]
        if np.count_nonzero(window[:, 1:] != window[:, :-1]) < TOLD_BY:
            continue  # nothing there, and cheaper to see
        window = window.astype(np.int32)
        above, own = window[:-1], window[1:]
        found = own[:, components:] - _foretold(above, own, head)
        if columns >= head.width:  # the first of a row by the one above
            first = own[:, :components] - above[:, :components]
            found = np.concatenate([first, found], axis=1)
        if np.count_nonzero(found) >= TOLD_BY:
            break
    # counted round at 16 bits, as decoders do
    return (found.ravel() + 32767 & 0xFFFF) - 32767


def _foretold(above: I32, own: I32, head: JpegHead) -> I32:
    """Return what the samples but the first of each row are foretold as (T.81, table H.1)."""
    components, predictor = head.components, head.scan[-3]
    left, upper, corner = own[:, :-components], above[:, components:], above[:, :-components]
    if predictor <= 3:
        return (left, upper, corner)[predictor - 1]
    if predictor == 7:
        return left + upper >> 1
    added = (left + upper - corner, left + (upper - corner >> 1), upper + (left - corner >> 1))
    return added[predictor - 4]


def _is_near_end(content: memoryview, bits: int, length: int, behind: int) -> bool:
    """Tell whether some bits lie so many before the end, but for those that fill it up."""
    most = 2 * (length + behind + MOST_PADDING_BITS) // 8 + 2
    tail = bytes(content[-most - USUAL_FILL :])
    end = tail.rfind(_END_MARK)
    if end < most:
        tail = bytes(content)
        end = tail.rfind(_END_MARK)
    held = int.from_bytes(tail[max(0, end - most) : end].replace(b"\xff\0", b"\xff"), "big")
    mask = (1 << length) - 1
    return any(
        held >> behind + padding & mask == bits
        and held & (1 << padding) - 1 in (0, (1 << padding) - 1)
        for padding in range(MOST_PADDING_BITS + 1)
    )
