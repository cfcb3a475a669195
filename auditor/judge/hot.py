"""Pixels that are hot in frame after frame of one body."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace

from auditor.model.audit import FrameResult
from auditor.model.shoot import ShootFrame

LASTING_FRAMES = 3
"""Hot in this many frames of a body: the pixel itself is at fault, not the scene."""


def with_lasting_hot_pixels(
    results: Mapping[str, FrameResult], frames: Sequence[ShootFrame]
) -> dict[str, FrameResult]:
    """Tell each frame how many of its hot pixels are hot in others of the same body too."""
    places = {frame.id: _places(frame) for frame in frames}
    seen: dict[str, Counter[tuple[int, int]]] = defaultdict(Counter)
    for frame in frames:
        seen[frame.facts.camera.body].update(places[frame.id])
    updated = dict(results)
    for frame in frames:
        hot = results[frame.id].hot_pixels
        if hot is None:
            continue
        counts = seen[frame.facts.camera.body]
        lasting = sum(counts[place] >= LASTING_FRAMES for place in places[frame.id])
        updated[frame.id] = replace(results[frame.id], hot_pixels=replace(hot, lasting=lasting))
    return updated


def _places(frame: ShootFrame) -> set[tuple[int, int]]:
    return {(int(row), int(col)) for row, col in frame.measured.mosaic.hot.positions}
