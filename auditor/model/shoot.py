"""A measured frame with all that was found of it: what grouping and judging work on."""

from __future__ import annotations

from dataclasses import dataclass

from auditor.model.facts import CardFile, FileFacts
from auditor.model.gallery import Gallery
from auditor.model.measurement import FrameMeasurement, Level


@dataclass(frozen=True, slots=True, eq=False)
class ShootFrame:
    """One measured frame of the shoot.

    Parameters
    ----------
    source : CardFile
    facts : FileFacts
        The same as ``measured.facts``, at hand without fetching the heavy part.
    levels : tuple of Level
        Settled saturation, one a plane, in the order of ``measured.mosaic.planes``.
    gallery : Gallery
        Where the heavy part is fetched from.
    """

    source: CardFile
    facts: FileFacts
    levels: tuple[Level, ...]
    gallery: Gallery

    @property
    def id(self) -> str:
        """The frame's id in the audit."""
        return self.source.id

    @property
    def measured(self) -> FrameMeasurement:
        """The whole measurement; fetched anew each time, so take it once where it is used."""
        return self.gallery.measurement(self.source.id)
