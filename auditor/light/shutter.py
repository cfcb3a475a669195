"""Read a shutter time as people write it: ``1/30``, ``0.5s``, ``30"``, ``1'30"``, ``2m``."""

from __future__ import annotations

import re

from auditor.model.errors import WrongCall

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
    seconds = _divide(fraction) if fraction else _add_parts(tidy)
    if seconds is None or not SHORTEST_S <= seconds <= LONGEST_S:
        raise WrongCall(f"{text[:40]!r} is no shutter time. {HELP}")
    return seconds


def _divide(fraction: re.Match[str]) -> float | None:
    top, bottom = float(fraction[1]), float(fraction[2])
    return top / bottom if bottom else None


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
