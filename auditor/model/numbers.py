"""Arithmetic in stops, and honest ways of printing a figure.

Standard library only: the command prints shutter times without loading an array library.
"""

from __future__ import annotations

import math

STOPS_PER_DENSITY = 1.0 / math.log10(2.0)
"""Stops in one unit of optical density, 3.321928 (density is -log10 of transmittance)."""


def stops_between(upper: float | None, lower: float | None) -> float | None:
    """Return the ratio of two signals in stops, ``log2(upper / lower)``.

    Parameters
    ----------
    upper, lower : float or None
        Signals in one unit, black level taken off.

    Returns
    -------
    float or None
        None where either signal is absent, zero or negative: a ratio with nothing in it
        is no number.
    """
    if upper is None or lower is None or upper <= 0 or lower <= 0:
        return None
    return math.log2(upper / lower)


def share_text(part: float, whole: float = 1.0) -> str:
    """Print a share in per cent; 0 % and 100 % appear only where they are true.

    Parameters
    ----------
    part, whole : float
        The share is ``part / whole``.

    Returns
    -------
    str
        For example ``"12.3 %"``, ``"0.04 %"``, ``"< 0.01 %"``, ``"> 99.99 %"``, ``"0 %"``.
    """
    if whole <= 0:
        return "–"
    percent = 100.0 * part / whole
    for bound, text in ((0.0, "0 %"), (0.0099999, "< 0.01 %")):
        if percent <= bound:
            return text
    if percent >= 100:
        return "100 %"
    if percent > 99.99:
        return "> 99.99 %"
    return f"{percent:.2f} %" if percent < 1 or percent > 99 else f"{percent:.1f} %"


def whole_share_text(part: float) -> str:
    """Print a measured share in whole per cent, where tenths would promise too much.

    Parameters
    ----------
    part : float
        A fraction of 1. 0 % and 100 % appear only where they are true: ``< 1 %``, ``> 99 %``.
    """
    if 0 < part < 0.005:
        return "< 1 %"
    if 0.995 <= part < 1:
        return "> 99 %"
    return f"{100.0 * part:.0f} %"


def stops_text(stops: float | None, *, signed: bool = False) -> str:
    """Print stops with one decimal and a true minus sign; an en dash where unmeasured."""
    if stops is None:
        return "–"
    rounded = round(stops, 1) + 0.0
    text = f"{abs(rounded):.1f}"
    if rounded < 0:
        return "−" + text
    return "+" + text if signed and rounded > 0 else text


def counted_stops(stops: float | None, *, signed: bool = False, digits: int = 1) -> str:
    """Print stops with their noun: ``1.4 stops``, ``0.3 stop``, ``1.0 stop``, ``0.0 stops``.

    Parameters
    ----------
    stops : float or None
        An en dash alone where unmeasured.
    digits : int
        Decimals; 0 drops those that a whole or half figure does not need: ``1 stop``.
    """
    if stops is None:
        return "–"
    rounded = round(stops, digits or 1) + 0.0
    shown = abs(rounded)
    sign = "−" if rounded < 0 else "+" if signed and rounded > 0 else ""
    figure = f"{shown:.{digits}f}" if digits else f"{shown:g}"
    return f"{sign}{figure} {'stop' if 0 < shown <= 1 else 'stops'}"


TIME_STEPS = ((3600.0, 60), (600.0, 5))
"""From how many seconds on a time is told in steps of how many seconds: none counts closer."""


def time_text(time_s: float | None) -> str:
    """Print a shutter time as one says it: ``1/125 s``, ``0.8 s``, ``30 s``, ``4 min 16 s``.

    From ten minutes on to five seconds, from an hour on to a minute: ``17 min 5 s``, ``9 h 6 min``.
    """
    if time_s is None or time_s <= 0:
        return "–"
    if time_s < 0.3:
        return f"1/{1.0 / time_s:.0f} s"
    if time_s < 10:
        return f"{time_s:.1f} s".replace(".0 s", " s")
    step_s = next((step for least_s, step in TIME_STEPS if time_s >= least_s), 1)
    total_s = step_s * round(time_s / step_s)
    if total_s < 60:
        return f"{total_s} s"
    minutes, seconds = divmod(total_s, 60)
    hours, minutes = divmod(minutes, 60)
    parts = [(hours, "h"), (minutes, "min"), (seconds, "s")]
    return " ".join(f"{value} {unit}" for value, unit in parts if value)


def plural(number: int, noun: str) -> str:
    """Return the noun as that number wants it."""
    return noun if number == 1 else f"{noun}s"


def counted(number: int, noun: str) -> str:
    """Return the number, in groups of three, and its noun: "1 frame", "no frames"."""
    return f"{number:,} {plural(number, noun)}" if number else f"no {noun}s"


def pixels_text(pixels: float, error_px: float | None) -> str:
    """Return a length in pixels as far as its standard error lets it be told: "24", "2.3"."""
    tenths_told = 0.5  # of a pixel: a larger error leaves nothing of tenths
    return f"{pixels:.{1 if error_px is not None and error_px < tenths_told else 0}f}"


def pixel_error_text(error_px: float) -> str:
    """Return a standard error in pixels with one digit that tells: "12", "2", "0.4", "0.04"."""
    digits = 2 - (error_px >= 0.1) - (error_px >= 1.0)
    return f"{error_px:.{digits}f}"
