"""Frames of which only the patches are made: texture as fine as pixels, seen through a lens.

Truth is made by shifting each place's spectrum (``scipy.ndimage.fourier_shift``): exact, whatever
part of a pixel it is by.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from auditor.detail.patches import SIDE, PatchView, cut_patches, patch_places
from auditor.group.patch_shift import PatchImage
from auditor.model.measurement import NoiseEstimate, Patches
from auditor.noise.estimate import NoiseModel
from auditor.sensor.lattice import SensorLattice
from tests.built_mosaics import BLACK_DN, MONO, RGGB

SIX_BY_SIX = np.array([[1, 2, 1, 1, 0, 1], [0, 1, 0, 2, 1, 2], [1, 2, 1, 1, 0, 1],
                       [1, 0, 1, 1, 2, 1], [2, 1, 2, 0, 1, 0], [1, 0, 1, 1, 2, 1]],
                      dtype=np.uint8)  # fmt: skip

LAYOUTS = {
    "two by two": (RGGB, (1, 2), 2),
    "six by six": (SIX_BY_SIX, (1,), 3),
    "monochrome": (MONO, (0,), 1),
}
"""Pattern, the planes that are looked at, and the pitch of their cells."""

READ_DN, GAIN = 3.0, 0.3

Shift = tuple[float, float]


@lru_cache(maxsize=256)
def spectrum(seed: int, side: int, slope: float, blur: Shift) -> NDArray[np.complex128]:
    """The spectrum of texture behind a lens, each pixel a square; its spread is 1."""
    noise = np.fft.fft2(np.random.default_rng(seed).standard_normal((side, side)))
    down, across = np.meshgrid(np.fft.fftfreq(side), np.fft.fftfreq(side), indexing="ij")
    texture = noise / np.maximum(np.hypot(down, across), 2.0 / side) ** slope
    lens = np.exp(-2.0 * np.pi**2 * ((blur[0] * down) ** 2 + (blur[1] * across) ** 2))
    seen = texture * lens * np.sinc(down) * np.sinc(across)
    seen[0, 0] = 0.0
    whole: NDArray[np.complex128] = seen / np.fft.ifft2(texture).real.std()
    return whole


@dataclass(frozen=True, kw_only=True)
class Scene:
    """How the frames of a scene are made.

    Parameters
    ----------
    slope : float
        0 for gravel, 1 for rock, 2 for what is soft.
    moving : callable
        Tells of a place whether it shows something else in each frame: water.
    shared : float
        Share of the texture that both frames show where nothing moves.
    """

    layout: str = "two by two"
    megapixels: float = 2.0
    slope: float = 1.0
    contrast: float = 0.2
    moving: Callable[[int], bool] = field(default=lambda place: False)
    shared: float = 1.0
    grain: Shift = (0.7, 0.7)

    @property
    def shape(self) -> tuple[int, int]:
        width = int(np.sqrt(self.megapixels * 1.5e6)) // 12 * 12
        return int(width / 1.5) // 12 * 12, width

    def view(
        self,
        seed: int,
        shift: Shift | Callable[[int], Shift] = (0.0, 0.0),
        *,
        signal_dn: float = 3000.0,
        softer: float = 0.0,
        turn_rad: float = 0.0,
        uneven: float = 0.0,
        hot: float = 0.0,
    ) -> PatchView:
        """Expose a frame that is shifted down and right, and turned about the middle.

        Its pixels differ by ``uneven``, and the share ``hot`` shines by 2,000 DN or so: in every
        frame the same ones.
        """
        pattern, planes, pitch = LAYOUTS[self.layout]
        height, width = self.shape
        pixels = np.full((height, width), int(BLACK_DN) + 60, np.uint16)
        side, rng = SIDE * pitch, np.random.default_rng(1000 + seed)
        blur = float(np.hypot(self.grain[0], softer)), float(np.hypot(self.grain[1], softer))
        for place, (y, x) in enumerate(patch_places((height, width), pitch)):
            down, right = shift(place) if callable(shift) else shift
            down += turn_rad * (x + side / 2 - width / 2)
            right -= turn_rad * (y + side / 2 - height / 2)
            other = 10_000 * (seed + 1) + place
            parts = [(place, self.shared), (other, 1.0 - self.shared)]
            if self.moving(place):
                parts = [(other, 1.0)]
            texture = np.zeros((side, side))
            for own, share in parts:
                if share > 0.0:
                    moved = ndimage.fourier_shift(
                        spectrum(own, 2 * side, self.slope, blur), (down, right)
                    )
                    texture += np.sqrt(share) * np.fft.ifft2(moved).real[:side, :side]
            signal = np.maximum(signal_dn * (1.0 + self.contrast * texture), 1.0)
            noise = rng.standard_normal(signal.shape) * np.sqrt(READ_DN**2 + GAIN * signal)
            whole = np.clip(np.rint(BLACK_DN + signal + noise), 0, 16383)
            pixels[y : y + side, x : x + side] = whole
        if uneven or hot:
            fixed = np.random.default_rng(7)
            gains = 1.0 + uneven * fixed.standard_normal(pixels.shape)
            glows = fixed.exponential(2000.0, pixels.shape) * (fixed.random(pixels.shape) < hot)
            shown = BLACK_DN + (pixels - BLACK_DN) * gains + glows
            pixels = np.clip(np.rint(shown), 0, 16383).astype(np.uint16)
        count = int(pattern.max()) + 1
        return PatchView(
            lattice=SensorLattice(pixels, pattern),
            planes=planes,
            blacks_dn=(BLACK_DN,) * count,
            cuts_dn=(16000.0,) * count,
            noise=NoiseModel(NoiseEstimate(READ_DN, GAIN)),
        )

    def patches(self, seed: int, shift: Shift | Callable[[int], Shift] = (0.0, 0.0),
                **changes: float) -> Patches:  # fmt: skip
        """The patches of a frame, as they are stored."""
        return cut_patches(self.view(seed, shift, **changes))

    def image(self, seed: int, shift: Shift | Callable[[int], Shift] = (0.0, 0.0),
              **changes: float) -> PatchImage:  # fmt: skip
        """The patches of a frame, ready to be compared."""
        height, width = self.shape
        return PatchImage(self.patches(seed, shift, **changes), (height / 2, width / 2))
