"""The history: what the audits of many shoots tell together."""

from __future__ import annotations

from collections.abc import Iterable

from auditor.history.evenings import evenings_of
from auditor.history.filters import filters_of
from auditor.history.gear_habits import LEAST_FRAMES
from auditor.history.habits import find_habits
from auditor.history.phrases import counted
from auditor.history.rows import HotPlaces, exposure_rows, hot_rows, preview_rows, sensor_rows
from auditor.history.shots import Shoots, gather
from auditor.model.audit import Audit
from auditor.model.facts import Position
from auditor.model.history import History


def summarise(
    audits: Iterable[Audit],
    *,
    place: Position | None = None,
    hot_places: HotPlaces | None = None,
) -> History:
    """Sum up the audits of many shoots.

    Parameters
    ----------
    audits : iterable of Audit
        In any order; a frame that several hold counts once, as its latest audit judged it.
    place : Position, optional
        Where frames were taken that hold no position and whose audit knew none.
    hot_places : mapping, optional
        Body to (shoot, positions of hot pixels) of its exposures from five seconds on; tells which
        pixels stay.

    Returns
    -------
    History
    """
    shoots = gather(audits, place)
    previews = preview_rows(shoots.shots)
    filters = filters_of(shoots.pairs)
    moments = sorted(
        shot.frame.captured_at for shot in shoots.shots if shot.frame.captured_at is not None
    )
    return History(
        shoots=len({shot.shoot for shot in shoots.shots}),
        frames=len(shoots.shots),
        unreadable=shoots.unreadable,
        first_at=moments[0] if moments else None,
        last_at=moments[-1] if moments else None,
        exposure=exposure_rows(shoots.shots),
        previews=previews,
        filters=filters,
        hot=hot_rows(shoots.shots, hot_places),
        sensors=sensor_rows(shoots.shots),
        habits=find_habits(shoots.shots, previews, filters),
        notes=_notes(shoots),
        evenings=evenings_of(shoots.shots, shoots.pairs, filters),
    )


def _notes(shoots: Shoots) -> tuple[str, ...]:
    placed = [shot for shot in shoots.shots if shot.placed]
    counts = (
        ("Left out of how frames were placed, being exposed so on purpose: {} (brackets, dark "
         "frames).", "frame", len(shoots.shots) - len(placed)),
        ("Left out because a later audit holds the same frames: {}.", "older result",
         shoots.again),
        ("The time against sunrise and sunset is not known for {}: the files hold no position or "
         "no time. Audit with --at LAT,LON.", "frame", sum(shot.phase is None for shot in placed)),
        ("Could not be read: {}.", "file", shoots.unreadable),
    )  # fmt: skip
    notes = [text.format(counted(number, noun)) for text, noun, number in counts if number]
    if 0 < len(placed) < LEAST_FRAMES:
        notes.append(f"Habits are told from {LEAST_FRAMES} frames on; so far: {len(placed)}.")
    return tuple(notes)
