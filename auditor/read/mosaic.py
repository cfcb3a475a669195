"""Putting a mosaic together from what the decoder and the file's own tags tell."""

from __future__ import annotations

import numpy as np

from auditor.model.arrays import F64
from auditor.model.codes import Layout
from auditor.model.mosaic import BlackLevels, Mosaic
from auditor.model.remark import Remark, RemarkCode, remark
from auditor.read.decoded import Decoded, read_pattern
from auditor.read.dng.tags import DngTags
from auditor.read.levels import (
    bit_depth,
    black_levels,
    linear_limits,
    noise_by_plane,
    white_levels,
)
from auditor.read.masked import masked_areas

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
