"""Connected patches in a map of shares."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from auditor.model.arrays import F32, F64, I64, Bool


@dataclass(frozen=True, slots=True)
class RawPatch:
    """A connected patch, in shares of the map it was found in.

    Parameters
    ----------
    share : float
        Of the whole map.
    centre : (x, y)
        Centre of gravity, 0 to 1 from the left and from the top.
    box : (left, top, right, bottom)
        Outer edges of its tiles, 0 to 1.
    """

    share: float
    centre: tuple[float, float]
    box: tuple[float, float, float, float]


def largest_patch(
    share_map: F32 | Bool, threshold: float, area: F64 | None = None
) -> RawPatch | None:
    """Find the largest connected patch of tiles, with what lies in the tiles right around it.

    A patch ends within tiles: those at its rim are partly covered, and left out they would make
    every patch too small, a small one by a third.

    Parameters
    ----------
    share_map : array of float32, shape (rows, cols)
        Share of each tile that counts.
    threshold : float
        A tile is of the core of a patch from this share on.
    area : array of float64, shape (rows, cols), optional
        Share of the map that each tile covers; alike by default.

    Returns
    -------
    RawPatch or None
        The patch whose core holds most; None where no tile reaches the threshold.
    """
    shares = np.asarray(share_map, dtype=np.float64)
    weights = shares / shares.size if area is None else shares * area
    core = shares >= threshold
    if not core.any():
        return None
    labels, count = connected(core)
    sums = np.bincount(labels.ravel(), weights=weights.ravel(), minlength=count + 1)
    sums[0] = -1.0
    own = labels == int(sums.argmax())
    ground = np.pad(own, 1)
    wide = ground[:, :-2] | ground[:, 1:-1] | ground[:, 2:]
    near = wide[:-2] | wide[1:-1] | wide[2:]
    y, x = np.nonzero(np.where(own | (near & ~core), weights, 0.0))
    mass, (rows, cols) = weights[y, x], core.shape
    total = float(mass.sum())
    across, down = float(((x + 0.5) * mass).sum()), float(((y + 0.5) * mass).sum())
    left, top = float(x.min() / cols), float(y.min() / rows)
    right, bottom = float((x.max() + 1) / cols), float((y.max() + 1) / rows)
    centre = (across / total / cols, down / total / rows)
    return RawPatch(total, centre, (left, top, right, bottom))


def connected(core: Bool) -> tuple[I64, int]:
    """Give each connected patch a number; tiles that meet at a corner belong together.

    For maps of some hundred tiles a side, which is what an audit has thousands of and what a
    library of images is too slow to load for. Runs of a row are joined with those they touch in
    the row above, and each takes the least number that it can reach (Shiloach and Vishkin 1982).

    Parameters
    ----------
    core : array of bool, shape (rows, cols)

    Returns
    -------
    labels : array of int64, shape (rows, cols)
        From 1 on, from the top left; 0 where there is no patch.
    count : int
    """
    width = core.shape[1] + 2  # what ends one row touches nothing that begins the next
    flat = np.pad(core, ((0, 0), (1, 1))).ravel()
    steps = np.flatnonzero(flat[1:] != flat[:-1]) + 1
    starts, ends = steps[::2], steps[1::2]
    first = np.searchsorted(ends, starts - width, side="left")
    touched = np.maximum(np.searchsorted(starts, ends - width, side="right") - first, 0)
    below = np.repeat(np.arange(len(starts)), touched)
    above = np.arange(len(below)) + np.repeat(first - np.cumsum(touched) + touched, touched)
    least = np.arange(len(starts))
    while True:
        reached = np.minimum(least[below], least[above])
        joined = least.copy()
        np.minimum.at(joined, least[below], reached)
        np.minimum.at(joined, least[above], reached)
        joined = joined[joined]
        if np.array_equal(joined, least):
            break
        least = joined
    roots, numbers = np.unique(least, return_inverse=True)
    labels = np.zeros(flat.size, dtype=np.int64)
    labels[flat] = np.repeat(numbers + 1, ends - starts)
    return labels.reshape(core.shape[0], width)[:, 1:-1], len(roots)
