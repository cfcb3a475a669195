"""Rows at which the picture breaks: displaced sideways, or lifted by one amount throughout.

A decoder that loses its place goes on with pixels in the wrong columns or on a wrong level. No
edge in a scene does that: what lies below an edge is another thing, not the same thing moved.
"""

from __future__ import annotations

import numpy as np

from auditor.defects.limits import (
    ALIKE,
    HOT_BOUND,
    LEAST_MOVE_PX,
    LIFT_SHARE,
    ROW_CONTRAST,
    SLOPE_OFF,
    SPIKE,
    UNALIKE,
)
from auditor.model.arrays import F64, MAD_TO_SIGMA
from auditor.sensor.lattice import SensorLattice

STRIPS = 10
STRIP_PX = 16

AROUND = 7


def find_row_break(lattice: SensorLattice) -> int | None:
    """Return the first row of the lower part of a broken picture; None for a whole one."""
    least_rows = 64  # fewer do not tell how rows change without a break
    if min(lattice.pixels.shape) < least_rows:
        return None
    step = len(lattice.pattern)
    change = _row_changes(lattice, step)
    for row in _suspects(change):
        if _is_break(lattice, row, step):
            return row + step
    return None


def _row_changes(lattice: SensorLattice, step: int) -> F64:
    """Mean difference of each row to the next of the same colours, in strips of columns."""
    pixels, width = lattice.pixels, lattice.pixels.shape[1]
    starts = np.linspace(0, max(0, width - STRIP_PX), STRIPS).astype(np.int64)
    strips = [pixels[:, start : start + STRIP_PX] for start in np.unique(starts)]
    own = np.concatenate(strips, axis=1)
    change = np.maximum(own[step:], own[:-step]) - np.minimum(own[step:], own[:-step])
    total: F64 = change.sum(axis=1, dtype=np.uint32) / STRIP_PX
    return total / len(starts)


def _suspects(change: F64) -> list[int]:
    """Rows that differ from the next one far more than the rows around them do."""
    windows = np.lib.stride_tricks.sliding_window_view(
        np.pad(change, AROUND, mode="reflect"), 2 * AROUND + 1
    )
    usual = np.partition(windows, AROUND, axis=1)[:, AROUND]
    spike = change / np.maximum(usual, 1.0)
    inside = slice(AROUND, len(change) - AROUND)
    rows = np.arange(len(change))[inside][spike[inside] > SPIKE]
    chosen: list[int] = []
    suspects, one_event = 6, 4  # rows so near to one another are one break
    for row in rows[np.argsort(spike[rows])[::-1]].tolist():
        if len(chosen) < suspects and all(abs(row - other) > one_event for other in chosen):
            chosen.append(row)
    return chosen


def _is_break(lattice: SensorLattice, row: int, step: int) -> bool:
    """Hold the rows above a suspect against the rows below it."""
    first = row % step
    lines = lattice.pixels[first::step, :: lattice.pattern.shape[1]]
    place = row // step
    above = lines[max(0, place - 2) : place + 1].astype(np.float64)
    below = lines[place + 1 : place + 4].astype(np.float64)
    if len(above) < 3 or len(below) < 3:
        return False
    noise = float(np.abs(np.diff(above, axis=0)).mean() + np.abs(np.diff(below, axis=0)).mean())
    upper, lower = above.mean(axis=0), below.mean(axis=0)
    if min(_scatter(upper), _scatter(lower)) < ROW_CONTRAST * max(noise, 1.0) / 2.0:
        return False
    likeness = _likeness(upper, lower)
    return _is_lifted(upper, lower, noise, float(likeness[0])) or _is_moved(likeness)


def _is_lifted(upper: F64, lower: F64, noise: float, alike: float) -> bool:
    """Whether the two are alike as they lie, one of them lifted by one amount throughout."""
    lift = lower - upper
    size = abs(float(np.median(lift)))
    return (
        alike >= ALIKE
        and size > max(noise, 1.0)
        and _scatter(lift) < LIFT_SHARE * size
        and abs(_slope(upper, lower) - 1.0) < SLOPE_OFF
    )


def _slope(upper: F64, lower: F64) -> float:
    """Return how the contrast of one row grows with that of the other, whichever is the noisier."""
    above, below = (line - np.median(line) for line in (upper, lower))
    bound = HOT_BOUND * max(_scatter(upper), _scatter(lower))
    above, below = (np.clip(line, -bound, bound) for line in (above, below))
    return float(np.sqrt((below @ below) / max(float(above @ above), 1e-12)))


def _is_moved(likeness: F64) -> bool:
    """Whether the two are alike once one of them is moved sideways, and not before."""
    best = int(likeness.argmax())
    move = min(best, len(likeness) - best)
    aside = np.abs(np.arange(len(likeness)) - best)
    away = np.minimum(aside, len(likeness) - aside) > 2 * _grain(len(likeness))
    others = max(float(likeness[away].max(initial=-1.0)), float(likeness[0]))
    alone = others < UNALIKE * float(likeness[best])
    return move >= LEAST_MOVE_PX and float(likeness[best]) >= ALIKE and alone


def _likeness(upper: F64, lower: F64) -> F64:
    """Correlation at every displacement (cyclic), of what is fine."""
    fine = [_fine(line) for line in (upper, lower)]
    spectra = [np.fft.rfft(line) for line in fine]
    size = float(np.sqrt((fine[0] ** 2).sum() * (fine[1] ** 2).sum()))
    crossed = np.fft.irfft(np.conj(spectra[0]) * spectra[1], len(upper))
    likeness: F64 = crossed / max(size, 1e-12)
    return likeness


def _grain(length: int) -> int:
    """Half the size of what counts as fine, in pixels of one colour."""
    return max(3, length // 32)


def _fine(line: F64) -> F64:
    """Take off what is coarse, and cut what stands out: one hot pixel is like any other."""
    wide = _grain(len(line))
    below = np.concatenate([[0.0], np.cumsum(np.pad(line, wide, mode="edge"))])
    smooth = (below[2 * wide + 1 :] - below[: -2 * wide - 1]) / (2 * wide + 1)
    bound = HOT_BOUND * _scatter(line - smooth)
    fine: F64 = np.clip(line - smooth, -bound, bound)
    return fine


def _scatter(values: F64) -> float:
    """Robust standard deviation: hot pixels count for nothing."""
    return MAD_TO_SIGMA * float(np.median(np.abs(values - np.median(values))))
