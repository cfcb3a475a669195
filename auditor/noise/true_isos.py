"""The ISO that a frame's gain lets expect, where it contradicts the one that the file names.

Gain in DN per electron goes with the ISO. An extended one (50, made by pulling 100) and modes that
save the highlights leave the gain of another ISO, so that exposures calculated by the name are a
stop off, and so is every filter measured between the two.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from statistics import median

from auditor.model.clip_evidence import ClipEvidence
from auditor.model.measurement import NoiseEstimate
from auditor.noise.limits import ISO_OFF_STOPS

BASE_ISO = 100.0
"""Under it an ISO is extended (common practice)."""

STEPS = 3.0
"""ISO dials go in thirds of a stop."""


def true_isos(
    evidence: Mapping[str, ClipEvidence], noise: Mapping[str, tuple[NoiseEstimate, ...]]
) -> dict[str, float]:
    """Return the ISO that the gain tells, for frames whose file names another.

    Parameters
    ----------
    evidence : mapping of frame id to ClipEvidence
        Tells body, sensor and ISO.
    noise : mapping of frame id to tuple of NoiseEstimate
        As measured on each frame itself.
    """
    sensors: dict[tuple[str, ...], dict[float, list[float]]] = defaultdict(dict)
    for frame_id, frame in evidence.items():
        gains = [one.gain_dn_per_e for one in noise[frame_id] if one.gain_dn_per_e]
        if frame.has_sisters and gains:
            by_iso = sensors[(*frame.body, frame.sensor, str(frame.bit_depth))]
            by_iso.setdefault(frame.iso, []).append(math.log2(median(gains) / frame.iso))
    told = {sensor: _told(by_iso) for sensor, by_iso in sensors.items()}
    return {
        frame_id: iso
        for frame_id, frame in evidence.items()
        for iso in [told.get((*frame.body, frame.sensor, str(frame.bit_depth)), {}).get(frame.iso)]
        if iso is not None
    }


def _told(by_iso: Mapping[float, Sequence[float]]) -> dict[float, float]:
    """Return the true ISO of each that is off by more than the limit."""
    level = {iso: median(values) for iso, values in sorted(by_iso.items())}
    usual = [value for iso, value in level.items() if iso >= BASE_ISO]
    if not usual:
        return {}
    # of two that contradict each other the lower is the extended one
    middle = usual[-1] if len(usual) == 2 else median(usual)
    off = {iso: value - middle for iso, value in level.items()}
    return {
        iso: iso * 2.0 ** (round(STEPS * stops) / STEPS)
        for iso, stops in off.items()
        if abs(stops) >= ISO_OFF_STOPS
    }
