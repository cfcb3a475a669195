"""Small patches of the picture, pixel by pixel, by which frames are placed to parts of a pixel.

The same places of the sensor in each frame of a body, so that they can be held against each other.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass

import numpy as np

from auditor.detail.limits import PATCH_FLAT, PATCH_OVER_SHARE
from auditor.model.arrays import F32, U8, Bool
from auditor.model.measurement import Patches
from auditor.noise.estimate import NoiseModel
from auditor.sensor.lattice import SensorLattice, period_of

SIDE = 40
"""Samples of a patch each way: a shift of a third of it leaves enough in both frames."""

GRID = (4, 6)
"""Patches down and across, in the middle of equal parts of the sensor."""

CODES = 32
"""Values that a sample can take: half of them under the patch's mean."""

AIM_BYTES = 7200
"""Of all patches of a frame, packed, is aimed at; 600 more are taken."""

FINEST, LEAST_COARSER = 0.2, 1.05
"""Step of the codes, in standard deviations of the patch, and by what it grows until all fits."""


@dataclass(frozen=True, slots=True, eq=False)
class PatchView:
    """What patches are cut from.

    Parameters
    ----------
    lattice : SensorLattice
    planes : tuple of int
        Of one colour.
    blacks_dn, cuts_dn : sequence of float
        Of each plane: mean black, and the raw DN from which a pixel is over.
    noise : NoiseModel
        Of the first of these planes.
    """

    lattice: SensorLattice
    planes: tuple[int, ...]
    blacks_dn: tuple[float, ...]
    cuts_dn: tuple[float, ...]
    noise: NoiseModel


def cut_patches(view: PatchView) -> Patches:
    """Cut the patches of a frame; those that hold no detail, or are blown, are left out.

    A sample is the mean of the colour's pixels in the smallest cell that repeats: one or two pixels
    of a cell of two by two, five of three by three, else a pixel. Its square root is kept, by which
    photon noise is equal everywhere, in steps of the noise or of a share of the patch's contrast.
    """
    of_colour: Bool = np.isin(view.lattice.pattern, view.planes)
    pitch = period_of(of_colour)
    side_px, pixels = SIDE * pitch, view.lattice.pixels
    places = patch_places(pixels.shape, pitch)
    signal = np.zeros((len(places), SIDE, SIDE), np.float32)
    over = np.zeros(len(places), np.float32)
    if places:
        whole = np.stack([pixels[y : y + side_px, x : x + side_px] for y, x in places])
        spots = np.argwhere(of_colour[:pitch, :pitch]).tolist()
        for y, x in spots:
            plane = int(view.lattice.pattern[y, x])
            part = whole[:, y::pitch, x::pitch]
            over += (part >= view.cuts_dn[plane]).mean(axis=(1, 2), dtype=np.float32)
            signal += part - np.float32(view.blacks_dn[plane])
        signal /= np.float32(len(spots))
        over /= np.float32(len(spots))
    mean_dn = np.maximum(signal.mean(axis=(1, 2)), np.float32(1.0))
    # near black the root would stretch the noise: from one deviation of it on it is even
    noise = view.noise
    lift = float(noise.sigma_dn(np.zeros(1))[0]) if noise.known else 0.0
    roots = np.sqrt(np.maximum(signal, np.float32(0.0)) + np.float32(lift + 1.0))
    spread = roots.std(axis=(1, 2))
    grain = np.zeros(len(places))
    if noise.known:
        pixels_each = of_colour[:pitch, :pitch].sum()
        grain = noise.sigma_dn(mean_dn) / np.sqrt(4.0 * pixels_each * (mean_dn + lift + 1.0))
    kept = (over <= PATCH_OVER_SHARE) & (spread > PATCH_FLAT * grain) & (spread > 0.0)
    return Patches(
        pitch_px=pitch,
        side=SIDE,
        places=tuple(place for place, keeps in zip(places, kept, strict=True) if keeps),
        packed=_packed(roots[kept], spread[kept], grain[kept].astype(np.float32)),
    )


def patch_places(shape: tuple[int, ...], pitch: int) -> list[tuple[int, int]]:
    """Return where patches begin, (row, column) of the sensor: whole cells, none over another."""
    side_px = SIDE * pitch
    starts = []
    for length, most in zip(shape[:2], GRID, strict=True):
        count = min(most, length // side_px)
        middles = [length * (2 * n + 1) // (2 * count) for n in range(count)]
        starts.append([(middle - side_px // 2) // pitch * pitch for middle in middles])
    return [(y, x) for y in starts[0] for x in starts[1]]


def unpacked(patches: Patches) -> U8:
    """Return the codes of patches, shape (places, side, side); ValueError where they are none."""
    count = len(patches.places) * patches.side**2
    try:
        inflate = zlib.decompressobj(-zlib.MAX_WBITS)
        codes = inflate.decompress(patches.packed, count + 1)
    except zlib.error as error:
        raise ValueError(str(error)) from error
    if len(codes) != count or not inflate.eof:
        raise ValueError("the bytes do not make such patches")
    steps = np.frombuffer(codes, np.uint8).reshape(-1, patches.side, patches.side)
    summed: U8 = np.cumsum(steps, axis=1, dtype=np.uint8) & np.uint8(CODES - 1)
    return summed


def _packed(roots: F32, spread: F32, grain: F32) -> bytes:
    """Write the samples in steps as fine as they may be stored, each less the one above it."""
    centred = roots - roots.mean(axis=(1, 2), keepdims=True)
    finest, bits_each = FINEST, 8.0 * AIM_BYTES / max(1, centred.size)
    while True:
        step = np.maximum(grain, np.float32(finest) * spread)[:, None, None]
        # what so many bytes hold is told by the entropy of a part, and proven on the whole
        part = _differences(centred[:, : SIDE // 3], step)
        shares = np.bincount(part.reshape(-1), minlength=CODES) / max(1, part.size)
        over = -float(np.sum(shares * np.log2(np.maximum(shares, 1e-9)))) - bits_each
        if over <= 0.0:
            deflate = zlib.compressobj(1, zlib.DEFLATED, -zlib.MAX_WBITS, 8, zlib.Z_HUFFMAN_ONLY)
            packed = deflate.compress(_differences(centred, step).tobytes()) + deflate.flush()
            most_bytes = AIM_BYTES + 600
            if len(packed) <= most_bytes:
                return packed
        coarser = max(LEAST_COARSER, 2.0**over)
        grain, finest = grain * np.float32(coarser), finest * coarser


def _differences(centred: F32, step: F32) -> U8:
    """Return the codes of samples, each less the one above it, wrapped."""
    rounded = np.float32(CODES / 2 + 0.5) + centred / step
    codes: U8 = np.clip(rounded, 0, CODES - 1).astype(np.uint8)
    codes[:, 1:] -= codes[:, :-1].copy()
    codes &= CODES - 1
    return codes
