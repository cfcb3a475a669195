"""Sources of measurements by the id of their frame, one at a time."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Mapping

from auditor.model.measurement import FrameMeasurement

AT_HAND = 64
"""Frames kept decoded: about 100 MB at 45 megapixels, and more than one set-up holds."""


class MemoryMeasurementSource:
    """A source of measurements that are in memory already."""

    def __init__(self, measurements: Mapping[str, FrameMeasurement]) -> None:
        self._measurements = measurements

    def measurement(self, frame_id: str) -> FrameMeasurement:
        """Return the measurement of a frame; KeyError where there is none."""
        return self._measurements[frame_id]


class StoreMeasurementSource:
    """A source that fetches from the store and keeps the frames last asked for.

    Parameters
    ----------
    fetch : callable
        Returns the measurement for a frame's id, whole or without its maps, or raises KeyError.
    at_hand : int
        How many frames to keep decoded.
    """

    def __init__(
        self, fetch: Callable[[str, bool], FrameMeasurement], at_hand: int = AT_HAND
    ) -> None:
        self._fetch = fetch
        self._room = max(1, at_hand)
        self._at_hand: OrderedDict[str, FrameMeasurement] = OrderedDict()

    def measurement(self, frame_id: str) -> FrameMeasurement:
        """Return the measurement of a frame; KeyError where it was not measured."""
        if frame_id in self._at_hand:
            self._at_hand.move_to_end(frame_id)
            return self._at_hand[frame_id]
        fetched = self._at_hand[frame_id] = self._fetch(frame_id, True)
        if len(self._at_hand) > self._room:
            self._at_hand.popitem(last=False)
        return fetched

    def without_maps(self, frame_id: str) -> FrameMeasurement:
        """Return a measurement whose maps and pictures are empty: a sixth of the time."""
        return self._at_hand.get(frame_id) or self._fetch(frame_id, False)
