"""What a shoot tells of noise: what frames lend each other, and which ISO a gain truly is of.

Gain and read noise belong to a body at one ISO and bit depth. A frame with nothing smooth in it
(wholly blown, wholly dark, all texture) does not tell its gain; others on the card do. They are to
agree, for one of them may have taken texture for noise. Where only one frame tells, its gain is
held against those of the body at other ISOs, which go with the ISO; where nothing bears it out,
that is said.

An extended ISO (50, made by pulling 100) and modes that save the highlights leave the gain of
another ISO, so that exposures calculated by the name are a stop off, and so is every filter
measured between the two. Where no gain tells it, the baseline exposures of DNG files may.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from statistics import median

from auditor.model.clip_evidence import ClipEvidence, LevelKey
from auditor.model.codes import NoiseSource
from auditor.model.measurement import NoiseEstimate
from auditor.model.remark import RemarkCode, remark
from auditor.noise.limits import (
    BASE_ISO,
    BASELINE_OFF_STOPS,
    GAIN_LENDERS,
    GAINS_APART,
    ISO_OFF_MOST_STOPS,
    ISO_OFF_STOPS,
    ISOS_APART,
    LEAST_VARIANCE_DN2,
    LENDERS_AGREE,
    LENDERS_APART,
    SMOOTHED_UNDER,
)


def settle_noise(
    evidence: Mapping[str, ClipEvidence], noise: Mapping[str, tuple[NoiseEstimate, ...]]
) -> dict[str, tuple[NoiseEstimate, ...]]:
    """Fill what a frame does not tell with what its sisters agree on.

    Parameters
    ----------
    evidence : mapping of frame id to ClipEvidence
        Tells which frames are sisters: same body, ISO and bit depth.
    noise : mapping of frame id to tuple of NoiseEstimate
        As measured, one a plane.

    Returns
    -------
    dict
        Frame id to one estimate a plane; what was measured is replaced only where others agree on
        another gain. A frame that does not tell its body or ISO has no sisters.
    """
    noise = _borne_out(evidence, noise)
    told: dict[LevelKey, _Told] = defaultdict(_Told)
    for frame_id, frame in evidence.items():
        planes = zip(frame.planes, noise[frame_id], strict=True) if frame.has_sisters else ()
        for plane, estimate in planes:
            own = told[frame.key(plane.name)]
            if estimate.gain_dn_per_e is not None:
                own.gains.append(estimate.gain_dn_per_e)
            if estimate.read_noise_dn is not None:
                own.reads.append(estimate.read_noise_dn)
    lent = {key: _lent(key, told) for key in told}
    return {
        frame_id: tuple(
            _settled(estimate, lent.get(frame.key(plane.name)))
            for plane, estimate in zip(frame.planes, noise[frame_id], strict=True)
        )
        for frame_id, frame in evidence.items()
    }


def _bright_alone(own: NoiseEstimate) -> bool:
    return any(told.code is RemarkCode.BRIGHT_ALONE for told in own.remarks)


@dataclass(frozen=True, slots=True)
class _Witness:
    """The gain that some frames agree on, and how many of them there are."""

    gain_dn_per_e: float | None
    frames: int


def _borne_out(
    evidence: Mapping[str, ClipEvidence], noise: Mapping[str, tuple[NoiseEstimate, ...]]
) -> dict[str, tuple[NoiseEstimate, ...]]:
    """Let go of gains that frames of the same body speak against.

    Sisters are asked first, then the body's other ISOs. A gain that only bright tones tell is let
    go as well where none bears it out.
    """
    sure: dict[tuple[str, ...], dict[LevelKey, list[float]]] = defaultdict(dict)
    for frame_id, frame in evidence.items():
        planes = zip(frame.planes, noise[frame_id], strict=True) if frame.has_sisters else ()
        for plane, own in planes:
            if own.gain_dn_per_e is not None and not _bright_alone(own):
                key = frame.key(plane.name)
                sure[_without_iso(key)].setdefault(key, []).append(own.gain_dn_per_e)

    @cache
    def witnesses(key: LevelKey) -> tuple[_Witness, _Witness]:
        by_iso, iso = sure.get(_without_iso(key), {}), key[3]
        sisters = by_iso.get(key, [])
        others = [
            gain * iso / other[3]
            for other, gains in by_iso.items()
            if other != key and min(iso, other[3]) >= BASE_ISO
            for gain in gains
        ]
        return _Witness(_agreed(sisters), len(sisters)), _Witness(_agreed(others), len(others))

    return {
        frame_id: tuple(
            _if_borne_out(own, *witnesses(frame.key(plane.name)))
            for plane, own in zip(frame.planes, noise[frame_id], strict=True)
        )
        for frame_id, frame in evidence.items()
    }


def _without_iso(key: LevelKey) -> tuple[str, ...]:
    make, model, serial, _, bits, plane = key
    return make, model, serial, str(bits), plane


def _if_borne_out(own: NoiseEstimate, sisters: _Witness, others: _Witness) -> NoiseEstimate:
    gain, doubted = own.gain_dn_per_e, _bright_alone(own)
    by_file = own.source is not None and NoiseSource.PROFILE in own.source
    if gain is None or (by_file and not doubted):
        return own
    least = 1 if doubted else GAIN_LENDERS
    told = [one for one in (sisters, others) if one.gain_dn_per_e and one.frames >= least]
    expected = told[0].gain_dn_per_e if told else None
    off = abs(gain / expected - 1.0) if expected else 0.0
    if not doubted:
        of_iso = told == [others] and _of_other_iso(math.log2(gain / (expected or gain)))
        if off <= GAINS_APART or of_iso:
            return own
    elif expected and off <= LENDERS_APART:
        said = [one for one in own.remarks if one.code is not RemarkCode.BRIGHT_ALONE]
        return replace(own, remarks=tuple(said))
    # what was fitted along with the gain goes with it
    from_border = own.source is not None and own.source.startswith(NoiseSource.BORDER)
    return replace(
        own,
        gain_dn_per_e=None,
        read_noise_dn=own.read_noise_dn if from_border else None,
        source=NoiseSource.BORDER if from_border else None,
        remarks=(*own.remarks, remark(RemarkCode.SISTERS_TELL_ANOTHER)) if told else own.remarks,
    )


def _of_other_iso(stops: float) -> bool:
    """Whether a gain so far off is that of another ISO, as where highlights are saved."""
    return ISO_OFF_STOPS <= abs(stops) <= ISO_OFF_MOST_STOPS


@dataclass(slots=True)
class _Told:
    """What the frames of one key measured."""

    gains: list[float] = field(default_factory=list)
    reads: list[float] = field(default_factory=list)


def _lent(key: LevelKey, told: Mapping[LevelKey, _Told]) -> NoiseEstimate:
    """Return what is lent under one key; what is missing in it is not."""
    own = told[key]
    gain, read = _agreed(own.gains), _agreed(own.reads)
    apart = (gain is None and own.gains) or (read is None and own.reads)
    why = (remark(RemarkCode.SISTERS_DISAGREE),) if apart else ()
    if gain is not None and len(own.gains) == 1:
        *body, iso, bits, plane = key
        scaled = [  # what the body's other ISOs let expect: the gain goes with the ISO
            value * iso / other[3]
            for other, values in told.items()
            if other[:3] == tuple(body) and other[3] != iso and other[4:] == (bits, plane)
            for value in values.gains
        ]
        if not scaled:
            why = (remark(RemarkCode.ONE_SISTER),)
        elif abs(gain / median(scaled) - 1.0) > ISOS_APART:
            gain, why = None, (remark(RemarkCode.SISTERS_DISAGREE),)
    return NoiseEstimate(read, gain, NoiseSource.SHOOT, why)


def _agreed(values: Sequence[float]) -> float | None:
    """Return the median of those that agree; None where they are no majority."""
    if not values:
        return None
    middle = median(values)
    near = [value for value in values if abs(value / middle - 1.0) <= LENDERS_APART]
    return float(median(near)) if len(near) > LENDERS_AGREE * len(values) else None


def over_black(own: NoiseEstimate, moved_dn: float, *, unlit: bool) -> NoiseEstimate:
    """Return the noise of a plane whose black was moved: shot noise begins elsewhere.

    A frame without light tells read noise by whatever noise it has.
    """
    if unlit:
        return replace(own, read_noise_dn=own.read_noise_dn or own.darkest_dn)
    if own.read_noise_dn is None or own.gain_dn_per_e is None:
        return own
    variance_dn2 = own.read_noise_dn**2 + own.gain_dn_per_e * moved_dn
    known = variance_dn2 >= LEAST_VARIANCE_DN2
    return replace(own, read_noise_dn=variance_dn2**0.5 if known else None)


def _settled(own: NoiseEstimate, lent: NoiseEstimate | None) -> NoiseEstimate:
    if own.floor_dn is not None or lent is None:
        return own
    known = own.darkest_dn is not None and lent.read_noise_dn is not None
    if known and (own.darkest_dn or 0.0) < SMOOTHED_UNDER * (lent.read_noise_dn or 0.0):
        return replace(own, remarks=(*own.remarks, remark(RemarkCode.CALMER_THAN_SISTERS)))
    filled = NoiseEstimate(
        lent.read_noise_dn if own.read_noise_dn is None else own.read_noise_dn,
        lent.gain_dn_per_e if own.gain_dn_per_e is None else own.gain_dn_per_e,
        NoiseSource.of(own.source, NoiseSource.SHOOT),
        lent.remarks,
    )
    if filled.floor_dn is None:
        # the one frame that tells a gain may be this one: no other does
        alone = own.gain_dn_per_e is not None
        said = (told for told in lent.remarks if not (alone and told.code is RemarkCode.ONE_SISTER))
        return replace(own, remarks=(*own.remarks, *said))
    return filled


STEPS = 3.0
"""ISO dials go in thirds of a stop."""

_Sensor = tuple[str, ...]
_Stops = dict[_Sensor, dict[float, list[float]]]
"""By sensor and ISO: stops that the sensor's gain is above the ISO, up to a constant."""


def true_isos(
    evidence: Mapping[str, ClipEvidence],
    noise: Mapping[str, tuple[NoiseEstimate, ...]],
    baselines: Mapping[str, float],
) -> dict[str, tuple[float, RemarkCode]]:
    """Return the ISO of the sensor's gain, and what tells it, for frames whose file names another.

    Parameters
    ----------
    evidence : mapping of frame id to ClipEvidence
        Tells body, sensor and ISO.
    noise : mapping of frame id to tuple of NoiseEstimate
        As measured on each frame itself.
    baselines : mapping of frame id to float
        Stops by which a DNG is to be shown brighter, where it tells so. A frame pulled by a stop
        is to be shown darker by one, one that saves the highlights brighter. Measured gains go
        before them.
    """
    by_gain: _Stops = defaultdict(lambda: defaultdict(list))
    by_base: _Stops = defaultdict(lambda: defaultdict(list))
    sensors: dict[str, _Sensor] = {}
    for frame_id, frame in evidence.items():
        if frame.has_sisters:
            sensor: _Sensor = (*frame.body, frame.sensor, str(frame.bit_depth))
            sensors[frame_id] = sensor
            gains = [
                one.gain_dn_per_e
                for one in noise[frame_id]
                if one.gain_dn_per_e and not _bright_alone(one)
            ]
            if gains:
                by_gain[sensor][frame.iso].append(math.log2(median(gains) / frame.iso))
            if frame_id in baselines:
                by_base[sensor][frame.iso].append(-baselines[frame_id])
    told: dict[_Sensor, dict[float, tuple[float, RemarkCode]]] = {}
    for sensor in set(sensors.values()):
        gain, base = _off(by_gain[sensor]), _off_by_baseline(by_base[sensor])
        # one ISO alone is held against nothing, so its gain tells nothing
        measured = gain if len(gain) > 1 else {}
        if any(abs(base[iso] - measured[iso]) >= ISO_OFF_STOPS for iso in base.keys() & measured):
            base = {}
        told[sensor] = {
            iso: (iso * 2.0 ** (round(STEPS * stops) / STEPS), code)
            for off, code in (
                (base, RemarkCode.ISO_OF_BASELINE),
                (measured, RemarkCode.ISO_OF_GAIN),
            )
            for iso, stops in off.items()
            if _of_other_iso(stops)
        }
    return {
        frame_id: told[sensor][evidence[frame_id].iso]
        for frame_id, sensor in sensors.items()
        if evidence[frame_id].iso in told[sensor]
    }


def _off(by_iso: Mapping[float, list[float]], *, from_zero: bool = False) -> dict[float, float]:
    """Return how far each ISO is off the usual ones; nothing where none is usual.

    Of two that contradict each other the lower ISO is the extended one; where levels count from
    zero, that which is farther from it.
    """
    level = {iso: median(values) for iso, values in sorted(by_iso.items())}
    usual = [value for iso, value in level.items() if iso >= BASE_ISO]
    if not usual:
        return {}
    of_two = min(usual, key=abs) if from_zero else usual[-1]
    middle = of_two if len(usual) == 2 else median(usual)
    return {iso: value - middle for iso, value in level.items()}


def _off_by_baseline(by_iso: Mapping[float, list[float]]) -> dict[float, float]:
    """Likewise by baseline exposures; nothing where they are set frame by frame, as by a scene."""
    off = _off(by_iso, from_zero=True)
    loose = [max(values) - min(values) for values in by_iso.values()]
    loose += [abs(stops - round(STEPS * stops) / STEPS) for stops in off.values()]
    return off if max(loose, default=0.0) <= BASELINE_OFF_STOPS else {}
