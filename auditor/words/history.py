"""The sentences of the history: habits with their evidence, and notes."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from auditor.history.limits import LEAST_FRAMES
from auditor.model.history import (
    UNKNOWN_CAMERA,
    UNKNOWN_LENS,
    FramesOf,
    Habit,
    HabitCode,
    History,
    HistoryNote,
)
from auditor.model.numbers import counted, counted_stops, stops_text, whole_share_text
from auditor.words import values
from auditor.words.cautions import DARK_GROUND, FILTERS_AND_EYES
from auditor.words.findings import COLOURS
from auditor.words.nd_plan import scatter_text

TABLE_ABOUT = {
    "evenings": (
        "The latest first. Headroom: the median of the stops left under saturation in frames that "
        "lost no channel. Brackets and dark frames are not counted, neither there nor as lost. "
        "Filters: the median measured that evening, by nearest marking. A day links to its report "
        "as long as that has not been moved.", ""),
    "placement": (
        "Stops left under saturation over the frames that lost no channel: median, and mean "
        "with the scatter of one frame. Brackets and dark frames are not counted. A frame may "
        "lose several channels.", ""),
    "previews": (
        "By how many stops each channel of the preview clips before the sensor does; negative: "
        "after it. Neutral: of a highlight without colour, as an audit tells it.",
        " False alarms are frames whose preview showed lost highlights that the raw data hold."),
    "filters": (
        "Stops by channel, means over all pairs with and without the filter.",
        " Use the name with: auditor nd-time SHUTTER --filter NAME."),
    "hot": (
        "Isolated bright pixels per megapixel. Those that stay are hot in at least half of the "
        "exposures from five seconds on, in two shoots or more.", ""),
    "sensor": (
        "Saturation where it was seen, not claimed; read noise and full well in electrons; "
        "dynamic range from saturation down to where one pixel's signal equals its noise "
        "(EMVA 1288).", ""),
}  # fmt: skip
"""What each table of the history shows, and what the table alone shows, not its picture."""

BARS_LEGEND = "Each bar spans the scatter of one frame about the mean; the tick is the median."

_PHASES = {
    "night": "at night", "before sunrise": "before sunrise",
    "after sunrise": "with the low sun after sunrise", "day": "by day",
    "before sunset": "with the low sun before sunset", "after sunset": "after sunset",
}  # fmt: skip
_DARK_PHASES = ("night", "before sunrise", "after sunset")

_NOTES = {
    HistoryNote.ON_PURPOSE: (
        "Not counted in how frames were placed: {} (of brackets, or dark frames).",
        "frame"),
    HistoryNote.AGAIN: (
        "Left out because a later audit holds the same frames: {}.", "older result"),
    HistoryNote.PHASE_UNKNOWN: (
        "The time against sunrise and sunset is not known for {}: the files hold no position "
        "or no time. Audit with --at LAT,LON.", "frame"),
    HistoryNote.UNREADABLE: ("Could not be read: {}.", "file"),
}  # fmt: skip


def history_with_words(history: History) -> History:
    """Put their sentences to the habits and notes of a history."""
    notes = []
    for note, count in history.counts.items():
        if note is HistoryNote.TOO_FEW:
            notes.append(f"Habits need {LEAST_FRAMES:g} frames; so far: {count}.")
        else:
            text, noun = _NOTES[note]
            notes.append(text.format(counted(count, noun)))
    habits = tuple(map(habit_with_words, history.habits))
    return replace(history, habits=habits, notes=tuple(notes))


def habit_with_words(habit: Habit) -> Habit:
    """Put its sentences to a habit."""
    text, evidence, caution = _HABITS[habit.code](habit)
    return replace(habit, text=text, evidence=evidence, caution=caution)


def summary_lines(history: History) -> Iterator[str]:
    """Say how much is remembered, and how the frames are placed."""
    if not history.frames:
        yield "Nothing is remembered yet. Audit a shoot first: auditor audit PATH --out DIR."
        return
    first, last = values.moment(history.first_at), values.moment(history.last_at)
    span = ""
    if first is not None and last is not None:
        span = f", {values.day(first)}"
        span += f" to {values.day(last)}" if first.date() != last.date() else ""
    yield f"{counted(history.frames, 'frame')} of {counted(history.shoots, 'shoot')}{span}."
    row = history.exposure[0] if history.exposure else None
    if row is not None and row.spare is not None:
        lost = f"a channel was lost in {whole_share_text(row.lost_share)} of the frames"
        yield (
            f"Frames that lost no channel could have taken {counted_stops(row.spare.median)} "
            f"more light (median of {row.spare.count}); {lost if row.lost else 'none lost one'}."
        )


def no_habits_text(history: History) -> str:
    """Say that no habit stands out; empty where one does, or where nothing is remembered."""
    if history.habits or not history.frames:
        return ""
    return "No habit stands out over enough frames to be worth changing."


def thirds_text(stops: float) -> str:
    """Say a number of thirds of a stop in words: "a third of a stop", "one and a third stops"."""
    whole, part = divmod(round(3.0 * stops), 3)
    number = {1: "one", 2: "two", 3: "three", 4: "four"}.get(whole, str(whole))
    if whole == 0:
        return ("nothing", "a third of a stop", "two thirds of a stop")[part]
    tail = ("", " and a third", " and two thirds")[part]
    return f"{number}{tail} {'stop' if (whole, part) == (1, 0) else 'stops'}"


def _your_frames(habit: Habit) -> str:
    if habit.frames_of is FramesOf.FILTERED:
        return "Your filtered frames"
    return {
        FramesOf.ALL: "Your frames",
        FramesOf.PHASE: f"Your frames {_PHASES.get(habit.name, habit.name)}",
        FramesOf.BODY: f"Your frames from {_gear(habit.name)}",
        FramesOf.LENS: f"Your frames through {_gear(habit.name)}",
    }[habit.frames_of]


def _gear(name: str) -> str:
    return f"an {name}" if name in (UNKNOWN_CAMERA, UNKNOWN_LENS) else name


_Said = tuple[str, str, str]
"""What happens and what to do; the evidence; the caution."""


def _headroom_left(habit: Habit) -> _Said:
    told = habit.spread
    assert told is not None
    text = (
        f"{_your_frames(habit)} end {counted_stops(told.median)} under saturation: "
        f"give {thirds_text(habit.figures['give_stops'])} more."
    )
    shoots, blocked = int(habit.figures["shoots"]), int(habit.figures["blocked"])
    scatter = (
        "a single frame"
        if told.spread is None
        else f"one frame scatters by {told.spread:.1f} ({told.least:.1f} to {told.most:.1f})"
    )
    parts = [
        f"{counted(told.count, 'frame')} of {counted(shoots, 'shoot')} with no channel lost: "
        f"median {counted_stops(told.median)} left, {scatter}"
    ]
    if habit.rest is not None:
        darker = counted_stops(told.median - habit.rest.median)
        parts.append(
            f"the {habit.rest.count} others leave {habit.rest.median:.1f}, so these are {darker} "
            "darker"
        )
    if blocked:
        parts.append(f"in {blocked} of them shadows sank under the noise floor all the same")
    if habit.last is not None and habit.before is not None:
        parts.append(f"on the latest evening {habit.last:.1f}, before it {habit.before:.1f}")
    dark = habit.frames_of is FramesOf.PHASE and habit.name in _DARK_PHASES
    return text, "; ".join(parts) + ".", DARK_GROUND if dark else ""


def _channels_lost(habit: Habit) -> _Said:
    lost, held, again = habit.frames, int(habit.figures["held"]), int(habit.figures["retaken"])
    less = 2 * held >= lost
    advice = (
        "give one stop less there, or bracket" if less else "bracket, or take a graduated filter"
    )
    text = (
        f"{_your_frames(habit)} lose a channel {lost} times in {habit.figures['of']:.0f}: {advice}."
    )
    told = []
    if habit.channels:
        names = ", ".join(
            f"{COLOURS.get(name, name)} in {count}" for name, count in habit.channels.items()
        )
        # else the counts would seem not to add up
        several = sum(habit.channels.values()) > lost
        told.append(f"Lost: {names}{' (a frame may lose several)' if several else ''}.")
    hidden = "is not known: clipped pixels hide their height."
    if not held:
        told.append(f"Whether one stop less would have held them {hidden}")
    elif held == lost:
        told.append(f"One stop less would have held {'it' if lost == 1 else f'all {lost}'}.")
    else:
        some = f"{held} of the {lost}; of the others it {hidden}"
        told.append(f"One stop less would have held {some}")
    if again:
        told.append(f"{counted(again, 'more frame')} taken again at once with less light.")
    if habit.last is not None and habit.before is not None:
        last, before = whole_share_text(habit.last), whole_share_text(habit.before)
        told.append(f"On the latest evening {last}, before it {before}.")
    return text, " ".join(told), "" if less else FILTERS_AND_EYES


def _preview_off(habit: Habit) -> _Said:
    row, off = habit.preview, habit.value_stops or 0.0
    assert row is not None
    preview, frames = f"The preview of {_gear(row.body)} clips", counted(row.frames, "frame")
    early = ", ".join(
        f"{COLOURS[name]} {stops_text(spread.mean)}"
        f"{'' if spread.spread is None else f' ± {spread.spread:.2f}'} ({spread.count})"
        for name, spread in row.early.items()
    )
    if habit.code is HabitCode.PREVIEW_LATE:
        text = (
            f"{preview} {counted_stops(-off)} after the sensor does: what it shows as held may be "
            "lost, so stop short of its right edge."
        )
        told = (
            f"Stops that it clips too early (negative: too late), and how many of {frames} tell: "
            f"{early}."
        )
        return text, told, ""
    text = (
        f"{preview} {counted_stops(habit.value_stops)} before the sensor does: when its highlights "
        f"begin to blink, the frame can take {thirds_text(habit.figures['give_stops'])} more."
    )
    neutral = row.neutral
    assert neutral is not None
    scatter = "" if neutral.spread is None else f" ± {neutral.spread:.2f}"
    told = (
        f"Stops that it clips too early, and how many of {frames} tell: neutral highlights "
        f"{stops_text(neutral.mean)}{scatter} ({neutral.count}), {early}. White balance lifts red "
        f"and blue. In {counted(row.false_alarms, 'frame')} the preview showed lost highlights "
        "that the raw data hold."
    )
    return text, told, ""


def _filter_off_marking(habit: Habit) -> _Said:
    known = habit.filter
    assert known is not None
    off, factor = known.off_marking_stops, 2.0**known.stops
    scatter = scatter_text(known.spread_stops)
    over, more = ("over", "more") if off > 0 else ("under", "less")
    text = (
        f"Your filter “{known.name}” measures {counted_stops(known.stops)}, {abs(off):.1f} {over} "
        f"its marking: multiply the shutter by {factor:.{0 if factor >= 10.0 else 1}f}, "
        f"{counted_stops(abs(off))} {more} than the marking says."
    )
    evidence = (
        f"{counted(known.count, 'pair')} of {counted(known.shoots, 'shoot')}: "
        f"{known.stops:.2f} stops{scatter and ', '}{scatter}; marking {known.marking.label}."
    )
    return text, evidence, FILTERS_AND_EYES


_HABITS: dict[HabitCode, Callable[[Habit], _Said]] = {
    HabitCode.HEADROOM_LEFT: _headroom_left,
    HabitCode.CHANNELS_LOST: _channels_lost,
    HabitCode.BOTH_ENDS_LOST: lambda habit: (
        f"Your frames lose both ends {habit.frames} times in {habit.figures['of']:.0f}: no single "
        "exposure holds such scenes, so bracket them or balance the sky.",
        f"{counted(habit.frames, 'frame')} outside brackets blown and blocked up at once.",
        FILTERS_AND_EYES,
    ),
    HabitCode.PREVIEW_EARLY: _preview_off,
    HabitCode.PREVIEW_LATE: _preview_off,
    HabitCode.FILTER_OFF_MARKING: _filter_off_marking,
}
