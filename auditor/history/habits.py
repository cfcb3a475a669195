"""The habits that would change most, each said in a sentence with its evidence.

Nothing is said from fewer than :data:`LEAST_FRAMES` frames, nor from a difference that the
scatter of the frames could make. Advice is rounded down to thirds of a stop and keeps a third
in hand.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from auditor.history.gear_habits import LEAST_FRAMES, filter_habit, preview_habit
from auditor.history.phrases import COLOUR_WORDS, counted, said, thirds_text
from auditor.history.shots import Shot
from auditor.history.spread import lower_quartile, spread_of
from auditor.light.sun import PHASES
from auditor.model.history import Habit, KnownFilter, PreviewRow, Spread
from auditor.model.numbers import counted_stops
from auditor.words.cautions import DARK_GROUND, FILTERS_AND_EYES

RESERVE_STOPS = 1.0 / 3.0
"""Kept in hand when more light is advised."""

STANDS_OUT_STOPS = 1.0 / 3.0
"""By how much a kind of frame must differ from the rest to be named."""

SCATTERS = 2.0
"""And by so many standard errors of the difference: less could be chance."""

OFTEN = 0.2
"""Share of the frames from which a loss is a habit."""

MOST_HABITS = 3

_PHASE_WORDS = {
    "night": "at night", "before sunrise": "before sunrise",
    "after sunrise": "with the low sun after sunrise", "day": "by day",
    "before sunset": "with the low sun before sunset", "after sunset": "after sunset",
}  # fmt: skip
_DARK_PHASES = ("night", "before sunrise", "after sunset")


@dataclass(frozen=True, slots=True)
class _Kind:
    """A kind of frame with its name in a sentence, against all the others."""

    words: str
    shots: tuple[Shot, ...]
    rest: tuple[Shot, ...]
    phase: str | None = None


def find_habits(
    shots: Sequence[Shot], previews: Iterable[PreviewRow], filters: Iterable[KnownFilter]
) -> tuple[Habit, ...]:
    """Return the three habits that would change most, the weightiest first.

    Parameters
    ----------
    shots : sequence of Shot
    previews : iterable of PreviewRow
    filters : iterable of KnownFilter
    """
    kinds = _kinds([shot for shot in shots if shot.placed])
    candidates = [_spare_habits(kinds), _loss_habits(kinds), _both_ends_habits(kinds)]
    candidates += [[preview_habit(row)] for row in previews]
    candidates += [[filter_habit(entry)] for entry in filters]
    found = [habit for group in candidates for habit in group if habit is not None]
    return _weightiest(found)


def _weightiest(found: list[Habit]) -> tuple[Habit, ...]:
    """Choose the weightiest of each sort first, so that two bodies do not say the same twice."""
    found.sort(key=lambda habit: (-habit.weight, habit.code, habit.text))
    first: dict[str, Habit] = {}
    for habit in found:
        first.setdefault(habit.code, habit)
    others = [habit for habit in found if first[habit.code] is not habit]
    chosen = [*first.values(), *others][:MOST_HABITS]
    return tuple(sorted(chosen, key=lambda habit: -habit.weight))


def _kinds(shots: Sequence[Shot]) -> list[_Kind]:
    """Name all frames, then those of each time against the sun, filter, body and lens."""
    kinds = [_Kind("Your frames", tuple(shots), ())]
    for phase in PHASES:
        words = f"Your frames {_PHASE_WORDS[phase]}"
        kinds.append(_split(words, shots, [shot.phase == phase for shot in shots], phase))
    kinds.append(_split("Your filtered frames", shots, [shot.filtered for shot in shots]))
    for body in sorted({shot.body for shot in shots}):
        words = f"Your frames from {said(body)}"
        kinds.append(_split(words, shots, [shot.body == body for shot in shots]))
    for lens in sorted({shot.lens for shot in shots}):
        words = f"Your frames through {said(lens)}"
        kinds.append(_split(words, shots, [shot.lens == lens for shot in shots]))
    return [kind for kind in kinds if kind.rest or kind is kinds[0]]


def _split(
    words: str, shots: Sequence[Shot], chosen: Sequence[bool], phase: str | None = None
) -> _Kind:
    inside = tuple(shot for shot, wanted in zip(shots, chosen, strict=True) if wanted)
    outside = tuple(shot for shot, wanted in zip(shots, chosen, strict=True) if not wanted)
    return _Kind(words, inside, outside, phase)


def _spares(shots: Iterable[Shot]) -> list[float]:
    return [
        shot.frame.headroom_stops
        for shot in shots
        if not shot.lost and shot.frame.headroom_stops is not None
    ]


def _spare_habits(kinds: Sequence[_Kind]) -> list[Habit | None]:
    """Find where light is left unused: one kind that stands out, else all frames alike.

    All frames are named only when no kind stands out, for the advice would repeat itself.
    """
    found = [_spare_habit(kind) for kind in kinds[1:] if _stands_out(kind)]
    return found if any(found) else [_spare_habit(kinds[0])]


def _stands_out(kind: _Kind) -> bool:
    inside, outside = spread_of(_spares(kind.shots)), spread_of(_spares(kind.rest))
    if inside is None or outside is None or inside.error is None or outside.error is None:
        return False
    scatter = SCATTERS * math.hypot(inside.error, outside.error)
    return inside.median - outside.median >= max(STANDS_OUT_STOPS, scatter)


def _spare_habit(kind: _Kind) -> Habit | None:
    spares = _spares(kind.shots)
    if len(spares) < LEAST_FRAMES or len(kind.shots) - len(spares) > OFTEN * len(kind.shots):
        return None
    give = math.floor(3.0 * (lower_quartile(spares) - RESERVE_STOPS) + 1e-9) / 3.0
    told = spread_of(spares)
    if give < 1.0 / 3.0 or told is None:
        return None
    return Habit(
        code="light-left-unused",
        text=f"{kind.words} end {counted_stops(told.median)} under saturation: "
        f"give {thirds_text(give)} more.",
        evidence=_spare_evidence(kind, told),
        weight=len(spares) * give,
        frames=len(spares),
        value_stops=told.median,
        caution=DARK_GROUND if kind.phase in _DARK_PHASES else "",
    )


def _spare_evidence(kind: _Kind, told: Spread) -> str:
    shoots = len({shot.shoot for shot in kind.shots})
    parts = [
        f"{counted(told.count, 'frame')} of {counted(shoots, 'shoot')} with no channel lost: "
        f"median {counted_stops(told.median)} left, {_scatter(told)}"
    ]
    rest = spread_of(_spares(kind.rest))
    if rest is not None:
        darker = counted_stops(told.median - rest.median)
        parts.append(
            f"the {rest.count} others leave {rest.median:.1f}, so these are {darker} darker"
        )
    blocked = sum(shot.frame.verdict == "blocked" for shot in kind.shots)
    if blocked:
        parts.append(f"in {blocked} of them shadows sank under the noise floor all the same")
    return "; ".join(parts) + "."


def _loss_habits(kinds: Sequence[_Kind]) -> list[Habit | None]:
    """Find where channels are lost for good: the kind that loses most, when that is often."""
    often = [kind for kind in kinds if _often(kind, lambda shot: shot.missed)]
    worst = max(often, key=_missed_share, default=None)
    return [None if worst is None else _loss_habit(worst)]


def _missed_share(kind: _Kind) -> float:
    return sum(shot.missed for shot in kind.shots) / len(kind.shots)


def _often(kind: _Kind, happened: Callable[[Shot], bool]) -> bool:
    count = sum(happened(shot) for shot in kind.shots)
    return len(kind.shots) >= LEAST_FRAMES and count >= max(4, OFTEN * len(kind.shots))


def _loss_habit(kind: _Kind) -> Habit:
    lost = [shot for shot in kind.shots if shot.missed]
    held = sum(_held_by_a_stop(shot) for shot in lost)
    less = 2 * held >= len(lost)
    advice = (
        "give one stop less there, or bracket" if less else "bracket, or take a graduated filter"
    )
    return Habit(
        code="channels-lost",
        text=f"{kind.words} lose a channel {len(lost)} times in {len(kind.shots)}: {advice}.",
        evidence=f"{_channels_text(lost)}{_held_text(held, len(lost))}{_retaken_text(kind)}",
        weight=float(len(lost)),
        frames=len(lost),
        caution="" if less else FILTERS_AND_EYES,
    )


def _channels_text(lost: Sequence[Shot]) -> str:
    """Count the frames by the channels they lost, and say why the counts may not add up."""
    channels = Counter(name for shot in lost for name in sorted(shot.lost_channels))
    if not channels:
        return ""
    names = ", ".join(
        f"{COLOUR_WORDS.get(name, name)} in {count}" for name, count in channels.most_common()
    )
    several = " (a frame may lose several)" if channels.total() > len(lost) else ""
    return f"Lost: {names}{several}. "


def _held_text(held: int, lost: int) -> str:
    """Say how many a stop less would have held for sure: clipping hides the others' height."""
    hidden = "cannot be told: clipped pixels hide their height."
    if not held:
        return f"Whether one stop less would have held them {hidden}"
    if held == lost:
        return f"One stop less would have held {'it' if lost == 1 else f'all {lost}'}."
    return f"One stop less would have held {held} of the {lost}; of the others it {hidden}"


def _retaken_text(kind: _Kind) -> str:
    again = sum(shot.retaken for shot in kind.shots)
    return f" {counted(again, 'more frame')} taken again at once with less light." if again else ""


def _held_by_a_stop(shot: Shot) -> bool:
    """Whether a stop less surely leaves too little even for one connected blown area.

    What is blown with a stop less is known as an upper bound only, so no is not an answer.
    """
    return all(channel.blown_one_stop_less < shot.least_loss for channel in shot.frame.channels)


def _both_ends_habits(kinds: Sequence[_Kind]) -> list[Habit | None]:
    everything = kinds[0]
    both = sum(shot.frame.verdict == "both" for shot in everything.shots)
    if not _often(everything, lambda shot: shot.frame.verdict == "both"):
        return [None]
    return [
        Habit(
            code="both-ends-lost",
            text=f"Your frames lose both ends {both} times in {len(everything.shots)}: no single "
            "exposure holds such scenes, so bracket them or balance the sky.",
            evidence=f"{counted(both, 'frame')} outside brackets blown and blocked up at once.",
            weight=float(both),
            frames=both,
            caution=FILTERS_AND_EYES,
        )
    ]


def _scatter(spread: Spread) -> str:
    if spread.spread is None:
        return "a single frame"
    return f"one frame scatters by {spread.spread:.1f} ({spread.least:.1f} to {spread.most:.1f})"
