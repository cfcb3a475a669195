"""Filling in what the metadata lack from what the decoder knows. Invented values are refused.

The decoder turns an exposure time of 0/x into 1 s and an f-number of 0/x into 1, and gives 0
for what is absent and 1970 for no date: none of these is taken. Where it does answer, a note
says that it did.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import datetime

from auditor.model.facts import ExposureFacts, FileFacts
from auditor.model.remark import RemarkCode, remark
from auditor.read.exif_tags import clean, named, shutter_time

_ORIENTATIONS = {3: 3, 5: 8, 6: 6}
"""The decoder's turn (3 upside down, 5 a quarter left, 6 a quarter right) as Exif has it."""


@dataclass(frozen=True, slots=True)
class DecoderFacts:
    """What the decoder tells, as it tells it: 0 or empty for absent."""

    iso: float = 0.0
    time_s: float = 0.0
    f_number: float = 0.0
    focal_mm: float = 0.0
    lens: str = ""
    moment: datetime | None = None
    flip: int = 0
    white_balance: tuple[float, ...] = ()


def complete_facts(facts: FileFacts, told: DecoderFacts) -> FileFacts:
    """Return the facts with the gaps filled that the decoder can fill honestly."""
    answered: list[str] = []
    exposure = _exposure(facts.exposure, told, answered)
    lens = facts.lens
    if lens.focal_mm is None and _within(told.focal_mm, 0.1, 1e5):
        lens = replace(lens, focal_mm=round(float(told.focal_mm), 2))
        answered.append("focal length")
    if lens.model is None and (model := named(clean(told.lens))) is not None:
        lens = replace(lens, model=model)
        answered.append("lens")
    captured_at = facts.captured_at
    if captured_at is None and told.moment is not None and told.moment.year > 1970:
        captured_at = told.moment.isoformat(timespec="seconds")
        answered.append("time")
    note = remark(RemarkCode.FROM_DECODER, facts=tuple(answered))
    return replace(
        facts,
        exposure=exposure,
        lens=lens,
        captured_at=captured_at,
        orientation=facts.orientation or _ORIENTATIONS.get(told.flip),
        white_balance=facts.white_balance or white_balance(told.white_balance),
        remarks=(*facts.remarks, note) if answered else facts.remarks,
    )


def _exposure(known: ExposureFacts, told: DecoderFacts, answered: list[str]) -> ExposureFacts:
    if known.iso is None and _within(told.iso, 1.0, 1e8):
        known = replace(known, iso=float(told.iso))
        answered.append("ISO")
    if known.time_s is None and _within(told.time_s, 1e-7, 1e6) and told.time_s != 1.0:
        # what single precision adds is taken off: 0.0198 for 1/50 becomes 0.02 again
        nominal_s = float(f"{told.time_s:.6g}")
        time_s, source = shutter_time(nominal_s, None)
        known = replace(known, time_s=time_s, time_source=source, nominal_time_s=nominal_s)
        answered.append("shutter time")
    if known.f_number is None and _within(told.f_number, 0.3, 256.0) and told.f_number != 1.0:
        known = replace(known, f_number=round(float(told.f_number), 2))
        answered.append("f-number")
    return known


def _within(value: float, least: float, most: float) -> bool:
    return math.isfinite(value) and least <= value <= most


def white_balance(multipliers: tuple[float, ...]) -> dict[str, float]:
    """Return the as-shot multipliers for R, G and B with green 1; empty where one is absent."""
    if len(multipliers) < 3 or not all(_within(value, 1e-6, 1e9) for value in multipliers[:3]):
        return {}
    red, green, blue = (float(value) for value in multipliers[:3])
    return {"R": red / green, "G": 1.0, "B": blue / green}
