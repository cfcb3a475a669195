"""Charts for a notebook, each on axes of one's own or on new ones; they return the axes."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.dates import AutoDateLocator, ConciseDateFormatter
from matplotlib.ticker import MultipleLocator

from auditor.model.audit import Audit, FrameResult, SiblingPair
from auditor.model.errors import WrongCall
from auditor.model.text import visible
from auditor.report.page_channels import channel_sheet, drawn_alone
from auditor.report.style import PLANE_COLOURS, hexed
from auditor.words import calls
from auditor.words.values import PLANES

if TYPE_CHECKING:
    from matplotlib.axes import Axes

STROKES = {"R": "-", "G": "--", "G1": "--", "G2": "-.", "B": ":", "L": "-"}
"""Planes are told apart without their colours too."""

PERCENTS = (0.1, 1.0, 5.0, 10.0, 20.0, 40.0, 60.0, 80.0, 100.0)
"""Ticks of a scale that grows with the square root."""

STOPS_OF_FILTER = "Stops of the filter"
LEAST_REACH_STOPS = 0.3
"""On either side of what is expected: a hundredth of a stop shall not look like a fault."""


def plot_histogram(frame: FrameResult, ax: Axes | None = None) -> Axes:
    """Draw a frame's histogram, one line a colour plane, in stops below saturation.

    Parameters
    ----------
    frame : FrameResult
        A measured frame.
    ax : matplotlib.axes.Axes, optional
        Where to draw; new axes by default.

    Returns
    -------
    matplotlib.axes.Axes
        Share of each plane's pixels in a bin over stops; saturation is at the right. Heights grow
        with the square root, so that a few pixels show; both greens are one unless they differ.

    Raises
    ------
    WrongCall
        The frame was not measured.

    Examples
    --------
    >>> from auditor.api import audit_frame, plot_histogram
    >>> frame = audit_frame("/media/card/DCIM/100/IMG_0042.DNG")       # doctest: +SKIP
    >>> plot_histogram(frame).figure.savefig("histogram.png")          # doctest: +SKIP
    """
    if not frame.channels:
        raise WrongCall(calls.NO_HISTOGRAM.format(id=frame.id))
    ax = _axes(ax)
    for sheet in drawn_alone(tuple(map(channel_sheet, frame.channels))):
        bins = sheet.histogram
        edges = bins.first_stop + bins.step * np.arange(len(bins.counts) + 1)
        percent = 100.0 * np.array(bins.counts) / max(1, sum(bins.counts))
        ax.stairs(
            percent,
            edges,
            color=hexed(PLANE_COLOURS[sheet.name]),
            linestyle=STROKES[sheet.name],
            linewidth=1.4,
            label=sheet.full_name,
        )
    ax.set_yscale("function", functions=(np.sqrt, np.square))
    ax.set_ylim(0.0, max(5.0, ax.get_ylim()[1]))
    ax.set_yticks([tick for tick in PERCENTS if tick <= ax.get_ylim()[1]])
    ax.yaxis.set_major_formatter("{x:g} %")
    ax.xaxis.set_major_locator(MultipleLocator(2.0))
    ax.invert_xaxis()
    ax.axvline(0.0, color="0.5", linewidth=0.8, label="Saturation")
    ax.set(xlabel="Stops below saturation", ylabel="Pixels", title=visible(frame.id))
    ax.legend(loc="upper left", frameon=False)
    return ax


def plot_timeline(audit: Audit, ax: Axes | None = None) -> Axes:
    """Draw the light of the scene over the time of the shoot.

    Parameters
    ----------
    audit : Audit
        Its frames without a clock are left out.
    ax : matplotlib.axes.Axes, optional
        Where to draw; new axes by default.

    Returns
    -------
    matplotlib.axes.Axes
        Exposure value at ISO 100 over time; frames behind a filter are hollow.

    Examples
    --------
    >>> from auditor.api import plot_timeline, read_audit
    >>> plot_timeline(read_audit("evening")).figure.savefig("light.png")  # doctest: +SKIP
    """
    ax = _axes(ax)
    for filtered, face, label in ((False, "0.3", "No filter"), (True, "none", "Behind a filter")):
        points = [
            (datetime.fromisoformat(point.captured_at).replace(tzinfo=None), point.scene_ev100)
            for point in audit.light
            if point.filtered == filtered and point.captured_at
        ]
        if points:
            times, values = zip(*points, strict=True)
            ax.scatter(times, values, s=24, facecolors=face, edgecolors="0.3", label=label)
    locator = AutoDateLocator()  # type: ignore[no-untyped-call]
    ax.xaxis.set_major_locator(locator)
    ax.xaxis.set_major_formatter(ConciseDateFormatter(locator))  # type: ignore[no-untyped-call]
    ax.set(xlabel="Time", ylabel="Light of the scene, EV at ISO 100")
    if ax.collections:
        ax.legend(frameon=False)
    return ax


def plot_pair(pair: SiblingPair, ax: Axes | None = None) -> Axes:
    """Draw what a filter measures in each channel, against its nearest marking.

    Parameters
    ----------
    pair : SiblingPair
        Of ``audit.siblings``.
    ax : matplotlib.axes.Axes, optional
        Where to draw; new axes by default.

    Returns
    -------
    matplotlib.axes.Axes
        A bar a channel from the marking to what was measured, in stops.

    Examples
    --------
    >>> from auditor.api import plot_pair, read_audit
    >>> plot_pair(read_audit("evening").siblings[0]).figure.savefig("filter.png")  # doctest: +SKIP
    """
    ax = _axes(ax)
    marked, measured = pair.nearest_marking.stops, pair.filter_stops_by_channel
    off = [stops - marked for stops in measured.values()]
    bars = ax.bar(
        [PLANES.get(name, name) for name in measured],
        off,
        bottom=marked,
        color=[hexed(PLANE_COLOURS[name]) for name in measured],
        width=0.5,
    )
    ax.bar_label(bars, [f"{stops:.2f}" for stops in measured.values()], padding=3)
    ax.axhline(marked, color="0.3", linestyle="--")
    reach = max(LEAST_REACH_STOPS, 1.35 * max(map(abs, off), default=0.0))
    ax.set_ylim(marked - reach, marked + reach)
    below = f"Dashed: marked {marked:g} stops"
    ax.set(ylabel=STOPS_OF_FILTER, xlabel=below, title=visible(pair.long))
    return ax


def plot_filter_map(pair: SiblingPair, ax: Axes | None = None) -> Axes:
    """Draw how many stops a filter measures over the picture.

    Parameters
    ----------
    pair : SiblingPair
        One with a ``density_map``.
    ax : matplotlib.axes.Axes, optional
        Where to draw; new axes by default.

    Returns
    -------
    matplotlib.axes.Axes
        The upright picture in cells, darker where the filter is denser, with the scale in stops
        beside it; hatched where nothing static was recorded.

    Raises
    ------
    WrongCall
        The pair has no map.

    Examples
    --------
    >>> from auditor.api import plot_filter_map, read_audit
    >>> pair = read_audit("evening").siblings[0]             # doctest: +SKIP
    >>> plot_filter_map(pair).figure.savefig("map.png")      # doctest: +SKIP
    """
    if not pair.density_map:
        raise WrongCall(calls.NO_FILTER_MAP.format(long=pair.long))
    ax = _axes(ax)
    stops = np.array(pair.density_map, dtype=np.float64)  # None becomes NaN, which is left hatched
    known = stops[np.isfinite(stops)]
    centre = float(np.median(known)) if known.size else pair.filter_stops
    reach = LEAST_REACH_STOPS
    if known.size:  # a few cells over moving water would else take the whole scale
        reach = max(reach, float(np.quantile(np.abs(known - centre), 0.9)))
    ax.set_facecolor("1.0")
    ax.patch.set(hatch="////", edgecolor="0.8")
    drawn = ax.imshow(stops, cmap="Greys", vmin=centre - reach, vmax=centre + reach)
    ax.figure.colorbar(drawn, ax=ax, label=STOPS_OF_FILTER, extend="both")
    ax.set(xticks=(), yticks=(), xlabel="Hatched: not measured", title=visible(pair.long))
    return ax


def _axes(ax: Axes | None) -> Axes:
    """Return the axes given, or those of a new figure that a notebook shows by itself."""
    if ax is not None:
        return ax
    from matplotlib import pyplot  # noqa: PLC0415 - not needed on axes of one's own

    return pyplot.subplots(layout="constrained")[1]
