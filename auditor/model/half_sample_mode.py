"""The value that most tiles agree on, whatever the rest of the picture does.

Tiles that hold still agree to a few hundredths of a stop; clouds, waves and lit edges scatter
widely and not evenly to both sides. So neither the mean nor the median of all tiles will do:
the densest part is sought, the shortest interval that holds a set share of the tiles, narrowed
again while it is wide (a half-sample mode), and the median is taken round it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.model.arrays import F64, MAD_TO_SIGMA

PART = 0.4
"""Share of the values that the shortest interval holds."""

NARROW_STOPS = 0.06
"""An interval this narrow is not narrowed further."""

FEWEST = 120
"""Values below which an interval is not narrowed further."""

LEAST_VALUES = 12
"""Fewer values tell nothing."""


@dataclass(frozen=True, slots=True)
class Core:
    """A robust location.

    Parameters
    ----------
    value : float
        Stops.
    spread : float
        Standard deviation of the tiles that agree, in stops.
    count : int
        Tiles within three spreads (at least 0.05 stop) of the value.
    of : int
        All tiles asked.
    """

    value: float
    spread: float
    count: int
    of: int


def half_sample_mode(values: NDArray[Any]) -> Core | None:
    """Return the core of some values; None where fewer than twelve are numbers.

    Parameters
    ----------
    values : array of floats, any shape
        NaN is left out.
    """
    return core_of_sorted(np.sort(values[np.isfinite(values)], axis=None))


def core_of_sorted(values: NDArray[Any]) -> Core | None:
    """Return the core of numbers that are sorted already."""
    line = values.astype(np.float64)
    if len(line) < LEAST_VALUES:
        return None
    dense = _shortest(line)
    while dense[-1] - dense[0] > NARROW_STOPS and len(dense) * PART > FEWEST:
        dense = _shortest(dense)
    middle = _middle(dense)
    spread = max(1e-3, float(dense[-1] - dense[0]) / 1.05)
    for _ in range(3):
        near = _within(line, middle, max(1.5 * spread, 0.02))
        middle = _middle(near)
        spread = max(1e-3, MAD_TO_SIGMA * 1.2 * median_off(near, middle))
    count = len(_within(line, middle, max(3.0 * spread, 0.05)))
    return Core(middle, spread, count, len(line))


def median_off(line: NDArray[Any], middle: float) -> float:
    """Return the median of how far the values of a sorted line lie off one value.

    The nearer half of them is one run of the line; to sort the distances would take longer.
    """
    half = len(line) // 2 + 1
    low, high = line[: len(line) - half], line[half:]  # ends of the runs, each with the next value
    first = int(np.count_nonzero(middle - low > high - middle))
    run = line[first : first + half]
    farthest = max(abs(run[0] - middle), abs(run[-1] - middle))
    if len(line) % 2 == 0:
        run = run[1:] if abs(run[0] - middle) == farthest else run[:-1]
    before = max(abs(run[0] - middle), abs(run[-1] - middle))
    return float((farthest + before) / 2)


def _shortest(line: F64) -> F64:
    """Return the shortest run of a sorted line that holds :data:`PART` of it."""
    size = max(2, round(PART * len(line)))
    widths = line[size - 1 :] - line[: len(line) - size + 1]
    start = int(np.argmin(widths))
    return line[start : start + size]


def _middle(line: F64) -> float:
    """Return the median of a line that is sorted, or parted at its middle."""
    return float((line[(len(line) - 1) // 2] + line[len(line) // 2]) / 2.0)


def _within(line: F64, middle: float, reach: float) -> F64:
    first, last = line.searchsorted(middle - reach), line.searchsorted(middle + reach)
    return line[first : max(last, first + 1)]
