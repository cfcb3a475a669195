"""The exposure from Exif tags, with true shutter times over rounded ones.

Tags after Exif 2.32 (CIPA DC-008); the APEX values after the same: ``t = 2^-Tv``,
``N = 2^(Av/2)``.
"""

from __future__ import annotations

import math

from auditor.light.nominal import dial_of, true_time
from auditor.model.codes import TimeSource
from auditor.model.facts import ExposureFacts
from auditor.read.exif_tags import IMAGE, ExifTags

EXPOSURE_TIME, F_NUMBER = 0x829A, 0x829D
PROGRAM, METERING, FLASH, BIAS = 0x8822, 0x9207, 0x9209, 0x9204
SHUTTER_APEX, APERTURE_APEX = 0x9201, 0x9202
SENSITIVITY, OUTPUT_SENSITIVITY, RECOMMENDED_INDEX, ISO_SPEED = 0x8827, 0x8831, 0x8832, 0x8833
FIRST_DIRECTORY_ISO = 0x0017

TAGS = frozenset({
    EXPOSURE_TIME, F_NUMBER, PROGRAM, METERING, FLASH, BIAS, SHUTTER_APEX, APERTURE_APEX,
    SENSITIVITY, OUTPUT_SENSITIVITY, RECOMMENDED_INDEX, ISO_SPEED, FIRST_DIRECTORY_ISO,
})  # fmt: skip

AGREEMENT_STOPS = 1.0 / 3.0
"""An APEX value further than this from the time as written is a mistake or an empty field."""

RESTATED_STOPS = 0.006
MATERIAL_STOPS = 0.03

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
    stop: 1/15, 1/30, 1/60, 15 s, 30 s and their like) such a value is not taken for the truth.
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
