"""Lend a frame the noise that its sisters measured, where it cannot tell its own.

Gain and read noise belong to a body at one ISO and bit depth. A frame with nothing smooth in it
(wholly blown, wholly dark, all texture) does not tell its gain; others on the card do. They are to
agree, for one of them may have taken texture for noise. Where only one frame tells, its gain is
held against those of the body at other ISOs, which go with the ISO; where nothing bears it out,
that is said.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from statistics import median

from auditor.model.clip_evidence import ClipEvidence, LevelKey
from auditor.model.measurement import NoiseEstimate
from auditor.model.remark import RemarkCode, remark
from auditor.noise.limits import (
    ISOS_APART,
    LEAST_VARIANCE_DN2,
    LENDERS_AGREE,
    LENDERS_APART,
    SMOOTHED_UNDER,
)

SHOOT = "other frames of the shoot"


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
        Frame id to one estimate a plane; what was measured is never replaced. A frame that does
        not tell its body or ISO has no sisters.
    """
    told = _by_key(evidence, noise)
    lent = {key: _lent(key, told) for key in told}
    return {
        frame_id: tuple(
            _settled(estimate, lent.get(frame.key(plane.name)))
            for plane, estimate in zip(frame.planes, noise[frame_id], strict=True)
        )
        for frame_id, frame in evidence.items()
    }


@dataclass(slots=True)
class _Told:
    """What the frames of one key measured."""

    gains: list[float] = field(default_factory=list)
    reads: list[float] = field(default_factory=list)


def _by_key(
    evidence: Mapping[str, ClipEvidence], noise: Mapping[str, tuple[NoiseEstimate, ...]]
) -> dict[LevelKey, _Told]:
    told: dict[LevelKey, _Told] = defaultdict(_Told)
    for frame_id, frame in evidence.items():
        planes = zip(frame.planes, noise[frame_id], strict=True) if frame.has_sisters else ()
        for plane, estimate in planes:
            own = told[frame.key(plane.name)]
            if estimate.gain_dn_per_e is not None:
                own.gains.append(estimate.gain_dn_per_e)
            if estimate.read_noise_dn is not None:
                own.reads.append(estimate.read_noise_dn)
    return dict(told)


def _lent(key: LevelKey, told: Mapping[LevelKey, _Told]) -> NoiseEstimate:
    """Return what is lent under one key; what is missing in it is not."""
    own = told[key]
    gain, read = _agreed(own.gains), _agreed(own.reads)
    apart = (gain is None and own.gains) or (read is None and own.reads)
    why = (remark(RemarkCode.SISTERS_DISAGREE),) if apart else ()
    if gain is not None and len(own.gains) == 1:
        scaled = _at_other_isos(key, told)
        if scaled is None:
            why = (remark(RemarkCode.ONE_SISTER),)
        elif abs(gain / scaled - 1.0) > ISOS_APART:
            gain, why = None, (remark(RemarkCode.SISTERS_DISAGREE),)
    return NoiseEstimate(read, gain, SHOOT, why)


def _agreed(values: Sequence[float]) -> float | None:
    """Return the median of those that agree; None where they are no majority."""
    if not values:
        return None
    middle = median(values)
    near = [value for value in values if abs(value / middle - 1.0) <= LENDERS_APART]
    return float(median(near)) if len(near) > LENDERS_AGREE * len(values) else None


def _at_other_isos(key: LevelKey, told: Mapping[LevelKey, _Told]) -> float | None:
    """Return the gain that the body's other ISOs let expect: it goes with the ISO."""
    *body, iso, bits, plane = key
    scaled = [
        gain * iso / other[3]
        for other, values in told.items()
        if other[:3] == tuple(body) and other[3] != iso and other[4:] == (bits, plane)
        for gain in values.gains
    ]
    return float(median(scaled)) if scaled else None


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
        " and ".join(part for part in (own.source, SHOOT) if part),
        lent.remarks,
    )
    if filled.floor_dn is None:
        return replace(own, remarks=(*own.remarks, *lent.remarks))
    return filled
