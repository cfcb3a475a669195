"""Evening by evening: how frames were placed, what was lost, what filters measured, one picture."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from statistics import median

from auditor.history.filters import named_of
from auditor.history.limits import NIGHT_ENDS_H
from auditor.history.rows import exposure_row
from auditor.history.shots import Shot
from auditor.model.audit import Audit, LightPoint, SiblingPair
from auditor.model.codes import Verdict
from auditor.model.history import Evening, KnownFilter


def evening_of(captured_at: str | None) -> date | None:
    """Return the day of the evening that a moment belongs to, by the camera's clock."""
    try:
        moment = datetime.fromisoformat(captured_at or "")
    except ValueError:
        return None
    if moment.year <= 1:
        return None
    return (moment.replace(tzinfo=None) - timedelta(hours=NIGHT_ENDS_H)).date()


def with_evenings(points: Iterable[LightPoint]) -> tuple[LightPoint, ...]:
    """Put to each point of light the evening it belongs to."""
    days = ((point, evening_of(point.captured_at)) for point in points)
    return tuple(replace(point, day=day.isoformat() if day else None) for point, day in days)


def best_frames(audit: Audit) -> dict[date, str]:
    """Return the frame that stands for each evening of an audit.

    It is a suggested one of the composition that most frames were taken of, one that lost
    nothing before one that did; of equals the earliest.
    """
    worked = {setup.id: len(setup.frames) for setup in audit.setups}
    frames = {frame.id: frame for frame in audit.frames}
    best: dict[date, tuple[tuple[bool, int], str]] = {}
    for keeper in audit.keepers:
        frame = frames.get(keeper.frame)
        day = evening_of(frame.captured_at) if frame else None
        if frame is None or day is None or frame.verdict == Verdict.DARK_FRAME:
            continue
        rank = (frame.verdict == Verdict.HELD, worked.get(keeper.setup, 1))
        if day not in best or rank > best[day][0]:
            best[day] = (rank, frame.id)
    return {day: frame_id for day, (_, frame_id) in best.items()}


def evenings_of(
    shots: Iterable[Shot],
    pairs: Iterable[tuple[int, SiblingPair]],
    filters: Sequence[KnownFilter] = (),
) -> tuple[Evening, ...]:
    """Sum up each evening, the latest first; frames without a clock belong to none."""
    days: dict[date, list[Shot]] = defaultdict(list)
    evening_of_frame: dict[tuple[int, str], date] = {}
    for shot in shots:
        day = evening_of(shot.frame.captured_at)
        if day is not None:
            days[day].append(shot)
            evening_of_frame[(shot.shoot, shot.frame.id)] = day
    measured: dict[date, list[SiblingPair]] = defaultdict(list)
    for shoot, pair in pairs:
        found = evening_of_frame.get((shoot, pair.long))
        if found is not None and pair.best:
            measured[found].append(pair)
    evenings: list[Evening] = []
    for day, members in sorted(days.items(), reverse=True):
        placed = exposure_row([shot for shot in members if shot.placed])
        by_marking: dict[float, list[float]] = defaultdict(list)
        by_name: dict[str, list[float]] = defaultdict(list)
        for pair in measured[day]:
            by_marking[pair.nearest_marking.stops].append(pair.filter_stops)
            name = named_of(pair, filters)
            if name is not None:
                by_name[name].append(pair.filter_stops)
        evenings.append(
            Evening(
                day=day.isoformat(),
                frames=len(members),
                placed=placed.frames,
                left_stops=None if placed.spare is None else placed.spare.median,
                lost=placed.lost,
                filter_stops={mark: median(told) for mark, told in sorted(by_marking.items())},
                known_stops={name: median(told) for name, told in sorted(by_name.items())},
            )
        )
    return tuple(evenings)
