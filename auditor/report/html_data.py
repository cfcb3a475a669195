"""What the HTML report's script works on: page records as compact JSON, by name."""

from __future__ import annotations

import hashlib
import json
import re
import zlib
from base64 import b64encode
from collections.abc import Container, Iterable, Mapping
from dataclasses import fields, is_dataclass
from functools import cache, lru_cache
from typing import Any

import numpy as np

from auditor.group.limits import MOVED_ERRORS, MOVED_LEAST_PX
from auditor.model.arrays import Bool
from auditor.pictures.render import SRGB_CURVE
from auditor.report.frame_records import ChannelSheet, FrameSheet, ToneBar
from auditor.report.page_channels import in_rows
from auditor.report.page_pictures import FramePictures
from auditor.report.page_records import Page
from auditor.report.picture_files import PictureFiles, files_data
from auditor.report.style import FAINTEST_SHARE, SHORTEST_CAP_PX, wedge_greys
from auditor.words.page import OUTCOMES
from auditor.words.values import Fact

CHUNK = 40
"""Frames or set-ups whose details are unpacked together, when one of them comes into sight."""

LARGEST_SHARE = 1_000_000
"""Counts of a histogram are told in parts of so many."""

_UNITS = re.compile(r"(?<=\d) (?=%|(?:s|min|h|stops?)\b)|(?<=\bISO) (?=\d)")
_HYPHENS = re.compile(r"(?<=\d-)(?=stop)")
"""In "10-stop": a line may end behind a hyphen."""

Numbers = Mapping[str, int]
"""Frame id to its place among the page's frames."""


def as_json(value: object) -> str:
    """Return JSON that may stand inside a script element: ASCII only, no ``<``, ``>``, ``&``."""
    text = json.dumps(value, ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def packed(value: object) -> str:
    """Return JSON packed by DEFLATE (RFC 1951) in base64: for what is not needed at once."""
    text = json.dumps(value, ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    packer = zlib.compressobj(9, zlib.DEFLATED, -zlib.MAX_WBITS)
    return b64encode(packer.compress(text.encode("ascii")) + packer.flush()).decode("ascii")


@lru_cache(maxsize=1 << 12)
def unbroken(text: str) -> str:
    """Return text in which a number and its unit, or ISO and its number, stay on one line."""
    return _HYPHENS.sub("\N{WORD JOINER}", _UNITS.sub("\N{NO-BREAK SPACE}", text))


def page_data(page: Page, numbers: Numbers) -> dict[str, Any]:
    """Return what is needed at once: the frames' lines, the time line, the list of set-ups.

    Parameters
    ----------
    page : Page
    numbers : mapping of str to int
        Frame id to its place among the page's frames.
    """
    return {
        "audit": {"madeAt": page.audit_made_at, "key": audit_key(page)},
        "inputs": list(page.inputs),
        "depth": page.floor_stops,
        "wedge": wedge_greys(max(1, round(page.floor_stops)))[::-1],
        "cap": {"shortest": SHORTEST_CAP_PX, "faintest": FAINTEST_SHARE},
        "moved": {"errors": float(MOVED_ERRORS), "leastPx": float(MOVED_LEAST_PX)},
        "curve": SRGB_CURVE,
        "chunk": CHUNK,
        "frames": [_line(frame, numbers) for frame in page.frames],
        "losses": [numbers[frame] for frame in page.losses],
        "light": [
            {
                "frame": numbers[moment.frame],
                "ev": _rounded(moment.ev100),
                "sun": _rounded(moment.sun_deg),
                "filtered": moment.filtered,
                "text": moment.text,
            }
            for moment in page.light
            if moment.frame in numbers
        ],
        "setups": [
            {
                "number": setup.number,
                "title": setup.title,
                "about": unbroken(setup.about),
                "short": setup.short_about,
                "holds": setup.holds,
                "frames": _numbered(setup.frames, numbers),
            }
            for setup in page.setups
        ],
        "panoramas": [record_data(run, numbers) for run in page.panoramas],
        "outcomes": {outcome.value: text for outcome, text in OUTCOMES.items()},
        "kinds": {
            finding.code: {
                "title": finding.title,
                "nextTime": finding.next_time,
                "caution": finding.caution,
            }
            for frame in page.frames
            for finding in frame.findings
        },
    }


def audit_key(page: Page) -> str:
    """Return a key that tells one audit's marks from another's, the same for the same files."""
    digest = hashlib.sha256()
    for frame in sorted((f.input, f.file) for f in page.frames):
        digest.update(repr(frame).encode("utf-8", "surrogatepass"))
    return digest.hexdigest()[:20]


def _numbered(frames: Iterable[str], numbers: Numbers) -> list[int]:
    return [numbers[frame] for frame in frames if frame in numbers]


ONE_FRAME = frozenset({"frame", "short", "long", "without", "with_"})
SOME_FRAMES = frozenset({"frames", "others"})
"""Fields that name frames by their ids; the script knows frames by their numbers."""

AT_ONCE = frozenset({"number", "title", "about", "short_about", "frames"})
"""Fields of a set-up that are told at once, by :func:`page_data`."""

DRAWN = frozenset({"bar", "histogram"})
"""Fields of a channel that are drawn, in rows of their own."""

BY_KIND = frozenset({"title", "next_time", "caution"})
"""Fields of a finding that are the same for its kind: told once a page."""


def record_data(record: Any, numbers: Numbers, without: Container[str] = ()) -> dict[str, Any]:
    """Return a page record by the names of its fields, in the script's way of writing them.

    Numbers are rounded to three decimals; facts that tell nothing are left out.

    Parameters
    ----------
    record : dataclass
    numbers : mapping of str to int
        Frame id to its place among the page's frames.
    without : container of str
        Fields that are left out.
    """
    return {
        camel: _field_data(name, getattr(record, name), numbers)
        for name, camel in _script_names(record.__class__)
        if name not in without
    }


@cache
def _script_names(kind: type) -> tuple[tuple[str, str], ...]:
    """Return each field of a kind of record, with the script's name of it."""
    words = [(field.name, *field.name.rstrip("_").split("_")) for field in fields(kind)]
    return tuple((name, first + "".join(map(str.title, rest))) for name, first, *rest in words)


def _field_data(name: str, value: Any, numbers: Numbers) -> Any:
    found = value
    if name in ONE_FRAME:
        found = numbers.get(value)
    elif name in SOME_FRAMES:
        found = _numbered(value, numbers)
    elif isinstance(value, str):
        found = unbroken(value)
    elif isinstance(value, float):
        found = round(value, 3)
    elif isinstance(value, ToneBar):
        found = bar_data(value)
    elif isinstance(value, tuple) and value and isinstance(value[0], Fact):
        # a page has more of these than of all other records
        found = [
            {
                "label": unbroken(str(fact.label)),
                "text": unbroken(fact.text),
                "remark": unbroken(fact.remark),
            }
            for fact in value
            if fact.text not in ("", "–")
        ]
    elif isinstance(value, tuple):
        found = [_field_data("", one, numbers) for one in value]
    elif is_dataclass(value):
        found = record_data(value, numbers)
    return found


def _line(frame: FrameSheet, numbers: Numbers) -> dict[str, Any]:
    suggestion = frame.suggestion
    told = {
        "id": frame.id,
        "input": frame.input,
        "file": frame.file,
        "name": frame.name,
        "place": frame.place,
        "status": frame.status,
        "verdict": frame.verdict,
        "verdictText": frame.verdict_text,
        "verdictLine": unbroken(frame.verdict_line),
        "outcome": frame.outcome,
        "day": frame.day_text,
        "taken": frame.taken_text,
        "takenS": frame.taken_s,
        "clock": frame.clock_key,
        "camera": frame.camera,
        "lens": frame.lens,
        "exposure": unbroken(frame.exposure_text),
        "timeS": frame.time_s,
        "ev": _rounded(frame.ev100),
        "bar": bar_data(frame.bar),
        "headroom": _rounded(frame.headroom_stops),
        "range": _rounded(frame.range_stops),
        "findings": [{"code": f.code, "severity": f.severity} for f in frame.findings],
        "setup": frame.setup,
        "roles": list(frame.roles),
        "filtered": frame.relatives.filtered,
        "siblings": _numbered(frame.relatives.siblings, numbers),
        "bracket": _numbered(frame.relatives.bracket, numbers),
        "suggested": suggestion.mark if suggestion else "",
        "why": unbroken(suggestion.why) if suggestion else "",
    }
    # the script has the rest by default; zero says a lot
    return {
        name: value
        for name, value in told.items()
        if not (value is None or value is False or value in ("", []))
    }


def bar_data(bar: ToneBar) -> dict[str, float | None]:
    """Return places in stops, blown and blocked as fractions; ``begin`` is where a slice begins."""
    return {
        "floor": _rounded(bar.floor_stops),
        "dark": _rounded(bar.dark_stops),
        "begin": _rounded(bar.begin_stops),
        "bright": _rounded(bar.bright_stops),
        "median": _rounded(bar.median_stops),
        "blown": _share(bar.blown),
        "blocked": _share(bar.blocked),
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 3)


def _share(value: float | None) -> float | None:
    """Six digits after the point; what is not nothing never becomes nothing."""
    return None if value is None else max(round(value, 6), 1e-6 if value > 0 else 0.0)


def detail_data(
    frame: FrameSheet, pictures: FramePictures | None, files: PictureFiles | None = None
) -> dict[str, Any]:
    """Return what is needed when a frame is looked at; ``files`` are its large pictures."""
    told = {
        "size": None,
        "sensor": None,
        "maps": None,
        "pictures": None if files is None else files_data(files),
        "previewClips": {c: _rounded(v) for c, v in frame.preview_clips_stops.items()},
        "toneOffsets": {},
        "loss": frame.loss and record_data(frame.loss, {}),
        "rows": [_row(row, others) for row, others in in_rows(frame.channels)],
        "channels": [record_data(one, {}, without=DRAWN) for one in frame.channels],
        "facts": _field_data("facts", frame.facts, {}),
        "findings": [record_data(one, {}, without=BY_KIND) for one in frame.findings],
        "notes": _field_data("notes", frame.notes, {}),
    }
    if pictures is not None:
        # where the frame is lost: in areas and in points, in any channel and in each colour
        maps = pictures.maps
        parts = {"any": pictures.lost_in()}
        parts |= {colour: pictures.lost_in(colour) for colour in dict.fromkeys(pictures.colours)}
        told |= {
            "size": [pictures.width, pictures.height],
            "sensor": list(pictures.sensor),
            "maps": {
                "rows": maps.any_blown.shape[0],
                "cols": maps.any_blown.shape[1],
                "areas": {c: map_text(one.areas) for c, one in parts.items()},
                "points": {c: map_text(one.specks) for c, one in parts.items()},
                "pointShare": {c: round(one.speck_share, 4) for c, one in parts.items()},
                "blocked": None if maps.blocked is None else map_text(maps.blocked),
            },
            "toneOffsets": {c: _rounded(v) for c, v in pictures.tone_offset_stops.items()},
        }
    return told


def _row(channel: ChannelSheet, others: tuple[ChannelSheet, ...]) -> dict[str, Any]:
    """Return one row of a histogram; a second green that differs is drawn into the first's."""
    drawn = [
        {
            "name": one.name,
            "first": one.histogram.first_stop,
            "shares": shares(one.histogram.counts),
        }
        for one in (channel, *others)
    ]
    return {
        **drawn[0],
        "fullName": channel.full_name,
        "bar": bar_data(channel.bar),
        "step": channel.histogram.step,
        "second": drawn[1:],
    }


def shares(counts: Iterable[int]) -> list[int]:
    """Return counts in parts of :data:`LARGEST_SHARE`; what is not nothing never becomes nothing.

    Their sum is a fraction of the pixels over black: what lies at or under it has no place here.
    """
    listed = np.fromiter(counts, np.float64)
    parts = np.rint(LARGEST_SHARE * listed / max(1.0, listed.sum()))
    found: list[int] = np.maximum(parts, listed > 0).astype(np.int64).tolist()
    return found


def map_text(tiles: Bool) -> str:
    """Return the lengths of alternating runs, off first, row after row, in base 36."""
    if not tiles.any():
        return ""
    flat = tiles.ravel()
    edges = np.flatnonzero(flat[1:] != flat[:-1]) + 1
    lengths = np.diff(edges, prepend=0, append=flat.size).tolist()
    if flat[0]:
        lengths.insert(0, 0)
    return " ".join(map(_base_36, lengths))


@cache
def _base_36(number: int) -> str:
    """Write a number in base 36; a page holds hundreds of thousands of the same few."""
    return np.base_repr(number, 36).lower()
