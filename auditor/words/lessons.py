"""The lines that end an audit, each with names, figures and times."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

from auditor.light.filters import filter_name
from auditor.light.nominal import dial_text, nominal_name
from auditor.model.advice import FilterVerdict, NextTime
from auditor.model.audit import FrameResult, Grad, SiblingPair
from auditor.model.numbers import counted, counted_stops, share_text, whole_share_text
from auditor.words.findings import colour_name

MOST_NAMED = 3


def files_text(names: Sequence[str]) -> str:
    """Say "A" or "3 files (A, B and C)"."""
    return names[0] if len(names) == 1 else f"{len(names)} files ({_named(names)})"


def listed(parts: Sequence[str]) -> str:
    """Say "A", "A and B", "A, B and C"."""
    return " and ".join([*([", ".join(parts[:-1])] if parts[1:] else []), *parts[-1:]])


def _named(parts: Sequence[str]) -> str:
    more = len(parts) - MOST_NAMED
    return listed([*parts[:MOST_NAMED], *([f"{more} more"] if more > 0 else [])])


def lost_text(areas: Sequence[FrameResult], blocked: Sequence[FrameResult]) -> str:
    """Say what was lost for good: where all channels are gone, where one is, what is too dark."""
    whole = [one for one in areas if one.loss == "all channels"]
    channel = [one for one in areas if one.loss == "channel"]
    parts = []
    if whole:
        named = _named([f"{f.id} ({_share(f.blown_all_fraction)} of the frame)" for f in whole])
        parts.append(f"Highlights are lost in every channel of {named}.")
    if channel:
        named = _named([f"{f.id} ({_share(f.blown_fraction)}, {_colours(f)})" for f in channel])
        parts.append(f"An area is blown, not in every channel, in {named}: it may be rebuilt.")
    if blocked:
        named = _named([f"{f.id} ({_share(f.blocked_fraction)} of the frame)" for f in blocked])
        parts.append(f"Shadows are under the noise floor in {named}.")
    return " ".join(parts)


def _share(share: float | None) -> str:
    return share_text(share or 0.0)


def _colours(frame: FrameResult) -> str:
    most = max(channel.blown_fraction for channel in frame.channels) if frame.channels else 0.0
    hit = [c.name for c in frame.channels if c.blown_fraction >= most / 2 > 0]
    return listed(list(dict.fromkeys(map(colour_name, hit)))) or "one channel"


def filters_text(filters: Sequence[FilterVerdict], grads: Sequence[Grad]) -> str:
    """Say what each filter measures, and what the graduated filter did."""
    parts = []
    if filters:
        told = [
            f"{'your ' if number == 0 else 'the '}{one.name} measures "
            f"{counted_stops(one.stops)}{'' if one.cast == 'neutral' else f', {one.cast}'}"
            for number, one in enumerate(filters)
        ]
        text = "; ".join(told)
        these = "this figure" if len(filters) == 1 else "these figures"
        parts.append(f"{text[:1].upper()}{text[1:]}: calculate with {these}.")
    parts += [
        f"The grad of {grad.with_} measures {counted_stops(grad.stops_at_top)}, its edge at "
        f"{whole_share_text(grad.edge_at)} of the height."
        for grad in grads[:MOST_NAMED]
    ]
    return " ".join(parts)


def match_text(pairs: Sequence[SiblingPair], results: dict[str, FrameResult]) -> str:
    """Say which filtered frame missed its sibling, the worst first, and what would have matched."""
    worst, *others = pairs
    long = results.get(worst.long)
    taken = f"{dial_text(long.exposure)}, " if long else ""
    matched = (
        f"{nominal_name(worst.matched_time_s)} would have matched"
        if worst.matched_time_s
        else "the light fell too fast for any time to match"
    )
    text = (
        f"{worst.long} ({taken}{filter_name(worst)}) came out "
        f"{_apart(worst.placement_difference_stops)} than {worst.short}: {matched}."
    )
    named = [f"{pair.long} ({_apart(pair.placement_difference_stops)})" for pair in others]
    return f"{text} Also {_named(named)}." if named else text


def _apart(stops: float) -> str:
    return f"{counted_stops(abs(stops))} {'brighter' if stops > 0 else 'darker'}"


def habit_text(
    advice: Sequence[NextTime], off: Sequence[tuple[str, NextTime]], dark: Sequence[FrameResult],
    filtered: int,
) -> str:  # fmt: skip
    """Say how the set-ups were exposed without a filter, and how the frames behind one were.

    Parameters
    ----------
    advice, off
        The settings for next time; those that ask for more or less light, with their set-ups.
    dark : sequence of FrameResult
        Frames behind a filter that could have taken a stop more or still more.
    filtered : int
        How many frames there were behind a filter.
    """
    parts = []
    good = len(advice) - len(off)
    if advice:
        all_of = "all" if not off else f"{good} of"
        setups = counted(len(advice), "set-up")
        text = f"Exposure without a filter was within a third of a stop in {all_of} {setups}"
        parts.append(f"{text}{'; ' if off else ''}{_named([_change(*one) for one in off])}.")
    if dark:
        rooms = [frame.headroom_stops or 0.0 for frame in dark]
        parts.append(
            f"Behind filters {len(dark)} of {counted(filtered, 'frame')} could take "
            f"{counted_stops(median(rooms))} more: smoothed water clips later."
        )
    return " ".join(parts)


def _change(setups: str, advice: NextTime) -> str:
    way = "more" if advice.change_stops > 0 else "less"
    stops = counted_stops(abs(advice.change_stops))
    return f"{setups.lower()} {stops} {way} ({nominal_name(advice.time_s)})"


def setups_off(pairs: Sequence[tuple[str, NextTime]], limit: float) -> list[tuple[str, NextTime]]:
    """Return what asks for more than the limit more or less light, the most first."""
    off = [one for one in pairs if abs(one[1].change_stops) > limit]
    return sorted(off, key=lambda one: -abs(one[1].change_stops))


def preview_text(early: Sequence[float], hid: Sequence[str]) -> str:
    """Say how far the preview is from the raw data, and what it hid."""
    parts = []
    if early:
        least, most = (counted_stops(value) for value in (min(early), max(early)))
        span = f", {least.partition(' ')[0]} to {most}" if least != most else ""
        parts.append(
            f"The preview clips {counted_stops(median(early))} before the raw data (median of "
            f"{counted(len(early), 'frame')}{span}): a neutral picture style brings its "
            "histogram nearer, UniWB nearer still."
        )
    if hid:
        parts.append(f"It hid blown highlights in {_named(hid)}.")
    return " ".join(parts)
