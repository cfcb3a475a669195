"""A measurement packed for the store, where it was made: workers do it, and need no database."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from auditor.model.measurement import FrameMeasurement, Histogram, Pictures, TileMaps
from auditor.store.codec import REST, pack
from auditor.store.texts import storable

PART_OF: Mapping[type, str] = {
    Histogram: "histograms",
    TileMaps: "maps",
    Pictures: "pictures",
}
"""What lies apart, so that it can be left lying."""

ALL_PARTS = frozenset({REST, *PART_OF.values()})
COUNTS = frozenset({REST, "histograms"})
"""What settling the saturation needs."""


@dataclass(frozen=True, slots=True)
class PackedMeasurement:
    """A measurement ready to be kept: packing is most of the work, and a worker can do it.

    Parameters
    ----------
    text : str
        The record, as the codec writes it.
    parts : dict
        Its arrays and bytes, by the name of the part.
    pile_ups : tuple of tuple
        Make, model, serial, ISO, bit depth, plane, level and lower edge in DN.
    """

    text: str
    parts: dict[str, bytes]
    pile_ups: tuple[tuple[str, str, str, float, int, str, float, float], ...]


def pack_measurement(measured: FrameMeasurement) -> PackedMeasurement:
    """Pack a measurement for the store; picklable, and smaller than the measurement."""
    packed = pack(measured, PART_OF)
    body = _body_of(measured)
    heaps = tuple(
        (*body, plane.name, plane.pile_up.level_dn, float(plane.pile_up.from_dn))
        for plane in measured.mosaic.planes
        if plane.pile_up is not None
    )
    return PackedMeasurement(packed.text, packed.parts, heaps)


def _body_of(measured: FrameMeasurement) -> tuple[str, str, str, float, int]:
    """Return what a clipping level depends on: make, model, serial, ISO and bit depth."""
    camera = measured.facts.camera
    return (
        storable(camera.make),
        storable(camera.model),
        storable(camera.serial),
        measured.facts.exposure.iso or 0.0,
        measured.mosaic.bit_depth,
    )
