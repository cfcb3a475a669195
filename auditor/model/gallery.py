"""Where the heavier facts of a frame are fetched from, one frame at a time."""

from __future__ import annotations

from typing import Protocol

from auditor.model.measurement import FrameMeasurement


class MeasurementLost(Exception):
    """A measurement that was there cannot be read, and was dropped: its file is to be measured."""


class Gallery(Protocol):
    """Gives the whole measurement of a frame by its id, from memory or from the store.

    Reporters and grouping go through it frame by frame, so that a shoot of thousands needs
    no more memory than a shoot of ten.
    """

    def measurement(self, frame_id: str) -> FrameMeasurement:
        """Return the measurement of a measured frame.

        Raises
        ------
        KeyError
            The frame was not measured.
        MeasurementLost
            It was, and that is lost; the audit is to begin again.
        """
        ...
