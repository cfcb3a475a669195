"""Read noise, gain and noise floor of one plane, from the frame itself where it allows it.

Read noise is that of single pixels, rounding to whole DN included, noise of whole rows left
out: the noise that a single tone drowns in. One frame cannot part what changes from frame to
frame from the fixed pattern of its dark pixels, so it holds both, ``sqrt(sigma_d² + DSNU²)``;
EMVA 1288, which takes many frames, states the two one by one. First choice is the masked border,
then the photon-transfer relation at its dark end; gain comes from the photon-transfer relation.
The file's noise profile fills in what the frame does not tell. What nothing tells is None.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from auditor.black.border import BorderLevel
from auditor.black.levels import PlaneBlack
from auditor.model.arrays import F32, F64
from auditor.model.measurement import Histogram, NoiseEstimate
from auditor.noise.blocks import measure_blocks
from auditor.noise.level_bins import LevelBins, fine_over_coarse, rank_blocks
from auditor.noise.photon_transfer import (
    UNEVEN_LIMIT,
    TransferFit,
    common_unevenness,
    fit_transfer,
)
from auditor.sensor.code_gaps import without_code_noise
from auditor.sensor.histogram import upper_end_dn
from auditor.sensor.lattice import SensorLattice

LEAST_VARIANCE_DN2 = 0.24
"""Below this the variance is that of rounding rather than of the sensor; EMVA 1288 then states
0.24 DN² (0.49 DN), an upper bound."""

GAIN_ERROR = 0.08
READ_ERROR = 0.07
"""Largest relative standard errors that still pass for a measurement."""

WHITE = 0.4
WHITE_LINEAR = 0.8
"""Fine noise under this share of coarser noise was smoothed away: lossy coding, noise reduction,
interpolation. Three-sample data are mostly interpolated and held to more; in a mosaic, fine
texture all over the picture comes near to the lower one."""

NEAR_TOP = 0.93
"""Levels above this share of the plane's range may be clipped and are not used."""

FEW = 1e-5

LEAST_LEVELS = 6
"""Groups of levels from which it can be told whether pixels were smoothed."""

FEW_LEVELS = "Too few flat places between black and clipping to tell the gain."
SMOOTHED = (
    "The pixels were smoothed or packed with loss, or no place is flat: "
    "what is left is no sensor noise."
)


@dataclass(frozen=True, slots=True)
class NoiseModel:
    """Noise of one pixel against its signal, ``sigma² = r² + g S + (p S)²``; DN.

    Parameters
    ----------
    estimate : NoiseEstimate
        As reported.
    uneven : float
        ``p²``, zero where not known.
    smoothed : bool
        Three-sample data that were interpolated, denoised or packed with loss: even places may
        then be steadier than any light. In a mosaic it could as well be fine texture.
    """

    estimate: NoiseEstimate
    uneven: float = 0.0
    smoothed: bool = False

    @property
    def known(self) -> bool:
        """Whether both read noise and gain were measured."""
        return self.estimate.floor_dn is not None

    def sigma_dn(self, signal_dn: F32 | F64) -> F64:
        """Return the standard deviation at a signal; only where :attr:`known`."""
        signal = np.maximum(np.asarray(signal_dn, dtype=np.float64), 0.0)
        read, gain = self.estimate.read_noise_dn or 0.0, self.estimate.gain_dn_per_e or 0.0
        sigma: F64 = np.sqrt(read**2 + gain * signal + self.uneven * signal**2)
        return sigma

    def shot_sigma_dn(self, signal_dn: F64) -> F64:
        """Return the least noise that light can have, uneven response left out."""
        read, gain = self.estimate.read_noise_dn or 0.0, self.estimate.gain_dn_per_e or 0.0
        sigma: F64 = np.sqrt(read**2 + gain * np.maximum(signal_dn, 0.0))
        return sigma


@dataclass(frozen=True, slots=True, eq=False)
class PlaneView:
    """What the noise of one plane is measured from.

    Parameters
    ----------
    border : BorderLevel or None
    profile : (S, O) or None
        The file's noise profile, ``sigma² = S x + O`` with x = signal / (white - black).
    white_dn : float
        The white level that the profile refers to.
    linear : bool
        Whether these are three-sample data.
    colour : str
        "R", "G", "B" or "L": both greens are "G".
    """

    lattice: SensorLattice
    plane: int
    black: PlaneBlack
    histogram: Histogram
    border: BorderLevel | None
    profile: tuple[float, float] | None
    white_dn: float
    linear: bool = False
    colour: str = "L"


def measure_noises(views: Sequence[PlaneView]) -> tuple[NoiseModel, ...]:
    """Measure the noise of all planes of one sensor.

    Uneven response belongs to the sensor, not to a colour: what all planes say of it together
    sharpens the gain of each.
    """
    tones = [_tones(view) for view in views]
    first = [
        None if own.level_bins is None else fit_transfer(own.level_bins, view.border)
        for own, view in zip(tones, views, strict=True)
    ]
    uneven = common_unevenness(first)
    return tuple(_model(view, own, uneven) for view, own in zip(views, tones, strict=True))


@dataclass(frozen=True, slots=True, eq=False)
class _Tones:
    """Places of one plane by level; or none, and why."""

    level_bins: LevelBins | None
    reason: str = ""


def _tones(view: PlaneView) -> _Tones:
    blocks = measure_blocks(view.lattice, view.plane, view.black)
    if blocks is None:
        return _Tones(None, "The picture is too small to tell noise from tone.")
    black_dn = view.black.mean_dn
    blocks = without_code_noise(blocks, view.histogram, black_dn)
    if blocks is None:
        return _Tones(None, "The values are packed too coarsely for the noise to show.")
    top_dn = upper_end_dn(view.histogram, FEW)
    level_bins = rank_blocks(blocks, black_dn + NEAR_TOP * (top_dn - black_dn))
    if level_bins is None:
        return _Tones(None, "Every tone is clipped or cut off at zero.")
    if len(level_bins.sizes) < LEAST_LEVELS:
        return _Tones(None, FEW_LEVELS) if view.linear else _Tones(level_bins)
    if fine_over_coarse(level_bins) < (WHITE_LINEAR if view.linear else WHITE):
        return _Tones(None, SMOOTHED)
    return _Tones(level_bins)


def _model(view: PlaneView, tones: _Tones, uneven: tuple[float, float]) -> NoiseModel:
    fit, reason = None, tones.reason
    if tones.level_bins is not None:
        fit = fit_transfer(tones.level_bins, view.border, uneven)
        if fit is None or not _tells_gain(fit):
            reason = FEW_LEVELS
    read = _read_noise(fit, view.border)
    estimate = _filled(
        _estimate(fit, read, reason), read, view.profile, view.white_dn - view.black.mean_dn
    )
    return NoiseModel(estimate, max(0.0, uneven[0]), view.linear and reason == SMOOTHED)


def _tells_gain(fit: TransferFit) -> bool:
    sure = 0.0 < fit.gain_error <= GAIN_ERROR * fit.gain_dn_per_e
    return sure and fit.uneven <= UNEVEN_LIMIT


@dataclass(frozen=True, slots=True)
class _ReadNoise:
    """Read noise, whether the masked border told it, and what is to be said about it."""

    dn: float | None
    from_border: bool = False
    said: str = ""


def _estimate(transfer: TransferFit | None, read: _ReadNoise, reason: str) -> NoiseEstimate:
    gain = None if transfer is None or reason else transfer.gain_dn_per_e
    sources = ["masked border"] if read.from_border else []
    if gain is not None or (read.dn is not None and not read.from_border):
        sources.append("photon transfer")
    reasons = [text for text in (reason if gain is None else "", read.said) if text]
    return NoiseEstimate(read.dn, gain, " and ".join(sources) or None, " ".join(reasons) or None)


def _read_noise(transfer: TransferFit | None, border: BorderLevel | None) -> _ReadNoise:
    if border is not None and border.variance_dn2 > 0:
        return _bounded(border.variance_dn2, from_border=True)
    if transfer is None or transfer.read_error_dn2 > 2 * READ_ERROR * max(
        transfer.read_dn2, LEAST_VARIANCE_DN2
    ):
        said = "No masked border and no dark tones flat enough to tell the read noise."
        return _ReadNoise(None, said=said)
    return _bounded(transfer.read_dn2, from_border=False)


def _bounded(variance_dn2: float, *, from_border: bool) -> _ReadNoise:
    if variance_dn2 >= LEAST_VARIANCE_DN2:
        return _ReadNoise(variance_dn2**0.5, from_border)
    bound = LEAST_VARIANCE_DN2**0.5
    said = f"Read noise is finer than whole DN can show: {bound:.2f} DN is its upper bound."
    return _ReadNoise(bound, from_border, said)


def _filled(
    measured: NoiseEstimate, read: _ReadNoise, profile: tuple[float, float] | None, range_dn: float
) -> NoiseEstimate:
    """Fill in from the file's noise profile: ``g = S (W - B)``, ``r = sqrt(O) (W - B)``.

    A read noise that was measured stays, and so does what was said of it.
    """
    if profile is None or range_dn <= 0 or measured.floor_dn is not None:
        return measured
    scale, offset = profile
    if scale <= 0 or offset < 0:
        return measured
    source = "noise profile"
    if read.from_border:
        source = "masked border and noise profile"
    elif read.dn is not None or measured.gain_dn_per_e is not None:
        source = "photon transfer and noise profile"
    return replace(
        measured,
        read_noise_dn=offset**0.5 * range_dn if read.dn is None else read.dn,
        gain_dn_per_e=measured.gain_dn_per_e or scale * range_dn,
        source=source,
        reason=(read.said or None) if read.dn is not None else None,
    )
