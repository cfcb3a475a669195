"""Read noise, gain and noise floor of one plane, from the frame itself where it allows it.

Read noise is that of single pixels, rounding to whole DN included, noise of whole rows left
out: the noise that a single tone drowns in. One frame cannot part what changes from frame to
frame from the fixed pattern of its dark pixels, so it holds both, ``sqrt(sigma_d² + DSNU²)``;
EMVA 1288, which takes many frames, states the two one by one. First choice is the masked border,
then the photon-transfer relation at its dark end; gain comes from the photon-transfer relation.
The file's noise profile fills in what the frame does not tell. What nothing tells is None.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import median

import numpy as np

from auditor.black.border import BorderLevel
from auditor.black.levels import PlaneBlack
from auditor.model.arrays import F32, F64
from auditor.model.codes import NoiseSource
from auditor.model.measurement import Histogram, NoiseEstimate
from auditor.model.remark import Remark, RemarkCode, remark
from auditor.noise.bend import bend_dn
from auditor.noise.blocks import Blocks, measure_blocks
from auditor.noise.corners import as_in_centre, corner_growth, rows_unlike
from auditor.noise.level_bins import LevelBins, part_of, rank_blocks, without_code_noise
from auditor.noise.limits import (
    CODES_RULE,
    COLOURS_APART,
    DARK_END,
    GAIN_ERROR,
    GAIN_GROUPS,
    GAIN_SPAN,
    LEAST_LEVELS,
    LEAST_VARIANCE_DN2,
    LENDERS_APART,
    LIGHT_BEGINS,
    LINES_APART,
    NEAR_TOP,
    READ_ERROR,
    SIDES_APART,
    SIDES_SURE,
    STRAIGHT,
    TWINS_APART,
    UNEVEN_LEAST,
    UNEVEN_LIMIT,
    WHITE,
    WHITE_BORDER,
    WHITE_BORDER_TOO,
    WHITE_DARK,
)
from auditor.noise.neighbours import altered
from auditor.noise.photon_transfer import (
    UNEVEN_UNKNOWN,
    TransferFit,
    calm_whiteness,
    common_unevenness,
    dark_whiteness,
    fit_transfer,
)
from auditor.noise.repeating import planes_with_others
from auditor.noise.straight import straight
from auditor.sensor.code_gaps import COARSE, WINDOW, code_step_at, code_steps_dn, widest_gap_dn
from auditor.sensor.histogram import cut_off_dn, upper_end_dn
from auditor.sensor.lattice import SensorLattice

FEW = 1e-5

NOTHING = TransferFit(0.0, 0.0, 0.0, math.inf, math.inf, math.inf)


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
    bends_from_dn : float or None
        The signal from which the response bends over, where it was seen to.
    """

    estimate: NoiseEstimate
    uneven: float = 0.0
    smoothed: bool = False
    bends_from_dn: float | None = None

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
    others = {
        plane
        for lattice in {id(view.lattice): view.lattice for view in views}.values()
        for plane in planes_with_others(lattice, {view.plane: view.black for view in views})
    }
    tones = [
        _Tones(None, RemarkCode.PIXELS_APART) if view.plane in others else _tones(view)
        for view in views
    ]
    first = [_fit(own, view, UNEVEN_UNKNOWN) for own, view in zip(tones, views, strict=True)]
    tones = _if_white(tones, first)
    growth = corner_growth(_told(tones, first))
    if growth:
        # with the noise of the centre, from which nothing is told of a bend
        tones = [
            own if own.level_bins is None else _Tones(as_in_centre(own.level_bins, growth))
            for own in tones
        ]
        first = [_fit(own, view, UNEVEN_UNKNOWN) for own, view in zip(tones, views, strict=True)]
    if rows_unlike(_told(tones, first)):
        tones = [_Tones(None, own.why or RemarkCode.LINES_TAKE_TURNS) for own in tones]
    elif not growth:  # places amplified otherwise make noise of no normal law as well
        tones = _if_unaltered(views, tones, first)
    uneven = common_unevenness(
        [fit for own, fit in zip(tones, first, strict=True) if own.level_bins is not None]
    )
    # pixels are never so alike: noise falls under light's
    too_even = uneven[0] + 2.0 * uneven[1] < UNEVEN_LEAST
    # no level is where places were multiplied apart; coarse codes make a noise of their own
    even = not growth and _fine_codes(views)
    if too_even or not straight(_with_borders(views, tones, first), UNEVEN_UNKNOWN, even=even):
        tones = [_straight(own) for own in tones]
        first = [_fit(own, view, UNEVEN_UNKNOWN) for own, view in zip(tones, views, strict=True)]
        uneven = common_unevenness(first)
        if not straight(_with_borders(views, tones, first), UNEVEN_UNKNOWN, even=even):
            smoothed = _dark_smoothed(tones, first)
            why = RemarkCode.SMOOTHED if smoothed else RemarkCode.NOT_STRAIGHT
            tones = [_Tones(None, own.why or why) for own in tones]
    fits = [_fit(own, view, uneven) for own, view in zip(tones, views, strict=True)]
    for index in _dark_smoothed(tones, fits):
        tones[index], fits[index] = _Tones(None, RemarkCode.SMOOTHED), None
    sure = _agreeing([view.colour for view in views], fits)
    models = [
        _model(view, own, fit if index in sure else None, fit, uneven)
        for index, (view, own, fit) in enumerate(zip(views, tones, fits, strict=True))
    ]
    models = [
        model
        if fit is None
        else replace(model, estimate=replace(model.estimate, darkest_dn=fit.darkest_noise_dn))
        for model, fit in zip(models, first, strict=True)
    ]
    if growth:
        models = [
            _of_centre(model, view, growth) for model, view in zip(models, views, strict=True)
        ]
    told = {index: fit for index in sure if (fit := fits[index]) is not None}
    ends = [fit.darkest_dn / max(fit.darkest_dn + fit.span_dn, 1e-9) for fit in told.values()]
    for index, fit in told.items():
        models[index] = _ended(
            models[index], views[index], tones[index].blocks, fit, bright=min(ends) > DARK_END
        )
    return tuple(models)


def _ended(
    model: NoiseModel, view: PlaneView, blocks: Blocks | None, fit: TransferFit, *, bright: bool
) -> NoiseModel:
    """Say from where the response bends over, and that only bright tones tell the gain.

    Not where the file's noise profile bears it out.
    """
    range_dn = view.white_dn - view.black.mean_dn
    by_file = 0.0 if view.profile is None else view.profile[0] * range_dn
    gain = model.estimate.gain_dn_per_e or 0.0
    if bright and abs(gain - by_file) > LENDERS_APART * by_file:
        said = (*model.estimate.remarks, remark(RemarkCode.BRIGHT_ALONE))
        model = replace(model, estimate=replace(model.estimate, remarks=said))
    if blocks is None:
        return model
    reach_dn = upper_end_dn(view.histogram, FEW) - view.black.mean_dn
    return replace(model, bends_from_dn=bend_dn(blocks, fit, reach_dn))


def _of_centre(model: NoiseModel, view: PlaneView, growth: float) -> NoiseModel:
    """Say whose noise it is; without a border, dark corners were multiplied as well."""
    told, own = [remark(RemarkCode.CORNERS_BRIGHTENED, growth=growth)], model.estimate
    read_dn = own.read_noise_dn
    if read_dn is not None and view.border is None:
        read_dn = None
        told.append(remark(RemarkCode.NO_READ_NOISE))
    estimate = replace(own, read_noise_dn=read_dn, remarks=(*told, *own.remarks))
    return replace(model, estimate=estimate)


@dataclass(frozen=True, slots=True, eq=False)
class _Tones:
    """Places of one plane by level; or none, and why."""

    level_bins: LevelBins | None
    why: RemarkCode | None = None
    blocks: Blocks | None = None


def _told(
    tones: Sequence[_Tones], fits: Sequence[TransferFit | None]
) -> list[tuple[LevelBins, TransferFit]]:
    return [
        (own.level_bins, fit)
        for own, fit in zip(tones, fits, strict=True)
        if own.level_bins is not None and fit is not None
    ]


def _with_borders(
    views: Sequence[PlaneView], tones: Sequence[_Tones], fits: Sequence[TransferFit | None]
) -> list[tuple[LevelBins, TransferFit, BorderLevel | None]]:
    return [
        (own.level_bins, fit, view.border)
        for view, own, fit in zip(views, tones, fits, strict=True)
        if own.level_bins is not None and fit is not None
    ]


def _straight(tones: _Tones) -> _Tones:
    """Leave out the levels near the top, over which a response is bent."""
    if tones.level_bins is None:
        return tones
    signal = tones.level_bins.signal_dn
    darker = part_of(tones.level_bins, signal <= STRAIGHT * signal.max())
    return replace(tones, level_bins=darker) if len(darker.group) else _Tones(None)


def _fit(tones: _Tones, view: PlaneView, uneven: tuple[float, float]) -> TransferFit | None:
    if tones.level_bins is None:
        return None
    return fit_transfer(tones.level_bins, view.border, uneven)


def _if_white(tones: Sequence[_Tones], fits: Sequence[TransferFit | None]) -> list[_Tones]:
    """Let tones go whose noise is no sensor's: what smooths one plane smooths all of them."""
    found = [
        0.0 if fit is None else calm_whiteness(own.level_bins, fit)
        for own, fit in zip(tones, fits, strict=True)
        if own.level_bins is not None and len(own.level_bins.sizes) >= LEAST_LEVELS
    ]
    return list(tones) if not found or median(found) >= WHITE else _smoothed(tones)


def _smoothed(tones: Sequence[_Tones]) -> list[_Tones]:
    return [own if own.level_bins is None else _Tones(None, RemarkCode.SMOOTHED) for own in tones]


def _if_unaltered(
    views: Sequence[PlaneView], tones: list[_Tones], fits: Sequence[TransferFit | None]
) -> list[_Tones]:
    """Let all tones go where neighbours were mixed, or small differences shrunk."""
    planes = [
        (view.plane, view.black.mean_dn, fit)
        for view, own, fit in zip(views, tones, fits, strict=True)
        if own.level_bins is not None and fit is not None and not view.linear
    ]
    told = len(planes) == len(views) and _fine_codes(views)
    return _smoothed(tones) if told and altered(views[0].lattice, planes) else tones


def _fine_codes(views: Sequence[PlaneView]) -> bool:
    few = 0.05  # share of the windows: clipping and scaling leave gaps in some
    return all(np.mean(code_steps_dn(view.histogram) >= COARSE) < few for view in views)


def _dark_smoothed(tones: Sequence[_Tones], fits: Sequence[TransferFit | None]) -> Sequence[int]:
    """Return all planes known where half of them were smoothed at their dark end, else none.

    What smooths shadows smooths them in several colours; in one alone it is texture.
    """
    known = {
        index: dark_whiteness(own.level_bins, fit)
        for index, (own, fit) in enumerate(zip(tones, fits, strict=True))
        if own.level_bins is not None and fit is not None
    }
    smoothed = sum(white < WHITE_DARK for white in known.values())
    return list(known) if 2 * smoothed >= max(2, len(known)) else ()


def _tones(view: PlaneView) -> _Tones:
    blocks = measure_blocks(view.lattice, view.plane, view.black)
    if blocks is None:
        return _Tones(None, RemarkCode.TOO_SMALL)
    if blocks.lines_apart > LINES_APART:
        return _Tones(None, RemarkCode.LINES_TAKE_TURNS)
    black_dn = view.black.mean_dn
    blocks = without_code_noise(blocks, view.histogram, black_dn)
    if blocks is None:
        return _Tones(None, RemarkCode.COARSE_CODES)
    top_dn = upper_end_dn(view.histogram, FEW)
    clip_dn = black_dn + NEAR_TOP * (top_dn - black_dn)
    level_bins = rank_blocks(blocks, clip_dn, cut_off_dn(view.histogram))
    if level_bins is None:
        return _Tones(None, RemarkCode.ALL_CLIPPED)
    if len(level_bins.sizes) < LEAST_LEVELS:
        return _Tones(None, RemarkCode.FEW_LEVELS) if view.linear else _Tones(level_bins)
    return _Tones(level_bins, blocks=blocks)


def _model(
    view: PlaneView,
    tones: _Tones,
    gain_from: TransferFit | None,
    fit: TransferFit | None,
    uneven: tuple[float, float],
) -> NoiseModel:
    border, why = view.border, tones.why
    if gain_from is None and why is None:
        why = RemarkCode.FEW_LEVELS
    white = WHITE_BORDER_TOO if why is RemarkCode.SMOOTHED else WHITE_BORDER
    if border is not None and border.fine_share < white:
        border, why, gain_from, fit = None, RemarkCode.SMOOTHED, None, None
    # without a gain only a frame without light tells its read noise: all else may be texture
    unlit = fit is not None and fit.span_dn < GAIN_SPAN * _dark_dn(fit)
    read = _read_noise(
        fit if gain_from is not None or unlit else None, border, _dark_steps(view, fit)
    )
    told = read.dn is not None and not read.from_border
    if told and not _sides_agree(tones.level_bins, uneven):
        read = _ReadNoise(None, said=(remark(RemarkCode.NO_READ_NOISE),))
    gain = None if gain_from is None else gain_from.gain_dn_per_e
    by_transfer = gain is not None or (read.dn is not None and not read.from_border)
    source = NoiseSource.of(
        NoiseSource.BORDER if read.from_border else None,
        NoiseSource.TRANSFER if by_transfer else None,
    )
    untold = () if gain is not None or why is None else (remark(why),)
    measured = NoiseEstimate(read.dn, gain, source, (*untold, *read.said))
    estimate = _filled(measured, read, view.profile, view.white_dn - view.black.mean_dn)
    return NoiseModel(estimate, max(0.0, uneven[0]), view.linear and why is RemarkCode.SMOOTHED)


@dataclass(frozen=True, slots=True)
class _DarkSteps:
    """Distances of the values that occur about black, twice as much where they are uneven.

    Parameters
    ----------
    scaled_dn : float
        As multiplying whole DN leaves them, rounded once more; 1 where nothing did.
    widest_dn : float
        In the picture.
    """

    scaled_dn: float = 1.0
    widest_dn: float = 1.0


def _dark_steps(view: PlaneView, fit: TransferFit | None) -> _DarkSteps:
    steps, black_dn = code_steps_dn(view.histogram), view.black.mean_dn
    at_black, over_it = code_step_at(steps, black_dn + np.array([0.0, WINDOW])).tolist()
    comb = 1.1  # wider on average, and no code is missing by accident
    scaled_dn = 2.0 * over_it if comb <= over_it < COARSE else 1.0
    widest_dn = max(at_black, over_it)
    if fit is None:
        return _DarkSteps(scaled_dn, widest_dn)
    near_dn = 2.0 * _dark_dn(fit)  # codes may miss at black alone
    gap_dn = widest_gap_dn(view.histogram, black_dn - near_dn, black_dn + near_dn)
    # values that were multiplied take turns at all levels alike
    combed, many = steps[steps >= comb], 8
    alike = len(combed) >= many and abs(over_it / float(np.median(combed)) - 1.0) <= 0.05
    even = alike or all(abs(gap_dn / step_dn - 1.0) <= 0.1 for step_dn in (at_black, over_it))
    return _DarkSteps(scaled_dn, max(widest_dn, gap_dn) * (1.0 if even else 2.0))


def _agreeing(colours: Sequence[str], fits: Sequence[TransferFit | None]) -> set[int]:
    """Return the planes whose gain is sure by itself and borne out by the others.

    Texture only ever adds: a plane whose gain lies far over that of the others has measured it.
    """
    sure: dict[int, float] = {}
    for index, fit in enumerate(fits):
        if fit is not None and 0.0 < fit.gain_error <= GAIN_ERROR * fit.gain_dn_per_e:
            wide = fit.span_dn >= GAIN_SPAN * _dark_dn(fit) and fit.kept_share >= GAIN_GROUPS
            begins = fit.begins_dn <= LIGHT_BEGINS * fit.span_dn
            if wide and begins and fit.uneven <= UNEVEN_LIMIT:
                sure[index] = fit.gain_dn_per_e
    middle = median(sure.values()) if sure else 0.0
    twins = [gain for index, gain in sure.items() if colours.count(colours[index]) > 1]
    apart = len(twins) > 1 and max(twins) > (1.0 + TWINS_APART) * min(twins)
    return {
        index
        for index, gain in sure.items()
        if gain <= (1.0 + COLOURS_APART) * middle
        and not (apart and colours.count(colours[index]) > 1)
    }


def _sides_agree(level_bins: LevelBins | None, uneven: tuple[float, float]) -> bool:
    """Tell whether both sides of the picture have the read noise, each by itself.

    Where black differs from side to side one lets expect more noise without light than the other.
    """
    if level_bins is None:
        return True
    for place in (level_bins.across, level_bins.down):
        fits = [
            fit_transfer(part_of(level_bins, place * side > 0), None, uneven)
            for side in (-1.0, 1.0)
        ]
        first, second = (fit or NOTHING for fit in fits)
        apart = abs(first.read_dn2 - second.read_dn2)
        error = math.hypot(first.read_error_dn2, second.read_error_dn2)
        if apart > max(SIDES_SURE * error, SIDES_APART * (first.read_dn2 + second.read_dn2) / 2.0):
            return False
    return True


def _dark_dn(fit: TransferFit) -> float:
    return float(max(fit.read_dn2, LEAST_VARIANCE_DN2) ** 0.5)


@dataclass(frozen=True, slots=True)
class _ReadNoise:
    """Read noise, whether the masked border told it, and what is to be said about it."""

    dn: float | None
    from_border: bool = False
    said: tuple[Remark, ...] = ()


def _read_noise(
    transfer: TransferFit | None, border: BorderLevel | None, steps: _DarkSteps
) -> _ReadNoise:
    if border is not None and border.variance_dn2 > 0:
        told_dn2 = border.variance_dn2 + border.codes_dn2
        if _step_dn2(max(border.step_dn, steps.scaled_dn)) > CODES_RULE * told_dn2:
            return _ReadNoise(None, said=(remark(RemarkCode.COARSE_DARK),))
        return _bounded(border.variance_dn2, from_border=True)
    least = 2 * READ_ERROR * max(0.0 if transfer is None else transfer.read_dn2, LEAST_VARIANCE_DN2)
    if transfer is None or transfer.read_error_dn2 > least or not transfer.ruled:
        return _ReadNoise(None, said=(remark(RemarkCode.NO_READ_NOISE),))
    codes_dn2 = _step_dn2(steps.widest_dn)
    if codes_dn2 > CODES_RULE * (transfer.read_dn2 + codes_dn2):
        return _ReadNoise(None, said=(remark(RemarkCode.COARSE_DARK),))
    return _bounded(transfer.read_dn2, from_border=False)


def _step_dn2(step_dn: float) -> float:
    """Variance of rounding to codes so far apart; of single DN it is the sensor's own."""
    return step_dn**2 / 12.0 if step_dn >= COARSE else 0.0


def _bounded(variance_dn2: float, *, from_border: bool) -> _ReadNoise:
    if variance_dn2 >= LEAST_VARIANCE_DN2:
        return _ReadNoise(variance_dn2**0.5, from_border)
    bound = LEAST_VARIANCE_DN2**0.5
    return _ReadNoise(bound, from_border, (remark(RemarkCode.FINE_READ_NOISE, bound_dn=bound),))


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
    source = NoiseSource.PROFILE
    if read.from_border:
        source = NoiseSource.BORDER_PROFILE
    elif read.dn is not None or measured.gain_dn_per_e is not None:
        source = NoiseSource.TRANSFER_PROFILE
    return replace(
        measured,
        read_noise_dn=offset**0.5 * range_dn if read.dn is None else read.dn,
        gain_dn_per_e=measured.gain_dn_per_e or scale * range_dn,
        source=source,
        remarks=read.said if read.dn is not None else (),
    )
