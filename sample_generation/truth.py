"""What is true of a simulated exposure, known exactly because it was simulated."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.model.arrays import F32, I64

BRIGHT_SHARE = 1e-4
"""The bright end is the signal that all but this share of a plane stays under."""

DARK_SHARE = 1e-2
"""The dark end is the signal that all but this share of a plane stays over."""


@dataclass(frozen=True, slots=True)
class PlaneTruth:
    """The truth of one colour plane.

    Parameters
    ----------
    black_dn : float
        Mean level without light, dark current of this exposure included.
    saturation_dn, saturation_from_dn, saturation_spread_dn : float
        Centre, lower edge and standard deviation of the clipping level, raw DN.
    blown_pixels : int
        Pixels whose value was really cut, hot pixels included.
    blocked_fraction : float
        Share of the plane whose noiseless signal lies under ``noise_floor_dn``.
    zero_fraction : float
        Share of the plane recorded at or under the nominal black of its place.
    headroom_stops : float or None
        True saturation over the bright end of the noiseless light; 0 where it is blown there,
        None where it is dark.
    headroom_recorded_stops : float or None
        The same from the recorded values, hot pixels left out.
    mean_signal_dn, median_signal_dn, dark_signal_dn : float
        Of the noiseless light, not clipped; all but :data:`DARK_SHARE` lies over the last.
    """

    name: str
    pixels: int
    black_dn: float
    saturation_dn: float
    saturation_from_dn: float
    saturation_spread_dn: float
    gain_dn_per_e: float
    read_noise_dn: float
    noise_floor_dn: float
    blown_pixels: int
    blocked_fraction: float
    zero_fraction: float
    headroom_stops: float | None
    headroom_recorded_stops: float | None
    mean_signal_dn: float
    median_signal_dn: float
    dark_signal_dn: float

    @property
    def blown_fraction(self) -> float:
        """Share of the plane's pixels that were really cut."""
        return self.blown_pixels / self.pixels

    @property
    def saturation_signal_dn(self) -> float:
        """Clipping level over the true black."""
        return self.saturation_dn - self.black_dn


@dataclass(frozen=True, slots=True, eq=False)
class ExposureTruth:
    """The truth of one exposure.

    Parameters
    ----------
    planes : tuple of PlaneTruth
        In the order of the audit.
    blown_any_fraction, blown_all_fraction : float
        Share of the pattern's cells in which a pixel of any plane, and of every plane, was cut.
    hot_positions : array of int64, shape (n, 2)
        (row, column) of the defective pixels on the visible sensor.
    hot_signal_dn : array of float32, shape (n,)
        What each of them adds in this exposure, before clipping.
    noiseless_dn : array of float32 or None
        Light alone in DN over black, not clipped, shape of the pixels; kept on request.
    """

    planes: tuple[PlaneTruth, ...]
    blown_any_fraction: float
    blown_all_fraction: float
    hot_positions: I64
    hot_signal_dn: F32
    noiseless_dn: F32 | None = None

    def plane(self, name: str) -> PlaneTruth:
        """Return the plane of that name; KeyError where there is none."""
        for plane in self.planes:
            if plane.name == name:
                return plane
        raise KeyError(name)


def noise_floor_dn(gain_dn_per_e: float, read_noise_dn: float) -> float:
    """Signal at which one pixel's signal-to-noise ratio is 1.

    ``S = sqrt(g S + r²)`` gives ``S = (g + sqrt(g² + 4 r²)) / 2`` (EMVA 1288's absolute
    sensitivity threshold in DN).
    """
    return (gain_dn_per_e + math.hypot(gain_dn_per_e, 2.0 * read_noise_dn)) / 2.0


def bright_end(signal_dn: NDArray[Any]) -> float:
    """Smallest signal with at most :data:`BRIGHT_SHARE` of the values above it."""
    return middle_and_bright_end(signal_dn)[1]


def dark_end(signal_dn: NDArray[Any]) -> float:
    """Largest signal with at most :data:`DARK_SHARE` of the values under it."""
    place = math.floor(DARK_SHARE * signal_dn.size)
    return float(np.partition(signal_dn, place)[place])


def middle_and_bright_end(signal_dn: NDArray[Any]) -> tuple[float, float]:
    """Median (the lower of two) and bright end."""
    middle = (signal_dn.size - 1) // 2
    end = signal_dn.size - 1 - math.floor(BRIGHT_SHARE * signal_dn.size)
    parted = np.partition(signal_dn, (middle, end))
    return float(parted[middle]), float(parted[end])


def headroom_stops(saturation_signal_dn: float, end_dn: float) -> float | None:
    """Saturation over the bright end in stops; 0 where it reaches it, None where it is dark."""
    if end_dn <= 0.0:
        return None
    return max(0.0, math.log2(saturation_signal_dn / end_dn))
