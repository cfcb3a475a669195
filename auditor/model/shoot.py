"""A measured frame of a shoot, as light as thousands of them need it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from auditor.model.facts import CardFile, FileFacts
from auditor.model.measurement import Level, NoiseEstimate
from auditor.model.measurement_source import MeasurementSource
from auditor.model.settled import SettledFrame, settle


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class ShootFrame:
    """One measured frame of the shoot; its heavy part is fetched when it is asked for.

    Parameters
    ----------
    source : CardFile
    facts : FileFacts
        Those of its measurement, with what the shoot tells of them; at hand without fetching the
        heavy part.
    levels : tuple of Level
        Settled saturation, one a plane, in the order of the mosaic's planes.
    noise : tuple of NoiseEstimate
        Settled noise, likewise.
    measurements : MeasurementSource
        Where the heavy part is fetched from, under the frame's id.
    """

    source: CardFile
    facts: FileFacts
    levels: tuple[Level, ...]
    noise: tuple[NoiseEstimate, ...]
    measurements: MeasurementSource

    @property
    def id(self) -> str:
        """The frame's id in the audit."""
        return self.source.id

    def settled(self) -> SettledFrame:
        """Fetch the measurement and join it with levels and noise; take it once where used."""
        measured = replace(self.measurements.measurement(self.source.id), facts=self.facts)
        return settle(measured, self.levels, self.noise)
