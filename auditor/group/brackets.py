"""Brackets: frames at evenly stepped exposures, and what each records.

Which of them a blend needs is advice (:mod:`auditor.advise.blend`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from auditor.group.levels import Levels
from auditor.group.limits import LEAST_STEP_STOPS, MOST_STEP_STOPS, STEADY_SHARE
from auditor.group.refusals import Refusals
from auditor.group.shots import Shot, gap_s
from auditor.group.view import SetupView
from auditor.model.arrays import F32, F64
from auditor.model.audit import Bracket
from auditor.model.rejected import GroupKind, Reason, Why
from auditor.model.settings import GroupSettings

LEAST_FRAMES, MOST_FRAMES = 3, 9


def find_brackets(
    view: SetupView, settings: GroupSettings, refusals: Refusals
) -> Iterator[Bracket]:
    """Yield the brackets of one set-up, in order of time."""
    shots, levels = view.setup.shots, view.levels
    # bursts: frames that follow each other at once, all filtered or none
    ends = [
        place
        for place in range(1, len(shots))
        if view.flagged[place] != view.flagged[place - 1]
        or (gap_s(shots[place - 1], shots[place]) or 0.0) > settings.bracket_gap_s
    ]
    for first, last in pairwise((0, *ends, len(shots))):
        if last - first < 2:
            continue
        cuts = _best_cut(first, last, levels, settings)
        if not cuts:
            stop = min(last, first + MOST_FRAMES)
            why = _no_bracket(first, stop, levels, settings)
            if why is not None:
                ids = tuple(shot.id for shot in shots[first:stop])
                refusals.add(GroupKind.BRACKET, ids, why)
        for start, stop in cuts:
            yield _record(shots[start:stop], view.setup_id, levels.settings_stops[start:stop])


def _best_cut(
    first: int, last: int, levels: Levels, settings: GroupSettings
) -> list[tuple[int, int]]:
    """Cut a burst into brackets: longer ones count for more than their frames do singly.

    The best sum of squared lengths over all cuts, from the end backwards.
    """
    best: dict[int, tuple[int, list[tuple[int, int]]]] = {last: (0, [])}
    for start in range(last - 1, first - 1, -1):
        best[start] = best[start + 1]
        for stop in range(start + LEAST_FRAMES, min(last, start + MOST_FRAMES) + 1):
            if _no_bracket(start, stop, levels, settings) is None:
                score, rest = best[stop]
                score += (stop - start) ** 2
                if score > best[start][0]:
                    best[start] = (score, [(start, stop), *rest])
    return best[first][1]


def _no_bracket(start: int, stop: int, levels: Levels, settings: GroupSettings) -> Why | None:
    """Tell what speaks against frames evenly stepped in steady light; None where nothing does."""
    stops = np.sort(levels.settings_stops[start:stop])
    if not np.isfinite(stops).all():
        return Why(Reason.SETTINGS_UNKNOWN)
    step = float(stops[-1] - stops[0]) / (len(stops) - 1)
    off = float(np.abs(np.diff(stops) - step).max())
    level = levels.level_stops[start:stop]
    known = level[np.isfinite(level)]
    drift = float(np.abs(np.diff(known)).max()) if len(known) >= 2 else 0.0
    count, most_off = stop - start, min(settings.exposure_tolerance_stops, 0.45 * step)
    against = (
        (step < LEAST_STEP_STOPS, Why(Reason.STEP_TOO_SMALL, step, LEAST_STEP_STOPS)),
        (step > MOST_STEP_STOPS, Why(Reason.STEP_TOO_LARGE, step, MOST_STEP_STOPS)),
        (off > most_off, Why(Reason.UNEVEN_STEPS, off, most_off)),
        (count < LEAST_FRAMES, Why(Reason.TOO_FEW_FRAMES, count, LEAST_FRAMES)),
        (drift > STEADY_SHARE * step, Why(Reason.LIGHT_CHANGED, drift, STEADY_SHARE * step)),
    )
    return next((why for met, why in against if met), None)


def _record(shots: Sequence[Shot], setup_id: str, settings: F64) -> Bracket:
    bright = np.stack([shot.image.lost_bright.astype(np.float32) for shot in shots])
    dark = np.stack([shot.image.lost_dark.astype(np.float32) for shot in shots])
    held = np.clip(1.0 - bright - dark, 0.0, 1.0)
    areas = shots[0].image.areas()
    whole = _share(held.max(axis=0), areas)
    lost_bright, lost_dark = (_share(lost.min(axis=0), areas) for lost in (bright, dark))
    step = float(np.ptp(settings)) / (len(shots) - 1)
    middle = float(np.sort(settings)[len(settings) // 2])
    places = [round((float(value) - middle) / step) for value in settings]
    return Bracket(
        setup=setup_id,
        frames=tuple(shot.id for shot in shots),
        step_stops=round(step, 3),
        covered_fraction=whole,
        covered_by_frame={
            shot.id: _share(one, areas) for shot, one in zip(shots, held, strict=True)
        },
        needed=(),
        not_needed=(),
        lost_bright_fraction=lost_bright,
        lost_dark_fraction=lost_dark,
        # the exposures as they were taken, "0 − +" and so on
        order=" ".join("0" if p == 0 else f"{'+' if p > 0 else '−'}{abs(p)}" for p in places),
    )


def _share(tiles: F32, areas: F64) -> float:
    """Share of the scene; rounding never carries it past all of it."""
    return min(1.0, float((tiles * areas).sum()))
