"""The histogram of each plane over stops below saturation, drawn with matplotlib on no ground."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from auditor.model.arrays import F64, U8
from auditor.model.audit import StopHistogram
from auditor.report.chart_style import Figure, FigureCanvasAgg, StepPatch, chart_style
from auditor.report.style import PLANE_COLOURS, hexed

ABOVE_SATURATION = 0.6
"""Stops shown above saturation: the clipping level has a spread."""

FULL_HEIGHT = 0.86
"""Height of the tallest bin in its strip."""


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
        With opacity.
    """
    height = strip_height * len(planes)
    with chart_style():
        figure = Figure(figsize=(width / 100, height / 100), dpi=100)
        canvas = FigureCanvasAgg(figure)
        figure.patch.set_alpha(0.0)
        axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        axes.set_axis_off()
        axes.set_xlim(depth, -ABOVE_SATURATION)
        axes.set_ylim(len(planes), 0)
        for row, (name, heights, edges) in enumerate(_scaled(planes)):
            axes.add_artist(_bars(name, row + 1 - heights, edges, row + 1.0))
        canvas.draw()  # type: ignore[no-untyped-call]
        return np.array(canvas.buffer_rgba())  # type: ignore[no-untyped-call]


def _bars(name: str, tops: F64, edges: F64, baseline: float) -> StepPatch:
    colour = hexed(PLANE_COLOURS.get(name, PLANE_COLOURS["L"]))
    return StepPatch(tops, edges, baseline=baseline, fill=True, color=colour)


def _scaled(planes: Sequence[tuple[str, StopHistogram]]) -> list[tuple[str, F64, F64]]:
    """Return (name, heights, edges) with heights up to :data:`FULL_HEIGHT`."""
    roots = [np.sqrt(np.asarray(histogram.counts, dtype=np.float64)) for _, histogram in planes]
    tallest = max((float(root.max()) for root in roots if root.size), default=0.0) or 1.0
    return [
        (name, FULL_HEIGHT * root / tallest, _edges(histogram))
        for (name, histogram), root in zip(planes, roots, strict=True)
    ]


def _edges(histogram: StopHistogram) -> F64:
    steps = np.arange(len(histogram.counts) + 1, dtype=np.float64)
    return histogram.first_stop + histogram.step * steps
