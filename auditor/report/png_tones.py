"""The tones of each plane on a stops axis, against a step wedge."""

from __future__ import annotations

from auditor.model.audit import ChannelFigures, FrameResult, PreviewStory
from auditor.model.numbers import stops_text
from auditor.report import words
from auditor.report.png_canvas import Canvas, line_height
from auditor.report.png_histogram import ABOVE_SATURATION, histogram_strips
from auditor.report.png_marks import StopsAxis, draw_wedge
from auditor.report.png_tables import Column
from auditor.report.style import CARD, INK, LINE, PLANE_COLOURS, SOFT_INK

STRIP_HEIGHT = 88
LABEL_WIDTH, ROOM_WIDTH = 130, 180
COLOUR_OF = {"R": "R", "G": "G", "G1": "G", "G2": "G", "B": "B", "L": "G"}
"""Which colour of the preview shows which plane."""

AXIS_WORDS = (
    "stops below saturation; height: square root of the count",
    "stipple: under the noise floor; hatch: over saturation; broken line: the preview clips here",
)


def draw_tones(canvas: Canvas, column: Column, frame: FrameResult, top: int) -> int:
    """Draw a strip a plane on the stops axis, and the step wedge under them; return the y below.

    A strip shows where the plane's tones lie, its noise floor (stipple to the left of it), its
    saturation (hatch to the right), its headroom as a measure, and by a broken line where the
    camera's preview already calls it blown.
    """
    canvas.text(column.left, top, column.width, "Tones of each channel", size=15, bold=True)
    top += line_height(15) + 4
    axis, above = _axis(column, frame)
    bottom = top + STRIP_HEIGHT * len(frame.channels)
    canvas.fill(axis.left, top, axis.right + above, bottom, CARD)
    for row, channel in enumerate(frame.channels):
        _draw_ground(canvas, axis, channel, above, top + row * STRIP_HEIGHT)
    planes = [(channel.name, channel.histogram) for channel in frame.channels]
    width = axis.right + above - axis.left
    canvas.paste(histogram_strips(planes, axis.depth, width, STRIP_HEIGHT), axis.left, top)
    for row, channel in enumerate(frame.channels):
        _draw_measures(canvas, axis, channel, frame.preview, top + row * STRIP_HEIGHT)
        _draw_words(canvas, column, channel, top + row * STRIP_HEIGHT)
    canvas.fill(axis.right, top, axis.right + 1, bottom, INK)
    return _draw_axis(canvas, axis, bottom + 4)


def _axis(column: Column, frame: FrameResult) -> tuple[StopsAxis, int]:
    """Return the axis and the pixels shown above saturation."""
    floors = [channel.dynamic_range_stops for channel in frame.channels]
    depth = max([8.0, *(floor + 1.0 for floor in floors if floor is not None)])
    depth = min(18.0, float(int(depth + 0.999)))
    left, right = column.left + LABEL_WIDTH, column.right - ROOM_WIDTH
    above = round((right - left) * ABOVE_SATURATION / (depth + ABOVE_SATURATION))
    return StopsAxis(left, right - above, depth), above


def _draw_ground(
    canvas: Canvas, axis: StopsAxis, channel: ChannelFigures, above: int, top: int
) -> None:
    """Mark what lies under the floor and over saturation, behind the histogram."""
    bottom = top + STRIP_HEIGHT
    if channel.dynamic_range_stops is not None:
        floor = axis.x(channel.dynamic_range_stops)
        canvas.pattern("blocked", (axis.left, top, floor, bottom), LINE)
        canvas.fill(floor, top, floor + 1, bottom, SOFT_INK)
    canvas.pattern("blown", (axis.right, top, axis.right + above, bottom), LINE)
    canvas.rule(axis.left, axis.right + above, bottom - 1, LINE)


def _draw_measures(
    canvas: Canvas,
    axis: StopsAxis,
    channel: ChannelFigures,
    preview: PreviewStory | None,
    top: int,
) -> None:
    """Draw the headroom as a measure, and where the preview clips as a broken line."""
    if channel.headroom_stops:
        start = axis.x(channel.headroom_stops)
        canvas.fill(start, top + 8, axis.right, top + 10, INK)
        canvas.fill(start, top + 4, start + 2, top + 14, INK)
    early = preview.early_by_channel_stops.get(COLOUR_OF.get(channel.name, "")) if preview else None
    if early is not None and early > 0:
        x = axis.x(early)
        for dash in range(top + 20, top + STRIP_HEIGHT - 2, 8):
            canvas.fill(x - 1, dash, x + 1, dash + 4, INK)


def _draw_words(canvas: Canvas, column: Column, channel: ChannelFigures, top: int) -> None:
    colour = PLANE_COLOURS.get(channel.name, PLANE_COLOURS["L"])
    canvas.fill(column.left, top + 10, column.left + 5, top + STRIP_HEIGHT - 10, colour)
    left, wide = column.left + 13, LABEL_WIDTH - 20
    canvas.text(left, top + 12, wide, words.name(channel.name), size=15, bold=True)
    floor = f"floor at {stops_text(channel.dynamic_range_stops)}"
    canvas.text(left, top + 36, wide, floor, size=12, colour=SOFT_INK)
    left, wide = column.right - ROOM_WIDTH + 12, ROOM_WIDTH - 12
    for row, (text, bold) in enumerate(_room_words(channel)):
        canvas.text(left, top + 12 + 21 * row, wide, text, bold=bold)


def _room_words(channel: ChannelFigures) -> list[tuple[str, bool]]:
    return [
        (f"headroom {words.stops(channel.headroom_stops)}", True),
        (f"blown {words.share(channel.blown_fraction)}", channel.blown_fraction > 0),
        (f"shadow room {words.stops(channel.shadow_room_stops)}", False),
    ]


def _draw_axis(canvas: Canvas, axis: StopsAxis, top: int) -> int:
    draw_wedge(canvas, axis, top, 16)
    top += 20
    pace = 1 if axis.depth <= 10 else 2
    for stop in range(0, int(axis.depth) + 1, pace):
        canvas.text(round(axis.x(stop)) - 14, top, 28, str(stop), size=12, align="middle")
    top += line_height(12)
    wide = axis.right - axis.left
    for told in AXIS_WORDS:
        canvas.text(axis.left, top, wide, told, size=12, colour=SOFT_INK, align="middle")
        top += line_height(12)
    return top
