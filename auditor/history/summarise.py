"""The history: what the audits of many shoots tell together."""

from __future__ import annotations

from collections.abc import Iterable

from auditor.history.evenings import evenings_of
from auditor.history.filters import filters_of
from auditor.history.habits import find_habits
from auditor.history.limits import LEAST_FRAMES
from auditor.history.rows import HotPlaces, exposure_rows, hot_rows, preview_rows, sensor_rows
from auditor.history.shots import gather
from auditor.model.audit import Audit
from auditor.model.facts import Position
from auditor.model.history import History, HistoryNote


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
    # what is worth knowing, in the order in which it is told
    placed = [shot for shot in shoots.shots if shot.placed]
    counts = {
        HistoryNote.ON_PURPOSE: len(shoots.shots) - len(placed),
        HistoryNote.AGAIN: shoots.again,
        HistoryNote.PHASE_UNKNOWN: sum(shot.phase is None for shot in placed),
        HistoryNote.UNREADABLE: shoots.unreadable,
        HistoryNote.TOO_FEW: len(placed) if len(placed) < LEAST_FRAMES else 0,
    }
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
        counts={note: count for note, count in counts.items() if count},
        evenings=evenings_of(shoots.shots, shoots.pairs, filters),
    )
