"""What makers' private notes add: lens, serial number, focus distance and temperature.

CR2 and CR3 have notes of one layout, known by the container. All others are known by how the note
itself begins, which also tells from where its offsets count. Some makers encipher these fields or
leave them out: there they stay None, and so does all that is no plain text.

Numbers of the tags, and where each note's directory begins, after exifread's tables and source for
three makers, from memory of the published descriptions for the others. The figures of temperature
and distance were seen on real files.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from auditor.read.exif_tags import clean
from auditor.read.tiff import Directory, Entry, OutOfBounds, Source, Tiff, open_tiff, read_directory


def lens_by_figures(values: tuple[float, ...]) -> str:
    """Name a lens by its focal lengths and its widest apertures.

    Parameters
    ----------
    values : tuple of float
        Shortest and longest focal length in mm, the f-number at each; 0 for unknown.

    Returns
    -------
    str
        "24-70 mm f/2.8"; empty where the figures tell nothing.
    """
    if len(values) != 4 or not all(math.isfinite(value) for value in values):
        return ""
    shortest, longest, widest, widest_long = values
    if not 0 < shortest <= longest:
        return ""
    focal = f"{shortest:g}" if shortest == longest else f"{shortest:g}-{longest:g}"
    if min(widest, widest_long) <= 0:
        return f"{focal} mm"
    aperture = f"{widest:g}" if widest == widest_long else f"{widest:g}-{widest_long:g}"
    return f"{focal} mm f/{aperture}"


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
        The container; in those of :data:`KNOWN_KINDS` the notes are of one layout.
    """
    tiff, note = open_tiff(image) if image is not None else None, None
    if tiff is not None and (first := tiff.first()) is not None:
        exif = tiff.directory(first.offset(EXIF_POINTER))
        note = exif.entries.get(MAKER_NOTE) if exif is not None else None
    if kind in KNOWN_KINDS:
        own = open_tiff(maker) if maker is not None else None
        notes = own.first() if own is not None else None
        if maker is None and tiff is not None and note is not None:
            notes = read_directory(tiff.source, tiff.order, note.offset)
        return _read(notes) if notes is not None else MakerFacts()
    if tiff is None or note is None:
        return MakerFacts()
    try:
        for layout in _LAYOUTS:
            if tiff.source.read(note.offset, len(layout.start)) != layout.start:
                continue
            # a converter moves a note, but not what it points at from the file's beginning
            moved = layout.of_file and kind == "dng"
            found = None if moved else layout.directory(tiff, note)
            return layout.told(found) if found is not None else MakerFacts()
    except OutOfBounds:
        return MakerFacts()
    return MakerFacts()


def _read(notes: Directory) -> MakerFacts:
    """Read notes of the layout that CR2 and CR3 have."""
    shot, info = notes.whole(_SHOT_INFO, 256), notes.whole(_FILE_INFO, 256)
    temperature_c = distance_m = None
    # the byte holds 128 more than degrees Celsius, and 0 where nothing was measured
    if len(shot) > _TEMPERATURE_AT and 0 < shot[_TEMPERATURE_AT] < 256:
        temperature_c = float(shot[_TEMPERATURE_AT] - _ZERO_CELSIUS)
    # the middle of the two bounds; none at infinity
    far_cm, near_cm = (info[at] & 0xFFFF if at < len(info) else 0 for at in (_FAR_AT, _NEAR_AT))
    if 0 < near_cm <= far_cm < _ENDLESS_CM:
        distance_m = (far_cm + near_cm) / 200.0
    serial = next(iter(notes.whole(_SERIAL)), 0)
    return MakerFacts(
        temperature_c=temperature_c,
        focus_distance_m=distance_m,
        lens=clean(notes.text(_LENS)),
        serial=str(serial) if serial else None,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layout:
    """How one kind of note is laid out.

    Parameters
    ----------
    start : bytes
        How it begins.
    at : int
        Where in the note its directory begins; with ``whole`` a TIFF stream with it.
    order_at : int or None
        Where its byte order stands; None for that of the file.
    of_file : bool
        Its offsets count from the beginning of the file, else from that of the note.
    pointer : bool
        ``at`` is where it is told, low byte first, where the directory begins.
    inner : int or None
        The tag of an inner directory that holds serial number and lens.
    figures : int or None
        The tag of four figures of the lens.
    """

    start: bytes
    at: int
    serial: int
    lens: int | None = None
    figures: int | None = None
    inner: int | None = None
    order_at: int | None = None
    of_file: bool = False
    pointer: bool = False
    whole: bool = False

    def directory(self, tiff: Tiff, note: Entry) -> Directory | None:
        """Read the directory of a note that begins so."""
        window = tiff.source.window(note.offset, note.size)
        if self.whole:
            stream = open_tiff(window.window(self.at, note.size - self.at))
            return stream.first() if stream is not None else None
        order = tiff.order
        if self.order_at is not None:
            order = ">" if window.read(self.order_at, 2) == b"MM" else "<"
        if self.pointer:
            return read_directory(window, "<", int.from_bytes(window.read(self.at, 4), "little"))
        if self.of_file:
            return read_directory(tiff.source, order, note.offset + self.at)
        return read_directory(window, order, self.at)

    def told(self, found: Directory) -> MakerFacts:
        """Take serial number and lens from a directory."""
        place = found if self.inner is None else _below(found, self.inner)
        if place is None:
            return MakerFacts()
        lens = place.text(self.lens) if self.lens is not None else ""
        if self.figures is not None:
            lens = lens_by_figures(place.numbers(self.figures, 4))
        focus = _below(found, _FOCUS) if self.inner is not None else None
        distance_mm = (focus.number(_FOCUS_MM) if focus is not None else None) or 0.0
        far = not 0 < distance_mm < 1e7  # not told, or so far that it stands for infinity
        return MakerFacts(
            serial=_plain(place.text(self.serial)),
            lens=_plain(lens),
            focus_distance_m=None if far else distance_mm / 1000.0,
        )


_FOCUS, _FOCUS_MM, _POINTERS = 0x2050, 0x0305, (4, 13)

_LAYOUTS = (
    _Layout(start=b"Nikon\0\2", at=10, whole=True, serial=0x001D, figures=0x0084),
    _Layout(start=b"OLYMPUS\0", at=12, order_at=8, inner=0x2010, serial=0x0101, lens=0x0203),
    _Layout(start=b"OM SYSTEM\0", at=16, order_at=12, inner=0x2010, serial=0x0101, lens=0x0203),
    _Layout(start=b"OLYMP\0", at=8, of_file=True, inner=0x2010, serial=0x0101, lens=0x0203),
    _Layout(start=b"FUJIFILM", at=8, pointer=True, serial=0x0010),
    _Layout(start=b"Panasonic\0", at=12, of_file=True, serial=0x0025, lens=0x0051),
    _Layout(start=b"PENTAX \0", at=10, order_at=8, serial=0x0229),
    _Layout(start=b"AOC\0", at=6, order_at=4, of_file=True, serial=0x0229),
)


def _below(found: Directory, tag: int) -> Directory | None:
    """Read the directory that a tag points at, or whose bytes are its value."""
    entry = found.entries.get(tag)
    if entry is None:
        return None
    at = found.offset(tag) if entry.type in _POINTERS else entry.offset
    return read_directory(found.source, found.order, at)


def _plain(text: str) -> str | None:
    return clean(text) if text.isascii() and text.isprintable() else None
