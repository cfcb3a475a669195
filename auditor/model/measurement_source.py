"""Where the heavier facts of a frame are fetched from, one frame at a time."""

from __future__ import annotations

from typing import Protocol, runtime_checkable

from auditor.model.measurement import FrameMeasurement


class MeasurementLost(Exception):
    """A measurement that was there cannot be read, and was dropped: its file is to be measured."""


class MeasurementSource(Protocol):
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


@runtime_checkable
class LightMeasurementSource(MeasurementSource, Protocol):
    """A source that can leave the heavy parts of a measurement lying."""

    def without_maps(self, frame_id: str) -> FrameMeasurement:
        """Return a measurement whose maps and pictures are empty; raises as the whole one."""
        ...


def without_maps(measurements: MeasurementSource, frame_id: str) -> FrameMeasurement:
    """Return what settling over a shoot needs, without the maps where the source can."""
    if isinstance(measurements, LightMeasurementSource):
        return measurements.without_maps(frame_id)
    return measurements.measurement(frame_id)
