"""What was lost or added without light: damage and hot pixels."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from auditor.findings.base import FrameView, finding
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.numbers import share_text, time_text

if TYPE_CHECKING:
    # Only named here: explaining a finding must not wait for the array libraries.
    from auditor.model.measurement import DamageSign

DAMAGED_DATA = FindingKind(
    code="damaged-data",
    title="Damaged picture data",
    severity=Severity.LOST,
    meaning="A part of the picture is not what the sensor recorded: a bad block on the card, or a "
    "copy that broke off.",
    measured="Constant blocks, empty rows and jumps between rows that no scene makes, and the "
    "digest that some files carry.",
    next_time="Copy the file again from the card, and retire a card that does this twice.",
)

MAY_BE_DAMAGED = FindingKind(
    code="may-be-damaged",
    title="May be damaged",
    severity=Severity.RISK,
    meaning="A part of the picture looks like lost data, and may be of the scene, or of the way in "
    "which the camera packs.",
    measured="Places without any noise, and rows from which the picture is displaced or lifted.",
    next_time="Compare with the second copy before the card is formatted.",
)


def find_damaged_data(view: FrameView) -> Iterator[Finding]:
    """Tell each sign of damage that cannot be chance."""
    for sign in view.damage:
        if sign.certain:
            yield _told(DAMAGED_DATA, sign.text, sign)


def find_may_be_damaged(view: FrameView) -> Iterator[Finding]:
    """Tell each sign of damage that may be none."""
    for sign in view.damage:
        if not sign.certain:
            text = f"May be damaged: compare with the second copy. {sign.text}"
            yield _told(MAY_BE_DAMAGED, text, sign)


def _told(kind: FindingKind, text: str, sign: DamageSign) -> Finding:
    told = f"{text} ({share_text(sign.share)} of the frame)"
    return finding(kind, told, sign.share, unit="share of the frame")


HOT_PIXELS = FindingKind(
    code="hot-pixels",
    title="Hot pixels",
    severity=Severity.NOTE,
    meaning="Single pixels far above their neighbours, as they grow with time and warmth.",
    measured="Isolated pixels far above all same-coloured neighbours, against the local noise, "
    "per megapixel; told of exposures of a second and longer, and of those of unknown time, for in "
    "short ones an isolated speck is more often glitter or texture.",
    next_time="Let the body cool between long exposures, or take a dark frame of the same time.",
)

LONG_S = 1.0


def find_hot_pixels(view: FrameView) -> Iterator[Finding]:
    """Tell of more hot pixels than the limit."""
    hot, limit = view.result.hot_pixels, view.settings.judge.hot_limit_per_megapixel
    exposure = view.result.exposure
    time_s = exposure.time_s
    if hot is None or hot.per_megapixel < limit or (time_s is not None and time_s < LONG_S):
        return
    # As the dial names it: the true 32 s beside a frame of 30 s would read as another frame's.
    after = "" if time_s is None else f" after {time_text(exposure.nominal_time_s or time_s)}"
    yield finding(
        HOT_PIXELS,
        f"{hot.per_megapixel:.0f} hot pixels a megapixel{after}.",
        hot.per_megapixel,
        limit=limit,
        unit="a megapixel",
    )
