"""Single values in words: names, times, exposures, shares, stops, levels, markings, casts."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from auditor.light.filters import cast_word
from auditor.model.advice import IsoFigures
from auditor.model.audit import LastingHotPixels, Marking
from auditor.model.codes import Cast
from auditor.model.facts import ExposureFacts
from auditor.model.findings import Severity
from auditor.model.history import SensorRow
from auditor.model.numbers import counted_stops, share_text, time_text
from auditor.model.text import visible


class PlaneFigure(StrEnum):
    """A figure of one plane by its label; on a sheet related ones stand together, in this order."""

    BLOWN = "Blown"
    BLOWN_WITH_LESS = "Blown with a stop less"
    BLOWN_WITH_MORE = "Blown with a stop more"
    HEADROOM = "Headroom"
    BLOCKED = "Blocked"
    BLOCKED_WITH_MORE = "Blocked with a stop more"
    BLOCKED_WITH_LESS = "Blocked with a stop less"
    SHADOW_ROOM = "Shadow room"
    AT_BLACK = "At or under black"
    MEDIAN = "Median under saturation"
    MEAN = "Mean under saturation"
    RANGE = "Range of the sensor"
    SATURATION = "Saturation"
    BLOWN_FROM = "Blown from"
    CLAIMED = "Saturation as claimed"
    LINEAR = "Linear up to"
    BLACK = "Black"
    FLOOR = "Noise floor"
    READ_NOISE = "Read noise"
    GAIN = "Gain"


@dataclass(frozen=True, slots=True)
class Fact:
    """One line of a table: what, how much, and a remark."""

    label: str
    text: str
    remark: str = ""


MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip

VERDICTS = {
    "held": "Held",
    "may be clipped": "May be clipped",
    "blown": "Blown",
    "blocked": "Blocked up",
    "both": "Blown and blocked",
    "dark frame": "Dark frame",
    "unreadable": "Unreadable",
}
"""Verdicts in the order in which they are told."""

BRIGHT_END_ONLY = "Bright end held"
"""Instead of "Held", where the dark end was not measured."""

SEVERITIES = {Severity.LOST: "Lost", Severity.RISK: "At risk", Severity.NOTE: "Worth knowing"}

PLANES = {
    "R": "Red",
    "G": "Green",
    "G1": "Green beside red",
    "G2": "Green beside blue",
    "B": "Blue",
    "L": "All light",
}

SOURCES = {
    "measured": "seen in this frame",
    "channels": "from this frame's other channels",
    "shoot": "seen in its sisters on this card",
    "history": "seen in earlier shoots",
    "metadata": "as the file claims",
    "masked border": "from the masked border",
    "dark frames": "from the dark frames of the shoot",
}
"""Where black and saturation were had from."""

TURNS = {
    Cast.WARM: "warmer",
    Cast.COOL: "cooler",
    Cast.GREEN: "greener",
    Cast.MAGENTA: "more magenta",
}
"""What a cast of that name does to the picture."""

LEVEL_STOPS = 0.05
"""Less than this prints as nothing."""

_TOWER = re.compile(r"([\u0300-\u036f\u1ab0-\u1aff\u20d0-\u20ff]{3})[\u0300-\u036f]+")

LONGEST_TEXT = 600
LONGEST_NAME = 80
"""Of a longer one its beginning and, since names differ by their ends, more of its end is told."""


def plain(text: str | None, longest: int = LONGEST_TEXT) -> str:
    """Return text from outside in one safe line of bounded length; "" for None."""
    if not text:
        return ""
    cut = text if len(text) <= longest else text[: longest - 1] + "…"
    # at most three combining marks in a row: towers of them would cover other lines
    return visible(cut if cut.isascii() else _TOWER.sub(r"\1…", cut))


def name(text: str | None) -> str:
    """Return a name from outside, shorter still: cut in the middle."""
    if text and len(text) > LONGEST_NAME:
        begin = LONGEST_NAME // 3
        text = f"{text[:begin]}…{text[begin + 1 - LONGEST_NAME :]}"
    return plain(text, LONGEST_NAME)


def sensor_names(
    rows: Iterable[SensorRow | IsoFigures | LastingHotPixels],
) -> dict[tuple[str, str], str]:
    """Name each sensor by its body, and by itself where the body has several."""
    found = dict.fromkeys((row.body, row.sensor) for row in rows)
    bodies = Counter(body for body, _ in found)
    return {
        (body, sensor): f"{body} ({sensor})" if bodies[body] > 1 else body for body, sensor in found
    }


def sentence(text: str) -> str:
    """Start with a capital and end with a stop."""
    if not text:
        return ""
    whole = text[0].upper() + text[1:]
    return whole if whole[-1] in ".!?…" else whole + "."


def moment(text: str | None) -> datetime | None:
    """Return an ISO 8601 time as a datetime; None where it is none."""
    if not text:
        return None
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return None


def clock(when: datetime | None) -> str:
    """Return the camera's clock, ``18:52:07``; an en dash where unknown."""
    return when.strftime("%H:%M:%S") if when else "–"


def day(when: date) -> str:
    """Return ``14 September 2031``."""
    return f"{when.day} {MONTHS[when.month - 1]} {when.year}"


def fine(value: float) -> str:
    """Return signed hundredths of a stop, for differences inside one frame: ``+0.16``."""
    rounded = round(value, 2) + 0.0
    sign = "−" if rounded < 0 else "+" if rounded > 0 else ""
    return f"{sign}{abs(rounded):.2f}"


def share(value: float | None) -> str:
    """Return an honest share; an en dash where unmeasured."""
    return "–" if value is None else share_text(value)


def f_number(value: float | None) -> str:
    """Return ``f/11``; an en dash where unknown."""
    return f"f/{round(value, 1):g}" if value else "–"


def exposure_line(exposure: ExposureFacts) -> str:
    """Return ``1/125 s · f/11 · ISO 100`` of what is known."""
    parts = [
        time_text(exposure.nominal_time_s or exposure.time_s)
        if exposure.time_s or exposure.nominal_time_s
        else "",
        f_number(exposure.f_number) if exposure.f_number else "",
        f"ISO {exposure.iso:.0f}" if exposure.iso else "",
    ]
    return " · ".join(part for part in parts if part) or "exposure not recorded"


def focal(value: float | None) -> str:
    """Return ``35 mm``; empty where unknown."""
    return f"{round(value, 1):g} mm" if value else ""


def over_under(value: float, *, over: str, under: str) -> str:
    """Return ``0.3 stop more`` or ``1.2 stops less``, in the words given."""
    return f"{counted_stops(abs(value))} {over if value > 0 else under}"


def source(text: str | None) -> str:
    """Return where a level was had from; empty where it was had from nowhere."""
    return SOURCES.get(text, f"from {plain(text)}") if text else ""


def changed(value: float) -> str:
    """Return ``fell by 0.3 stop``, ``rose by 1.2 stops``, or ``hardly changed``."""
    if abs(value) < LEVEL_STOPS:
        return "hardly changed"
    return f"{'rose' if value > 0 else 'fell'} by {counted_stops(abs(value))}"


def marking(mark: Marking) -> str:
    """Return a filter's marking in the three ways of writing it."""
    if mark.label:
        return name(mark.label)
    return f"{counted_stops(mark.stops, digits=0)}, density {mark.density:g}, ×{mark.factor:g}"


def cast(cast_stops: dict[str, float]) -> str:
    """Return what a filter's cast does to the picture, against green."""
    told = [
        f"{channel} {fine(value)}" for channel, value in sorted(cast_stops.items(), reverse=True)
    ]
    if not told:
        return "–"
    word = cast_word(cast_stops)
    turns = word if word is Cast.NEUTRAL else f"the picture turns {TURNS[word]}"
    return f"{', '.join(told)}: {turns}"


def sureness(value: float) -> str:
    """Return a confidence of 0 to 1 in a word."""
    return "high" if value >= 0.8 else "fair" if value >= 0.5 else "low"


def setting_value(value: object) -> str:
    """Return one value of a setting: ``yes``, ``0.002``, ``matte``."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else plain(str(value))
