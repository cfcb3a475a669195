"""Sources of measurements by the id of their frame, one at a time."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable

from auditor.model.errors import FrameFailure
from auditor.model.measurement import FrameMeasurement
from auditor.model.shoot import MeasurementLost

AT_HAND = 64
"""Frames kept decoded: about 100 MB at 45 megapixels, and more than one set-up holds."""


class StoreMeasurementSource:
    """A source that fetches from the store and keeps the frames last asked for.

    Parameters
    ----------
    get : callable
        Returns what is kept of a frame's id, whole or without its maps.
    heal : callable
        Is called where it is no measurement, before :class:`MeasurementLost` is raised.
    at_hand : int
        How many frames to keep decoded.
    """

    def __init__(
        self,
        get: Callable[[str, bool], FrameMeasurement | FrameFailure | None],
        heal: Callable[[], object],
        at_hand: int = AT_HAND,
    ) -> None:
        self._get, self._heal = get, heal
        self._room = max(1, at_hand)
        self._at_hand: OrderedDict[str, FrameMeasurement] = OrderedDict()

    def measurement(self, frame_id: str, *, maps: bool = True) -> FrameMeasurement:
        """Return the measurement of a frame; KeyError where it was not measured."""
        if frame_id in self._at_hand:
            self._at_hand.move_to_end(frame_id)
            return self._at_hand[frame_id]
        found = self._get(frame_id, maps)
        if not isinstance(found, FrameMeasurement):
            self._heal()
            raise MeasurementLost(frame_id)
        if maps:
            self._at_hand[frame_id] = found
            if len(self._at_hand) > self._room:
                self._at_hand.popitem(last=False)
        return found

    def without_maps(self, frame_id: str) -> FrameMeasurement:
        """Return a measurement whose maps and pictures are empty: a sixth of the time."""
        return self.measurement(frame_id, maps=False)
