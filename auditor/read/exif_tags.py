"""Tags of one file as plain numbers and clean texts, and the exposure, moment and place they tell.

Absent stays absent: 0/0 is no number. Tags after Exif 2.32 (CIPA DC-008); the APEX values after the
same: ``t = 2^-Tv``, ``N = 2^(Av/2)``.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import TypeAlias

from auditor.light.nominal import dial_of, true_time
from auditor.model.codes import TimeSource
from auditor.model.facts import ExposureFacts, Position

LONGEST_TEXT = 200

Value: TypeAlias = str | tuple[float | None, ...]

IMAGE, EXIF, GPS = "Image", "EXIF", "GPS"


@dataclass(frozen=True, slots=True)
class ExifTags:
    """Values by directory ("Image", "EXIF", "GPS") and tag number.

    Parameters
    ----------
    groups : dict
        Texts, or tuples of numbers with None where a ratio has nothing under the line.
    """

    groups: dict[str, dict[int, Value]] = field(default_factory=dict)

    def value(self, tag: int, *groups: str) -> Value | None:
        """Return the value in the first directory that has it (by default Exif, then image)."""
        for group in groups or (EXIF, IMAGE):
            found = self.groups.get(group, {}).get(tag)
            if found is not None:
                return found
        return None

    def numbers(self, tag: int, *groups: str) -> tuple[float | None, ...]:
        """Return all numbers of a value; empty where it is a text or absent."""
        found = self.value(tag, *groups)
        return found if isinstance(found, tuple) else ()

    def number(self, tag: int, *groups: str) -> float | None:
        """Return the first number of a value, finite, or None."""
        found = self.numbers(tag, *groups)
        if not found or found[0] is None or not math.isfinite(found[0]):
            return None
        return float(found[0])  # whole ones too: what is kept and fetched again is the same

    def between(self, tag: int, least: float, most: float, *groups: str) -> float | None:
        """Return the first number of a value if it lies within bounds."""
        found = self.number(tag, *groups)
        return found if found is not None and least <= found <= most else None

    def text(self, tag: int, *groups: str) -> str | None:
        """Return a value as clean text; None where it is empty, absent or no text."""
        found = self.value(tag, *groups)
        return clean(found) if isinstance(found, str) else None


def clean(text: str) -> str | None:
    """Return a text without NULs, blanks at the ends and lone surrogates, at most 200 characters.

    Otherwise raw: escaping is for whoever shows it.
    """
    whole = "".join(char for char in text if char != "\0" and not "\ud800" <= char <= "\udfff")
    return whole.strip()[:LONGEST_TEXT].rstrip() or None


_NO_NAMES = frozenset({"n/a", "na", "none", "unknown", "no lens", "no-lens"})


def named(text: str | None, empty: str = "") -> str | None:
    """Return a name; None where a body writes that there is none, as dashes or a serial of zeros.

    Parameters
    ----------
    empty : str
        Letters and digits that name nothing.
    """
    if text is None or text.casefold() in _NO_NAMES:
        return None
    return text if any(char.isalnum() and char not in empty for char in text) else None


EXPOSURE_TIME, F_NUMBER = 0x829A, 0x829D
PROGRAM, METERING, FLASH, BIAS = 0x8822, 0x9207, 0x9209, 0x9204
SHUTTER_APEX, APERTURE_APEX = 0x9201, 0x9202
SENSITIVITY, OUTPUT_SENSITIVITY, RECOMMENDED_INDEX, ISO_SPEED = 0x8827, 0x8831, 0x8832, 0x8833
FIRST_DIRECTORY_ISO = 0x0017

EXPOSURE_TAGS = frozenset({
    EXPOSURE_TIME, F_NUMBER, PROGRAM, METERING, FLASH, BIAS, SHUTTER_APEX, APERTURE_APEX,
    SENSITIVITY, OUTPUT_SENSITIVITY, RECOMMENDED_INDEX, ISO_SPEED, FIRST_DIRECTORY_ISO,
})  # fmt: skip

AGREEMENT_STOPS = 1.0 / 3.0
"""An APEX value further than this from the time as written is a mistake or an empty field."""

RESTATED_STOPS = 0.006
MATERIAL_STOPS = 0.03
TENTH_STOPS = 0.05
"""By so much an APEX value that is written with one decimal is rounded."""

_PROGRAMS = {
    1: "manual",
    2: "program",
    3: "aperture priority",
    4: "shutter priority",
    5: "creative",
    6: "action",
    7: "portrait",
    8: "landscape",
    9: "bulb",
}
_METERINGS = {
    1: "average",
    2: "centre-weighted",
    3: "spot",
    4: "multi-spot",
    5: "multi-segment",
    6: "partial",
    255: "other",
}


def exposure_facts(tags: ExifTags) -> ExposureFacts:
    """Read the exposure as set; each part None where the file does not hold it."""
    nominal_s = tags.between(EXPOSURE_TIME, 1e-7, 1e6)
    program = _PROGRAMS.get(int(tags.number(PROGRAM) or 0))
    apex = tags.between(SHUTTER_APEX, -20.0, 24.0)
    time_s, source = shutter_time(nominal_s, apex, timed=program == "bulb")
    f_number = tags.between(F_NUMBER, 0.3, 256.0)
    f_apex = tags.between(APERTURE_APEX, -3.0, 16.0)
    if f_number is None and f_apex:
        f_number = 2.0 ** (f_apex / 2.0)
    flash = tags.number(FLASH)
    return ExposureFacts(
        time_s=time_s,
        time_source=source,
        nominal_time_s=nominal_s,
        f_number=f_number,
        iso=_iso(tags),
        bias_ev=tags.between(BIAS, -20.0, 20.0),
        program=program,
        metering=_METERINGS.get(int(tags.number(METERING) or 0)),
        flash=None if flash is None else bool(int(flash) & 1),
    )


def shutter_time(
    nominal_s: float | None, apex: float | None, *, timed: bool = False
) -> tuple[float | None, TimeSource | None]:
    """Choose the best shutter time that a file tells.

    Parameters
    ----------
    nominal_s : float or None
        The exposure time as written, seconds.
    apex : float or None
        The APEX shutter value, ``t = 2^-apex``.
    timed : bool
        Bulb: the written time was counted, whatever dial bears the same name.

    Returns
    -------
    time_s, source
        "apex" where the APEX value agrees with the written time within a third of a stop;
        "true of nominal" where the written time is a dial's name and the file tells no other;
        "tag" where the written time was counted or is no rounded name, and so stands whatever
        the APEX value says; (None, None) where nothing is told.

    Notes
    -----
    A converter that finds no APEX value works one out from the rounded time: it then restates
    the rounding (within 0.006 stop) and tells nothing new. Where the rounding matters (over 0.03
    stop: 1/15, 1/30, 1/60, 15 s, 30 s and their like) such a value is not taken for the truth; nor
    is one of a single decimal, which is rounded by as much itself.
    An APEX value of exactly 0 with no time beside it is an empty field, not one second.
    """
    told_s = None if apex is None else 2.0**-apex
    if nominal_s is None:
        return (told_s, TimeSource.APEX) if told_s is not None and apex != 0 else (None, None)
    if timed or dial_of(nominal_s) is None:
        return nominal_s, TimeSource.TAG
    true_s = true_time(nominal_s)
    if told_s is not None:
        apart = abs(math.log2(told_s / nominal_s))
        restated = apart < RESTATED_STOPS and abs(math.log2(true_s / nominal_s)) > MATERIAL_STOPS
        # written with one decimal, it is too coarse to tell the rounding
        tenths = 10.0 * (apex or 0.0)
        coarse = math.isclose(tenths, round(tenths), abs_tol=1e-6)
        restated |= coarse and apart <= TENTH_STOPS and not math.isclose(told_s, true_s)
        if apart <= AGREEMENT_STOPS and not restated:
            return told_s, TimeSource.APEX
    if math.isclose(true_s, nominal_s, rel_tol=1e-6):
        return nominal_s, TimeSource.TAG
    return true_s, TimeSource.NOMINAL


def _iso(tags: ExifTags) -> float | None:
    """Return the ISO; 65535 in the short tag means that a longer one holds it."""
    short = tags.between(SENSITIVITY, 1.0, 65534.0)
    if short is not None:
        return short
    for tag in (RECOMMENDED_INDEX, OUTPUT_SENSITIVITY, ISO_SPEED):
        longer = tags.between(tag, 1.0, 1e8)
        if longer is not None:
            return longer
    return tags.between(SENSITIVITY, 1.0, 65535.0) or tags.between(
        FIRST_DIRECTORY_ISO, 1.0, 1e8, IMAGE
    )


CHANGED, ORIGINAL, DIGITISED = 0x0132, 0x9003, 0x9004
OFFSET_CHANGED, OFFSET_ORIGINAL, OFFSET_DIGITISED = 0x9010, 0x9011, 0x9012
SUBSEC_CHANGED, SUBSEC_ORIGINAL, SUBSEC_DIGITISED = 0x9290, 0x9291, 0x9292
MOMENT_TAGS = frozenset({
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
