"""The tones of each plane on a stops axis, against a step wedge."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from auditor.model.arrays import U8
from auditor.model.audit import StopHistogram
from auditor.model.numbers import counted_stops, stops_text
from auditor.report.frame_records import ChannelSheet, FrameSheet
from auditor.report.page_channels import drawn_alone
from auditor.report.png_canvas import BODY, HEAD, SMALL, Canvas, line_height
from auditor.report.png_marks import StopsAxis, draw_wedge
from auditor.report.png_tables import Column
from auditor.report.style import CARD, INK, LINE, PLANE_COLOURS, SOFT_INK
from auditor.words import values as words
from auditor.words.page import TONES_LEGEND

STRIP_HEIGHT = 92
LABEL_WIDTH, ROOM_WIDTH = 130, 250
ABOVE_SATURATION = 0.6
"""Stops shown above saturation: the clipping level has a spread."""

FULL_HEIGHT = 0.86
"""Height of the tallest bin in its strip."""


def draw_tones(canvas: Canvas, column: Column, sheet: FrameSheet, top: int) -> int:
    """Draw a strip a colour on the stops axis, and the step wedge under them; return the y below.

    A strip shows where the colour's tones lie, its noise floor (stipple to the left of it), its
    saturation (hatch to the right), its headroom as a measure, and by a broken line where the
    camera's preview already calls it blown.
    """
    canvas.text(column.left, top, column.width, "Tones of each channel", size=HEAD, bold=True)
    top += line_height(HEAD) + 4
    channels = list(drawn_alone(sheet.channels))
    floors = [channel.bar.floor_stops for channel in channels]
    depth = max([8.0, *(floor + 1.0 for floor in floors if floor is not None)])
    depth = min(18.0, float(int(depth + 0.999)))
    left, right = column.left + LABEL_WIDTH, column.right - ROOM_WIDTH
    above = round((right - left) * ABOVE_SATURATION / (depth + ABOVE_SATURATION))
    axis = StopsAxis(left, right - above, depth)
    bottom = top + STRIP_HEIGHT * len(channels)
    canvas.fill(axis.left, top, axis.right + above, bottom, CARD)
    # what lies under the floor and over saturation, behind the histogram
    for row, channel in enumerate(channels):
        upper, lower = top + row * STRIP_HEIGHT, top + (row + 1) * STRIP_HEIGHT
        if channel.bar.floor_stops is not None:
            floor = axis.x(channel.bar.floor_stops)
            canvas.pattern("blocked", (axis.left, upper, floor, lower), LINE)
            canvas.fill(floor, upper, floor + 1, lower, SOFT_INK)
        canvas.pattern("blown", (axis.right, upper, axis.right + above, lower), LINE)
        canvas.rule(axis.left, axis.right + above, lower - 1, LINE)
    planes = [(channel.name, channel.histogram) for channel in channels]
    width = axis.right + above - axis.left
    canvas.paste(histogram_strips(planes, axis.depth, width, STRIP_HEIGHT), axis.left, top)
    for row, channel in enumerate(channels):
        early = sheet.preview_clips_stops.get("G" if channel.name == "L" else channel.name[:1])
        _draw_measures(canvas, column, axis, channel, early=early, top=top + row * STRIP_HEIGHT)
    canvas.fill(axis.right, top, axis.right + 1, bottom, INK)
    draw_wedge(canvas, axis, bottom + 4, 16)
    top = bottom + 24
    for stop in range(0, int(axis.depth) + 1, 1 if axis.depth <= 10 else 2):
        canvas.text(round(axis.x(stop)) - 14, top, 28, str(stop), size=SMALL, align="middle")
    top += line_height(SMALL)
    for told in TONES_LEGEND:
        canvas.text(column.left, top, column.width, told, size=SMALL, colour=SOFT_INK)
        top += line_height(SMALL)
    return top


def histogram_strips(
    planes: Sequence[tuple[str, StopHistogram]], depth: float, width: int, strip_height: int
) -> U8:
    """Draw one strip a plane, one below the other, all on one scale.

    The height is the square root of the count, so that a few pixels show beside many.

    Parameters
    ----------
    planes : sequence of (name, StopHistogram)
    depth : float
        Stops below saturation at the left edge; the right edge lies
        :data:`ABOVE_SATURATION` above it.

    Returns
    -------
    array of uint8, shape (strip_height * planes, width, 4)
        With opacity: how much of each pixel the bars cover.
    """
    strips = np.zeros((len(planes), strip_height, width, 4), dtype=np.uint8)
    stops = np.linspace(depth, -ABOVE_SATURATION, width + 1)
    roots = [np.sqrt(np.asarray(histogram.counts, dtype=np.float64)) for _, histogram in planes]
    tallest = max((float(root.max()) for root in roots if root.size), default=0.0) or 1.0
    above_bottom = np.arange(strip_height)[::-1, np.newaxis]
    for strip, (name, histogram), root in zip(strips, planes, roots, strict=True):
        edges = histogram.first_stop + histogram.step * np.arange(len(root) + 1)
        area = np.interp(stops, edges, np.append(0.0, np.cumsum(root * histogram.step)))
        heights = FULL_HEIGHT * strip_height / tallest * np.diff(area) / np.diff(stops)
        strip[..., :3] = PLANE_COLOURS.get(name, PLANE_COLOURS["L"])
        strip[..., 3] = np.rint(255 * np.clip(heights - above_bottom, 0.0, 1.0))
    return strips.reshape(-1, width, 4)


def _draw_measures(
    canvas: Canvas,
    column: Column,
    axis: StopsAxis,
    channel: ChannelSheet,
    *,
    early: float | None,
    top: int,
) -> None:
    """Draw the headroom as a measure, where the preview clips as a broken line, and the words."""
    if channel.bar.bright_stops:
        start = axis.x(channel.bar.bright_stops)
        canvas.fill(start, top + 8, axis.right, top + 10, INK)
        canvas.fill(start, top + 4, start + 2, top + 14, INK)
    if early is not None and early > 0:
        x = axis.x(early)
        for dash in range(top + 20, top + STRIP_HEIGHT - 2, 8):
            canvas.fill(x - 1, dash, x + 1, dash + 4, INK)
    colour = PLANE_COLOURS.get(channel.name, PLANE_COLOURS["L"])
    canvas.fill(column.left, top + 10, column.left + 5, top + STRIP_HEIGHT - 10, colour)
    left, wide = column.left + 13, LABEL_WIDTH - 20
    canvas.text(left, top + 6, wide, words.name(channel.name), size=HEAD, bold=True)
    line = line_height(SMALL)
    for row, text in enumerate(("noise floor", f"at {stops_text(channel.bar.floor_stops)}")):
        canvas.text(left, top + 42 + row * line, wide, text, size=SMALL, colour=SOFT_INK)
    left, wide = column.right - ROOM_WIDTH + 12, ROOM_WIDTH - 12
    bar = channel.bar
    floor, dark = bar.floor_stops, bar.dark_stops
    shadow = None if floor is None or dark is None else floor - dark
    told = (
        (f"headroom {counted_stops(bar.bright_stops)}", True),
        (f"blown {words.share(bar.blown)}", bool(bar.blown)),
        (f"shadow room {counted_stops(shadow)}", False),
    )
    for row, (text, bold) in enumerate(told):
        canvas.text(left, top + 6 + line_height(BODY) * row, wide, text, bold=bold)
