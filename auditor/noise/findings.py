"""What the noise floor has to say: blocked places, dark frames, scenes longer than the sensor."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.findings.base import FrameView, finding, is_lit
from auditor.light.cautions import EYES_IN_SHORT
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.numbers import counted_stops, share_text

BLOCKED_AREA = FindingKind(
    code="blocked-area",
    title="Blocked-up area",
    severity=Severity.LOST,
    meaning="In a part of the picture every channel lies under the noise floor: lifting it brings "
    "up noise, not stone.",
    measured="Share of the frame whose local mean is under the noise floor in every plane; the "
    "floor is the signal at which one pixel's signal-to-noise ratio is 1 (EMVA 1288).",
    next_time="Give more light where the bright end has room; otherwise bracket, or balance the "
    "sky with a graduated filter and expose for the ground.",
)


def find_blocked_area(view: FrameView) -> Iterator[Finding]:
    """Tell of a blocked share above the limit."""
    result, limits = view.result, view.settings.judge
    share = result.blocked_fraction
    if not is_lit(result) or share is None or share < limits.blocked_limit:
        return
    patch, spare = result.largest_blocked_area, result.headroom_stops
    where = f", the largest patch {patch.where}" if patch else ""
    # From the limit on, a finding of its own tells of light left unused.
    told = spare is not None and spare >= limits.headroom_limit_stops
    room = f" The bright end had {counted_stops(spare)} in hand." if spare and not told else ""
    yield finding(
        BLOCKED_AREA,
        f"{share_text(share)} of the frame is under the noise floor{where}.{room}",
        share,
        limit=limits.blocked_limit,
        unit="share of the frame",
    )


DARK_FRAME = FindingKind(
    code="dark-frame",
    title="Dark frame",
    severity=Severity.NOTE,
    meaning="Nothing but noise was recorded: a dark frame taken on purpose, or a cap left on.",
    measured="At least 99.5 % of the frame lies under the noise floor in every plane; where no "
    "floor is known, 45 % of each plane's pixels lie at or under black, as read noise alone puts "
    "them. An area that is blown got light.",
    next_time="Keep it if it was meant: it maps the hot pixels of that shutter time.",
)

DARK_FRAME_OF_PLANE = "share of the plane"


def find_dark_frame(view: FrameView) -> Iterator[Finding]:
    """Tell of a dark frame."""
    if view.result.verdict != "dark frame":
        return
    share = view.result.blocked_fraction
    if share is None:
        zero = min(channel.zero_fraction for channel in view.result.channels)
        text = f"In every channel {share_text(zero)} or more of the pixels lie at or under black"
        yield finding(
            DARK_FRAME, f"{text}: no light came in.", zero, limit=0.45, unit=DARK_FRAME_OF_PLANE
        )
        return
    yield finding(
        DARK_FRAME,
        f"{share_text(share)} of the frame is under the noise floor: no light came in.",
        share,
        limit=0.995,
        unit="share of the frame",
    )


NOISE_UNKNOWN = FindingKind(
    code="noise-unknown",
    title="Noise floor not measured",
    severity=Severity.NOTE,
    meaning="This frame does not tell its read noise or gain, so nothing is said of blocked-up "
    "tones.",
    measured="Neither a masked border, nor areas smooth enough at different brightness, nor a "
    "noise profile in the file.",
    next_time="Nothing; another frame of the same body and ISO on the card may tell.",
)


def find_noise_unknown(view: FrameView) -> Iterator[Finding]:
    """Tell of planes without a floor."""
    missing = [c.name for c in view.result.channels if c.noise_floor_dn is None]
    if missing and is_lit(view.result):
        yield finding(
            NOISE_UNKNOWN, f"No noise floor for {', '.join(missing)}.", channel=missing[0]
        )


RANGE_TOO_LONG = FindingKind(
    code="range-too-long",
    title="Scene longer than the sensor",
    severity=Severity.RISK,
    meaning="The frame is blown at one end and blocked at the other: no single exposure would "
    "have held both.",
    measured="Blown share and blocked share both above their limits.",
    next_time="Bracket, or bring the sky down with a graduated filter.",
    caution=EYES_IN_SHORT,
)


def find_range_too_long(view: FrameView) -> Iterator[Finding]:
    """Tell of a frame that lost both ends."""
    result = view.result
    if result.verdict != "both":
        return
    yield finding(
        RANGE_TOO_LONG,
        f"{share_text(result.blown_fraction or 0)} blown and "
        f"{share_text(result.blocked_fraction or 0)} blocked in one frame.",
        result.tone_range_stops,
        unit="stops of tone range",
    )
