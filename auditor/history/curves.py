"""Signal-to-noise curves of a sensor, after the linear model of EMVA 1288."""

from __future__ import annotations

import math


def snr(signal_e: float, read_noise_e: float) -> float:
    """Return the signal-to-noise ratio of one pixel, ``u / sqrt(u + r²)``.

    Parameters
    ----------
    signal_e, read_noise_e : float
        Mean signal and read noise (rounding to whole DN included), electrons.
    """
    return signal_e / math.sqrt(signal_e + read_noise_e**2)


def threshold_e(read_noise_e: float) -> float:
    """Return the signal at which the ratio is 1, ``1/2 + sqrt(1/4 + r²)`` electrons."""
    return 0.5 + math.sqrt(0.25 + read_noise_e**2)


def snr_curve(
    read_noise_e: float, full_well_e: float, *, steps_per_stop: int = 2
) -> tuple[tuple[float, float], ...]:
    """Return the curve from one electron to the full well, both axes in stops.

    Returns
    -------
    tuple of (float, float)
        ``log2`` of the signal in electrons and ``log2`` of the signal-to-noise ratio.
    """
    top = math.log2(full_well_e)
    count = max(2, math.ceil(top * steps_per_stop) + 1)
    places = (top * step / (count - 1) for step in range(count))
    return tuple((place, math.log2(snr(2.0**place, read_noise_e))) for place in places)
