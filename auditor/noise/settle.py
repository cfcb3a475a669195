"""Lend a frame the noise that its sisters measured, where it cannot tell its own.

Gain and read noise belong to a body at one ISO and bit depth. A frame with nothing smooth in it
(wholly blown, wholly dark, all texture) does not tell its gain; others on the card do.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from statistics import median

from auditor.model.clip_evidence import ClipEvidence, LevelKey
from auditor.model.measurement import NoiseEstimate

SHOOT = "other frames of the shoot"


def settle_noise(
    evidence: Mapping[str, ClipEvidence], noise: Mapping[str, tuple[NoiseEstimate, ...]]
) -> dict[str, tuple[NoiseEstimate, ...]]:
    """Fill what a frame does not tell with the median over its sisters.

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
    gains = _by_key(evidence, noise, "gain_dn_per_e")
    reads = _by_key(evidence, noise, "read_noise_dn")
    return {
        frame_id: tuple(
            _settled(estimate, gains.get(frame.key(plane.name)), reads.get(frame.key(plane.name)))
            for plane, estimate in zip(frame.planes, noise[frame_id], strict=True)
        )
        for frame_id, frame in evidence.items()
    }


def _by_key(
    evidence: Mapping[str, ClipEvidence],
    noise: Mapping[str, tuple[NoiseEstimate, ...]],
    figure: str,
) -> dict[LevelKey, float]:
    values: dict[LevelKey, list[float]] = defaultdict(list)
    for frame_id, frame in evidence.items():
        if not frame.has_sisters:
            continue
        for plane, estimate in zip(frame.planes, noise[frame_id], strict=True):
            value = getattr(estimate, figure)
            if value is not None:
                values[frame.key(plane.name)].append(value)
    return {key: _middle(found) for key, found in values.items()}


def _middle(values: Iterable[float]) -> float:
    return float(median(values))


def _settled(own: NoiseEstimate, gain: float | None, read: float | None) -> NoiseEstimate:
    if own.floor_dn is not None or gain is None or read is None:
        return own
    sources = [part for part in (own.source, SHOOT) if part]
    return NoiseEstimate(
        read_noise_dn=read if own.read_noise_dn is None else own.read_noise_dn,
        gain_dn_per_e=gain if own.gain_dn_per_e is None else own.gain_dn_per_e,
        source=" and ".join(sources),
    )
