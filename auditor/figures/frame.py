"""One frame judged: all figures, the verdict, how grave its loss is, what the preview told."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from auditor.clipping.limits import SMALL_LOSS
from auditor.clipping.maps import ClipMaps, clip_maps, local_means_dn, patch_of, thirds
from auditor.figures.channel import channel_figures
from auditor.findings.base import may_be_sun
from auditor.model.audit import (
    ChannelFigures,
    FrameResult,
    FrameSize,
    HotFigures,
    Patch,
    ThirdsShare,
)
from auditor.model.codes import Clipping, FrameStatus, Loss, Verdict
from auditor.model.errors import FileFailure, FrameFailure
from auditor.model.facts import CardFile, FileFacts
from auditor.model.remark import RemarkCode, remark
from auditor.model.settings import JudgeSettings
from auditor.model.settled import SettledFrame
from auditor.noise.limits import DARK_FRAME_BLOCKED, DARK_ZERO_SHARE
from auditor.preview.story import preview_story


def judge_frame(source: CardFile, frame: SettledFrame, settings: JudgeSettings) -> FrameResult:
    """Judge one measured frame; its findings are added later."""
    facts, mosaic, area = frame.measurement.facts, frame.mosaic, frame.mosaic.tile_area
    channels = tuple(
        channel_figures(plane, local_dn, area, settings)
        for plane, local_dn in zip(frame.planes, local_means_dn(frame), strict=True)
    )
    maps = clip_maps(frame)
    blown_patch = patch_of(maps.any_blown, maps.weight)
    blocked_patch = None if maps.blocked is None else patch_of(maps.blocked, maps.weight)
    # a pattern cell holds one pixel of each plane, so no plane's exact share can be more
    blown_fraction = max(maps.blown_fraction, *(c.blown_fraction for c in channels))
    blown_all_fraction = min(maps.blown_all_fraction, *(c.blown_fraction for c in channels))
    loss = loss_of(blown_fraction, blown_all_fraction, blown_patch, settings)
    verdict = _verdict(channels, loss, maps, settings)
    clipping = Clipping.SEEN if blown_fraction else Clipping.NOT_SEEN
    if any(plane.level.may_clip for plane in frame.planes):
        clipping = Clipping.MAY_BE_CLIPPED
    rooms = [c.headroom_stops for c in channels if c.headroom_stops is not None]
    ranges = {channel.name: channel.tone_range_stops for channel in channels}
    spans = [span for span in ranges.values() if span is not None]
    silent = tuple(name for name, span in ranges.items() if span is None)
    # the widest plane may be one that does not tell
    open_range = (remark(RemarkCode.RANGE_OPEN, channels=silent),) if silent and spans else ()
    return replace(
        unjudged_frame(source, facts),
        size=FrameSize(mosaic.width, mosaic.height, mosaic.bit_depth),
        layout=mosaic.layout,
        channels=channels,
        blown_fraction=blown_fraction,
        blown_all_fraction=blown_all_fraction,
        blocked_fraction=maps.blocked_fraction,
        largest_blown_area=blown_patch,
        largest_blocked_area=blocked_patch,
        thirds=ThirdsShare(
            thirds(maps.any_blown, maps.weight),
            (None, None, None) if maps.blocked is None else thirds(maps.blocked, maps.weight),
        ),
        tone_range_stops=max(spans, default=None),
        headroom_stops=min(rooms) if len(rooms) == len(channels) else None,
        preview=preview_story(frame),
        hot_pixels=HotFigures(mosaic.hot.count, mosaic.hot.per_megapixel),
        sharpness=mosaic.sharpness,
        lens_shading=frame.measurement.shading,
        verdict=Verdict.MAY_BE_CLIPPED
        if verdict is Verdict.HELD and clipping is Clipping.MAY_BE_CLIPPED
        else verdict,
        clipping=clipping,
        loss=loss,
        remarks=(*frame.measurement.remarks, *facts.remarks, *open_range),
    )


def unreadable_frame(source: CardFile, failure: FrameFailure) -> FrameResult:
    """Return the record of a file that could not be measured, with what its header told."""
    facts = failure.facts if isinstance(failure, FileFailure) else FileFacts()
    error = FrameFailure(failure.code, failure.message)
    return replace(unjudged_frame(source, facts, FrameStatus.UNREADABLE), error=error)


def unjudged_frame(
    source: CardFile, facts: FileFacts, status: FrameStatus = FrameStatus.MEASURED
) -> FrameResult:
    """Return what is known of a frame before its pixels are judged."""
    return FrameResult(
        id=source.id,
        input=source.input_index,
        file=source.file,
        status=status,
        error=None,
        camera=facts.camera,
        lens=facts.lens,
        orientation=facts.orientation,
        captured_at=facts.captured_at,
        exposure=facts.exposure,
        position=facts.position,
        temperature_c=facts.temperature_c,
        white_balance=dict(facts.white_balance),
        companions=source.companions,
        also_at=source.also_at,
        differing_copies=source.differing_copies,
        kind=source.kind,
    )


def _verdict(
    channels: Sequence[ChannelFigures], loss: Loss, maps: ClipMaps, settings: JudgeSettings
) -> Verdict:
    # next to nothing is over the floor; without a floor, all is at black
    blocked_fraction = maps.blocked_fraction
    unlit = all(channel.zero_fraction >= DARK_ZERO_SHARE for channel in channels)
    if blocked_fraction is not None:
        unlit = blocked_fraction >= DARK_FRAME_BLOCKED
    if unlit and loss in (Loss.NONE, Loss.GLINTS):
        return Verdict.DARK_FRAME
    blocked = blocked_fraction is not None and blocked_fraction >= settings.blocked_limit
    if loss.grave and blocked:
        return Verdict.BOTH
    if loss.grave:
        return Verdict.BLOWN
    return Verdict.BLOCKED if blocked else Verdict.HELD


def loss_of(blown: float, blown_all: float, patch: Patch | None, limits: JudgeSettings) -> Loss:
    """Grade what clipped, by which a frame is called blown or held.

    Parameters
    ----------
    blown, blown_all : float
        Share of the frame where any channel is blown; where all are.
    patch : Patch or None
        The largest connected one.
    limits : JudgeSettings

    Returns
    -------
    Loss
        An area is lost where very much is blown, or where a patch is and all of it is no longer
        small; in all channels where that part alone is no longer small, else it may be rebuilt
        from the others. What the sun may have left is a patch.
    """
    connected = patch is not None and patch.share >= limits.patch_limit
    area = blown >= limits.blown_limit or (connected and blown >= SMALL_LOSS)
    if area and not may_be_sun(blown, blown_all, patch):
        return Loss.ALL_CHANNELS if blown_all >= SMALL_LOSS else Loss.CHANNEL
    if area or connected:
        return Loss.PATCH
    return Loss.GLINTS if blown > 0 else Loss.NONE
