"""A shoot understood: set-ups, filter siblings, brackets, graduated filters, skies, panoramas.

Each frame is reduced to an image of at most 86 KB.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from auditor.group.brackets import find_brackets
from auditor.group.grads import grad_record
from auditor.group.pace import pace_of
from auditor.group.panoramas import find_panoramas
from auditor.group.refusals import Refusals
from auditor.group.setups import SetupShots, find_setups, setup_record
from auditor.group.shift import Comparer
from auditor.group.shots import by_body
from auditor.group.siblings import find_siblings, measured_pairs
from auditor.group.skies import sky_balances
from auditor.group.tile_image import TileImage, tile_image
from auditor.group.view import SetupView, view_of
from auditor.model.audit import Panorama, Setup, SkyBalance
from auditor.model.grouping import Grouping
from auditor.model.history import KnownFilter
from auditor.model.settings import GroupSettings
from auditor.model.shoot import ShootFrame


def group_shoot(
    frames: Sequence[ShootFrame],
    settings: GroupSettings,
    known_filters: Sequence[KnownFilter] = (),
    images: Mapping[str, TileImage] | None = None,
) -> Grouping:
    """Group and pair the measured frames of one shoot.

    Parameters
    ----------
    frames : sequence of ShootFrame
        In any order.
    settings : GroupSettings
    known_filters : sequence of KnownFilter
        Filters that recur in the history.
    images : mapping of frame id to TileImage, optional
        Where the frames have been reduced already; else each measurement is fetched for it.

    Returns
    -------
    Grouping
    """
    comparer, refusals = Comparer(), Refusals()
    parts: list[tuple[list[SetupShots], list[Panorama]]] = []
    given = images or {}
    for shots in by_body((frame, given.get(frame.id) or tile_image(frame)) for frame in frames):
        lit = [shot for shot in shots if not shot.image.is_dark]
        setups = find_setups(lit, settings, comparer, refusals)
        parts.append((setups, list(find_panoramas(setups, settings, comparer, refusals))))
    parts.sort(key=lambda part: _begin(part[0][0]) if part[0] else (float("inf"), ""))
    ordered = sorted((setup for setups, _ in parts for setup in setups), key=_begin)
    records = {id(setup): setup_record(setup, n) for n, setup in enumerate(ordered, start=1)}
    found = [
        _body(setups, records, settings, known_filters, refusals=refusals) for setups, _ in parts
    ]
    groupings = [
        replace(one, panoramas=tuple(runs)) for one, (_, runs) in zip(found, parts, strict=True)
    ]
    return replace(_joined(groupings), rejected=refusals.records())


def _begin(setup: SetupShots) -> tuple[float, str]:
    first = setup.shots[0]
    return (float("-inf") if first.start_s is None else first.start_s), first.id


def _body(
    setups: Sequence[SetupShots],
    records: Mapping[int, Setup],
    settings: GroupSettings,
    known_filters: Sequence[KnownFilter],
    *,
    refusals: Refusals,
) -> Grouping:
    """Find what the frames of one body are to each other, set-up by set-up."""
    views: list[SetupView] = []
    skies: list[SkyBalance] = []
    for setup in setups:
        skies += sky_balances(setup)
        if len(setup.shots) > 1:
            views.append(view_of(setup, records[id(setup)].id, settings, refusals))
    pace = pace_of((view.series, view.flagged) for view in views)
    pairs = [
        (view, pair) for view in views for pair in measured_pairs(view, pace, settings, refusals)
    ]
    return Grouping(
        setups=tuple(records[id(setup)] for setup in setups),
        siblings=tuple(find_siblings(pairs, known_filters)),
        brackets=tuple(one for view in views for one in find_brackets(view, settings, refusals)),
        grads=tuple(
            grad_record(pair, view.setup, view.setup_id) for view in views for pair in view.grads
        ),
        skies=tuple(skies),
        drifts={
            shot.id: 60.0 * rate
            for setup in setups
            for shot in setup.shots
            if shot.middle_s is not None and (rate := pace.rate_at(shot.middle_s)) is not None
        },
        levels={
            shot.id: round(float(level), 4)
            for view in views
            for shot, level, flagged in zip(
                view.setup.shots, view.levels.level_stops, view.flagged, strict=True
            )
            if not flagged and math.isfinite(level)
        },
    )


def _joined(parts: Sequence[Grouping]) -> Grouping:
    """Put the bodies' findings together, set-ups in order of time."""
    setups = sorted((s for part in parts for s in part.setups), key=lambda s: int(s.id[1:]))
    return Grouping(
        setups=tuple(setups),
        siblings=tuple(pair for part in parts for pair in part.siblings),
        brackets=tuple(bracket for part in parts for bracket in part.brackets),
        grads=tuple(grad for part in parts for grad in part.grads),
        skies=tuple(sky for part in parts for sky in part.skies),
        panoramas=tuple(run for part in parts for run in part.panoramas),
        drifts={frame: drift for part in parts for frame, drift in part.drifts.items()},
        levels={frame: level for part in parts for frame, level in part.levels.items()},
    )
