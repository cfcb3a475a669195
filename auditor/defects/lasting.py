"""Pixels that are hot in frame after frame of one sensor.

A pixel is at fault itself when it is hot in several frames of different compositions: a glint or
a lamp stands still only while the camera does.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from auditor.defects.limits import ANOTHER_VIEW_S, LASTING_FRAMES
from auditor.model.arrays import I64, U32
from auditor.model.audit import FrameResult, LastingHotPixels, Setup
from auditor.model.shoot import ShootFrame

MOST_LISTED = 1000

_ROW = 1 << 32
"""What one row adds to a place's number."""


@dataclass(frozen=True, slots=True, eq=False)
class _Lasting:
    """The lasting pixels of one sensor by number, in how many frames each was hot, out of how many.

    Numbers are sorted; ``seen`` goes with them.
    """

    places: I64
    seen: I64
    frames: int


def place_numbers(positions: U32) -> I64:
    """Return one number for each (row, column), sorted, none twice."""
    rows, cols = positions.reshape(-1, 2).astype(np.int64).T
    return np.unique(rows * _ROW + cols)


def with_lasting_hot_pixels(
    results: Mapping[str, FrameResult],
    frames: Sequence[ShootFrame],
    places: Mapping[str, I64],
    setups: Sequence[Setup],
    sensors: Mapping[str, str],
) -> tuple[dict[str, FrameResult], tuple[LastingHotPixels, ...]]:
    """Find the pixels that stay hot, and tell each frame how many of its own are among them.

    Parameters
    ----------
    results : mapping of frame id to FrameResult
    frames : sequence of ShootFrame
        Each frame once: a copy would count its pixels twice.
    places : mapping of frame id to array
        Hot pixels of each frame, as :func:`place_numbers` makes them.
    setups : sequence of Setup
        A frame of none (a dark frame) has no scene, and counts as a view of its own.
    sensors : mapping of frame id to str
        Which of its body's sensors took each: pixels of another count from elsewhere.
    """
    bodies = {one.id: (results[one.id].camera.body, sensors[one.id]) for one in frames}
    lasting = _by_sensor(bodies, frames, places, setups)
    updated = dict(results)
    for frame_id, numbers in places.items():
        result = results[frame_id]
        own = lasting.get((result.camera.body, sensors[frame_id]))
        if result.hot_pixels is not None and own is not None:
            count = int(np.isin(numbers, own.places).sum())
            updated[frame_id] = replace(
                result, hot_pixels=replace(result.hot_pixels, lasting=count)
            )
    return updated, tuple(_record(*sensor, own) for sensor, own in lasting.items())


def _by_sensor(
    sensors: Mapping[str, tuple[str, str]],
    frames: Sequence[ShootFrame],
    places: Mapping[str, I64],
    setups: Sequence[Setup],
) -> dict[tuple[str, str], _Lasting]:
    """Return the lasting pixels of each sensor that has any, in the order of their bodies."""
    setup_of = {name: setup.id for setup in setups for name in setup.frames}
    found = {}
    for sensor in sorted(set(sensors.values())):
        own = [frame for frame in frames if sensors[frame.id] == sensor]
        views = _views(own, setup_of)
        lasting = _lasting([places[name] for name in views], list(views.values()))
        if lasting.places.size:
            found[sensor] = lasting
    return found


def _views(frames: Sequence[ShootFrame], setup_of: Mapping[str, str]) -> dict[str, int]:
    """Give each frame the number of its view: set-ups that no time parts count as one."""
    views: dict[str, int] = {}
    of_setup: dict[str, int] = {}
    before: ShootFrame | None = None
    for frame in sorted(frames, key=lambda frame: frame.facts.start_s or 0.0):
        setup = setup_of.get(frame.id)
        view = len(frames) + len(views)
        if setup is not None:
            if before is not None:
                ended_s, start_s = before.facts.end_s, frame.facts.start_s
                if ended_s is None or start_s is None or start_s - ended_s < ANOTHER_VIEW_S:
                    view = views[before.id]
            view = of_setup.setdefault(setup, view)
            before = frame
        views[frame.id] = view
    return views


def _lasting(frames: Sequence[I64], views: Sequence[int]) -> _Lasting:
    every = np.concatenate(frames)
    numbers, seen = np.unique(every, return_counts=True)
    where = np.repeat(np.asarray(views, dtype=np.int64), [len(frame) for frame in frames])
    apart = np.unique(np.stack([every, where]), axis=1)[0]
    stays = (seen >= LASTING_FRAMES) & (np.unique(apart, return_counts=True)[1] > 1)
    return _Lasting(numbers[stays], seen[stays].astype(np.int64), len(frames))


def _record(body: str, sensor: str, lasting: _Lasting) -> LastingHotPixels:
    order = np.argsort(-lasting.seen, kind="stable")[:MOST_LISTED]
    rows, cols = np.divmod(lasting.places[order], _ROW)
    return LastingHotPixels(
        body=body,
        frames=lasting.frames,
        count=len(lasting.places),
        positions=tuple(zip(rows.tolist(), cols.tolist(), strict=True)),
        seen=tuple(lasting.seen[order].tolist()),
        sensor=sensor,
    )
