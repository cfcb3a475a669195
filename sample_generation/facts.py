"""What an invented frame says of itself: the facts that go into its Exif directory."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime

from sample_generation.tiff import (
    ASCII,
    BYTE,
    LONG,
    RATIONAL,
    SHORT,
    SRATIONAL,
    UNDEFINED,
    Directory,
)

MANUAL_PROGRAM, PATTERN_METERING, NO_FLASH = 1, 5, 16


@dataclass(frozen=True, slots=True)
class FrameFacts:
    """Facts of one frame.

    Parameters
    ----------
    time_s : float
        True shutter time; the written exposure time is the nominal one.
    captured_at : datetime
        When the shutter opened, with its offset.
    position : tuple of float or None
        Latitude and longitude in degrees, north and east positive.
    """

    time_s: float
    f_number: float
    iso: float
    captured_at: datetime
    model: str = "Brackwell F45"
    serial: str = "4510027"
    make: str = "Brackwell"
    lens: str = "Brackwell 24-70 mm f/4"
    focal_mm: float = 24.0
    crop_factor: float = 1.0
    orientation: int = 1
    bias_ev: float = 0.0
    position: tuple[float, float] | None = None


NOMINAL_LONG_S = (30, 25, 20, 15, 13, 10, 8, 6, 5, 4, 3.2, 2.5, 2, 1.6, 1.3, 1,
                  0.8, 0.6, 0.5, 0.4, 0.3)  # fmt: skip
NOMINAL_FRACTIONS = (4, 5, 6, 8, 10, 13, 15, 20, 25, 30, 40, 50, 60, 80, 100, 125, 160, 200, 250,
                     320, 400, 500, 640, 800, 1000, 1250, 1600, 2000, 2500, 3200, 4000, 5000,
                     6400, 8000)  # fmt: skip
"""Marked shutter times from 30 s down in third stops (common practice)."""

NOMINAL_F = (1.4, 1.6, 1.8, 2.0, 2.2, 2.5, 2.8, 3.2, 3.5, 4.0, 4.5, 5.0, 5.6, 6.3, 7.1, 8.0, 9.0,
             10.0, 11.0, 13.0, 14.0, 16.0, 18.0, 20.0, 22.0)  # fmt: skip


def true_time_s(third: int) -> float:
    """Return the true shutter time ``2**(5 - third/3)`` s: third 0 is marked 30 s."""
    return float(2.0 ** (5.0 - third / 3.0))


def nominal_time(time_s: float) -> tuple[int, int]:
    """Return the marked time as numerator and denominator, as a camera writes it.

    Times longer than 32 s, made with a cable release, are written in tenths of a second.
    """
    third = round((5.0 - math.log2(time_s)) * 3.0)
    if third < 0 or abs(true_time_s(third) / time_s - 1.0) > 0.02:
        return round(time_s * 10.0), 10
    if third < len(NOMINAL_LONG_S):
        tenths = round(NOMINAL_LONG_S[third] * 10.0)
        return (tenths // 10, 1) if tenths % 10 == 0 else (tenths, 10)
    return 1, NOMINAL_FRACTIONS[third - len(NOMINAL_LONG_S)]


def nominal_f_number(f_number: float) -> float:
    """Return the marked f-number nearest to the true one."""
    return min(NOMINAL_F, key=lambda marked: abs(math.log2(marked / f_number)))


def exif_directory(facts: FrameFacts) -> Directory:
    """Fill the Exif directory (tags and types of Exif 2.31)."""
    exif = Directory()
    _put_exposure(exif, facts)
    _put_moment(exif, facts.captured_at)
    exif.put(36864, UNDEFINED, b"0231")
    exif.put(37386, RATIONAL, facts.focal_mm)
    exif.put(41989, SHORT, round(facts.focal_mm * facts.crop_factor))
    exif.put(42033, ASCII, facts.serial)
    exif.put(42034, RATIONAL, (24.0, 70.0, 4.0, 4.0))
    exif.put(42035, ASCII, facts.make)
    exif.put(42036, ASCII, facts.lens)
    return exif


def _put_exposure(exif: Directory, facts: FrameFacts) -> None:
    numerator, denominator = nominal_time(facts.time_s)
    # the marked pair as it stands on the dial: not reduced, so not by put
    exif.entries[33434] = (RATIONAL, 1, numerator.to_bytes(4, "little")
                           + denominator.to_bytes(4, "little"))  # fmt: skip
    exif.put(33437, RATIONAL, nominal_f_number(facts.f_number))
    exif.put(34850, SHORT, MANUAL_PROGRAM)
    exif.put(34855, SHORT, round(facts.iso))
    exif.put(34864, SHORT, 2)
    exif.put(34866, LONG, round(facts.iso))
    exif.put(37377, SRATIONAL, -math.log2(facts.time_s))
    exif.put(37378, RATIONAL, 2.0 * math.log2(facts.f_number))
    exif.put(37380, SRATIONAL, facts.bias_ev)
    exif.put(37383, SHORT, PATTERN_METERING)
    exif.put(37385, SHORT, NO_FLASH)
    exif.put(41986, SHORT, 1)
    exif.put(41987, SHORT, 1)


def _put_moment(exif: Directory, moment: datetime) -> None:
    text = moment.strftime("%Y:%m:%d %H:%M:%S")
    hundredths = f"{moment.microsecond // 10_000:02d}"
    for tag in (36867, 36868):
        exif.put(tag, ASCII, text)
    for tag in (37520, 37521, 37522):
        exif.put(tag, ASCII, hundredths)
    offset = moment.strftime("%z")
    if offset:
        for tag in (36880, 36881, 36882):
            exif.put(tag, ASCII, f"{offset[:3]}:{offset[3:]}")


def gps_directory(latitude_deg: float, longitude_deg: float) -> Directory:
    """Fill the position directory: degrees, minutes and seconds, with their references."""
    gps = Directory()
    gps.put(0, BYTE, (2, 3, 0, 0))
    gps.put(1, ASCII, "N" if latitude_deg >= 0 else "S")
    gps.put(2, RATIONAL, _degrees(latitude_deg))
    gps.put(3, ASCII, "E" if longitude_deg >= 0 else "W")
    gps.put(4, RATIONAL, _degrees(longitude_deg))
    return gps


def _degrees(value: float) -> tuple[float, float, float]:
    seconds = round(abs(value) * 3600.0, 2)
    return float(seconds // 3600), float(seconds % 3600 // 60), round(seconds % 60, 2)
