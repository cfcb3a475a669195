"""What clipping has to say: blown places, headroom, and levels that the file claims wrongly."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.clipping.limits import (
    CHANNEL_ALONE,
    CHANNEL_LEAST_SHARE,
    WHITE_LEVEL_OFF_STOPS,
)
from auditor.findings.base import FrameView, ShootView, finding, is_lit, may_be_sun, worst_channel
from auditor.light.cautions import EYES_IN_SHORT
from auditor.model.audit import ChannelFigures
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.numbers import counted_stops, share_text, stops_between

BLOWN_AREA = FindingKind(
    code="blown-area",
    title="Blown area",
    severity=Severity.LOST,
    meaning="In a connected part of the picture at least one channel reached the level at which "
    "the sensor clips. Tone and colour there cannot be had back.",
    measured="Share of pattern cells with a pixel at or above the settled clipping level; the "
    "largest connected patch of tiles in which more than half of the cells are.",
    next_time="Give less light by the stops you need, or hold the sky back with a graduated "
    "filter. Judge by the raw share, not by the preview. A small patch lost in every channel may "
    "be the sun or its reflection itself, which no exposure holds: let it go.",
    caution=EYES_IN_SHORT,
)


_SUN = " So small a patch may be the sun or its reflection itself: then let it go."


def find_blown_area(view: FrameView) -> Iterator[Finding]:
    """Tell of a patch that is larger than a specular point."""
    result, limits = view.result, view.settings.judge
    patch = result.largest_blown_area
    if not is_lit(result) or patch is None or patch.share < limits.patch_limit:
        return
    channel = worst_channel(result)
    yield finding(
        BLOWN_AREA,
        f"{share_text(result.blown_fraction or 0.0)} of the frame is blown, most of it in "
        f"{channel.name}; the largest patch covers {share_text(patch.share)} {patch.where}. "
        f"{_in_all(result.blown_all_fraction or 0.0)}{_SUN if may_be_sun(result) else ''}",
        patch.share,
        limit=limits.patch_limit,
        unit="share of the frame",
        channel=channel.name,
    )


def _in_all(share: float) -> str:
    if share:
        return f"Every channel is lost in {share_text(share)}."
    return "No place is lost in every channel."


BLOWN_CHANNEL = FindingKind(
    code="blown-channel",
    title="One channel blown alone",
    severity=Severity.RISK,
    meaning="One colour clips where the others still record: the tone can often be rebuilt, but "
    "its colour shifts, as in a sunset that turns yellow.",
    measured="Blown share of each plane against that of the other colours.",
    next_time="Watch the single channels: with a warm sky red goes first, under a blue one blue. "
    "Give less light until that channel holds.",
)


def find_blown_channel(view: FrameView) -> Iterator[Finding]:
    """Tell of a loss that is mostly one colour's."""
    result = view.result
    if not is_lit(result) or len(result.channels) < 3:
        return
    channel, limit = worst_channel(result), CHANNEL_LEAST_SHARE
    others = [c.blown_fraction for c in result.channels if c.name[0] != channel.name[0]]
    if channel.blown_fraction < limit or max(others) > (1 - CHANNEL_ALONE) * channel.blown_fraction:
        return
    yield finding(
        BLOWN_CHANNEL,
        f"{channel.name} is blown in {share_text(channel.blown_fraction)} of its pixels, the "
        f"other colours in {_at_most(max(others))}.",
        channel.blown_fraction,
        limit=limit,
        unit="share of the plane",
        channel=channel.name,
    )


def _at_most(share: float) -> str:
    """Bound the others' share, once: "under 0.01 %" is a bound of its own."""
    text = share_text(share)
    if share == 0:
        return "no pixel"
    return text.replace("<", "under") if text.startswith("<") else f"at most {text}"


BLOWN_POINTS = FindingKind(
    code="blown-points",
    title="Blown points only",
    severity=Severity.NOTE,
    meaning="A few scattered points clip: glitter on water, lamps, wet stone. They belong to the "
    "picture and need no correction.",
    measured="Some pixels reach the clipping level, but no connected patch is larger than the "
    "limit for specular points. Very many of them count as a loss.",
    next_time="Nothing. Do not underexpose a whole frame to save its glitter.",
)


def find_blown_points(view: FrameView) -> Iterator[Finding]:
    """Tell of clipped pixels where no patch is large."""
    result, limits = view.result, view.settings.judge
    patch = result.largest_blown_area
    small = patch is None or patch.share < limits.patch_limit
    if not is_lit(result) or not result.blown_fraction or not small:
        return
    many = result.blown_fraction >= limits.blown_limit
    yield finding(
        BLOWN_POINTS,
        f"{share_text(result.blown_fraction)} of the frame is blown, in "
        f"{'very many ' if many else ''}scattered points.",
        result.blown_fraction,
        limit=limits.blown_limit,
        unit="share of the frame",
        channel=worst_channel(result).name,
        severity=Severity.RISK if many else None,
    )


HEADROOM_LEFT = FindingKind(
    code="headroom-left",
    title="Light left unused",
    severity=Severity.NOTE,
    meaning="The brightest tones end well under the level at which the sensor clips. More light "
    "would have lifted every tone further out of the noise.",
    measured="The least headroom of all planes: log2 of saturation over the bright end, the "
    "signal that all but 0.01 % of the plane stays under, hot pixels left out.",
    next_time="Give the spare stops, less a third of a stop, by a longer shutter; keep base ISO.",
)


def find_headroom_left(view: FrameView) -> Iterator[Finding]:
    """Tell of headroom above the limit."""
    result, limit = view.result, view.settings.judge.headroom_limit_stops
    spare = result.headroom_stops
    if not is_lit(result) or spare is None or spare < limit:
        return
    least = min(result.channels, key=lambda c: c.headroom_stops or 0.0)
    yield finding(
        HEADROOM_LEFT,
        f"{counted_stops(spare)} more light would have fitted; {least.name} is the nearest "
        "to clipping.",
        spare,
        limit=limit,
        unit="stops",
        channel=least.name,
    )


LINEAR_LIMIT = FindingKind(
    code="linear-limit",
    title="Above the linear range",
    severity=Severity.NOTE,
    meaning="The bright end lies between the level to which the maker promises linearity and the "
    "level at which the sensor clips: tones there are recorded, their colour may drift.",
    measured="Bright end against the linearity limit in the file.",
    next_time="Where colour in the brightest tones matters, stay under the limit.",
)


def find_linear_limit(view: FrameView) -> Iterator[Finding]:
    """Tell of the first channel whose bright end is above its limit, yet not blown."""
    for channel in view.result.channels:
        if channel.linear_limit_dn is None or not is_lit(view.result):
            continue
        span_dn = channel.saturation_dn - channel.black_dn
        limit = stops_between(span_dn, channel.linear_limit_dn - channel.black_dn)
        room = channel.headroom_stops
        if limit is not None and room is not None and 0 < room < limit:
            yield finding(
                LINEAR_LIMIT,
                f"{channel.name} ends {counted_stops(room)} under clipping; the file promises "
                f"linearity only to {counted_stops(limit)} under it.",
                room,
                limit=limit,
                unit="stops",
                channel=channel.name,
            )
            return


WHITE_LEVEL_TAG = FindingKind(
    code="white-level-tag",
    title="Clipping level is not the claimed one",
    severity=Severity.NOTE,
    meaning="The sensor clips at another level than the file claims: whoever trusts the claim "
    "misses blown pixels, or sees too many.",
    measured="Pile-up at the top of the histogram over all frames of the body at this ISO and bit "
    "depth, against the white level in the file.",
    next_time="Nothing: every figure here is told against the level found.",
)


def find_white_level_tag(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell it once for each body, at the first frame that shows it."""
    told: set[str] = set()
    for result in view.results.values():
        if result.camera.body in told:
            continue
        for channel in result.channels:
            if channel.white_tag_dn <= 0:
                continue
            off = stops_between(
                channel.white_tag_dn - channel.black_dn, channel.saturation_dn - channel.black_dn
            )
            if off is not None and abs(off) >= WHITE_LEVEL_OFF_STOPS:
                told.add(result.camera.body)
                yield (
                    result.id,
                    finding(
                        WHITE_LEVEL_TAG,
                        f"{channel.name} {_found(channel)} {channel.saturation_dn:.0f} DN, "
                        f"{counted_stops(abs(off), digits=2)} {'below' if off > 0 else 'above'} "
                        f"the {channel.white_tag_dn:.0f} that the file claims. Told once for this "
                        "body.",
                        off,
                        limit=WHITE_LEVEL_OFF_STOPS,
                        unit="stops",
                        channel=channel.name,
                    ),
                )
                break


def _found(channel: ChannelFigures) -> str:
    """Say what is known of the level: data beyond the claim do not tell where they clip."""
    return "clips at" if channel.blown_from_dn <= channel.saturation_dn else "records up to"
