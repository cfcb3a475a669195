"""Black: what each pixel records without light, from the file or from the masked border.

The file's own level stands until the masked border contradicts it by more than the border's
standard error allows; then the border's level is used, on top of the file's pattern.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from auditor.black.border import BorderLevel
from auditor.black.limits import LARGEST_CORRECTION, LARGEST_UNCLAIMED, TRUSTED_ERRORS
from auditor.model.arrays import F64
from auditor.model.codes import BlackSource, Layout
from auditor.model.mosaic import Mosaic
from auditor.model.remark import Remark, RemarkCode, remark
from auditor.sensor.lattice import SensorLattice, lattice_counts


@dataclass(frozen=True, slots=True, eq=False)
class PlaneBlack:
    """The black level of one plane.

    Parameters
    ----------
    pattern_dn : array, shape (rows, cols)
        Black per place over one period of the black levels, for all places of the lattice.
    row_dn, column_dn : array or None
        Added per row and per column.
    mean_dn : float
        Mean over the plane's pixels.
    tag_dn : float
        What the file claims, likewise a mean.
    masked_dn, masked_error_dn : float or None
        What the masked border says, and its standard error.
    source : str
        "metadata" or "masked border".
    """

    pattern_dn: F64
    row_dn: F64 | None
    column_dn: F64 | None
    mean_dn: float
    tag_dn: float
    masked_dn: float | None
    masked_error_dn: float | None
    source: BlackSource
    remarks: tuple[Remark, ...] = ()


def plane_black(
    mosaic: Mosaic, lattice: SensorLattice, plane: int, border: BorderLevel | None
) -> PlaneBlack:
    """Settle the black level of one plane."""
    pattern = np.asarray(mosaic.black.pattern_dn, dtype=np.float64)
    if mosaic.layout is Layout.LINEAR:
        pattern = pattern.reshape(1, 1, -1)[:, :, plane]
    row, column, source = mosaic.black.row_dn, mosaic.black.column_dn, BlackSource.METADATA
    claimed = PlaneBlack(pattern, row, column, 0.0, 0.0, None, None, source)
    mean = mean_black_dn(claimed, lattice, plane)
    claimed = replace(claimed, mean_dn=mean, tag_dn=mean)
    if border is None:
        return claimed
    seen = replace(
        claimed,
        masked_dn=claimed.tag_dn + border.offset_dn,
        masked_error_dn=border.error_dn,
    )
    if abs(border.offset_dn) <= TRUSTED_ERRORS * border.error_dn:
        return seen
    allowed = LARGEST_CORRECTION if claimed.tag_dn > 0 else LARGEST_UNCLAIMED
    if abs(border.offset_dn) > allowed * max(1.0, mosaic.white_dn[plane] - claimed.tag_dn):
        far_off = remark(RemarkCode.BORDER_FAR_OFF, offset_dn=border.offset_dn)
        return replace(seen, remarks=(far_off,))
    return replace(
        seen,
        pattern_dn=claimed.pattern_dn + border.offset_dn,
        mean_dn=claimed.tag_dn + border.offset_dn,
        source=BlackSource.MASKED_BORDER,
    )


def mean_black_dn(black: PlaneBlack, lattice: SensorLattice, plane: int) -> float:
    """Return the mean black over the pixels of a plane, over all places where it has none."""
    longest = max(lattice.pixels.shape)
    sums, counts = black_sums_dn(black, lattice, plane, longest)
    if counts.sum() == 0:
        return float(black.pattern_dn.mean())
    return float(sums.sum() / counts.sum())


def black_sums_dn(
    black: PlaneBlack, lattice: SensorLattice, plane: int, cell_px: int
) -> tuple[F64, F64]:
    """Add up the black level of a plane's pixels in each cell, and count them.

    Returns
    -------
    sums, counts : array of float64, shape (rows, cols)
    """
    height, width = lattice.pixels.shape
    # rows and columns after which colours and black levels repeat together
    period_y, period_x = np.lcm(lattice.pattern.shape, black.pattern_dn.shape).tolist()
    shape = (-(-height // cell_px), -(-width // cell_px))
    sums, counts = np.zeros(shape), np.zeros(shape)
    for y in range(min(period_y, height)):
        for x in range(min(period_x, width)):
            if lattice.pattern[y % len(lattice.pattern), x % lattice.pattern.shape[1]] != plane:
                continue
            down = lattice_counts(height, cell_px, y, period_y)
            across = lattice_counts(width, cell_px, x, period_x)
            level = black.pattern_dn[y % len(black.pattern_dn), x % black.pattern_dn.shape[1]]
            pixels = np.outer(down.astype(np.float64), across)
            counts += pixels
            pixels *= level
            sums += pixels
            if black.row_dn is not None:
                sums += np.outer(_line_sums(black.row_dn, shape[0], cell_px, y, period_y), across)
            if black.column_dn is not None:
                sums += np.outer(down, _line_sums(black.column_dn, shape[1], cell_px, x, period_x))
    return sums, counts


def _line_sums(lines_dn: F64, cells: int, cell_px: int, offset: int, step: int) -> F64:
    """Add up what is given per row (or column) over the rows of one place, a cell each."""
    sums = np.zeros(cells)
    positions = np.arange(offset, len(lines_dn), step)
    inside = positions[positions // cell_px < cells]
    np.add.at(sums, inside // cell_px, lines_dn[inside])
    return sums
