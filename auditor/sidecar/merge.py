"""What of a mark may be written where others write too, and what stays as they set it.

A rating, label or caption is ours where our own record in the same sidecar tells the value that
stands there now; then it follows the new marks. Anything else was set by a person or another
program and stays, unless it is to be replaced. A rating of 0 is *unrated* (ISO 16684-1).
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from auditor.model.text import visible
from auditor.sidecar.marks import MARK_WORDS, Mark
from auditor.sidecar.packet import AUDITOR, DESCRIPTION, LABEL, RATING, Packet, xml_text
from auditor.words import sidecars

RATINGS = {"keep": "4", "second": "2", "drop": "-1"}
LABELS = ("Keep", "Second", "Drop")
"""Label texts of :data:`~auditor.sidecar.marks.MARK_WORDS`, where no others are asked for."""

MARK, MARKED_BY, REASONS = f"{{{AUDITOR}}}Mark", f"{{{AUDITOR}}}MarkedBy", f"{{{AUDITOR}}}Reasons"
RECORDS = {
    RATING: f"{{{AUDITOR}}}WroteRating",
    LABEL: f"{{{AUDITOR}}}WroteLabel",
    DESCRIPTION: f"{{{AUDITOR}}}WroteDescriptionSha256",
}
"""Where we record what we wrote: rating and label themselves, the caption by its digest."""

WORDS = {RATING: "rating", LABEL: "label", DESCRIPTION: "description"}
PHOTOGRAPHER, AUDIT = "photographer", "audit"


class Owner(Enum):
    """Whose word stands in one place of a sidecar."""

    NOBODY = "nobody"
    US = "us"
    OTHERS = "others"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """How marks are merged.

    Parameters
    ----------
    labels : tuple of str
        The texts for keep, second, drop.
    by_audit : bool
        The audit's own choice: it fills empty places, and leaves a frame alone that somebody
        has rated or marked.
    replace : bool
        What others set is replaced too.
    """

    labels: tuple[str, ...] = LABELS
    by_audit: bool = False
    replace: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Merge:
    """What is to be written into one sidecar.

    Parameters
    ----------
    values : dict
        Property to text, None where it is taken out.
    changes, kept : tuple of str
        In words: what changes, and what was wanted and stays.
    """

    values: dict[str, str | None]
    changes: tuple[str, ...] = ()
    kept: tuple[str, ...] = ()


def merge(packet: Packet, sisters: Sequence[Packet], mark: Mark, rules: Rules) -> Merge:
    """Work out what a mark changes.

    Parameters
    ----------
    packet : Packet
        The sidecar that would be written.
    sisters : sequence of Packet
        What else speaks of the same picture: a sidecar of the other name, XMP in the frame.
    """
    if rules.by_audit and not rules.replace and packet.text_of(MARKED_BY) == PHOTOGRAPHER:
        return Merge(values={}, kept=(sidecars.OWN_STAYS,) if mark.says_something else ())
    rating = label = None
    if mark.mark is not None:
        rating, label = RATINGS[mark.mark], rules.labels[MARK_WORDS.index(mark.mark)]
    note = xml_text(mark.note) if mark.note else None
    wanted = {RATING: rating, LABEL: label, DESCRIPTION: note}
    owners = {name: _owner(name, packet, sisters) for name in wanted}
    if rules.by_audit and not rules.replace and owners[RATING] is Owner.OTHERS:
        kept = (_stays(RATING, packet, sisters),) if mark.says_something else ()
        return Merge(values={}, kept=kept)
    values: dict[str, str | None] = {}
    changes, kept_places = [], []
    for name, value in wanted.items():
        olds = _values(name, packet)
        if value is None:
            # only who filled a place may empty it
            filled = packet.text_of(MARKED_BY) == _marker(rules)
            may = not rules.by_audit if name == DESCRIPTION else filled
            if owners[name] is Owner.US and may:
                values[name] = values[RECORDS[name]] = None
                changes.append(sidecars.TAKEN_OUT.format(what=WORDS[name], values=_short(olds[0])))
        elif olds == [value] or (
            name == RATING and list(map(_number, olds)) == [_number(value)]  # "4.0" is 4
        ):
            continue
        elif owners[name] is Owner.OTHERS and not rules.replace:
            kept_places.append(_stays(name, packet, sisters))
        else:
            values[name] = value
            values[RECORDS[name]] = _recorded(name, value)
            was = f"{_short(' and '.join(olds))} to " if any(olds) else ""
            changes.append(f"{WORDS[name]} {was}{_short(value)}")
    _add_records(values, changes, packet, mark, rules)
    return Merge(values=values, changes=tuple(changes), kept=tuple(kept_places))


def _marker(rules: Rules) -> str:
    return AUDIT if rules.by_audit else PHOTOGRAPHER


def _add_records(
    values: dict[str, str | None], changes: list[str], packet: Packet, mark: Mark, rules: Rules
) -> None:
    """Add who marked what and why, where anything of it is ours."""
    ours = bool(values) or any(packet.text_of(record) for record in RECORDS.values())
    marker = _marker(rules)
    if not ours or (mark.mark is None and packet.text_of(MARKED_BY) != marker):
        return
    told = {
        MARK: mark.mark,
        MARKED_BY: marker if mark.mark is not None else None,
        REASONS: xml_text(mark.reasons) if mark.reasons else None,
    }
    news = {name: text for name, text in told.items() if packet.text_of(name) != text}
    values.update(news)
    if REASONS in news and news[REASONS] is not None:
        changes.append(f"reasons {_short(news[REASONS])}")
    elif news and not changes:
        changes.append(sidecars.CHOICE_RECORDED if rules.by_audit else sidecars.RECORDED)


def _owner(name: str, packet: Packet, sisters: Sequence[Packet]) -> Owner:
    for one in (packet, *sisters):
        values = _values(name, one)
        if values and [_recorded(name, value) for value in values] != [one.text_of(RECORDS[name])]:
            return Owner.OTHERS
    # what we wrote and somebody took out since is a decision too
    recorded = packet.text_of(RECORDS[name])
    if recorded is None:
        return Owner.NOBODY
    return Owner.US if _values(name, packet) else Owner.OTHERS


def _values(name: str, packet: Packet) -> list[str]:
    """Return what stands in a place; empty texts and the rating 0 are nothing."""
    texts = [packet.description() or ""] if name == DESCRIPTION else packet.texts_of(name)
    return [text for text in texts if text.strip() and not (name == RATING and _number(text) == 0)]


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None


def _recorded(name: str, value: str) -> str:
    number = _number(value) if name == RATING else None
    if number is not None:
        return f"{number:g}"
    return hashlib.sha256(value.encode()).hexdigest() if name == DESCRIPTION else value


def _stays(name: str, packet: Packet, sisters: Sequence[Packet]) -> str:
    values = next(filter(None, (_values(name, one) for one in (packet, *sisters))), [])
    if not values:
        return sidecars.TAKEN_OUT_BY_OTHERS.format(what=WORDS[name])
    return sidecars.NOT_OURS.format(what=WORDS[name], values=_short(" and ".join(values)))


def _short(text: str | None) -> str:
    shown = visible(text or "")
    return shown if len(shown) <= 60 else shown[:59] + "…"
