"""A shoot understood: set-ups, filter siblings, brackets, graduated filters, skies, panned runs.

Each frame's measurement is fetched once, in order, and reduced to a plate of about 110 KB.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from auditor.group.brackets import find_brackets
from auditor.group.drift import Series, filtered, moments
from auditor.group.grads import GradPair, find_grads, grad_record
from auditor.group.levels import Levels, levels_of
from auditor.group.plates import plate_of
from auditor.group.ratio import Seen
from auditor.group.runs import find_runs
from auditor.group.setups import SetupShots, find_setups, setup_record
from auditor.group.shift import Comparer
from auditor.group.shots import Shot, by_body
from auditor.group.siblings import SetupView, find_siblings
from auditor.group.skies import sky_balance
from auditor.model.audit import Bracket, Grad, PannedRun, Setup, SiblingPair, SkyBalance
from auditor.model.history import KnownFilter
from auditor.model.settings import GroupSettings
from auditor.model.shoot import ShootFrame


@dataclass(frozen=True, slots=True)
class Grouping:
    """All that a shoot's frames say together.

    Every frame with a picture belongs to exactly one set-up; dark frames belong to none.
    """

    setups: tuple[Setup, ...] = ()
    siblings: tuple[SiblingPair, ...] = ()
    brackets: tuple[Bracket, ...] = ()
    grads: tuple[Grad, ...] = ()
    skies: tuple[SkyBalance, ...] = ()
    runs: tuple[PannedRun, ...] = ()


@dataclass(slots=True)
class _Found:
    setups: list[Setup] = field(default_factory=list)
    siblings: list[SiblingPair] = field(default_factory=list)
    brackets: list[Bracket] = field(default_factory=list)
    grads: list[Grad] = field(default_factory=list)


def group_shoot(
    frames: Sequence[ShootFrame],
    settings: GroupSettings,
    known_filters: Sequence[KnownFilter] = (),
) -> Grouping:
    """Group and pair the measured frames of one shoot.

    Parameters
    ----------
    frames : sequence of ShootFrame
        In any order.
    settings : GroupSettings
    known_filters : sequence of KnownFilter
        Filters that recur in the history.

    Returns
    -------
    Grouping
    """
    bodies = by_body((frame, plate_of(frame)) for frame in frames)
    comparer = Comparer()
    setups: list[SetupShots] = []
    runs: list[PannedRun] = []
    for shots in bodies:
        lit = [shot for shot in shots if not shot.plate.is_dark]
        ours = find_setups(lit, settings, comparer)
        setups.extend(ours)
        runs.extend(find_runs(ours, settings, comparer))
    setups.sort(key=_begin)
    found = _Found()
    for number, setup in enumerate(setups, start=1):
        _look_into(setup, setup_record(setup, number), settings, known_filters, found)
    skies = [sky_balance(shot) for setup in setups for shot in setup.shots]
    return Grouping(
        setups=tuple(found.setups),
        siblings=tuple(found.siblings),
        brackets=tuple(found.brackets),
        grads=tuple(found.grads),
        skies=tuple(sky for sky in skies if sky is not None),
        runs=tuple(runs),
    )


def _begin(setup: SetupShots) -> tuple[float, str]:
    first = setup.shots[0]
    return (float("-inf") if first.start_s is None else first.start_s), first.id


def _look_into(
    setup: SetupShots,
    record: Setup,
    settings: GroupSettings,
    known_filters: Sequence[KnownFilter],
    found: _Found,
) -> None:
    """Find what the frames of one set-up are to each other."""
    found.setups.append(record)
    if len(setup.shots) < 2:
        return
    levels = levels_of(setup)
    seen = _seen(setup, levels)
    series = _series(setup.shots, levels)
    flagged = filtered(series, settings.filter_least_stops)
    grads: Sequence[GradPair] = find_grads(setup, seen, levels)
    view = SetupView(setup, record.id, seen, levels, series, flagged, grads)
    found.siblings.extend(find_siblings(view, settings, known_filters))
    found.brackets.extend(find_brackets(setup, record.id, levels, series, flagged, settings))
    found.grads.extend(grad_record(pair, setup, record.id) for pair in grads)


def _series(shots: Sequence[Shot], levels: Levels) -> Series:
    return Series(
        moments([shot.middle_s for shot in shots]),
        np.array([shot.time_s for shot in shots]),
        levels.level_stops,
    )


def _seen(setup: SetupShots, levels: Levels) -> list[Seen | None]:
    """Return what is compared, None for frames whose settings are not known."""
    return [
        Seen(shot.plate, float(stops), shift or (0.0, 0.0)) if np.isfinite(stops) else None
        for shot, stops, shift in zip(setup.shots, levels.settings_stops, setup.shifts, strict=True)
    ]
