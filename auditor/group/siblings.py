"""Filter siblings: each longer, filtered frame with the unfiltered frame it belongs to."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from auditor.group.confidence import confidence, doubts
from auditor.group.known import of_daylight, recognised
from auditor.group.limits import (
    LEAST_TOLERANCE_STOPS,
    LIKE_ANOTHER_CAST_STOPS,
    LIKE_ANOTHER_STOPS,
    WEAK_STOPS,
)
from auditor.group.match import density_map, pair_match
from auditor.group.pace import Pace
from auditor.group.pairing import (
    PairMeasurement,
    measure,
    no_filter,
)
from auditor.group.refusals import Refusals
from auditor.group.view import SetupView
from auditor.light.filters import nearest_marking, rematched
from auditor.light.nominal import dial_text
from auditor.model.arrays import F64
from auditor.model.audit import SiblingPair
from auditor.model.history import KnownFilter
from auditor.model.rejected import GroupKind, Reason, Why
from auditor.model.remark import Remark, RemarkCode, remark
from auditor.model.settings import GroupSettings


class Like(NamedTuple):
    """What other set-ups measured.

    Parameters
    ----------
    again : bool
        The same in every colour.
    stops : float
        By how much this one lies over another that may be the same filter; 0 where by none.
    """

    again: bool
    stops: float


def held_against_others(
    pairs: Sequence[tuple[Hashable, str, Mapping[str, float]]], known: Sequence[KnownFilter]
) -> list[Like]:
    """Tell what other set-ups of the body, and earlier shoots, measured of each pair.

    What another set-up measured as well is believed as a filter that is known, if no cloud takes
    so much: clouds come again as well.

    Parameters
    ----------
    pairs : sequence of (home, main, stops)
        The set-up, the main colour, and the stops by channel of each.
    known : sequence of KnownFilter
        Those of earlier shoots.
    """
    names = sorted({name for _, _, told in pairs for name in told})
    stops = np.array([[told.get(name, np.nan) for name in names] for _, _, told in pairs])
    before = [[one.stops_by_channel.get(name, np.nan) for name in names] for one in known]
    earlier = np.array(before, dtype=np.float64).reshape(len(known), len(names))
    numbers: dict[Hashable, int] = {}
    homes = np.array([numbers.setdefault(home, len(numbers)) for home, _, _ in pairs])
    likes = []
    for place, (_, main, told) in enumerate(pairs):
        own, others = stops[place], stops[homes != homes[place]]
        again = told[main] >= WEAK_STOPS and _measured_again(own, others)
        off = dict(zip(names, (own - np.concatenate([others, earlier])).T, strict=True))
        likes.append(Like(again, _like_another(off, main)))
    return likes


def _measured_again(own: F64, others: F64) -> bool:
    """Whether another pair measured the same in every colour; NaN where a colour is not told."""
    same = np.isnan(own) == np.isnan(others)
    return bool((same & ~(np.abs(own - others) > LEAST_TOLERANCE_STOPS)).all(axis=1).any())


def _like_another(off: Mapping[str, F64], main: str) -> float:
    """Return by how many stops one filter lies over another that may be the same in other light.

    ``off`` tells by how many it lies over each other one, colour by colour: the nearest counts. 0
    where its cast tells it from all, where it is one of them to within next to nothing, or lies
    over all by more than the sun takes as it goes in.
    """
    stops = off[main]
    red, blue = (off.get(name, np.full(len(stops), np.nan)) - stops for name in "RB")
    same_cast = of_daylight(red, blue, float(LIKE_ANOTHER_CAST_STOPS))
    agree = np.isfinite(np.fmax(red, blue)) & same_cast
    away = np.abs(stops[agree & (np.abs(stops) <= LIKE_ANOTHER_STOPS)])
    if not away.size or away.min() <= LEAST_TOLERANCE_STOPS:
        return 0.0
    return float(stops[agree][np.argmin(np.abs(stops[agree]))])


def measured_pairs(
    view: SetupView, pace: Pace, settings: GroupSettings, refusals: Refusals
) -> Iterator[PairMeasurement]:
    """Yield one pair for each filtered frame of a set-up: with its best unfiltered sibling."""
    shots = view.setup.shots
    for long in range(len(shots)):
        if not view.flagged[long]:
            _tell_unfiltered(view, long, settings, refusals)
            continue
        pair = measure(view, long, pace, settings)
        if pair is None:
            refusals.add(GroupKind.PAIR, (shots[long].id,), Why(Reason.NO_SHORT_FRAME))
            continue
        frames = tuple(shots[place].id for place in sorted((pair.short, long)))
        why = no_filter(view, pair, settings)
        if why is None:
            yield pair
        else:
            refusals.add(GroupKind.PAIR, frames, why)


def _tell_unfiltered(
    view: SetupView, long: int, settings: GroupSettings, refusals: Refusals
) -> None:
    """Keep why a frame that is longer than its neighbour is not called filtered."""
    series, shots = view.series, view.setup.shots
    times, level = series.time_s, series.level_stops
    limit = settings.filter_least_stops
    shorter = [
        place
        for place in (long - 1, long + 1)
        if 0 <= place < len(shots)
        and not view.flagged[place]
        and 0 < times[place] <= times[long] * 2.0**-limit
    ]
    for place in shorter:
        held = float(level[place] - level[long])
        why = Why(Reason.NO_FILTER, held, limit)
        if view.seen[place] is None or view.seen[long] is None:
            why = Why(Reason.SETTINGS_UNKNOWN)
        refusals.add(GroupKind.PAIR, tuple(shots[at].id for at in sorted((place, long))), why)


def sibling_record(
    view: SetupView, pair: PairMeasurement, known: Sequence[KnownFilter], like: Like
) -> SiblingPair:
    """Make the public record of a pair."""
    pair = replace(pair, like_another_stops=like.stops)
    shots, stops, main = view.setup.shots, pair.stops, view.main
    marking = nearest_marking(stops[main])
    settings = view.levels.settings_stops
    difference = float(settings[pair.long] - settings[pair.short])
    placement = difference - pair.direct.stops[main]
    casts = (str(name) for name in ("R", "B") if name in stops)
    cast = {name: round(stops[name] - stops[main], 4) for name in casts}
    filter_known = recognised(stops, cast, known)
    is_known = like.again or (filter_known is not None and like.stops == 0)
    return SiblingPair(
        setup=view.setup_id,
        short=shots[pair.short].id,
        long=shots[pair.long].id,
        exposure_difference_stops=round(difference, 4),
        filter_stops=round(stops[main], 4),
        filter_stops_by_channel={name: round(value, 4) for name, value in stops.items()},
        cast_stops=cast,
        light_drift_stops=None if pair.drift_stops is None else round(pair.drift_stops, 4),
        nearest_marking=marking,
        off_marking_stops=round(stops[main] - marking.stops, 4),
        matched_time_s=_matched_s(view, pair, placement),
        placement_difference_stops=round(placement, 4),
        confidence=round(confidence(view, pair, known=is_known), 2),
        remarks=(*_remarks(view, pair), *_matched_remark(view, pair, placement)),
        doubts=tuple(doubts(view, pair, known=is_known)),
        known_filter=filter_known,
        match=pair_match(view, pair, placement),
        density_map=density_map(view, pair),
    )


def _matched_s(view: SetupView, pair: PairMeasurement, placement: float) -> float | None:
    """Return the shutter that would have matched, the drift going on where it is told."""
    long_s = float(view.series.time_s[pair.long])
    return rematched(long_s, -placement, pair.drift_stops_per_min or 0.0).time_s


def _matched_remark(view: SetupView, pair: PairMeasurement, placement: float) -> Iterator[Remark]:
    """Tell where falling or rising light makes the matching shutter another one."""
    pace = pair.drift_stops_per_min or 0.0
    matched_s = _matched_s(view, pair, placement)
    steady_s = float(view.series.time_s[pair.long]) * 2.0**-placement
    # share by which the drift must change the matching shutter to be told with it
    worth_telling = 0.05
    if matched_s is None:
        yield remark(RemarkCode.NO_MATCH, pace_stops_per_min=pace)
    elif abs(matched_s / steady_s - 1.0) >= worth_telling:
        yield remark(RemarkCode.MATCH_ALLOWS, pace_stops_per_min=pace, steady_s=steady_s)


def _remarks(view: SetupView, pair: PairMeasurement) -> Iterator[Remark]:
    shots, core = view.setup.shots, pair.direct.core
    share = core.count / pair.direct.tiles.size
    yield remark(
        RemarkCode.TILES_AGREE, count=core.count, share=share, spread_stops=float(core.spread)
    )
    # the drift in order of time, whichever of the two was taken first
    long_first = pair.long < pair.short
    if pair.drift_stops is None:
        yield remark(RemarkCode.LIGHT_UNTOLD)
    else:
        passed = -pair.drift_stops if long_first else pair.drift_stops
        code, frames = RemarkCode.LIGHT_BY_PACE, {}
        if pair.other is not None:
            code = RemarkCode.LIGHT_BETWEEN
            frames = {"frames": tuple(shots[i].id for i in sorted((pair.short, pair.other)))}
        yield remark(code, drift_stops=passed, long_first=long_first, **frames)
    short, long = shots[pair.short], shots[pair.long]
    apart_s = 60.0 * view.minutes_between(pair.short, pair.long)
    yield remark(
        RemarkCode.APART,
        long=dial_text(long.facts.exposure),
        short=dial_text(short.facts.exposure),
        apart_s=apart_s if view.series.timed else None,
        evenly=pair.other is not None,
    )
    for name, image in (("long", long.image), ("short", short.image)):
        for what, lost in (("blown", image.lost_bright), ("blocked", image.lost_dark)):
            share = float(lost.astype(np.float32).mean())
            if share >= 0.005:
                yield remark(RemarkCode.PART_LOST, of=name, lost=what, share=share)
    moved = view.moved_px(pair.short, pair.long)
    if moved >= 0.15 * short.image.tile_px:
        yield remark(RemarkCode.MOVED, moved_px=float(moved))
    if view.density(pair.long, [(pair.short, 1.0)]) is not None:
        yield remark(RemarkCode.BELOW_GRAD)
    if not (short.image.floor_known and long.image.floor_known):
        yield remark(RemarkCode.FLOOR_UNKNOWN)
