"""What the camera's own preview showed, against what the sensor recorded."""

from __future__ import annotations

import math
from collections.abc import Mapping

from auditor.model.audit import PreviewStory
from auditor.model.measurement import PreviewMeasurement
from auditor.model.numbers import counted_stops, share_text, stops_between
from auditor.model.settled import SettledFrame

COLOUR_OF = {"R": "R", "G": "G", "G1": "G", "G2": "G", "B": "B", "L": "G"}
"""Which channel of a preview shows which plane."""


def preview_story(frame: SettledFrame) -> PreviewStory | None:
    """Hold the preview against the raw data; None where the file has no preview."""
    preview = frame.measurement.preview
    if preview is None:
        return None
    spans = _spans_dn(frame)
    early = {
        colour: stops
        for colour, clip_dn in sorted(preview.clip_signal_dn.items(), key=_rgb_order)
        if (stops := stops_between(spans.get(colour), clip_dn)) is not None
    }
    least = min(early.values()) if early else None
    return PreviewStory(
        width=preview.width,
        height=preview.height,
        blown_fraction=preview.blown_share,
        blocked_fraction=preview.blocked_share,
        early_by_channel_stops=early,
        early_stops=least,
        by_white_balance_stops=_white_balance_stops(frame.measurement.facts.white_balance),
        counts=preview.counts,
        text=_text(preview, early),
    )


def _spans_dn(frame: SettledFrame) -> dict[str, float]:
    """Return saturation over black by colour; the least where two planes share a colour."""
    spans: dict[str, float] = {}
    for plane in frame.planes:
        colour = COLOUR_OF[plane.name]
        spans[colour] = min(plane.span_dn, spans.get(colour, plane.span_dn))
    return spans


def _white_balance_stops(multipliers: Mapping[str, float]) -> dict[str, float]:
    return {
        colour: math.log2(multipliers[colour])
        for colour in "RGB"
        if multipliers.get(colour, 0.0) > 0
    }


def _rgb_order(item: tuple[str, float]) -> int:
    return "RGB".index(item[0])


def _text(preview: PreviewMeasurement, early: Mapping[str, float]) -> str:
    shown = f"The preview shows {share_text(preview.blown_share)} blown"
    if not early:
        return " ".join((f"{shown}; nothing in the picture tells where it clips.", *preview.notes))
    parts = [
        f"{colour} {counted_stops(abs(stops))} {_when(stops)}" for colour, stops in early.items()
    ]
    return " ".join((f"{shown}; it clips {', '.join(parts)}.", *preview.notes))


def _when(stops: float) -> str:
    return "before the sensor does" if stops >= 0 else "after the sensor does"
