"""A shift between two frames told to a tenth of a pixel, on patches of the picture itself.

Each patch is placed by least squares on its own gradients, and the places vote: what moves by
itself, is blurred or empty is outvoted. How far those that agree lie apart tells the error. Where
they do not agree near to where the tiles put the picture, the whole sample at which all patches
together correlate best is found first, by Fourier transforms.

What is fixed to the sensor, uneven pixels and hot ones, pulls a shift toward none where texture is
weak: more so what is fine than what is coarse. Both are asked, and what they differ by is doubted.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np

from auditor.detail.patches import unpacked
from auditor.group.limits import (
    PATCH_AGREE_SAMPLES,
    PATCH_IN_LINE,
    PATCH_LEAST_ERROR_PX,
    PATCH_LIKE,
    PATCH_PULL_TIMES,
    PATCH_SPIKE_TIMES,
    PATCH_SURE_SAMPLES,
)
from auditor.group.structure import C64
from auditor.model.arrays import F32, F64, U8, Bool
from auditor.model.measurement import Patches

FINE = 1.0
"""Blur in samples: what is finer the pitch of one colour cannot resolve, and noise rules it."""

FINE_AGAIN = 1.6
"""Blur in samples when a shift is asked once more: less is left of pixels that differ."""

COARSE = 4
"""Waves of so few halves over a patch are taken off: light and shade."""

LEAST_OVERLAP = 0.4
"""Share of a patch's side that both frames must show."""

TAPS = 4
"""Half the width of the windowed sinc by which parts of a sample are interpolated."""

EDGE = 2
"""Samples at an overlap's edge where interpolating lacks neighbours."""

ROUNDS = 6
"""How often places are moved and placed again, at most."""


@dataclass(frozen=True, slots=True)
class PatchShift:
    """A shift in pixels of the sensor, its standard error, and how many places agree on it."""

    down_px: float
    right_px: float
    error_px: float
    agreeing: int


class PatchImage:
    """The patches of one frame, ready to be compared.

    Parameters
    ----------
    patches : Patches
    middle_px : (float, float)
        Row and column of the sensor's middle: shifts are told there.
    """

    def __init__(self, patches: Patches, middle_px: tuple[float, float]) -> None:
        self.pitch_px = patches.pitch_px
        self.places = patches.places
        self.middle_px = middle_px
        self.side = patches.side
        self.samples = _without_spikes(unpacked(patches))

    @cached_property
    def spectra(self) -> C64:
        """Of each patch, of energy 1; room for a shift by half a side is left beside it."""
        from scipy import fft  # noqa: PLC0415 - slow to load, and a lone frame needs none

        lines = np.eye(self.side, dtype=np.float32)
        size = _padded(self.side)
        spectra: C64 = fft.rfft2(_unit(_band(self.samples, lines, lines)), (size, size))
        return spectra


def patch_shift(
    first: PatchImage, second: PatchImage, rough_px: tuple[float, float], reach_px: float
) -> PatchShift | None:
    """Place one frame against another.

    Parameters
    ----------
    rough_px : (down, right)
        What the shift is near to, on the sensor.
    reach_px : float
        How far from it to look.

    Returns
    -------
    PatchShift or None
        None where the frames share too little, or too few places agree.
    """
    pitch = first.pitch_px
    where = {place: index for index, place in enumerate(second.places)}
    shared = [(i, where[place]) for i, place in enumerate(first.places) if place in where]
    if pitch != second.pitch_px or not shared:
        return None
    own, other = np.array(shared).T
    places = np.array(first.places, dtype=np.float64)[own] - np.array(first.middle_px)
    pair = _Pair(first.samples[own], second.samples[other], places)
    rough = rough_px[0] / pitch, rough_px[1] / pitch
    most = (1.0 - LEAST_OVERLAP) * first.side
    start = (round(rough[0]), round(rough[1])) if max(map(abs, rough)) <= most else None
    found = None if start is None else _settled(pair, start)
    if found is None:
        cross = (np.conj(first.spectra[own]) * second.spectra[other]).sum(axis=0)
        peak = _peak(cross, first.side, rough, reach_px / pitch)
        found = None if peak is None or peak == start else _settled(pair, peak)
    if found is None:
        return None
    (down, right), error, agreeing = found
    return PatchShift(
        pitch * down, pitch * right, float(np.hypot(PATCH_LEAST_ERROR_PX, pitch * error)), agreeing
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Pair:
    """The patches of two frames at the places that both hold, from the sensor's middle."""

    a: F32
    b: F32
    places: F64


_Agreed = tuple[tuple[float, float], float, int]
"""A shift (down, right) in samples, its standard error, and how many places agree on it."""


class _Look:
    """A pair of frames seen with one blur, where both show the picture when moved by whole samples.

    What the first one shows there is cut once; the second is held against it wherever it may lie.
    """

    def __init__(self, pair: _Pair, peak: tuple[int, int], blur: float) -> None:
        side = pair.a.shape[-1]
        self.pair, self.blur = pair, blur
        self.keeps = [np.arange(max(0, -step) + EDGE, side - max(0, step) - EDGE) for step in peak]
        down, right = (np.eye(side, dtype=np.float32)[keep] for keep in self.keeps)
        self.still = _unit(_band(pair.a, down, right, blur))

    def agreed(self, at: tuple[float, float]) -> _Agreed | None:
        """Return what the places agree on, the second frame moved back by samples and parts."""
        side = self.pair.b.shape[-1]
        down, right = (
            _moving(side, keep + step) for keep, step in zip(self.keeps, at, strict=True)
        )
        moved = _unit(_band(self.pair.b, down, right, self.blur))
        shifts, trusted = _placed(self.still, moved, at)
        return _agreed(shifts[trusted], self.pair.places[trusted])


def _settled(pair: _Pair, peak: tuple[int, int]) -> _Agreed | None:
    """Return the shift near whole samples that the places agree on."""
    look, at, found = _Look(pair, peak, FINE), (float(peak[0]), float(peak[1])), None
    for _ in range(ROUNDS):
        found = look.agreed(at)
        if found is None:
            return None
        before, at = at, found[0]
        settled = 0.01  # samples: the next step would be smaller yet
        if max(abs(at[0] - before[0]), abs(at[1] - before[1])) < settled:
            break
    coarser = None if found is None else _Look(pair, peak, FINE_AGAIN).agreed(at)
    if found is None or coarser is None:
        return None
    # how much farther from none the coarser detail puts it
    pull = max(0.0, float(np.hypot(*coarser[0]) - np.hypot(*at)))
    return at, float(np.hypot(found[1], PATCH_PULL_TIMES * pull)), found[2]


def _placed(still: F32, moved: F32, at: tuple[float, float]) -> tuple[F64, Bool]:
    """Return each place's own shift in samples, and whether it is to be trusted.

    Least squares on the gradients of the first frame, the second one moved back by ``at``.
    """
    # an outer sample is left off all round, so that all have slopes
    inner, other = still[:, 1:-1, 1:-1], moved[:, 1:-1, 1:-1]
    half = np.float32(0.5)
    slopes = (
        (still[:, 2:, 1:-1] - still[:, :-2, 1:-1]) * half,
        (still[:, 1:-1, 2:] - still[:, 1:-1, :-2]) * half,
    )
    alike = _dot(inner, other) / np.sqrt(_dot(inner, inner) * _dot(other, other))
    left = other - alike[:, None, None].astype(np.float32) * inner
    yy, yx, xx = _dot(slopes[0], slopes[0]), _dot(*slopes), _dot(slopes[1], slopes[1])
    down, right = _dot(slopes[0], left), _dot(slopes[1], left)
    like = np.maximum(alike, 0.1)
    whole = np.maximum(yy * xx - yx**2, 1e-12) * like
    steps = np.stack([xx * down - yx * right, yy * right - yx * down], axis=1) / whole[:, None]
    # what a place may be off by in its worse direction, from what is left over
    weakest = np.maximum((yy + xx - np.hypot(yy - xx, 2.0 * yx)) / 2.0, 1e-12)
    free = inner[0].size / (4.0 * np.pi * FINE**2)
    unsure = np.sqrt((1.0 / like**2 - 1.0) / free / weakest)
    capture = 0.6  # samples: slopes lead no patch home from farther off
    near = np.abs(steps).max(axis=1) <= capture
    return np.array(at) - steps, near & (alike >= PATCH_LIKE) & (unsure <= PATCH_SURE_SAMPLES)


def _agreed(shifts: F64, places: F64) -> _Agreed | None:
    """Return the shift that most places agree on, with its standard error from their scatter.

    None where half of all or less agree, or where they lie in a line, as two always do.
    """
    if not len(shifts):
        return None
    apart = np.hypot(*(shifts[:, None] - shifts).transpose(2, 0, 1))
    near = apart <= PATCH_AGREE_SAMPLES
    middle = np.median(shifts[near[np.argmax(near.sum(axis=1))]], axis=0)
    kept = np.hypot(*(shifts - middle).T) <= PATCH_AGREE_SAMPLES
    count, off = int(kept.sum()), places[kept] - places[kept].mean(axis=0)
    across, along = np.sqrt(np.maximum(np.linalg.eigvalsh(off.T @ off), 0.0))
    if 2 * count <= len(shifts) or across <= PATCH_IN_LINE * along:
        return None
    (down, right), error = _common(shifts[kept], places[kept])
    # few places tell their scatter badly: as Student's quantile at four standard errors
    few = 1.0 + 5.0 / (count - 1)
    return (down, right), few * error, count


def _common(shifts: F64, places: F64) -> tuple[tuple[float, float], float]:
    """Return the shift at the sensor's middle that places share, and its standard error.

    A turn about the middle, and a change of scale, are taken out where they explain the scatter.
    """
    count = len(shifts)
    y, x = (places / np.abs(places).max()).T
    none, one = np.zeros(count), np.ones(count)
    down, right = np.array([one, none, y, x]), np.array([none, one, x, -y])
    model, wanted = np.concatenate([down, right], axis=1).T, shifts.T.reshape(-1)
    found, error, least = (0.0, 0.0), 0.0, np.inf
    turn_places, turn_explains = 8, 0.5  # so many tell a turn, which halves their variance
    for terms in (2, 4) if count >= turn_places else (2,):
        part = model[:, :terms]
        normal = np.linalg.inv(part.T @ part)
        fitted = normal @ part.T @ wanted
        variance = float(np.square(wanted - part @ fitted).sum()) / (2 * count - terms)
        if variance < turn_explains * least:
            found, least = (float(fitted[0]), float(fitted[1])), variance
            error = float(np.sqrt(variance * normal.diagonal()[:2].max()))
    return found, error


def _peak(
    cross: C64, side: int, rough: tuple[float, float], reach: float
) -> tuple[int, int] | None:
    """Return the whole samples (down, right) at which the patches together correlate best."""
    from scipy import fft  # noqa: PLC0415 - slow to load, and a lone frame needs none

    surface = fft.irfft2(cross, (_padded(side), _padded(side)))
    most = int((1.0 - LEAST_OVERLAP) * side)
    ends = [(round(near - reach), round(near + reach)) for near in rough]
    if any(low > most or high < -most for low, high in ends):
        return None
    down, right = (np.arange(max(low, -most), min(high, most) + 1) for low, high in ends)
    shares = np.outer(side - np.abs(down), side - np.abs(right))
    seen = surface[np.ix_(down, right)] / shares
    y, x = np.unravel_index(int(np.argmax(seen)), seen.shape)
    return int(down[y]), int(right[x])


def _padded(side: int) -> int:
    """Return how wide a patch is laid out, so that no shift within reach meets its other edge."""
    return 8 * -(-int((2.0 - LEAST_OVERLAP) * side) // 8)


def _dot(one: F32, other: F32) -> F64:
    energies: F64 = np.einsum("nij,nij->n", one, other).astype(np.float64)
    return energies


def _unit(patches: F32) -> F32:
    energy = np.maximum(np.sqrt(_dot(patches, patches)), 1e-6).astype(np.float32)
    unit: F32 = patches / energy[:, None, None]
    return unit


def _without_spikes(codes: U8) -> F32:
    """Return patches whose samples do not stand out alone or by twos, as hot pixels do."""
    size = codes.shape[-1]
    framed = np.pad(codes, ((0, 0), (1, 1), (1, 1)))
    steps = [(y, x) for y in range(3) for x in range(3) if (y, x) != (1, 1)]
    # the brightest neighbour but one: where many pixels are hot, two meet by chance
    brightest, around = np.zeros_like(codes), np.zeros_like(codes)
    for y, x in steps:
        beside = framed[:, y : y + size, x : x + size]
        np.maximum(around, np.minimum(brightest, beside), out=around)
        np.maximum(brightest, beside, out=brightest)
    samples = codes.astype(np.float32)
    usual = np.abs(np.diff(samples, axis=2)).mean(axis=(1, 2), keepdims=True)
    # by one step of the codes much texture differs from all around it
    spiky = samples > around + np.maximum(np.float32(1.0), np.float32(PATCH_SPIKE_TIMES) * usual)
    calm: F32 = np.where(spiky, around, samples)
    return calm


def _band(patches: F32, down: F32, right: F32, blur: float = FINE) -> F32:
    """Move patches by matrices, blur them a little, and take light and shade off."""
    fine = (_blur(len(down), blur) @ down) @ patches @ (_blur(len(right), blur) @ right).T
    waves, others = _waves(len(down)), _waves(len(right))
    found: F32 = fine - waves @ (waves.T @ fine @ others) @ others.T
    return found


@cache
def _blur(side: int, width: float) -> F32:
    """Return the matrix that blurs a line of samples; at its ends it takes what there is."""
    off = np.subtract.outer(np.arange(side), np.arange(side))
    weights = np.exp(-0.5 * (off / width) ** 2)
    return _shares(weights)


@cache
def _waves(side: int) -> F32:
    """Return the first waves of the cosine transform of a line of samples, each of energy 1."""
    waves = np.cos(np.pi * np.outer(np.arange(side) + 0.5, np.arange(COARSE)) / side)
    unit: F32 = (waves / np.sqrt((waves**2).sum(axis=0))).astype(np.float32)
    return unit


def _moving(side: int, at: F64) -> F32:
    """Return the matrix that takes a line of samples at places between them: a windowed sinc."""
    off = np.subtract.outer(at, np.arange(side))
    window = np.cos(np.pi / 2.0 * np.minimum(np.abs(off) / TAPS, 1.0)) ** 2
    weights = np.sinc(off) * window
    return _shares(weights)


def _shares(weights: F64) -> F32:
    """Return weights of lines of samples that sum to 1; those that add nothing are none."""
    # two of them are multiplied: under 1e-38 single precision takes ten times as long
    least = 1e-18
    weights[np.abs(weights) < least] = 0.0
    shares: F32 = (weights / weights.sum(axis=1, keepdims=True)).astype(np.float32)
    return shares
