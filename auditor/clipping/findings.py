"""What clipping has to say: blown places, headroom, and levels that the file claims wrongly."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.clipping.limits import (
    CHANNEL_ALONE,
    CHANNEL_LEAST_SHARE,
    MANY_NEAR_TOP,
    WHITE_LEVEL_OFF_STOPS,
)
from auditor.findings.base import FrameView, ShootView, finding, is_lit, may_be_sun, worst_channel
from auditor.model.codes import Clipping
from auditor.model.findings import Finding, FindingCode, Severity
from auditor.model.numbers import stops_between
from auditor.model.remark import RemarkCode


def find_blown_area(view: FrameView) -> Iterator[Finding]:
    """Tell of a patch that is larger than a specular point; it is a loss where an area is lost."""
    result, limits = view.result, view.settings.judge
    patch = result.largest_blown_area
    if not is_lit(result) or patch is None or patch.share < limits.patch_limit:
        return
    blown, blown_all = result.blown_fraction or 0.0, result.blown_all_fraction or 0.0
    yield finding(
        FindingCode.BLOWN_AREA,
        Severity.LOST if result.verdict.lost_highlights else Severity.RISK,
        patch.share,
        limit=limits.patch_limit,
        unit="share of the frame",
        channel=worst_channel(result).name,
        blown=blown,
        blown_all=blown_all,
        where=patch.where,
        may_be_sun=may_be_sun(blown, blown_all, patch),
    )


def find_blown_channel(view: FrameView) -> Iterator[Finding]:
    """Tell of a loss that is mostly one colour's."""
    result = view.result
    if not is_lit(result) or len(result.channels) < 3:
        return
    worst = worst_channel(result)
    others = max(c.blown_fraction for c in result.channels if c.name[0] != worst.name[0])
    alone = others <= (1 - CHANNEL_ALONE) * worst.blown_fraction
    if worst.blown_fraction >= CHANNEL_LEAST_SHARE and alone:
        yield finding(
            FindingCode.BLOWN_CHANNEL,
            Severity.RISK,
            worst.blown_fraction,
            limit=CHANNEL_LEAST_SHARE,
            unit="share of the plane",
            channel=worst.name,
            others=others,
        )


def find_may_be_clipped(view: FrameView) -> Iterator[Finding]:
    """Tell where neither clipping nor headroom is known."""
    result = view.result
    if is_lit(result) and result.clipping == Clipping.MAY_BE_CLIPPED:
        channel = next(
            (c for c in result.channels if c.headroom_stops is None), worst_channel(result)
        )
        said = {told.code for told in channel.remarks}
        yield finding(
            FindingCode.MAY_BE_CLIPPED,
            Severity.RISK,
            limit=MANY_NEAR_TOP,
            unit="share of the plane",
            channel=channel.name,
            claimed_dn=channel.white_tag_dn,
            apart=RemarkCode.CLIPS_APART in said,
            coarse=RemarkCode.COARSE_TOP in said,
            crowded=RemarkCode.CROWDED_TOP in said,
            filled=RemarkCode.FILLED_IN in said,
            differ=RemarkCode.LEVELS_DIFFER in said,
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
        FindingCode.BLOWN_POINTS,
        Severity.RISK if many else Severity.NOTE,
        result.blown_fraction,
        limit=limits.blown_limit,
        unit="share of the frame",
        channel=worst_channel(result).name,
        many=many,
    )


def find_headroom_left(view: FrameView) -> Iterator[Finding]:
    """Tell of headroom above the limit."""
    result, limit = view.result, view.settings.judge.headroom_limit_stops
    room = result.headroom_stops
    if is_lit(result) and room is not None and room >= limit:
        least = min(result.channels, key=lambda c: c.headroom_stops or 0.0)
        yield finding(
            FindingCode.HEADROOM_LEFT,
            Severity.NOTE,
            room,
            limit=limit,
            unit="stops",
            channel=least.name,
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
                FindingCode.LINEAR_LIMIT,
                Severity.NOTE,
                room,
                limit=limit,
                unit="stops",
                channel=channel.name,
            )
            return


def find_white_level_tag(view: ShootView) -> Iterator[tuple[str, Finding]]:
    """Tell it once for each body, at the first frame that shows it."""
    told: set[str] = set()
    for result in view.results.values():
        channels = () if result.camera.body in told else result.channels
        for channel in channels:
            claimed_dn = channel.white_tag_dn - channel.black_dn
            off = stops_between(claimed_dn, channel.saturation_dn - channel.black_dn)
            if channel.white_tag_dn <= 0 or off is None or abs(off) < WHITE_LEVEL_OFF_STOPS:
                continue
            told.add(result.camera.body)
            yield (
                result.id,
                finding(
                    FindingCode.WHITE_LEVEL_TAG,
                    Severity.NOTE,
                    off,
                    limit=WHITE_LEVEL_OFF_STOPS,
                    unit="stops",
                    channel=channel.name,
                    saturation_dn=channel.saturation_dn,
                    tag_dn=channel.white_tag_dn,
                    # data beyond the claim do not tell where they clip
                    clips=channel.blown_from_dn <= channel.saturation_dn,
                ),
            )
            break
