"""The habits that would change most, each with the figures behind it.

Nothing is said from fewer than ``LEAST_FRAMES`` frames, nor from a difference that the
scatter of the frames could make. Advice is rounded down to thirds of a stop and keeps a third
in hand.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from statistics import median

from auditor.history.evenings import evening_of
from auditor.history.limits import (
    EARLY_STOPS,
    LATE_STOPS,
    LEAST_FRAMES,
    LEAST_PAIRS,
    OFF_MARKING_ERRORS,
    OFF_MARKING_STOPS,
    OFTEN,
    RESERVE_STOPS,
    STANDS_OUT_ERRORS,
    STANDS_OUT_STOPS,
)
from auditor.history.rows import lower_quartile, spread_of
from auditor.history.shots import Shot
from auditor.light.sun import PHASES
from auditor.model.codes import Verdict
from auditor.model.history import FramesOf, Habit, HabitCode, KnownFilter, PreviewRow


def preview_habit(row: PreviewRow) -> Habit | None:
    """Tell a preview that clips well before the sensor, or after it.

    A neutral highlight counts, as in an audit: red may blink a stop sooner by its white balance
    alone, and more light than neutral tones bear would blow green.
    """
    least = row.neutral
    if least is None or least.count < LEAST_FRAMES:
        return None
    if least.mean <= -LATE_STOPS:
        return Habit(
            code=HabitCode.PREVIEW_LATE,
            weight=-least.mean * row.frames,
            frames=row.frames,
            value_stops=least.mean,
            preview=row,
        )
    trust = math.floor(3.0 * (least.mean - (least.spread or 0.0)) + 1e-9) / 3.0
    if least.mean < EARLY_STOPS or trust < 1.0 / 3.0:
        return None
    return Habit(
        code=HabitCode.PREVIEW_EARLY,
        weight=least.mean * (row.false_alarms + 0.25 * row.frames),
        frames=row.frames,
        value_stops=least.mean,
        figures={"give_stops": trust},
        preview=row,
    )


def filter_habit(known: KnownFilter) -> Habit | None:
    """Tell a filter that is plainly off its marking."""
    off = known.off_marking_stops
    error = known.spread_stops / known.count**0.5
    if known.count < LEAST_PAIRS or abs(off) < max(OFF_MARKING_STOPS, OFF_MARKING_ERRORS * error):
        return None
    return Habit(
        code=HabitCode.FILTER_OFF_MARKING,
        weight=known.count * abs(off),
        frames=known.count,
        value_stops=off,
        filter=known,
    )


@dataclass(frozen=True, slots=True)
class _Kind:
    """A kind of frame against all the others."""

    of: FramesOf
    name: str
    shots: tuple[Shot, ...]
    rest: tuple[Shot, ...]


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
    # where light is left unused: all frames are named only when no kind stands out, for the advice
    # would repeat itself
    candidates = [_spare_habit(kind) for kind in kinds[1:] if _stands_out(kind)]
    if not any(candidates):
        candidates = [_spare_habit(kinds[0])]
    candidates.append(_loss_habit(kinds))
    if _often(kinds[0], lambda shot: shot.frame.verdict == Verdict.BOTH):
        both = sum(shot.frame.verdict == Verdict.BOTH for shot in kinds[0].shots)
        candidates.append(
            Habit(
                code=HabitCode.BOTH_ENDS_LOST,
                weight=float(both),
                frames=both,
                figures={"of": len(kinds[0].shots)},
            )
        )
    candidates += [preview_habit(row) for row in previews]
    candidates += [filter_habit(entry) for entry in filters]
    found = [habit for habit in candidates if habit is not None]
    found.sort(key=lambda habit: (-habit.weight, habit.code, habit.frames_of, habit.name))
    # the weightiest of each sort first, so that two bodies do not say the same twice
    first: dict[str, Habit] = {}
    for habit in found:
        first.setdefault(habit.code, habit)
    others = [habit for habit in found if first[habit.code] is not habit]
    chosen = [*first.values(), *others][:3]
    return tuple(sorted(chosen, key=lambda habit: -habit.weight))


def _kinds(shots: Sequence[Shot]) -> list[_Kind]:
    """Name all frames, then those of each time against the sun, filter, body and lens."""
    kinds = [_Kind(FramesOf.ALL, "", tuple(shots), ())]
    kinds += [_split(FramesOf.PHASE, phase, shots, lambda shot: shot.phase) for phase in PHASES]
    kinds.append(_split(FramesOf.FILTERED, "", shots, lambda shot: "" if shot.filtered else None))
    for body in sorted({shot.body for shot in shots}):
        kinds.append(_split(FramesOf.BODY, body, shots, lambda shot: shot.body))
    for lens in sorted({shot.lens for shot in shots}):
        kinds.append(_split(FramesOf.LENS, lens, shots, lambda shot: shot.lens))
    return [kind for kind in kinds if kind.rest or kind is kinds[0]]


def _split(
    of: FramesOf, name: str, shots: Sequence[Shot], name_of: Callable[[Shot], str | None]
) -> _Kind:
    inside = tuple(shot for shot in shots if name_of(shot) == name)
    outside = tuple(shot for shot in shots if name_of(shot) != name)
    return _Kind(of, name, inside, outside)


def _spares(shots: Iterable[Shot]) -> list[float]:
    return [
        shot.frame.headroom_stops
        for shot in shots
        if not shot.lost and shot.frame.headroom_stops is not None
    ]


def _stands_out(kind: _Kind) -> bool:
    inside, outside = spread_of(_spares(kind.shots)), spread_of(_spares(kind.rest))
    if inside is None or outside is None or inside.error is None or outside.error is None:
        return False
    scatter = STANDS_OUT_ERRORS * math.hypot(inside.error, outside.error)
    return inside.median - outside.median >= max(STANDS_OUT_STOPS, scatter)


def _spare_habit(kind: _Kind) -> Habit | None:
    spares = _spares(kind.shots)
    if len(spares) < LEAST_FRAMES or len(kind.shots) - len(spares) > OFTEN * len(kind.shots):
        return None
    give = math.floor(3.0 * (lower_quartile(spares) - RESERVE_STOPS) + 1e-9) / 3.0
    told = spread_of(spares)
    if give < 1.0 / 3.0 or told is None:
        return None
    last, before = _change(
        kind.shots, lambda some: median(left) if (left := _spares(some)) else None
    )
    return Habit(
        code=HabitCode.HEADROOM_LEFT,
        weight=len(spares) * give,
        frames=len(spares),
        value_stops=told.median,
        frames_of=kind.of,
        name=kind.name,
        figures={
            "give_stops": give,
            "shoots": len({shot.shoot for shot in kind.shots}),
            "blocked": sum(shot.frame.verdict == Verdict.BLOCKED for shot in kind.shots),
        },
        spread=told,
        rest=spread_of(_spares(kind.rest)),
        last=last,
        before=before,
    )


def _change(
    shots: Sequence[Shot], figure: Callable[[Sequence[Shot]], float | None]
) -> tuple[float | None, float | None]:
    """Return a figure of the latest evening and of those before; neither without an earlier one."""
    days = [evening_of(shot.frame.captured_at) for shot in shots]
    latest = max((day for day in days if day is not None), default=None)
    last, before = (
        [shot for shot, day in zip(shots, days, strict=True) if day and (day == latest) is now]
        for now in (True, False)
    )
    return (figure(last), figure(before)) if last and before else (None, None)


def _missed_share(shots: Sequence[Shot]) -> float:
    return sum(shot.missed for shot in shots) / len(shots)


def _often(kind: _Kind, happened: Callable[[Shot], bool]) -> bool:
    count = sum(happened(shot) for shot in kind.shots)
    return len(kind.shots) >= LEAST_FRAMES and count >= max(4, OFTEN * len(kind.shots))


def _loss_habit(kinds: Sequence[_Kind]) -> Habit | None:
    """Find where channels are lost for good: the kind that loses most, when that is often.

    What is blown with a stop less is known as an upper bound only: where that still leaves too
    little for one connected blown area a stop less surely held, else that is no answer.
    """
    often = [kind for kind in kinds if _often(kind, lambda shot: shot.missed)]
    kind = max(often, key=lambda kind: _missed_share(kind.shots), default=None)
    if kind is None:
        return None
    lost = [shot for shot in kind.shots if shot.missed]
    most_left = [max(c.blown_one_stop_less for c in shot.frame.channels) for shot in lost]
    channels = Counter(name for shot in lost for name in sorted(shot.lost_channels))
    last, before = _change(kind.shots, _missed_share)
    return Habit(
        code=HabitCode.CHANNELS_LOST,
        weight=float(len(lost)),
        frames=len(lost),
        frames_of=kind.of,
        name=kind.name,
        figures={
            "of": len(kind.shots),
            "held": sum(left < shot.least_loss for left, shot in zip(most_left, lost, strict=True)),
            "retaken": sum(shot.retaken for shot in kind.shots),
        },
        channels=dict(channels.most_common()),
        last=last,
        before=before,
    )
