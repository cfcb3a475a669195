"""Charts for a notebook, each on axes of one's own or on new ones; they return the axes."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np

from auditor.model.audit import Audit, FrameResult, SiblingPair
from auditor.model.errors import WrongCall
from auditor.model.text import visible
from auditor.report.style import PLANE_COLOURS, hexed

if TYPE_CHECKING:
    from matplotlib.axes import Axes


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
        Share of each plane's pixels in a bin over stops; saturation is at the right.

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
        raise WrongCall(f"{frame.id}: was not measured, so there is no histogram.")
    ax = _axes(ax)
    for channel in frame.channels:
        bins = channel.histogram
        edges = bins.first_stop + bins.step * np.arange(len(bins.counts) + 1)
        share = np.array(bins.counts) / max(1, sum(bins.counts))
        colour = hexed(PLANE_COLOURS[channel.name])
        ax.stairs(share, edges, color=colour, label=channel.name)
    ax.set(xlabel="stops below saturation", ylabel="share of the pixels", title=visible(frame.id))
    ax.invert_xaxis()
    ax.axvline(0.0, color="0.5", linewidth=0.8)
    ax.legend()
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
    for filtered, face, label in ((False, "0.25", "no filter"), (True, "none", "behind a filter")):
        points = [
            (datetime.fromisoformat(point.captured_at).replace(tzinfo=None), point.scene_ev100)
            for point in audit.light
            if point.filtered == filtered and point.captured_at
        ]
        if points:
            times, values = zip(*points, strict=True)
            ax.scatter(times, values, s=18, facecolors=face, edgecolors="0.25", label=label)
    ax.set(xlabel="time", ylabel="light of the scene, EV at ISO 100")
    if ax.collections:
        ax.legend()
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
        A bar a channel, in stops; the marking is the dashed line.

    Examples
    --------
    >>> from auditor.api import plot_pair, read_audit
    >>> plot_pair(read_audit("evening").siblings[0]).figure.savefig("filter.png")  # doctest: +SKIP
    """
    ax = _axes(ax)
    names = list(pair.filter_stops_by_channel)
    colours = [hexed(PLANE_COLOURS[name]) for name in names]
    ax.bar(names, list(pair.filter_stops_by_channel.values()), color=colours)
    marking = pair.nearest_marking
    ax.axhline(marking.stops, color="0.2", linestyle="--", label=f"marked {marking.stops:g} stops")
    ax.set(ylabel="stops", title=visible(f"{pair.long} behind the filter"))
    ax.legend()
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
        The upright picture, with the scale in stops beside it; empty where nothing tells.

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
        raise WrongCall(f"{pair.long}: its filter was not measured over the picture.")
    ax = _axes(ax)
    stops = np.array(pair.density_map, dtype=np.float64)  # None becomes NaN, which is left white
    drawn = ax.imshow(stops, cmap="Greys", extent=(0.0, 1.0, 1.0, 0.0), aspect="auto")
    ax.figure.colorbar(drawn, ax=ax, label="stops")
    ax.set(xlabel="share of the width", ylabel="share of the height", title=visible(pair.long))
    return ax


def _axes(ax: Axes | None) -> Axes:
    """Return the axes given, or those of a new figure that a notebook shows by itself."""
    if ax is not None:
        return ax
    from matplotlib import pyplot  # noqa: PLC0415 - not needed on axes of one's own

    return pyplot.subplots(layout="constrained")[1]
