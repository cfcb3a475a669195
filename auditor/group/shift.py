"""Whether two frames show one composition, and by how much the picture moved between them.

What is compared is *structure*: the logarithm of the signal (so exposure, filters and overall
light only add a constant), band-passed, with the mean of each row taken off (so a horizon, a
graduated filter or a sky's fall-off match nothing by themselves). The correlation over all
shifts is worked out at once by Fourier transforms with masks for blown and blocked parts
(D. Padfield, "Masked object registration in the Fourier domain", 2012).
"""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy import fft, ndimage

from auditor.group.plates import Plate
from auditor.model.arrays import F32, F64, Bool

C64: TypeAlias = NDArray[np.complex64]

FINE_TILES, COARSE_TILES = 0.8, 5.0
"""Band that is compared, in tiles: finer is noise and sub-tile shifts, coarser is light."""

MOST_STOPS = 1.5
"""Structure is cut off here, so that one bright thing cannot decide alone."""

SKY_WEIGHT = 0.4
"""Weight of the top row against the bottom row: the ground holds still, the sky does not."""

BLOCK = 8
"""Tiles a side of the blocks that vote."""

BLOCK_STOPS = 0.07
"""Structure (standard deviation) from which a block has something to say."""

BLOCK_AGREES = 0.75
"""Correlation from which a block agrees."""

BLOCK_STRONG_STOPS = 0.35
"""Structure that neither waves nor clouds show in tiles: rocks, a skyline, trees."""

UNMOVED_TILES = 0.75
"""A best shift this small is itself a sign of one tripod position."""

UNSURE_TILES = 0.15
"""A shift smaller than this is as good as none, and is not refined."""

HORIZON_STOPS = 0.4
"""Drop of brightness from row to row that makes a horizon: below it more holds still."""

LEAN = 0.01
"""Correlation that a shift must gain a tile: tripods hold still and clouds do not."""


@dataclass(frozen=True, slots=True, eq=False)
class Structure:
    """Structure of one plate and its spectra.

    Parameters
    ----------
    values : array of float32, shape (rows, cols)
        Zero where unknown.
    known : array of float32
        1 where the tile is well recorded, else 0.
    spectra : three arrays of complex64
        Of weighted values, of their squares, of ``known``.
    row_steps : array of float32, shape (rows - 1,)
        Steps of the mean from row to row, over tiles known in both; NaN where there are none.
    """

    values: F32
    known: F32
    spectra: tuple[C64, C64, C64]
    row_steps: F32


@dataclass(frozen=True, slots=True)
class Ballot:
    """What the blocks of two frames say.

    Parameters
    ----------
    agreeing, voting : int
        Blocks with structure in both, and those of them that agree.
    strong : int
        Blocks in which either frame shows what neither waves nor clouds do.
    strong_agreement : float
        Middle of the correlations of the strong blocks: rocks of different places are alike as
        a whole, but not block by block.
    """

    agreeing: int = 0
    voting: int = 0
    strong: int = 0
    strong_agreement: float = 0.0


@dataclass(frozen=True, slots=True)
class Likeness:
    """How alike two frames are at their best shift.

    Parameters
    ----------
    correlation : float
        Over all that both record, at that shift.
    ballot : Ballot
        What the blocks say at that shift.
    overlap : float
        Share of the frame that both record at that shift.
    right, down : float
        By how many tiles the second picture lies to the right and lower.
    level_rows : float
        Correlation of the steps between rows (a horizon, a far shore) without any shift.
    """

    correlation: float = 0.0
    ballot: Ballot = Ballot()
    overlap: float = 0.0
    right: float = 0.0
    down: float = 0.0
    level_rows: float = 0.0

    @property
    def can_tell(self) -> bool:
        """Whether both frames hold enough to compare."""
        return self.ballot.voting >= 4 and self.overlap >= 0.05 and self.correlation > -1.0

    @property
    def featureless(self) -> bool:
        """Whether there is nothing in either frame but sky and water."""
        return self.ballot.strong < 3

    @property
    def matches(self) -> bool:
        """Whether what holds still is the same in both, at that shift.

        A best shift of next to nothing is itself a sign of one tripod position; any other must
        bring better proof. Where most of a frame is blown, the correlation of what is left
        says little, but its blocks do.
        """
        unmoved = max(abs(self.right), abs(self.down)) <= UNMOVED_TILES
        ballot = self.ballot
        most = ballot.agreeing >= max(5.0, 0.7 * ballot.voting)
        if unmoved and most and ballot.strong_agreement >= 0.8:
            return True
        least, agreeing, block = (0.4, 6, 0.5) if unmoved else (0.5, 3, 0.68)
        firm = ballot.strong < 4 or ballot.strong_agreement >= block
        enough = ballot.agreeing >= agreeing and self.correlation >= least
        return self.can_tell and firm and enough


class Comparer:
    """Compares plates, and keeps the structure of the latest ones."""

    def __init__(self, keep: int = 64) -> None:
        self._keep = keep
        self._kept: OrderedDict[int, tuple[Plate, Structure]] = OrderedDict()

    def structure(self, plate: Plate) -> Structure:
        """Return the structure of a plate, worked out once while it is in use."""
        key = id(plate)
        if key not in self._kept:
            self._kept[key] = (plate, structure_of(plate))
            if len(self._kept) > self._keep:
                self._kept.popitem(last=False)
        self._kept.move_to_end(key)
        return self._kept[key][1]

    def compare(
        self,
        first: Plate,
        second: Plate,
        reach: tuple[float, float],
        *,
        least_overlap: float = 0.1,
        lean: float = LEAN,
    ) -> Likeness:
        """Find the best shift within ``reach`` (shares of height and width) and judge it.

        ``lean`` is what a shift must gain in correlation a tile: 0 where the camera was turned
        (parts of a tile do not matter then and are not refined).
        """
        if first.shape != second.shape:
            return Likeness()
        a, b = self.structure(first), self.structure(second)
        rows, cols = first.shape
        down, right = max(1, round(reach[0] * rows)), max(1, round(reach[1] * cols))
        scores, shares = correlations(a, b, down, right, least_overlap)
        y, x = _best(scores - lean * _distance(down, right))
        ballot = votes(a, b, y - down, x - right)
        rough = y - down + _peak(scores[:, x], y), x - right + _peak(scores[y], x)
        worth = lean > 0 and float(scores[y, x]) >= 0.4 and ballot.agreeing >= 3
        moved = max(abs(rough[0]), abs(rough[1])) >= UNSURE_TILES
        fine = refined(a, b, rough) if worth and moved else rough
        return Likeness(
            correlation=float(scores[y, x]),
            ballot=ballot,
            overlap=float(shares[y, x]),
            right=fine[1],
            down=fine[0],
            level_rows=_row_likeness(a.row_steps, b.row_steps),
        )

    def compare_still(self, first: Plate, second: Plate) -> Likeness:
        """Compare without any shift, over nothing but what both record.

        Where most of a frame is lost, the edges of what is left distort its structure; here
        both frames get the same edges.
        """
        if first.shape != second.shape:
            return Likeness()
        known = np.isfinite(_stops(first)) & np.isfinite(_stops(second))
        a, b = structure_of(first, known), structure_of(second, known)
        scores, shares = correlations(a, b, 0, 0, 0.0)
        ballot = votes(a, b, 0, 0)
        return Likeness(float(scores[0, 0]), ballot, float(shares[0, 0]))


def _stops(plate: Plate) -> F32:
    return plate.stops(plate.main, floors=2.0)


def structure_of(plate: Plate, where: Bool | None = None) -> Structure:
    """Work out the structure of one plate, of tiles in ``where`` only if that is given."""
    stops = _stops(plate)
    there = np.isfinite(stops) if where is None else where & np.isfinite(stops)
    known = there.astype(np.float32)
    values = np.where(there, stops, np.float32(0.0))
    band = _smooth(values, known, FINE_TILES) - _smooth(values, known, COARSE_TILES)
    rows = (band * known).sum(axis=1) / np.maximum(1.0, known.sum(axis=1))
    band = np.clip((band - rows[:, None]) * known, -MOST_STOPS, MOST_STOPS).astype(np.float32)
    ramp = np.linspace(SKY_WEIGHT, 1.0, band.shape[0], dtype=np.float32)[:, None]
    weighted = band * np.sqrt(ramp)
    size = [fft.next_fast_len(2 * n, real=True) for n in band.shape]
    spectra = tuple(fft.rfft2(part, size) for part in (weighted, weighted**2, known))
    steps = _row_steps(values, known)
    return Structure(band, known, (spectra[0], spectra[1], spectra[2]), steps)


def _row_steps(values: F32, known: F32) -> F32:
    both = known[1:] * known[:-1]
    count = both.sum(axis=1)
    steps = ((values[1:] - values[:-1]) * both).sum(axis=1) / np.maximum(1.0, count)
    return np.where(count >= 0.2 * known.shape[1], steps, np.float32(np.nan)).astype(np.float32)


def _row_likeness(first: F32, second: F32) -> float:
    """Correlate two columns of steps; a soft step may fall between rows, hence the smoothing."""
    known = np.isfinite(first) & np.isfinite(second)
    if int(known.sum()) < 8:
        return 0.0
    a, b = (ndimage.gaussian_filter1d(np.nan_to_num(line), 0.7)[known] for line in (first, second))
    a, b = a - np.median(a), b - np.median(b)
    return float((a @ b) / max(1e-9, float(np.sqrt((a @ a) * (b @ b)))))


def _smooth(values: F32, known: F32, sigma: float) -> F32:
    """Gaussian mean over what is known."""
    mass = ndimage.gaussian_filter(known, sigma, mode="nearest")
    total = ndimage.gaussian_filter(values * known, sigma, mode="nearest")
    smooth: F32 = total / np.maximum(mass, 1e-4)
    return smooth


def correlations(
    a: Structure, b: Structure, down: int, right: int, least_overlap: float
) -> tuple[F32, F32]:
    """Correlate two structures over all shifts within reach.

    Returns
    -------
    correlation, overlap : arrays, shape (2 down + 1, 2 right + 1)
        Middle element: no shift. Correlation is -1 where the overlap is too small.
    """
    rows, cols = a.values.shape
    size = [fft.next_fast_len(2 * n, real=True) for n in (rows, cols)]

    def over_shifts(first: C64, second: C64) -> F32:
        whole = fft.irfft2(np.conj(first) * second, size)
        part: F32 = np.roll(whole, (down, right), axis=(0, 1))[: 2 * down + 1, : 2 * right + 1]
        return part

    shares = over_shifts(a.spectra[2], b.spectra[2]) / (rows * cols)
    energy = over_shifts(a.spectra[1], b.spectra[2]) * over_shifts(a.spectra[2], b.spectra[1])
    scale = np.sqrt(np.maximum(energy, 1e-9))
    scores = over_shifts(a.spectra[0], b.spectra[0]) / np.maximum(scale, 1e-3)
    return np.where(shares >= least_overlap, scores, np.float32(-1.0)), shares


def _best(scores: F32) -> tuple[int, int]:
    y, x = np.unravel_index(int(np.argmax(scores)), scores.shape)
    return int(y), int(x)


def _distance(down: int, right: int) -> F32:
    """Distance of each shift from none, in tiles, shape (2 down + 1, 2 right + 1)."""
    y, x = np.ogrid[-down : down + 1, -right : right + 1]
    return np.hypot(y, x).astype(np.float32)


def _peak(line: F32, at: int) -> float:
    """Return the top of a parabola through a peak and its neighbours, relative to the peak."""
    if not 0 < at < len(line) - 1:
        return 0.0
    left, top, right = (float(v) for v in line[at - 1 : at + 2])
    bend = left - 2.0 * top + right
    if bend >= -1e-9 or min(left, right) <= -1.0:
        return 0.0
    return float(np.clip(0.5 * (left - right) / bend, -0.5, 0.5))


def refined(a: Structure, b: Structure, rough: tuple[float, float]) -> tuple[float, float]:
    """Refine a shift (down, right) by least squares on the gradients of what holds still.

    ``b - a = c - gradient · δ`` for small δ (B. Lucas and T. Kanade, 1981); tiles that disagree
    lose their weight from round to round.
    """
    down, right = rough
    known = (a.known > 0) & _below_horizon(a)
    for _ in range(2):
        moved = ndimage.shift(b.values, (-down, -right), order=1, mode="nearest")
        there = ndimage.shift(b.known, (-down, -right), order=1, mode="constant") > 0.99
        slope_y, slope_x = np.gradient((a.values + moved) / 2.0)
        use = known & there & (np.hypot(slope_y, slope_x) > 0.02)
        if int(use.sum()) < 60:
            return rough
        step = _robust_step(np.stack([slope_y[use], slope_x[use]], axis=1), (moved - a.values)[use])
        down, right = down - step[0], right - step[1]
    if max(abs(down - rough[0]), abs(right - rough[1])) > 1.0:
        return rough
    return down, right


def _below_horizon(a: Structure) -> Bool:
    """Tell the rows from just above the horizon down; all where there is no horizon."""
    rows, cols = a.values.shape
    steps = np.nan_to_num(a.row_steps)
    at = int(np.argmin(steps))
    inside = 0.1 * rows <= at <= 0.8 * rows and steps[at] <= -HORIZON_STOPS
    below: Bool = np.arange(rows) >= (at - 2 if inside else 0)
    return np.broadcast_to(below[:, None], (rows, cols))


def _robust_step(slopes: F32, difference: F32) -> tuple[float, float]:
    weights = np.ones(len(difference), dtype=np.float64)
    design = np.column_stack([slopes, np.ones(len(slopes))]).astype(np.float64)
    solution: F64 = np.zeros(3)
    for scale in (0.2, 0.1, 0.05, 0.05):
        weighted = design * weights[:, None]
        normal, right_side = weighted.T @ design, weighted.T @ difference
        solution = np.asarray(np.linalg.lstsq(normal, right_side, rcond=None)[0], np.float64)
        error = difference - design @ solution
        weights = 1.0 / (1.0 + (error / scale) ** 2)
    return float(solution[0]), float(solution[1])


def votes(a: Structure, b: Structure, down: int, right: int) -> Ballot:
    """Let the blocks vote at a whole-tile shift; each where both frames record most of it."""
    first, second = overlapping(a.values, b.values, down, right)
    known_a, known_b = overlapping(a.known, b.known, down, right)
    known = _blocks(known_a * known_b)
    count = known.sum(axis=1)
    x, y = _centred(_blocks(first), known), _centred(_blocks(second), known)
    xx, yy, xy = (np.einsum("bi,bi->b", p, q) for p, q in ((x, x), (y, y), (x, y)))
    agreement = xy / np.sqrt(np.maximum(xx * yy, 1e-12))
    whole = count >= BLOCK**2 * 0.6
    voting = whole & (np.minimum(xx, yy) >= count * BLOCK_STOPS**2)
    strong = whole & (np.maximum(xx, yy) >= count * BLOCK_STRONG_STOPS**2)
    return Ballot(
        int((voting & (agreement >= BLOCK_AGREES)).sum()),
        int(voting.sum()),
        int(strong.sum()),
        float(np.median(agreement[strong])) if strong.any() else 0.0,
    )


def overlapping(first: F32, second: F32, down: int, right: int) -> tuple[F32, F32]:
    """Cut both pictures to the part they share when the second lies ``down`` and ``right``."""
    rows, cols = first.shape[-2:]
    a = first[..., max(0, -down) : rows - max(0, down), max(0, -right) : cols - max(0, right)]
    b = second[..., max(0, down) : rows - max(0, -down), max(0, right) : cols - max(0, -right)]
    return a, b


def _blocks(picture: F32) -> F32:
    rows, cols = (n // BLOCK for n in picture.shape)
    cut = picture[: rows * BLOCK, : cols * BLOCK].reshape(rows, BLOCK, cols, BLOCK)
    blocks: F32 = cut.swapaxes(1, 2).reshape(rows * cols, BLOCK * BLOCK)
    return blocks


def _centred(blocks: F32, known: F32) -> F32:
    mean = (blocks * known).sum(axis=1) / np.maximum(1.0, known.sum(axis=1))
    centred: F32 = (blocks - mean[:, None]) * known
    return centred
