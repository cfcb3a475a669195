"""What the HTML report's script works on: page records as compact JSON."""

from __future__ import annotations

import hashlib
import json
import re
from base64 import b64encode
from collections.abc import Mapping
from typing import Any

import numpy as np

from auditor.model.arrays import Bool
from auditor.report.page_pictures import FramePictures
from auditor.report.page_records import (
    BracketSheet,
    ChannelSheet,
    FrameSheet,
    GradSheet,
    Page,
    PairSheet,
    ToneBar,
)

CHUNK = 40
"""Frames whose pictures and details are parsed together, when one of them comes into sight."""

HEIGHTS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz-_"
"""One character a histogram bin: the height in 63 steps."""

_UNITS = re.compile(r"(?<=\d) (?=%|(?:s|min|h|stops?)\b)|(?<=\bISO) (?=\d)")

DIGITS = "0123456789abcdefghijklmnopqrstuvwxyz"


def as_json(value: object) -> str:
    """Return JSON that may stand inside a script element: ASCII only, no ``<``, ``>``, ``&``."""
    text = json.dumps(value, ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def unbroken(text: str) -> str:
    """Return text in which a number and its unit, or ISO and its number, stay on one line."""
    return _UNITS.sub("\N{NO-BREAK SPACE}", text)


def page_data(page: Page, numbers: Mapping[str, int]) -> dict[str, Any]:
    """Return what is needed at once: cards, time line, charts of the set-ups.

    Parameters
    ----------
    page : Page
    numbers : mapping of str to int
        Frame id to its place among the page's frames.
    """
    return {
        "audit": {"made_at": page.audit_made_at, "inputs": page.inputs, "key": audit_key(page)},
        "depth": page.floor_stops,
        "chunk": CHUNK,
        "frames": [_card(frame) for frame in page.frames],
        "light": [
            [numbers[m.frame], _rounded(m.ev100), _rounded(m.sun_deg), m.filtered, m.text]
            for m in page.light
            if m.frame in numbers
        ],
        "setups": [
            [setup.number, [numbers[frame] for frame in setup.frames if frame in numbers]]
            for setup in page.setups
        ],
        "kinds": {
            finding.code: [finding.title, finding.next_time, finding.caution]
            for frame in page.frames
            for finding in frame.findings
        },
        "channelLabels": next(
            ([fact.label for fact in f.channels[0].facts] for f in page.frames if f.channels), []
        ),
    }


def audit_key(page: Page) -> str:
    """Return a key that tells one audit's marks from another's, the same for the same files."""
    digest = hashlib.sha256()
    for frame in sorted((f.input, f.file) for f in page.frames):
        digest.update(repr(frame).encode("utf-8", "surrogatepass"))
    return digest.hexdigest()[:20]


def _card(frame: FrameSheet) -> dict[str, Any]:
    return {
        "id": frame.id,
        "input": frame.input,
        "file": frame.file,
        "name": frame.name,
        "place": frame.place,
        "status": frame.status,
        "verdict": frame.verdict,
        "verdictText": frame.verdict_text,
        "taken": frame.taken_text,
        "clock": frame.clock_key,
        "takenS": frame.taken_s,
        "camera": frame.camera,
        "lens": frame.lens,
        "exposure": unbroken(frame.exposure_text),
        "timeS": frame.time_s,
        "ev": _rounded(frame.ev100),
        "bar": bar_data(frame.bar),
        "verdictLine": unbroken(frame.verdict_line),
        "headroomStops": _rounded(frame.headroom_stops),
        "rangeStops": _rounded(frame.range_stops),
        "findings": [[f.code, f.severity] for f in frame.findings],
        "setup": frame.setup,
        "roles": list(frame.roles),
        "keeper": frame.is_keeper,
    }


def bar_data(bar: ToneBar) -> list[float | None]:
    """Return floor, dark end, bright end, median (stops), blown and blocked shares."""
    stops = (bar.floor_stops, bar.dark_stops, bar.bright_stops, bar.median_stops)
    return [*(_rounded(value) for value in stops), _share(bar.blown), _share(bar.blocked)]


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 3)


def _share(value: float | None) -> float | None:
    """Six digits after the point; what is not nothing never becomes nothing."""
    return None if value is None else max(round(value, 6), 1e-6 if value > 0 else 0.0)


def detail_data(frame: FrameSheet, pictures: FramePictures | None, links: list[str | None]) -> Any:
    """Return what is needed when a frame comes into sight.

    Parameters
    ----------
    links : list of two
        Address of the raw rendering and of the camera's preview; None where there is none.
    """
    return {
        "thumb": links[0],
        "preview": links[1],
        "size": [pictures.width, pictures.height] if pictures else None,
        "blown": map_text(pictures.blown) if pictures else "",
        "blocked": map_text(pictures.blocked) if pictures and pictures.blocked is not None else "",
        "tiles": [*reversed(pictures.blown.shape)] if pictures else None,
        "channels": _channels(frame.channels),
        "facts": [[fact.label, fact.text, fact.remark] for fact in frame.facts],
        "findings": [[f.code, f.severity, f.severity_text, f.text] for f in frame.findings],
        "notes": list(frame.notes),
    }


def _channels(channels: tuple[ChannelSheet, ...]) -> list[dict[str, Any]]:
    most = max((max(c.histogram.counts, default=0) for c in channels), default=0)
    return [
        {
            "name": channel.name,
            "fullName": channel.full_name,
            "bar": bar_data(channel.bar),
            "first": channel.histogram.first_stop,
            "step": channel.histogram.step,
            "heights": heights_text(channel.histogram.counts, most),
            "texts": [fact.text for fact in channel.facts],
            "remarks": [fact.remark for fact in channel.facts],
            "notes": list(channel.notes),
        }
        for channel in channels
    ]


def heights_text(counts: tuple[int, ...], most: int) -> str:
    """Return one character a bin: the square root of its count over that of ``most``."""
    top = len(HEIGHTS) - 1
    heights = (0 if not n else max(1, round(top * (n / most) ** 0.5)) for n in counts)
    return "".join(HEIGHTS[height] for height in heights)


def map_text(tiles: Bool) -> str:
    """Return the lengths of alternating runs, off first, row after row, in base 36."""
    flat = tiles.ravel()
    if not flat.any():
        return ""
    edges = np.flatnonzero(np.diff(flat)) + 1
    lengths = np.diff(np.concatenate([[0], edges, [flat.size]])).tolist()
    if flat[0]:
        lengths.insert(0, 0)
    return " ".join(_base_36(length) for length in lengths)


def _base_36(number: int) -> str:
    digits = ""
    while True:
        number, digit = divmod(number, 36)
        digits = DIGITS[digit] + digits
        if number == 0:
            return digits


def picture_link(jpeg: bytes | None) -> str | None:
    """Return a JPEG as an address that needs no file."""
    return None if jpeg is None else "data:image/jpeg;base64," + b64encode(jpeg).decode("ascii")


def bracket_data(bracket: BracketSheet) -> str:
    """Return the bars of a bracket for drawing: offset and bar a frame."""
    return as_json([[_rounded(step.offset_stops), bar_data(step.bar)] for step in bracket.steps])


def grad_data(grad: GradSheet) -> str:
    """Return a grad's profile for drawing."""
    return as_json(
        {"edge": _rounded(grad.edge_at), "stops": [_rounded(v) for v in grad.profile_stops]}
    )


def pair_data(pair: PairSheet) -> str:
    """Return a filter's stops by channel for drawing."""
    return as_json([[channel, _rounded(value)] for channel, value, _ in pair.by_channel])
