"""When and where a frame was taken, from Exif tags (Exif 2.32)."""

from __future__ import annotations

import math
import re
from datetime import UTC, datetime

from auditor.model.facts import Position
from auditor.read.exif_tags import EXIF, GPS, ExifTags

CHANGED, ORIGINAL, DIGITISED = 0x0132, 0x9003, 0x9004
OFFSET_CHANGED, OFFSET_ORIGINAL, OFFSET_DIGITISED = 0x9010, 0x9011, 0x9012
SUBSEC_CHANGED, SUBSEC_ORIGINAL, SUBSEC_DIGITISED = 0x9290, 0x9291, 0x9292
TAGS = frozenset({
    CHANGED, ORIGINAL, DIGITISED, OFFSET_CHANGED, OFFSET_ORIGINAL, OFFSET_DIGITISED,
    SUBSEC_CHANGED, SUBSEC_ORIGINAL, SUBSEC_DIGITISED,
})  # fmt: skip

LATITUDE_REF, LATITUDE, LONGITUDE_REF, LONGITUDE = 1, 2, 3, 4
ALTITUDE_REF, ALTITUDE, STATUS = 5, 6, 9
GPS_TAGS = frozenset({
    LATITUDE_REF, LATITUDE, LONGITUDE_REF, LONGITUDE, ALTITUDE_REF, ALTITUDE, STATUS,
})  # fmt: skip

_CLOCK = re.compile(r"\s*(\d{4})[:\-/](\d\d)[:\-/](\d\d)[ T](\d\d):(\d\d):(\d\d)")
_OFFSET = re.compile(r"([+-])(\d\d):(\d\d)")
_DIGITS = re.compile(r"[0-9]{1,9}")
_SOURCES = (
    (ORIGINAL, SUBSEC_ORIGINAL, OFFSET_ORIGINAL),
    (DIGITISED, SUBSEC_DIGITISED, OFFSET_DIGITISED),
    (CHANGED, SUBSEC_CHANGED, OFFSET_CHANGED),
)


def captured_at(tags: ExifTags) -> str | None:
    """Return the moment of the exposure in ISO 8601, as exact as the file holds it.

    The original time before the digitised before the time of change (which a camera writes at
    the same moment). Subseconds are digits after the decimal point: "05" is 0.05 s. The offset
    of another of the three times counts only where that time is the same.
    """
    for when, subsecond, offset in _SOURCES:
        found = _CLOCK.match(tags.text(when) or "")
        if found is None:
            continue
        year, month, day, hour, minute, second = map(int, found.groups())
        try:
            moment = datetime(year, month, day, hour, minute, second).isoformat()
        except ValueError:  # such a day is in no calendar
            continue
        digits = _DIGITS.match((tags.text(subsecond, EXIF) or "").strip())
        fraction = f".{digits[0][:6]}" if digits else ""
        for other, _, told in ((when, 0, offset), *_SOURCES):
            zone = _OFFSET.fullmatch(tags.text(told, EXIF) or "")
            same = tags.text(other) == tags.text(when)
            if zone and same and int(zone[2]) <= 14 and int(zone[3]) < 60:
                return moment + fraction + zone[0]
        return moment + fraction
    return None


def moment_of_seconds(seconds: float | None) -> str | None:
    """Return the moment on a camera's clock that counts seconds since 1970, of no known zone.

    0 is no moment; nor is one after 2^32 seconds, which no such clock can show.
    """
    if not seconds or not 0 < seconds < 2**32:
        return None
    return datetime.fromtimestamp(seconds, UTC).replace(tzinfo=None).isoformat(timespec="seconds")


def position(tags: ExifTags) -> Position | None:
    """Return where the camera stood; None without a whole fix.

    A status of "V" (void) means that the receiver had none; nor has a place with a part over
    zero, out of range, without its hemisphere, or all zeros (as bodies without a receiver write).
    """
    if (tags.text(STATUS, GPS) or "").upper().startswith("V"):
        return None
    latitude = _degrees(tags, LATITUDE, LATITUDE_REF, "NS", 90.0)
    longitude = _degrees(tags, LONGITUDE, LONGITUDE_REF, "EW", 180.0)
    if latitude is None or longitude is None or latitude == longitude == 0.0:
        return None
    height = tags.between(ALTITUDE, 0.0, 100_000.0, GPS)
    if height is not None and tags.number(ALTITUDE_REF, GPS) == 1:
        height = -height
    return Position(latitude, longitude, height)


def _degrees(tags: ExifTags, tag: int, ref: int, letters: str, most: float) -> float | None:
    parts = tags.numbers(tag, GPS)[:3]
    side = (tags.text(ref, GPS) or "").upper()[:1]
    if not parts or not side or side not in letters:
        return None
    total = 0.0
    for part, unit in zip(parts, (1.0, 60.0, 3600.0), strict=False):
        if part is None or not math.isfinite(part) or part < 0:
            return None
        total += part / unit
    if total > most:
        return None
    return total if side == letters[0] else -total
