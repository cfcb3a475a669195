"""Falling light or a filter? Decided on the whole set-up, never on two frames alone.

Ambient light may drift; a filter comes and goes at once. The light between two unfiltered
frames cannot have been lower than

- what any frame recorded, less the fastest that daylight falls or rises (twilight changes by
  about 1.3 stops for a degree of the sun's altitude, and the sun sinks by at most 0.25° a
  minute: at most 0.35 stop a minute; illuminances of twilight from memory), and
- the straight line between unfiltered frames before and after, less a share of the change
  between them for the line's bend; here the frame must lie lower than both, for light that only
  falls, however unevenly, never comes back.

A longer frame that lies under one of them by the least filter strength had something before its
lens, unless the frames after it lie as low: then the light had dropped and stayed down. Every
frame's level is a lower bound of the light, filtered or not, so a wrong guess elsewhere can
only miss a filter, never invent one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from auditor.group.limits import (
    BEND,
    BEND_ERROR,
    DIP_SHARE,
    FASTEST_STOPS_PER_S,
    JUMP_STOPS,
    LEVEL_ERROR_STOPS,
    LONGEST_SPAN_S,
)
from auditor.model.arrays import F64, I64, Bool

UNKNOWN_GAP_S = 120.0
"""Taken to pass from frame to frame where no clock tells."""


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """A set-up's frames in order of time.

    Parameters
    ----------
    middle_s : array, shape (n,)
        Middle of each exposure; see :func:`moments`.
    time_s : array, shape (n,)
        Shutter times.
    level_stops : array, shape (n,)
        Signal over settings; NaN where unknown.
    timed : bool
        False where a clock is missing, so that ``middle_s`` holds the order alone.
    tint_stops : array, shape (n, 2), or None
        Red and blue of the light less its green, of unfiltered frames; NaN where unknown.
    """

    middle_s: F64
    time_s: F64
    level_stops: F64
    timed: bool = True
    tint_stops: F64 | None = None


class Scatter(NamedTuple):
    """How far exposures of one setting scatter about light that drifts.

    Parameters
    ----------
    stops : float
        Root of the mean square.
    freedom : int
        Degrees of freedom: frames less two.
    """

    stops: float
    freedom: int


def scatter_of(series: Series, alike: Bool) -> Scatter | None:
    """Tell how far frames of one setting lie off the line between those before and after.

    What a bend of the light may do is taken off, and no more than a jump of the light counts.

    Parameters
    ----------
    alike : array of bool, shape (n,)
        Unfiltered frames of one setting.

    Returns
    -------
    Scatter or None
        None with fewer than three near enough in time.
    """
    places = np.flatnonzero(alike & np.isfinite(series.level_stops))
    at, level = series.middle_s[places], series.level_stops[places]
    span, change = at[2:] - at[:-2], level[2:] - level[:-2]
    share = np.divide(at[1:-1] - at[:-2], span, out=np.full(len(span), 0.5), where=span > 0)
    off = np.abs(level[1:-1] - level[:-2] - share * change) - BEND_ERROR * np.abs(change)
    off = np.clip(off, 0.0, JUMP_STOPS)[span <= LONGEST_SPAN_S]
    if not len(off):
        return None
    of_three = (1.0 + share**2 + (1.0 - share) ** 2)[span <= LONGEST_SPAN_S]
    return Scatter(math.sqrt(float(np.mean(off**2 / of_three))), len(off))


def moments(middles_s: Sequence[float | None]) -> F64:
    """Return moments for all; where a clock is missing, two minutes pass from frame to frame."""
    if all(moment is not None for moment in middles_s):
        return np.array(middles_s, dtype=np.float64)
    return np.arange(len(middles_s), dtype=np.float64) * UNKNOWN_GAP_S


def filtered(series: Series, least_stops: float) -> Bool:
    """Tell which frames had a filter before the lens.

    Parameters
    ----------
    least_stops : float
        A difference below this is not a filter; a filtered frame is also longer than the
        unfiltered one by at least this.

    Returns
    -------
    array of bool, shape (n,)
        False also where it cannot be told.
    """
    level, at = series.level_stops, series.middle_s
    flagged = np.zeros(len(level), dtype=bool)
    for i in np.flatnonzero(np.isfinite(level)):
        others = _shorter(series, int(i), least_stops) & np.isfinite(level)
        if others.any():
            fall = np.abs(at[others] - at[i]) * FASTEST_STOPS_PER_S + LEVEL_ERROR_STOPS
            flagged[i] = (level[others] - fall).max() - level[i] >= least_stops
    for _ in range(len(flagged)):
        more = (_against_line(series, flagged, least_stops) > 0) & ~flagged
        if not more.any():
            break
        flagged = flagged | more
    for _ in range(len(flagged)):
        on_line = (_against_line(series, flagged, least_stops) < 0) & flagged
        if not on_line.any():
            break
        flagged = flagged & ~on_line
    return flagged


def _shorter(series: Series, i: int, least_stops: float) -> Bool:
    """Tell which frames' shutter times are shorter than frame i's by the least strength."""
    longest = series.time_s[i] * 2.0**-least_stops * (1.0 + 1e-6)
    shorter: Bool = (series.time_s > 0) & (series.time_s <= longest)
    return shorter


def _against_line(series: Series, flagged: Bool, least_stops: float) -> I64:
    """Compare each frame with the line between its unflagged neighbours.

    Returns
    -------
    array of int64, shape (n,)
        1 where the frame lies under it, and lower than both, as only a filter puts it; -1 where
        it does not lie under it (light that stays down after a drop); 0 where the neighbours do
        not tell.
    """
    verdict = np.zeros(len(flagged), dtype=np.int64)
    level, at = series.level_stops, series.middle_s
    clear = np.flatnonzero(~flagged & np.isfinite(level))
    clear = clear[np.argsort(at[clear], kind="stable")]
    moments_s = at[clear]
    for i in np.flatnonzero(np.isfinite(level)):
        before = int(np.searchsorted(moments_s, at[i], side="left")) - 1
        after = int(np.searchsorted(moments_s, at[i], side="right"))
        if before < 0 or after >= len(clear):
            continue
        j, k = clear[before], clear[after]
        line = np.interp(at[i], [at[j], at[k]], [level[j], level[k]])
        slack = LEVEL_ERROR_STOPS + BEND * abs(level[j] - level[k])
        if not _shorter(series, int(i), least_stops)[[j, k]].any():
            continue
        under = line - slack - level[i] >= least_stops
        dips = min(level[j], level[k]) - level[i] >= DIP_SHARE * least_stops
        verdict[i] = -1 if not under else int(dips)
    return verdict


@dataclass(frozen=True, slots=True)
class Between:
    """How a moment lies between a frame before and a frame after.

    Parameters
    ----------
    weight_after : float
        0 at the frame before, 1 at the frame after.
    mean_stops : float
        By how much the mean light over the exposure exceeds the light at its middle, for a
        drift that is even in stops.
    """

    weight_after: float
    mean_stops: float


def between(
    before_s: float, after_s: float, middle_s: float, time_s: float, change_stops: float
) -> Between:
    """Place an exposure between two others, the light changing evenly in stops."""
    span_s = max(1e-6, after_s - before_s)
    return Between(
        min(1.0, max(0.0, (middle_s - before_s) / span_s)),
        mean_over_middle(change_stops / span_s * time_s),
    )


def mean_over_middle(change_stops: float) -> float:
    """Return by how many stops an exposure's mean light exceeds the light at its middle.

    Light that drifts by g stops over the exposure has the mean ``sinh(x)/x`` with
    ``x = g ln 2 / 2`` over the light at its middle.
    """
    x = change_stops * math.log(2.0) / 2.0
    return 0.0 if abs(x) < 1e-6 else math.log2(math.sinh(x) / x)
