"""Sentences of the report's page and pictures, made from codes and figures."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import timedelta

from auditor.advise.outcomes import Outcome
from auditor.advise.suggestions import Basis, Suggestion
from auditor.model.advice import FilterVerdict
from auditor.model.audit import Audit, FrameResult, LightPoint, SunDay
from auditor.model.codes import BlendJob, FrameStatus, Verdict
from auditor.model.numbers import counted, counted_stops, stops_text, whole_share_text
from auditor.model.text import listed
from auditor.words import values
from auditor.words.light import light_lines

MOST_BODIES = 4
"""Bodies named in the summary."""

MOST_NAMED = 6
"""Places of more lasting hot pixels than this are no reading matter: a file holds them."""

OUTCOMES = {
    Outcome.LOST: "lost",
    Outcome.MAY_BE_CLIPPED: "may be clipped",
    Outcome.BRACKETED: "bracketed on purpose",
    Outcome.POINTS: "sun or glitter only",
    Outcome.CLEAN: "clean",
    Outcome.DARK: "dark frame",
    Outcome.UNREADABLE: "unreadable",
}
"""What became of a frame, as a page says it."""

OUTCOME_MEANINGS = {
    Outcome.LOST: "An area is blown or blocked up that no other frame of a bracket holds.",
    Outcome.MAY_BE_CLIPPED: "Many pixels lie at the top of all that was recorded; where the "
    "sensor clips is not known.",
    Outcome.BRACKETED: "A part is blown or blocked up, and the frame is one of a bracket.",
    Outcome.POINTS: "Only points are blown, or one small patch lost in every channel, as the sun "
    "leaves it.",
    Outcome.CLEAN: "Nothing is lost, as far as it was measured.",
    Outcome.DARK: "Next to no light reached the sensor.",
    Outcome.UNREADABLE: "The file could not be read.",
}
"""What each of them means."""

BLEND_JOBS = {
    "all": "holds the whole scene",
    BlendJob.HIGHLIGHTS: "for the highlights",
    BlendJob.MIDDLE_TONES: "for the middle tones",
    BlendJob.SHADOWS: "for the shadows",
}
"""What a blend takes from a frame of a bracket."""

KEEPER_KINDS = {"short": "Best unfiltered frame", "long": "Best filtered frame"}
"""Which of a set-up's frames a keeper is the best of."""


def verdict_text(frame: FrameResult) -> str:
    """Return the verdict in a word or two."""
    if frame.verdict == Verdict.HELD and frame.blocked_fraction is None:
        return values.BRIGHT_END_ONLY
    return values.VERDICTS.get(frame.verdict, values.name(frame.verdict))


def verdict_line(frame: FrameResult) -> str:
    """Say the verdict with the shares and the headroom that bear on it, or why there is none."""
    verdict = verdict_text(frame)
    if frame.status == FrameStatus.UNREADABLE:
        return (values.plain(frame.error.message) if frame.error else "") or verdict
    if frame.verdict == Verdict.DARK_FRAME:
        return verdict
    said_by_figures = frame.verdict in (Verdict.BLOWN, Verdict.BLOCKED, Verdict.BOTH)
    parts = [
        "" if said_by_figures else verdict,
        f"{values.share(frame.blown_fraction)} blown" if frame.blown_fraction else "",
        f"{values.share(frame.blocked_fraction)} blocked" if frame.blocked_fraction else "",
        f"could take {counted_stops(frame.headroom_stops)} more" if frame.headroom_stops else "",
    ]
    return ", ".join(filter(None, parts)) or verdict


def suggestion_text(suggestion: Suggestion, names: Mapping[str, str]) -> str:
    """Say why a mark is suggested; ``names`` are the frames' short ones, not yet made safe."""
    told = " ".join(map(values.sentence, suggestion.reasons))
    if suggestion.basis is Basis.NEEDED:
        return "needed to cover the range of its bracket"
    if suggestion.basis is Basis.NOT_NEEDED:
        return "its bracket is covered without it"
    if suggestion.basis is Basis.BEHIND and suggestion.ahead is not None:
        behind = f"{names.get(suggestion.ahead, suggestion.ahead)} is ahead of it"
        return f"{behind}. {told}" if told else behind
    return told or "the best of its set-up"


def when_text(audit: Audit) -> str:
    """Say when the frames were taken, by the cameras' clocks as they show."""
    found = (values.moment(frame.captured_at) for frame in audit.frames)
    # without their offsets, so that they can be compared
    moments = sorted(when.replace(tzinfo=None) for when in found if when)
    if not moments:
        return "No file tells when it was taken"
    first, last = moments[0], moments[-1]
    start, end = first.strftime("%H:%M"), last.strftime("%H:%M")
    if first.date() == last.date():
        return f"{values.day(first)}, {start} to {end}"
    return f"{values.day(first)}, {start}, to {values.day(last)}, {end}"


def made_text(audit: Audit) -> str:
    """Say when the audit was made, and by which version."""
    made = values.moment(audit.made_at)
    told = f"{values.day(made)}, {made.strftime('%H:%M')}" if made else values.name(audit.made_at)
    return f"Made {told} by exposure-auditor {values.name(audit.tool_version)}"


def summary_lines(audit: Audit) -> Iterator[str]:
    """Say how many files lay where and were read, what they were taken with, and the light."""
    copies, seen = 0, set[str]()
    for frame in audit.frames:
        copies += not seen.isdisjoint(frame.also_at)
        seen.add(frame.id)
    tops = set()  # cards, told by the folder of pictures that DCF puts at the top of every one
    for frame in audit.frames:
        folders = frame.file.split("/")[:-1]
        named = [folder.upper() for folder in folders]
        top = tuple(folders[: named.index("DCIM")]) if "DCIM" in named else None
        tops.add(None if top is None else (frame.input, top))
    where = f" in {counted(len(audit.inputs), 'place')}" if len(audit.inputs) > 1 else ""
    if tops and None not in tops:
        where = f" on {counted(len(tops), 'card')}"
    found = f"{counted(len(audit.frames), 'file')}{where}"
    if copies:
        found += f", {copies} of them {'a copy' if copies == 1 else 'copies'}"
    unreadable = sum(frame.status == FrameStatus.UNREADABLE for frame in audit.frames)
    measured = len(audit.frames) - unreadable
    yield values.sentence(f"{found}: {measured} measured, {unreadable or 'none'} unreadable.")
    bodies = sorted({values.name(frame.camera.body) for frame in audit.frames} - {""})
    named = bodies[:MOST_BODIES]
    if len(bodies) > MOST_BODIES:
        named.append(f"{len(bodies) - MOST_BODIES} more")
    if bodies:
        yield f"Taken with {listed(named)}."
    yield from light_lines(audit.light)


def light_text(point: LightPoint) -> str:
    """Say how bright the scene was at one frame, how high the sun stood, and what was corrected."""
    parts = [f"scene EV {stops_text(point.scene_ev100)}"]
    if point.sun_altitude_deg is not None:
        parts.append(f"sun at {stops_text(point.sun_altitude_deg)}°")
    if point.filtered:
        parts.append("corrected for its filter")
    if point.moved_stops:
        parts.append(f"it {values.changed(point.moved_stops)} meanwhile")
    return ", ".join(parts)


def sun_line(day: SunDay) -> str:
    """Say when the sun rose and set that day, or why that is not known, and what is assumed."""
    named = (
        ("sunrise", day.sunrise),
        ("sunset", day.sunset),
        ("end of civil dusk", day.civil_dusk),
        ("end of nautical dusk", day.nautical_dusk),
    )
    known = [(label, values.moment(when)) for label, when in named]
    half = timedelta(seconds=30)  # to the nearest minute: 06:59:48 is seven o'clock
    times = [f"{label} {(when + half).strftime('%H:%M')}" for label, when in known if when]
    reasons = [values.plain(reason) for reason in day.reasons.values()]
    parts = [listed(times), *reasons[:1], values.plain(day.assumption)]
    return " ".join(values.sentence(part) for part in parts if part)


def note_lines(audit: Audit) -> Iterator[str]:
    """Say what holds for the audit as a whole: stopped, notes, other files, lasting hot pixels."""
    if not audit.complete:
        yield "This audit was stopped before its end: what stands here is a part."
    yield from map(values.plain, audit.notes)
    if audit.passed_over:
        others = [f"{count} {values.name(suffix)}" for suffix, count in audit.passed_over.items()]
        yield f"Other files, passed over: {listed(others)}."
    yield from lasting_lines(audit)


def lasting_lines(audit: Audit) -> Iterator[str]:
    """Tell each sensor's lasting hot pixels in one line: how many, and where, if they are few."""
    names = values.sensor_names(audit.lasting_hot_pixels)
    for lasting in audit.lasting_hot_pixels:
        places = "Their rows and columns are in audit.json."
        if lasting.count <= MOST_NAMED:
            seen = zip(lasting.positions, lasting.seen, strict=True)
            named = [f"{row}/{column} ({frames} frames)" for (row, column), frames in seen]
            places = f"Row/column: {', '.join(named)}."
        stay = "pixel stays" if lasting.count == 1 else "pixels stay"
        body = values.name(names[lasting.body, lasting.sensor])
        yield (
            f"{body}: {lasting.count} {stay} hot from view to view, in "
            f"{counted(lasting.frames, 'frame')} looked at. {places}"
        )


def place_text(latitude_deg: float, longitude_deg: float) -> str:
    """Return a position to a tenth of a degree: ``12.0° N, 3.5° E``."""
    north = "S" if latitude_deg < 0 else "N"
    east = "W" if longitude_deg < 0 else "E"
    latitude, longitude = (stops_text(abs(value)) for value in (latitude_deg, longitude_deg))
    return f"{latitude}° {north}, {longitude}° {east}"


def found_lines(audit: Audit) -> Iterator[str]:
    """Say what each filter measured, then each graduated one."""
    yield from map(filter_line, audit.filters)
    for grad in dict.fromkeys(
        (round(grad.stops_at_top, 1), round(grad.edge_at, 2)) for grad in audit.grads
    ):
        stops, edge = grad
        yield (
            f"A graduated filter: {counted_stops(stops)} at the top, its edge "
            f"{whole_share_text(edge)} of the height from the top."
        )


def filter_line(verdict: FilterVerdict) -> str:
    """Say what a filter measures: "10-stop filter: 9.7 stops, 0.3 less than marked; cool."."""
    off = verdict.off_marking_stops
    way = "less" if off < 0 else "more"
    marked = (
        f", {counted_stops(abs(off))} {way} than marked"
        if abs(off) >= values.LEVEL_STOPS
        else ", as marked"
    )
    name = verdict.name[:1].upper() + verdict.name[1:]
    pairs = counted(verdict.pairs, "pair")
    return f"{name}: {counted_stops(verdict.stops)}{marked}; {verdict.cast} ({pairs})."


SHEET_LEGEND = (
    "Slice: tones; notch: median. Hatch: blown; dots: single specks of it; stipple: blocked up. "
    "● suggested"
)
"""What the marks of a contact sheet say."""

TONES_LEGEND = (
    "Stops below saturation; height: square root of the count.",
    "Stipple: under the noise floor; hatch: over saturation; broken line: the preview clips here.",
)
"""What a frame's tones are drawn with."""

EVENINGS_LEGEND = "Each dot is the median of one evening."
CURVES_LEGEND = "Dotted: light's own noise alone. Where a curve crosses 1 is the noise floor."


def picture_legends(blown: str, blocked: str, preview: str, *, horizon: bool) -> tuple[str, ...]:
    """Say what three pictures of a frame show: as recorded, what is lost, the camera's preview.

    Parameters
    ----------
    blown, blocked : str
        Share of the frame, as it is written.
    preview : str
        What was found of the preview; empty where there is none.
    horizon : bool
        Whether the line where the sky ends is drawn in.
    """
    line = " The line: where the sky ends." if horizon else ""
    return (
        f"Plainly rendered from the raw data.{line}",
        f"Hatch and dots: blown, {blown} of the frame. Stipple: under the noise floor, {blocked}.",
        preview or "The file holds no preview.",
    )


def no_room(more: int) -> str:
    """Say how many rows of the history have no room in its picture; empty where all have."""
    return f"{more} more stand in history.html." if more > 0 else ""


NOTHING_LOST = "Nothing is lost for good."
NOTHING_TO_DO = "Nothing stands out to be done otherwise."
"""On the printed page of answers, where there is none."""


def more_in_report(more: int) -> str:
    """Say how many lines of the printed page had no room."""
    return f"{more} more in the report."


def nothing_to_compare(setups: int) -> str:
    """Say how many set-ups hold a single frame."""
    return f"{counted(setups, 'more set-up')} with nothing to compare."
