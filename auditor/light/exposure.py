"""Exposure arithmetic: exposure value, APEX, differences in stops, and the light of a scene.

Conventions are named, for several stand side by side in the trade:

- Exposure value ``EV100 = log2(N²/t) - log2(S/100)``; at ISO 100, f/1 and 1 s it is 0.
- Reflected-light meters: ``N²/t = L S / K`` with K = 12.5 cd/m² by default (ISO 2720 allows
  10.6 to 13.4; 14 is in use as well and differs by 0.16 EV).
- Incident-light meters: ``N²/t = E S / C`` with C = 250 lx (flat receptor).
- Where a metered grey lies on the sensor depends on how the ISO speed was fixed; see
  :class:`GreyConvention`. This project uses the saturation-based speed of ISO 12232.

Standard library only. Formulas after the APEX system and ISO 2720 and ISO 12232 as cited by
open reference implementations.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from auditor.model.errors import WrongCall
from auditor.model.facts import ExposureFacts

LONGEST_S = 86400.0
SHORTEST_S = 1.0e-6

HELP = (
    'Write the unfiltered shutter time as 1/30, 0.5, 4, 4s, 30", 1\'30", 1m30s, 2min or 1h; '
    "it must lie between a millionth of a second and a day."
)

_UNITS = {
    "": 1.0, "s": 1.0, "sec": 1.0, '"': 1.0, "''": 1.0,
    "m": 60.0, "min": 60.0, "'": 60.0, "h": 3600.0,
}  # fmt: skip
_TYPOGRAPHIC = str.maketrans({"″": '"', "”": '"', "“": '"', "′": "'", "’": "'", "‘": "'", ",": "."})
_FRACTION = re.compile(r"(\d{1,4}(?:\.\d{1,6})?)/(\d{1,9}(?:\.\d{1,6})?)(?:s|sec)?", re.ASCII)
_PART = re.compile(r"(\d{1,9}(?:\.\d{0,9})?|\.\d{1,9})(min|sec|''|[smh'\"]?)", re.ASCII)


def parse_shutter(text: str) -> float:
    """Return the seconds that a written shutter time stands for, as written (not the true ones).

    Parameters
    ----------
    text : str
        A fraction of a second, seconds, or hours, minutes and seconds in that order; a comma
        counts as a decimal point, typographic primes as plain ones.

    Raises
    ------
    WrongCall
        It cannot be understood, or is no time that a shutter could stand open.
    """
    tidy = text.translate(_TYPOGRAPHIC).lower().replace(" ", "")
    fraction = _FRACTION.fullmatch(tidy)
    if fraction:
        seconds = float(fraction[1]) / float(fraction[2]) if float(fraction[2]) else None
    else:
        seconds = _add_parts(tidy)
    if seconds is None or not SHORTEST_S <= seconds <= LONGEST_S:
        raise WrongCall(f"{text[:40]!r} is no shutter time. {HELP}")
    return seconds


def _add_parts(tidy: str) -> float | None:
    """Add up "1h2m3s": units fall; seconds may go unnamed, not straight after hours."""
    total, place, smallest = 0.0, 0, float("inf")
    while place < len(tidy):
        part = _PART.match(tidy, place)
        if part is None:
            return None
        unit = _UNITS[part[2]]
        unclear = not part[2] and (part.end() < len(tidy) or smallest == _UNITS["h"])
        if unit >= smallest or unclear:
            return None
        total, place, smallest = total + float(part[1]) * unit, part.end(), unit
    return total if tidy else None


K_REFLECTED = 12.5
"""Calibration constant of reflected-light meters, cd s / (m² ISO)."""

C_INCIDENT = 250.0
"""Calibration constant of incident-light meters with a flat receptor, lx s / ISO."""

LENS_FACTOR_Q = math.pi / 4.0 * 0.9 * 0.98 * math.cos(math.radians(10.0)) ** 4
"""Share of the scene's luminance that the focal plane sees, q of ISO 12232 (0.6516):
transmission 0.9, vignetting 0.98, ten degrees off the axis."""

APEX_SPEED_BASE = 3.125
"""ISO speed whose APEX speed value is 0."""


@dataclass(frozen=True, slots=True)
class GreyConvention:
    """Where a metered 18 % grey lies, as a share of saturation."""

    name: str
    share: float

    @property
    def stops_below_saturation(self) -> float:
        """The same in stops below saturation."""
        return -math.log2(self.share)


SATURATION_BASED = GreyConvention(
    "ISO 12232, saturation-based speed: a metered 18 % grey lies at 12.7 % of saturation "
    "(half a stop is kept above a 100 % reflector)",
    0.18 / math.sqrt(2.0),
)
STANDARD_OUTPUT = GreyConvention(
    "ISO 12232, standard output sensitivity with S = 10/Hm against 78/Hsat: 12.8 % of saturation",
    10.0 / 78.0,
)
METERED_K = GreyConvention(
    "a meter with K = 12.5 through a lens of q = 0.65: 10.4 % of saturation",
    LENS_FACTOR_Q * K_REFLECTED / 78.0,
)


def ev100(time_s: float, f_number: float, iso: float = 100.0) -> float:
    """Return the exposure value at ISO 100, ``log2(N²/t) - log2(ISO/100)``.

    Parameters
    ----------
    time_s, f_number, iso : float
        All positive.

    Raises
    ------
    ValueError
        One of them is not.
    """
    if min(time_s, f_number, iso) <= 0:
        raise ValueError("time, f-number and ISO speed must be positive")
    return math.log2(f_number**2 / time_s) - math.log2(iso / 100.0)


def exposure_difference_stops(
    long: ExposureFacts, short: ExposureFacts, *, absent_is_same: bool = False
) -> float | None:
    """Return by how many stops more light the settings of ``long`` record than those of ``short``.

    Formula: ``log2(t_long/t_short) + 2 log2(N_short/N_long) + log2(ISO_long/ISO_short)``, with
    the true shutter times that the records hold and the true f-numbers of nominal ones (11 is
    11.31).

    Parameters
    ----------
    absent_is_same : bool
        Take an f-number or ISO speed that both lack as unchanged (a lens without contacts).

    Returns
    -------
    float or None
        None where a part is absent from one of them, or from both without leave.
    """
    parts = (
        _ratio_stops(long.time_s, short.time_s, 1.0, absent_is_same=False),
        _ratio_stops(short.true_f_number, long.true_f_number, 2.0, absent_is_same=absent_is_same),
        _ratio_stops(long.true_iso, short.true_iso, 1.0, absent_is_same=absent_is_same),
    )
    known = [part for part in parts if part is not None]
    return sum(known) if len(known) == len(parts) else None


def _ratio_stops(
    upper: float | None, lower: float | None, weight: float, *, absent_is_same: bool
) -> float | None:
    if upper is None and lower is None:
        return 0.0 if absent_is_same else None
    if upper is None or lower is None or min(upper, lower) <= 0:
        return None
    return weight * math.log2(upper / lower)


def time_value(time_s: float) -> float:
    """Return the APEX time value ``Tv = -log2 t``."""
    return -math.log2(time_s)


def time_of_value(tv: float) -> float:
    """Return the shutter time in seconds of an APEX time value, ``t = 2^-Tv``."""
    return float(2.0**-tv)


def aperture_value(f_number: float) -> float:
    """Return the APEX aperture value ``Av = 2 log2 N``."""
    return 2.0 * math.log2(f_number)


def f_number_of_value(av: float) -> float:
    """Return the f-number of an APEX aperture value, ``N = 2^(Av/2)``."""
    return float(2.0 ** (av / 2.0))


def speed_value(iso: float) -> float:
    """Return the APEX speed value ``Sv = log2(ISO / 3.125)``: ISO 100 is 5."""
    return math.log2(iso / APEX_SPEED_BASE)


def iso_of_value(sv: float) -> float:
    """Return the ISO speed of an APEX speed value."""
    return APEX_SPEED_BASE * float(2.0**sv)


def brightness_value(time_s: float, f_number: float, iso: float) -> float:
    """Return the APEX brightness that the settings suit, ``Bv = Av + Tv - Sv``."""
    return aperture_value(f_number) + time_value(time_s) - speed_value(iso)


def luminance_cd_m2(ev: float, k: float = K_REFLECTED) -> float:
    """Return the luminance that a reflected-light meter reads as ``ev``, ``2^EV K/100``."""
    return float(2.0**ev) * k / 100.0


def ev100_of_luminance(cd_m2: float, k: float = K_REFLECTED) -> float:
    """Return the exposure value at ISO 100 of a luminance, ``log2(100 L / K)``."""
    return math.log2(cd_m2 * 100.0 / k)


def illuminance_lx(ev: float, c: float = C_INCIDENT) -> float:
    """Return the illuminance that an incident-light meter reads as ``ev``, ``2^EV C/100``."""
    return float(2.0**ev) * c / 100.0


def ev100_of_illuminance(lx: float, c: float = C_INCIDENT) -> float:
    """Return the exposure value at ISO 100 of an illuminance, ``log2(100 E / C)``."""
    return math.log2(lx * 100.0 / c)


def saturation_luminance_cd_m2(ev: float, q: float = LENS_FACTOR_Q) -> float:
    """Return the luminance that just saturates, ``78 / (100 q) 2^EV``: 1.2 x 2^EV at q = 0.65."""
    return 78.0 / (100.0 * q) * float(2.0**ev)


def scene_ev100(
    signal_over_saturation: float,
    exposure: ExposureFacts,
    convention: GreyConvention = SATURATION_BASED,
) -> float | None:
    """Return the exposure value that would have placed this signal at a metered grey.

    Formula: ``EV100(settings) + log2(signal share / grey share)``.

    Parameters
    ----------
    signal_over_saturation : float
        Signal (black off) over saturation (black off), of green.
    exposure : ExposureFacts
    convention : GreyConvention
        Names the scale. Bodies rate their ISO speeds differently, so the absolute value is
        good to about a stop; differences between frames of one body do not depend on it.

    Returns
    -------
    float or None
        None where the settings are incomplete or there is no signal.
    """
    settings = exposure.ev100
    if settings is None or signal_over_saturation <= 0:
        return None
    return settings + math.log2(signal_over_saturation / convention.share)
