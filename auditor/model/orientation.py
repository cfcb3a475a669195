"""Turning pictures and places upright by the Exif orientation (1 to 8)."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.model.arrays import Scalar

_TURNS: dict[int, tuple[int, bool]] = {
    # orientation: (counter-clockwise quarter turns, then mirrored left to right)
    1: (0, False),
    2: (0, True),
    3: (2, False),
    4: (2, True),
    5: (3, True),
    6: (3, False),
    7: (1, True),
    8: (1, False),
}

_BACK = {6: 8, 8: 6}
"""The orientation that undoes another; all others undo themselves."""


def as_on_sensor(
    picture: NDArray[Scalar], orientation: int | None, *, rows_axis: int = 0
) -> NDArray[Scalar]:
    """Undo :func:`upright`."""
    return upright(picture, _BACK.get(orientation or 1, orientation), rows_axis=rows_axis)


def upright(
    picture: NDArray[Scalar], orientation: int | None, *, rows_axis: int = 0
) -> NDArray[Scalar]:
    """Turn a picture upright.

    Parameters
    ----------
    picture : array
        Rows on ``rows_axis``, columns on the next axis.
    orientation : int or None
        Exif orientation; anything but 2 to 8 leaves the picture as it is.

    Returns
    -------
    array
        A view, or the picture itself where nothing is to be turned.
    """
    turns, mirrored = turns_of(orientation)
    if not (turns or mirrored):
        return picture
    axes = (rows_axis, rows_axis + 1)
    turned: NDArray[Any] = np.rot90(picture, turns, axes=axes)
    return np.flip(turned, axis=axes[1]) if mirrored else turned


def turns_of(orientation: int | None) -> tuple[int, bool]:
    """Return how many quarters a picture is turned counter-clockwise, and whether mirrored then."""
    return _TURNS.get(orientation or 1, (0, False))


Box = tuple[float, float, float, float]
"""Left, top, right and bottom, fractions of a picture."""


def upright_box(box: Box, orientation: int | None) -> Box:
    """Return where a part of a picture lies once :func:`upright` has turned it."""
    left, top, right, bottom = box
    turns, mirrored = turns_of(orientation)
    for _ in range(turns):
        left, top, right, bottom = top, 1.0 - right, bottom, 1.0 - left
    return (1.0 - right, top, 1.0 - left, bottom) if mirrored else (left, top, right, bottom)
