"""Measures packed for the store where they were made: workers do it, and need no database."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from auditor.clipping.settle import sensor_text
from auditor.model.measurement import FrameMeasurement
from auditor.model.measures import MEASURES, values_of
from auditor.store.codec import encode

PileUpRow = tuple[str, str, str, float, int, str, float, float]
"""Make, model, serial, ISO, bit depth, plane of what sensor, level and lower edge in DN."""


@dataclass(frozen=True, slots=True)
class PackedMeasures:
    """Measures of one file ready to be kept: packing is most of the work of keeping.

    Parameters
    ----------
    records : dict
        Name of a measure to its record, as the codec writes it.
    pile_ups : tuple of tuple
        Of the planes, where these were measured.
    """

    records: dict[str, bytes]
    pile_ups: tuple[PileUpRow, ...] = ()


def pack_values(values: Mapping[str, Any], names: Iterable[str]) -> PackedMeasures:
    """Pack the measures of these names; smaller than the records, and quick to send."""
    wanted = frozenset(names)
    records = {
        measure.name: encode(tuple(values[field] for field in measure.fields))
        for measure in MEASURES
        if measure.name in wanted
    }
    return PackedMeasures(records, _pile_ups(values) if "planes" in wanted else ())


def pack_measurement(measured: FrameMeasurement) -> PackedMeasures:
    """Pack all measures of a file."""
    return pack_values(values_of(measured), (measure.name for measure in MEASURES))


def _pile_ups(values: Mapping[str, Any]) -> tuple[PileUpRow, ...]:
    """Return what is remembered of a body's clipping levels, with all that they depend on."""
    facts = values["facts"]
    camera, iso = facts.camera, facts.exposure.iso or 0.0
    size = values["mosaic.layout"], values["mosaic.width"], values["mosaic.height"]
    sensor = sensor_text(*size, values["mosaic.planes"], facts.lens)
    body = (storable(camera.make), storable(camera.model), storable(camera.serial))
    return tuple(
        (
            *body,
            float(iso),
            int(values["mosaic.bit_depth"]),
            f"{plane.name} {sensor}",
            float(plane.pile_up.level_dn),
            float(plane.pile_up.from_dn),
        )
        for plane in values["mosaic.planes"]
        if plane.pile_up is not None and not plane.clips_apart
    )


def storable(text: str | None) -> str:
    """Make any text from a file fit a column: lone surrogates have no encoding."""
    return (text or "").encode("utf-8", errors="replace").decode("utf-8")
