"""Draw what explains how it works, from the sample evening: ``python -m tests.drawings_maker``."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from auditor.api import MeasuredFrame, measurements, plot_histogram, plot_pair
from auditor.model.audit import FrameResult, SiblingPair
from auditor.report.chart_style import Axes, Figure, FigureCanvasAgg, chart_style
from tests.docs_text import DOCS
from tests.evening_audit import Evening, audited_evening

FOLDER = DOCS / "drawings"
STEPS = ("find", "read", "measure", "store", "settle", "judge", "group", "report")
LABEL: dict[str, Any] = {"ha": "center", "va": "bottom", "fontsize": 9, "color": "0.2"}

STEP_DN = 12


def arrow(style: str) -> dict[str, Any]:
    """How an arrow is drawn; the charts' style draws patches without an edge."""
    return {"arrowstyle": style, "color": "0.2", "linewidth": 1.0}


def draw_steps(ax: Axes) -> None:
    """The way of a frame: pixels are looked at once, opinions are made from what is stored."""
    for place, step in enumerate(STEPS):
        face = "0.82" if place < STEPS.index("store") else "1.0"
        box = {"boxstyle": "round,pad=0.5", "facecolor": face, "edgecolor": "0.3", "linewidth": 1}
        ax.text(place, 0.0, step, ha="center", va="center", fontsize=10, color="0.1", bbox=box)
        if place:
            ax.annotate("", (place - 0.4, 0.0), (place - 0.6, 0.0), arrowprops=arrow("->"))
    ax.text(1.0, 0.75, "pixels: once a file", **LABEL)
    ax.text(5.5, 0.75, "figures: as often as you like", **LABEL)
    ax.set(xlim=(-0.6, len(STEPS) - 0.4), ylim=(-0.8, 1.2))
    ax.set_axis_off()


def draw_tones(ax: Axes, frame: FrameResult) -> None:
    """Where a frame's tones lie, and what headroom and shadow room are."""
    green = next(one for one in frame.channels if one.name == "G1")
    plot_histogram(replace(frame, channels=(green,)), ax).legend().remove()
    floor, headroom, room = green.dynamic_range_stops, green.headroom_stops, green.shadow_room_stops
    assert floor is not None
    assert headroom is not None
    assert room is not None
    high = 0.4 * ax.get_ylim()[1]
    for name, left, right in (("shadow room", floor, floor - room), ("headroom", headroom, 0.0)):
        ax.annotate("", (right, high), (left, high), arrowprops=arrow("<->"))
        ax.text((left + right) / 2, 1.08 * high, name, **LABEL)
    ax.axvline(floor, color="0.5", linewidth=0.8)
    for name, place in (("noise floor", floor), ("saturation", 0.0)):
        ax.text(place, 1.02 * ax.get_ylim()[1], name, **LABEL)
    ax.set(xlim=(floor + 1.0, -0.7), title="")


def draw_pile_up(ax: Axes, measured: MeasuredFrame, claimed_dn: float) -> None:
    """Where a channel clips: the pile-up at the top, under the level that the file claims."""
    plane = measured.planes["R"]
    edges = np.arange(plane.saturation_dn - 900, claimed_dn + 120, STEP_DN)
    ax.hist(plane.dn, bins=list(edges), weights=plane.counts, color="0.55", histtype="stepfilled")
    ax.axvline(plane.saturation_dn, color="0.1", linewidth=1.2, label="Where red clips, measured")
    ax.axvline(claimed_dn, color="0.1", linestyle="--", linewidth=1.2, label="What the file claims")
    ax.set_yscale("log")
    ax.yaxis.set_major_formatter("{x:,.0f}")
    ax.set(xlim=(edges[0], edges[-1]), ylim=(1.0, None))
    ax.set(xlabel=f"Raw value, in steps of {STEP_DN} DN", ylabel="Pixels")
    ax.legend(loc="upper left", frameon=False)


def draw_filter(ax: Axes, pair: SiblingPair) -> None:
    """What a filter measures in each channel."""
    plot_pair(pair, ax)
    ax.set_title("")


def draw_all(evening: Evening, folder: Path) -> None:
    """Write every drawing."""
    folder.mkdir(exist_ok=True)
    audit = evening.end.audit
    name = next(frame.id for frame in audit.frames if "0011" in frame.id)
    blown = next(measurements(audit, [name], store=evening.store))
    held = audit.frame(name.replace("0011", "0012"))
    pair = max(audit.siblings, key=lambda one: abs(one.off_marking_stops))
    claimed = 2.0**14 - 1  # bits of the sample camera
    for drawing, size, draw in (
        ("steps", (7.2, 1.1), draw_steps),
        ("tones", (7.2, 3.4), lambda ax: draw_tones(ax, held)),
        ("pile-up", (7.2, 3.0), lambda ax: draw_pile_up(ax, blown, claimed)),
        ("filter", (4.8, 3.0), lambda ax: draw_filter(ax, pair)),
    ):
        with chart_style(svg_fonttype="none", svg_hashsalt=drawing):
            figure = Figure(figsize=size, layout="constrained")
            FigureCanvasAgg(figure)
            draw(figure.add_subplot())
            figure.savefig(folder / f"{drawing}.svg", metadata={"Date": None})


def main() -> None:
    """Make the evening, audit it, and draw."""
    with tempfile.TemporaryDirectory() as folder:
        draw_all(audited_evening(Path(folder)), FOLDER)


if __name__ == "__main__":
    main()
