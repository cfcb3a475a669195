"""The dark frame that matches each long exposure, and what it would take out."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from auditor.advise.limits import DARK_FROM_S, SAME_TIME_STOPS, SAME_WARMTH_C
from auditor.model.advice import DarkFrameNeed
from auditor.model.arrays import I64
from auditor.model.audit import FrameResult
from auditor.model.codes import Verdict

Group = list[FrameResult]


def dark_frame_needs(
    frames: Sequence[FrameResult], hot: Mapping[str, I64]
) -> tuple[DarkFrameNeed, ...]:
    """Group the long exposures by the dark frame that they share, longest first.

    Parameters
    ----------
    frames : sequence of FrameResult
        Each picture once.
    hot : mapping of frame id to array
        Hot pixels by number.
    """
    darks = [frame for frame in frames if frame.verdict == Verdict.DARK_FRAME]
    groups: list[Group] = []
    for frame in frames:
        if (
            frame.verdict in (Verdict.DARK_FRAME, Verdict.UNREADABLE)
            or _time_s(frame) < DARK_FROM_S
        ):
            continue
        home = next((group for group in groups if _matches(group[0], frame)), None)
        if home is None:
            groups.append([frame])
        else:
            home.append(frame)
    groups.sort(key=lambda group: -_time_s(group[0]))
    needs = []
    for group in groups:
        first = group[0]
        found = next((dark for dark in darks if _matches(first, dark)), None)
        shared = None
        if found is not None and first.id in hot and found.id in hot:
            shared = len(np.intersect1d(hot[first.id], hot[found.id]))
        need = DarkFrameNeed(
            body=" ".join(part for part in (first.camera.model, first.camera.serial) if part),
            iso=first.exposure.iso,
            time_s=_time_s(first),
            temperature_c=first.temperature_c,
            frames=tuple(frame.id for frame in group),
            found=None if found is None else found.id,
            hot_pixels=shared,
        )
        needs.append(need)
    return tuple(needs)


def _time_s(frame: FrameResult) -> float:
    return frame.exposure.time_s or 0.0


def _matches(one: FrameResult, other: FrameResult) -> bool:
    """Whether both have the same body, ISO, time and, where both tell it, warmth."""
    if one.camera != other.camera or one.exposure.iso != other.exposure.iso:
        return False
    warm = one.temperature_c, other.temperature_c
    if warm[0] is not None and warm[1] is not None and abs(warm[0] - warm[1]) > SAME_WARMTH_C:
        return False
    times = _time_s(one), _time_s(other)
    return min(times) > 0 and abs(math.log2(times[0] / times[1])) <= SAME_TIME_STOPS
