"""What the camera's preview told wrongly."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.findings.base import FrameView, finding, is_lit
from auditor.model.audit import PreviewStory
from auditor.model.findings import Finding, FindingKind, Severity
from auditor.model.numbers import counted_stops, share_text

PREVIEW_EARLY = FindingKind(
    code="preview-early",
    title="Preview cries out early",
    severity=Severity.NOTE,
    meaning="The picture on the back of the camera, and the histogram drawn from it, clip before "
    "the sensor does. Trusting it costs light.",
    measured="Per channel, log2 of saturation over the raw signal at which the preview reaches "
    "254 of 255. The channel that clips least early counts; what another clips before it is white "
    "balance. Where that channel does not tell, another's figure less its white balance stands for "
    "it. Blown frames are left out.",
    next_time="Let the highlights run past the right edge of the camera's histogram by as much as "
    "the preview clips early, less a third of a stop. Where red or blue clips earlier still, that "
    "is white balance: no more light fits for it.",
)


ALL_OF_IT_STOPS = 0.15
"""A difference that white balance explains up to this much is told as its alone."""

COLOURS = {"R": "red", "G": "green", "B": "blue"}


def find_preview_early(view: FrameView) -> Iterator[Finding]:
    """Tell of a preview that clips earlier than the limit, unless more light would lose more."""
    result, limit = view.result, view.settings.judge.preview_limit_stops
    preview = result.preview
    if preview is None or not is_lit(result) or result.verdict in ("blown", "both"):
        return
    least = least_early(preview)
    if least is None or least[1] < limit:
        return
    channel, stops = least
    yield finding(
        PREVIEW_EARLY,
        f"The preview clips {counted_stops(stops)} before the sensor does"
        f"{_by_balance(preview, channel, stops)}. It shows {share_text(preview.blown_fraction)} "
        f"blown, the raw data hold {share_text(result.blown_fraction or 0)}.",
        stops,
        limit=limit,
        unit="stops",
        channel=channel,
    )


def least_early(preview: PreviewStory) -> tuple[str, float] | None:
    """Return the channel that clips least early, and by how many stops; None where none tells.

    More light than that would blow a neutral highlight, however early red may blink. The
    channel with the least white balance multiplier is that channel; where it does not tell,
    the others' figures less their greater multipliers stand for it.
    """
    early, balance = preview.early_by_channel_stops, preview.by_white_balance_stops
    base = min(balance, key=lambda name: balance[name], default="G")
    if base in early:
        return min(early.items(), key=lambda item: item[1])
    reckoned = {
        name: stops - (balance[name] - balance[base])
        for name, stops in early.items()
        if name in balance
    }
    return min(reckoned.items(), key=lambda item: item[1], default=None)


def _by_balance(preview: PreviewStory, channel: str, stops: float) -> str:
    """Say what is white balance of the figures: no light to be had."""
    early = preview.early_by_channel_stops
    if early[channel] != stops:
        return (
            f", reckoned from {COLOURS[channel]}: {counted_stops(early[channel])}, of which "
            f"{counted_stops(early[channel] - stops)} is white balance"
        )
    name, most = max(early.items(), key=lambda item: item[1])
    if most - stops < 0.1:
        return ""
    balance = preview.by_white_balance_stops
    lent = balance.get(name, 0.0) - balance.get(channel, 0.0)
    because = f", {counted_stops(lent)} of it by white balance" if lent >= 0.05 else ""
    if abs(most - stops - lent) < ALL_OF_IT_STOPS:
        because = ", which is white balance"
    return f"; {COLOURS[name]} clips {counted_stops(most - stops)} earlier still{because}"


PREVIEW_HIDES = FindingKind(
    code="preview-hides",
    title="Preview hides a loss",
    severity=Severity.RISK,
    meaning="The sensor clips where the camera's preview still shows tone: the loss could not be "
    "seen in the field.",
    measured="Blown share of the raw data above its limit, the preview's under a tenth of it.",
    next_time="With this camera and picture setting, stay further from the right edge.",
)

PREVIEW_HIDES_LIMIT_SHARE = 1e-3
"""Of the frame: less is glitter, which no preview shows."""


def find_preview_hides(view: FrameView) -> Iterator[Finding]:
    """Tell of a raw loss that the preview does not show."""
    result, limit = view.result, PREVIEW_HIDES_LIMIT_SHARE
    blown = result.blown_fraction or 0.0
    if result.preview is None or not is_lit(result) or blown < limit:
        return
    if result.preview.blown_fraction * 10 >= blown:
        return
    yield finding(
        PREVIEW_HIDES,
        f"The raw data are blown in {share_text(blown)}, the preview shows "
        f"{share_text(result.preview.blown_fraction)}.",
        blown,
        limit=limit,
        unit="share of the frame",
    )
