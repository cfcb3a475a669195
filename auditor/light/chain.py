"""Which points of the light may be compared: those that saw the same static things.

The scene's exposure value follows the composition as well as the light, so two framings in the very
same light differ by a stop and more. Within a set-up the light is compared by what is static; where
nothing links two set-ups, nothing is claimed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from auditor.model.audit import LightPoint
from auditor.model.grouping import Grouping

DAY_BEGINS_H = 4.0
"""Hours after midnight at which a photographer's day begins: a night belongs to its evening."""


def chained(points: Sequence[LightPoint], grouping: Grouping) -> tuple[LightPoint, ...]:
    """Put to each point its day, and the chain by which it may be compared with others.

    Parameters
    ----------
    points : sequence of LightPoint
        In order of time.
    grouping : Grouping
        Its levels tell unfiltered frames, its pairs the light at filtered ones.
    """
    levels = dict(grouping.levels)
    for pair in grouping.siblings:
        if pair.best and pair.light_drift_stops is not None and pair.short in levels:
            levels[pair.long] = levels[pair.short] + pair.light_drift_stops
    home = {frame: n for n, setup in enumerate(grouping.setups, 1) for frame in setup.frames}
    linked = [point.frame for point in points if point.frame in levels and point.frame in home]
    numbers = [home[frame] for frame in linked]
    first: dict[int, float] = {}
    for frame in linked:
        first.setdefault(home[frame], levels[frame])
    told = {
        frame: (home[frame], round(levels[frame] - first[home[frame]], 4))
        for frame in linked
        if numbers.count(home[frame]) > 1
    }
    return tuple(
        replace(point, day=_day(point), chain=chain, chain_stops=stops)
        for point in points
        for chain, stops in [told.get(point.frame, (None, None))]
    )


def _day(point: LightPoint) -> str | None:
    """Return the local date of the day to which a moment belongs."""
    if point.captured_at is None:
        return None
    try:
        moment = datetime.fromisoformat(point.captured_at)
    except ValueError:
        return None
    return (moment - timedelta(hours=DAY_BEGINS_H)).date().isoformat()
