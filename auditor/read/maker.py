"""What one maker's private notes add: temperature, focus distance, lens and serial number.

Other makers encipher these fields or leave them out: there they stay None. Layout of the notes
(16-bit arrays by index) after the published tag tables; the figures of temperature and distance
were seen on real files.
"""

from __future__ import annotations

from dataclasses import dataclass

from auditor.read.exif_tags import clean
from auditor.read.tiff import Directory, Source, open_tiff, read_directory

EXIF_POINTER, MAKER_NOTE = 0x8769, 0x927C

KNOWN_KINDS = frozenset({"cr2", "cr3"})

_SHOT_INFO, _SERIAL, _FILE_INFO, _LENS = 0x0004, 0x000C, 0x0093, 0x0095
_TEMPERATURE_AT, _ZERO_CELSIUS = 12, 128
_FAR_AT, _NEAR_AT = 20, 21
_ENDLESS_CM = 65535


@dataclass(frozen=True, slots=True)
class MakerFacts:
    """Each None where the notes do not hold it."""

    temperature_c: float | None = None
    focus_distance_m: float | None = None
    lens: str | None = None
    serial: str | None = None


def maker_facts(image: Source | None, maker: Source | None, kind: str) -> MakerFacts:
    """Read the notes of a file.

    Parameters
    ----------
    image : Source or None
        Its main TIFF stream.
    maker : Source or None
        A stream of the notes alone (CR3).
    kind : str
        The container; only in those of :data:`KNOWN_KINDS` are the notes laid out as known here.
    """
    if kind not in KNOWN_KINDS:
        return MakerFacts()
    notes = _own_stream(maker) if maker is not None else _inside(image)
    return _read(notes) if notes is not None else MakerFacts()


def _own_stream(maker: Source) -> Directory | None:
    tiff = open_tiff(maker)
    return tiff.first() if tiff else None


def _inside(image: Source | None) -> Directory | None:
    tiff = open_tiff(image) if image is not None else None
    first = tiff.first() if tiff else None
    if tiff is None or first is None:
        return None
    exif = tiff.directory(first.offset(EXIF_POINTER))
    note = exif.entries.get(MAKER_NOTE) if exif is not None else None
    return read_directory(tiff.source, tiff.order, note.offset) if note else None


def _read(notes: Directory) -> MakerFacts:
    serial = next(iter(notes.whole(_SERIAL)), 0)
    return MakerFacts(
        temperature_c=_temperature(notes.whole(_SHOT_INFO, 256)),
        focus_distance_m=_distance(notes.whole(_FILE_INFO, 256)),
        lens=clean(notes.text(_LENS)),
        serial=str(serial) if serial else None,
    )


def _temperature(shot: tuple[int, ...]) -> float | None:
    """Return degrees Celsius; the byte holds 128 more, and 0 where nothing was measured."""
    if len(shot) <= _TEMPERATURE_AT or not 0 < shot[_TEMPERATURE_AT] < 256:
        return None
    return float(shot[_TEMPERATURE_AT] - _ZERO_CELSIUS)


def _distance(info: tuple[int, ...]) -> float | None:
    """Return the middle of the two bounds, metres; None at infinity or where not told."""
    if len(info) <= _NEAR_AT:
        return None
    far_cm, near_cm = info[_FAR_AT] & 0xFFFF, info[_NEAR_AT] & 0xFFFF
    if not 0 < near_cm <= far_cm < _ENDLESS_CM:
        return None
    return (far_cm + near_cm) / 200.0
