"""What the camera's own preview showed, against what the sensor recorded."""

from __future__ import annotations

import math
from collections.abc import Mapping

from auditor.model.audit import PreviewStory
from auditor.model.numbers import stops_between
from auditor.model.remark import RemarkCode, remark
from auditor.model.settled import SettledFrame

COLOUR_OF = {"R": "R", "G": "G", "G1": "G", "G2": "G", "B": "B", "L": "G"}
"""Which channel of a preview shows which plane."""


def preview_story(frame: SettledFrame) -> PreviewStory | None:
    """Hold the preview against the raw data; None where the file has no preview."""
    preview = frame.measurement.preview
    if preview is None:
        return None
    # a plane that may be clipped has no level to hold a preview against
    told = [plane for plane in frame.planes if not plane.level.may_clip]
    spans: dict[str, float] = {}
    for plane in told:
        colour = COLOUR_OF[plane.name]
        spans[colour] = min(plane.span_dn, spans.get(colour, plane.span_dn))
    early, balance = {}, {}
    for colour in "RGB":
        stops = stops_between(spans.get(colour), preview.clip_signal_dn.get(colour))
        if stops is not None:
            early[colour] = stops
        multiplier = frame.measurement.facts.white_balance.get(colour, 0.0)
        if multiplier > 0:
            balance[colour] = math.log2(multiplier)
    least = least_early(early, balance)
    code = RemarkCode.PREVIEW_CLIPS
    if not early:
        unsure = preview.clip_signal_dn and len(told) < len(frame.planes)
        code = RemarkCode.PREVIEW_LEVEL_UNSURE if unsure else RemarkCode.PREVIEW_UNTOLD
    return PreviewStory(
        width=preview.width,
        height=preview.height,
        blown_fraction=preview.blown_share,
        blocked_fraction=preview.blocked_share,
        early_by_channel_stops=early,
        early_stops=None if least is None else least[1],
        by_white_balance_stops=balance,
        counts=preview.counts,
        remarks=(remark(code, share=preview.blown_share, **early), *preview.remarks),
    )


def least_early(
    early: Mapping[str, float], balance: Mapping[str, float]
) -> tuple[str, float] | None:
    """Return the channel that clips least early, and by how many stops; None where none tells.

    More light than that would blow a neutral highlight, however early red may blink. The
    channel with the least white balance multiplier is that channel; where it does not tell,
    the others' figures less their greater multipliers stand for it.

    Parameters
    ----------
    early : mapping of str to float
        Stops by which each channel of the preview clips before the sensor does.
    balance : mapping of str to float
        log2 of the white balance multipliers.
    """
    base = min(balance, key=lambda name: balance[name], default="G")
    if base in early:
        return min(early.items(), key=lambda item: item[1])
    calculated = {
        name: stops - (balance[name] - balance[base])
        for name, stops in early.items()
        if name in balance
    }
    return min(calculated.items(), key=lambda item: item[1], default=None)
