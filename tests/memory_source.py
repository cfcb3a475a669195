"""Measurements in memory, where an audit would fetch them from its store."""

from __future__ import annotations

from collections.abc import Mapping

from auditor.model.measurement import FrameMeasurement


class MemoryMeasurementSource:
    """A source of measurements that are in memory already."""

    def __init__(self, measurements: Mapping[str, FrameMeasurement]) -> None:
        self._measurements = measurements

    def measurement(self, frame_id: str) -> FrameMeasurement:
        """Return the measurement of a frame; KeyError where there is none."""
        return self._measurements[frame_id]
