"""The frames of one body by evenings, and what is worked out for each of them alone.

Between two evenings passes more time than anything here reaches over, so nothing in one depends
on the pictures of another. What does go over is little and is joined in
:mod:`auditor.group.grouping`: how often the light jumped, what filters measured elsewhere, and
which number a set-up has.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate
from typing import Any, Protocol, TypeVar

from auditor.group.brackets import find_brackets
from auditor.group.grads import grad_record
from auditor.group.horizon import known_lines, with_known_lines
from auditor.group.limits import LONGEST_SPAN_S, PACE_REACH_S, STEP_GAP_S
from auditor.group.pace import Jumps, Pace, pace_of
from auditor.group.pairing import PairMeasurement
from auditor.group.panoramas import find_panoramas, in_time
from auditor.group.placing import place_by_patches
from auditor.group.refusals import Refusals
from auditor.group.setups import (
    OPEN_SETUPS,
    SetupShots,
    beyond_jump,
    joined_over_jumps,
    setup_record,
    sorted_out,
)
from auditor.group.shift import Comparer
from auditor.group.shots import Shot
from auditor.group.siblings import Like, measured_pairs, sibling_record
from auditor.group.skies import sky_balances
from auditor.group.tile_image import UNSEEN
from auditor.group.view import SetupView, view_of
from auditor.model.audit import Panorama, SkyBalance
from auditor.model.grouping import Grouping
from auditor.model.history import KnownFilter
from auditor.model.settings import GroupSettings

Value = TypeVar("Value")
Held_co = TypeVar("Held_co", covariant=True)


class Kept(Protocol[Held_co]):
    """Something large, at hand or fetched when it is asked for."""

    @property
    def whole(self) -> Held_co:
        """All of it."""
        ...


class Keep(Protocol):
    """Keeps something large between two steps."""

    def __call__(self, value: Value, /) -> Kept[Value]:
        """Keep it."""
        ...


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Evening:
    """One evening of a body with its pictures.

    Parameters
    ----------
    setups : list of SetupShots
        In order of their first frames.
    views : sequence of (int, SetupView)
        Those of more than one frame, with their places in ``setups``.
    lines : list
        The horizons that were sought in the frames' pictures: they are asked for again.
    """

    setups: list[SetupShots]
    views: Sequence[tuple[int, SetupView]]
    skies: Sequence[SkyBalance]
    pace: Pace
    lines: list[Any]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Sight:
    """What one evening tells to whoever joins them. No pictures.

    Parameters
    ----------
    kept : Kept of Evening
    begins : tuple of Shot
        The first frame of each set-up.
    started : tuple of Shot
        The frames that began a set-up, in order, before any were joined over a jump of the clock.
    latest : tuple of Shot
        The last frames of the set-ups to which a frame might return, the latest last.
    ends : tuple of Shot
        The first and the last frame that is no dark one, and the last of the last set-up; none
        where all are dark.
    """

    kept: Kept[Evening]
    begins: tuple[Shot, ...]
    started: tuple[Shot, ...]
    latest: tuple[Shot, ...]
    ends: tuple[Shot, ...]
    jumps: Jumps
    panoramas: tuple[Panorama, ...]
    of_setups: Refusals
    of_panoramas: Refusals
    of_last_run: Refusals
    of_views: Refusals


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Pairs:
    """What the pairs of one evening tell to whoever joins them.

    Parameters
    ----------
    kept : Kept
        The pairs, each with the place of its view.
    told : tuple of (int, str, dict)
        Of each pair: the place of its view, the main colour, stops by channel.
    """

    kept: Kept[list[tuple[int, PairMeasurement]]]
    told: tuple[tuple[int, str, Mapping[str, float]], ...]
    refusals: Refusals


def evenings_of(
    shots: Sequence[Shot], settings: GroupSettings, least_frames: int = 1
) -> list[list[Shot]]:
    """Cut the frames of one body, in order, where nothing reaches over the time between.

    Where a file tells no time it may belong anywhere, and nothing is cut. Evenings of fewer than
    ``least_frames`` are taken together with the next.
    """
    starts = [shot.start_s for shot in shots if shot.start_s is not None]
    ends = [shot.end_s for shot in shots if shot.end_s is not None]
    if len(starts) < len(shots):
        return [list(shots)]
    reach_s = max(
        settings.setup_gap_s, settings.bracket_gap_s, STEP_GAP_S, PACE_REACH_S + LONGEST_SPAN_S
    )
    until = list(accumulate(ends, max))
    after = list(accumulate(reversed(starts), min))[::-1]
    cut: list[list[Shot]] = []
    for place, shot in enumerate(shots):
        apart = place > 0 and after[place] - until[place - 1] > reach_s
        if not cut or (apart and len(cut[-1]) >= least_frames):
            cut.append([])
        cut[-1].append(shot)
    return cut


def see(shots: Sequence[Shot], settings: GroupSettings, keep: Keep) -> Sight:
    """Sort one evening's frames into set-ups and work out what needs no other evening."""
    comparer, refusals = Comparer(), [Refusals() for _ in range(4)]
    of_setups, of_panoramas, of_last_run, of_views = refusals
    lit = [shot for shot in shots if not shot.image.is_dark]
    order = {shot.id: number for number, shot in enumerate(lit)}
    setups = sorted_out(lit, settings, comparer, of_setups)
    latest = tuple(_unseen(setup.shots[-1]) for setup in setups[-OPEN_SETUPS:])
    setups.sort(key=lambda setup: order[setup.shots[0].id])
    started = tuple(_unseen(setup.shots[0]) for setup in setups)
    setups = joined_over_jumps(setups, settings, comparer)
    for setup in setups:
        place_by_patches(setup)
    runs = tuple(find_panoramas(setups, settings, comparer, of_panoramas, of_last_run))
    skies: list[SkyBalance] = []
    views: list[tuple[int, SetupView]] = []
    for number, setup in enumerate(setups):
        skies += sky_balances(setup)
        if len(setup.shots) > 1:
            views.append((number, view_of(setup, settings, of_views)))
    pace = pace_of((view.series, view.flagged) for _, view in views)
    lines = known_lines([shot.image for setup in setups for shot in setup.shots])
    evening = Evening(setups=setups, views=views, skies=skies, pace=pace, lines=lines)
    ends = [place[0][0], place[-1][0], setups[-1].shots[-1]] if (place := in_time(setups)) else []
    return Sight(
        kept=keep(evening),
        begins=tuple(_unseen(setup.shots[0]) for setup in setups),
        started=started,
        latest=latest,
        ends=tuple(map(_unseen, ends)),
        jumps=pace.jumps,
        panoramas=runs,
        of_setups=of_setups,
        of_panoramas=of_panoramas,
        of_last_run=of_last_run,
        of_views=of_views,
    )


def goes_on(before: Kept[Evening], after: Kept[Evening], settings: GroupSettings) -> bool:
    """Whether the last set-up of one evening may go on in the next: only the clock jumped."""
    last, first = before.whole.setups[-1], after.whole.setups[0]
    return beyond_jump(last, first, settings, Comparer()).same


def pair_up(kept: Kept[Evening], jumps: Jumps, settings: GroupSettings, keep: Keep) -> Pairs:
    """Measure the pairs of one evening, knowing how often the light jumped on all of them."""
    evening, refusals = _fetched(kept), Refusals()
    pace = replace(evening.pace, of_all=jumps)
    pairs = [
        (number, pair)
        for number, (_, view) in enumerate(evening.views)
        for pair in measured_pairs(view, pace, settings, refusals)
    ]
    told = tuple((number, evening.views[number][1].main, pair.stops) for number, pair in pairs)
    return Pairs(kept=keep(pairs), told=told, refusals=refusals)


def recorded(
    kept: Kept[Evening],
    pairs: Kept[list[tuple[int, PairMeasurement]]],
    likes: Sequence[Like],
    numbers: Sequence[int],
    *,
    known: Sequence[KnownFilter],
    settings: GroupSettings,
) -> tuple[Grouping, Refusals]:
    """Make the records of one evening, its set-ups numbered and its pairs held against others."""
    evening, refusals = _fetched(kept), Refusals()
    setups = [
        setup_record(setup, number) for setup, number in zip(evening.setups, numbers, strict=True)
    ]
    views = [replace(view, setup_id=setups[place].id) for place, view in evening.views]
    pace, shots = evening.pace, [shot for setup in evening.setups for shot in setup.shots]
    grouping = Grouping(
        setups=tuple(setups),
        siblings=tuple(
            sibling_record(views[number], pair, known, like)
            for (number, pair), like in zip(pairs.whole, likes, strict=True)
        ),
        brackets=tuple(one for view in views for one in find_brackets(view, settings, refusals)),
        grads=tuple(
            grad_record(pair, view.setup, view.setup_id) for view in views for pair in view.grads
        ),
        skies=tuple(evening.skies),
        drifts={
            shot.id: 60.0 * rate
            for shot in shots
            if shot.middle_s is not None and (rate := pace.rate_at(shot.middle_s)) is not None
        },
        levels={name: level for view in views for name, level in _levels(view)},
    )
    return grouping, refusals


def _levels(view: SetupView) -> Iterator[tuple[str, float]]:
    for shot, level, flagged in zip(
        view.setup.shots, view.levels.level_stops, view.flagged, strict=True
    ):
        if not flagged and math.isfinite(level):
            yield shot.id, round(float(level), 4)


def _fetched(kept: Kept[Evening]) -> Evening:
    evening = kept.whole
    images = (shot.image for setup in evening.setups for shot in setup.shots)
    with_known_lines(zip(images, evening.lines, strict=True))
    return evening


def _unseen(shot: Shot) -> Shot:
    """Return a frame without its picture."""
    return replace(shot, image=UNSEEN)
