"""Putting a mosaic together from what the decoder and the file's own tags tell: pixels and levels.

Black, white, linearity and noise per plane are the file's own tags where it is a DNG. What these
mean: DNG specification 1.7, "Mapping Raw Values to Linear Reference Values": black is BlackLevel's
pattern plus BlackLevelDeltaH of the column plus BlackLevelDeltaV of the row, all counted from the
top left of ActiveArea.
"""

from __future__ import annotations

import math

import numpy as np

from auditor.model.arrays import F64
from auditor.model.codes import Layout
from auditor.model.mosaic import BlackLevels, Mosaic
from auditor.model.remark import Remark, RemarkCode, remark
from auditor.read.decoded import Decoded, Pattern, read_pattern
from auditor.read.dng.tags import DngTags
from auditor.read.masked import masked_areas

_RGB = "RGB"
MISFIT = 2.0
"""Data this many times the tag's white level were rescaled by the decoder."""


def black_levels(
    decoded: Decoded, pattern: Pattern, tags: DngTags | None, remarks: list[Remark]
) -> BlackLevels:
    """Return the black level of each place from the top-left visible pixel."""
    if tags is None or tags.black is None:
        decoders = np.array(decoded.black_dn, dtype=np.float64)
        linear = pattern.layout is Layout.LINEAR
        return BlackLevels(decoders[None, None, :3] if linear else decoders[pattern.colours])
    down, across = decoded.top - tags.active[0], decoded.left - tags.active[1]
    cells = np.array(tags.black, dtype=np.float64).reshape(*tags.black_dim, tags.samples)
    row_dn = _lines(tags.black_rows, down, decoded.height, tags.active[2] - tags.active[0], remarks)
    column_dn = _lines(
        tags.black_columns, across, decoded.width, tags.active[3] - tags.active[1], remarks
    )
    if pattern.layout is Layout.LINEAR:
        if cells.shape[:2] != (1, 1):
            remarks.append(remark(RemarkCode.BLACK_MEAN_USED))
        return BlackLevels(cells.mean(axis=(0, 1))[None, None, :3], row_dn, column_dn)
    return BlackLevels(np.roll(cells[:, :, 0], (-down, -across), (0, 1)), row_dn, column_dn)


def _lines(
    values: tuple[float, ...], skip: int, length: int, expected: int, remarks: list[Remark]
) -> F64 | None:
    """Return what is added a row or a column over the visible part; None where nothing is."""
    if not any(values):
        return None
    if len(values) != expected:
        remarks.append(remark(RemarkCode.BLACK_LIST_UNFIT))
        return None
    found = np.zeros(length)
    first = max(0, skip)
    part = values[first : skip + length]
    found[first - skip : first - skip + len(part)] = part
    return found


def white_levels(
    decoded: Decoded, pattern: Pattern, tags: DngTags | None, remarks: list[Remark]
) -> tuple[float, ...]:
    """Return the saturation claimed by the file, per plane."""
    names = pattern.names
    if tags is None:
        return (decoded.white_dn,) * len(names)
    # one value, or one a plane; writers that give three of a colour pattern, for which one is
    # asked, mean the colours in the order of CFAPlaneColor
    if pattern.layout is Layout.LINEAR and len(tags.white) >= len(names):
        claimed = tags.white[: len(names)]
    elif len(tags.white) == len(tags.plane_colours):
        claimed = tuple(tags.white[colour_index(name, tags)] for name in names)
    else:
        claimed = tags.white[:1] * len(names)
    if float(decoded.visible[::16].max()) > MISFIT * (max(claimed) + 1.0):
        own_dn = decoded.white_dn
        remarks.append(remark(RemarkCode.WHITE_TAG_LOW, claimed_dn=max(claimed), decoder_dn=own_dn))
        return (own_dn,) * len(names)
    return tuple(float(level) for level in claimed)


def colour_index(name: str, tags: DngTags) -> int:
    """Return where a plane's colour stands in the order of CFAPlaneColor; 0 for monochrome."""
    number = _RGB.find(name[0])
    return tags.plane_colours.index(number) if number in tags.plane_colours else 0


def linear_limits(
    decoded: Decoded,
    pattern: Pattern,
    tags: DngTags | None,
    black: BlackLevels,
    white_dn: tuple[float, ...],
) -> tuple[float, ...] | None:
    """Return where linearity ends, per plane; None where the file does not say.

    For a DNG ``black + limit x (white - black)`` (LinearResponseLimit is a fraction of that
    range); else the decoder's reading of the maker's own tag.
    """
    if tags is None:
        limits = decoded.linear_limit_dn
        if limits is None:
            return None
        return tuple(limits[pattern.colour_of(plane)] for plane in range(len(pattern.names)))
    if tags.linear_limit is None:
        return None
    blacks = [plane_black_dn(black, pattern, plane) for plane in range(len(pattern.names))]
    return tuple(
        low + tags.linear_limit * (high - low) for low, high in zip(blacks, white_dn, strict=True)
    )


def plane_black_dn(black: BlackLevels, pattern: Pattern, plane: int) -> float:
    """Return the mean black of a plane over one common period of colours and black levels."""
    if pattern.layout is Layout.LINEAR:
        return float(black.pattern_dn[0, 0, plane])
    rows, cols = np.lcm(pattern.planes.shape, black.pattern_dn.shape)
    planes, levels = (
        np.tile(part, (rows // part.shape[0], cols // part.shape[1]))
        for part in (pattern.planes, black.pattern_dn)
    )
    return float(levels[planes == plane].mean())


def noise_by_plane(pattern: Pattern, tags: DngTags | None) -> dict[str, tuple[float, float]]:
    """Return the noise profile by plane name; empty where the file holds none that fits."""
    pairs = tags.noise_profile if tags is not None else ()
    if tags is None or not pairs:
        return {}
    if len(pairs) == 1:
        return dict.fromkeys(pattern.names, pairs[0])
    if len(pairs) < len(tags.plane_colours) or pattern.layout is Layout.MONO:
        return {}
    return {name: pairs[colour_index(name, tags)] for name in pattern.names}


def bit_depth(white_dn: tuple[float, ...], bits: int | None) -> int:
    """Return the bits a sample that the data use: those stored, fewer where white needs fewer."""
    needed = max(1, math.ceil(math.log2(max(2.0, max(white_dn) + 1.0))))
    return min(needed, bits) if bits else needed


ODD_ASPECT = 0.005


def build_mosaic(
    decoded: Decoded,
    tags: DngTags | None,
    remarks: list[Remark],
    *,
    white_balance: dict[str, float],
    own_black: F64 | None = None,
) -> Mosaic:
    """Return the mosaic of a decoded file.

    Parameters
    ----------
    tags : DngTags or None
        None for other kinds; levels are then the decoder's.
    remarks : list of Remark
        Added to: what was odd.
    own_black : array or None
        Black levels by place that another kind of file holds itself.

    Raises
    ------
    UnreadableFile
        The colours lie in no known way.
    """
    pattern = read_pattern(decoded, remarks)
    remarks.extend(tags.remarks if tags is not None else ())
    black = black_levels(decoded, pattern, tags, remarks)
    if own_black is not None and pattern.layout in (Layout.BAYER, Layout.XTRANS):
        # the file's own level of each place in place of the decoder's least one
        black = BlackLevels(own_black) if np.any(own_black) else black
    white_dn = white_levels(decoded, pattern, tags, remarks)
    if abs(decoded.pixel_aspect - 1.0) > ODD_ASPECT:
        remarks.append(remark(RemarkCode.ODD_ASPECT, aspect=decoded.pixel_aspect))
    pixels = decoded.visible
    pixels.flags.writeable = False
    return Mosaic(
        pixels=pixels,
        layout=pattern.layout,
        pattern=pattern.planes,
        black=black,
        white_dn=white_dn,
        bit_depth=bit_depth(white_dn, tags.bits if tags is not None else None),
        masked=masked_areas(decoded, tags, black, max(white_dn), remarks),
        linear_limit_dn=linear_limits(decoded, pattern, tags, black, white_dn),
        white_balance=white_balance,
        noise_profile=noise_by_plane(pattern, tags),
        pixel_aspect=decoded.pixel_aspect,
    )
