"""Filter siblings: each longer, filtered frame with the unfiltered frame it belongs to."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from auditor.group.drift import Between, Series, between
from auditor.group.grads import GradPair
from auditor.group.known import recognised
from auditor.group.levels import Levels
from auditor.group.ratio import Held, Seen, held_back
from auditor.group.setups import SetupShots
from auditor.light.filters import nearest_marking
from auditor.model.arrays import Bool
from auditor.model.audit import SiblingPair
from auditor.model.history import KnownFilter
from auditor.model.numbers import share_text, time_text
from auditor.model.settings import GroupSettings

STOPS_PER_MINUTE_APART = 0.35
PER_STOP_OF_PLACEMENT = 0.1
"""What makes a short frame the better sibling: near in time first, then alike in placement."""

AFTERWARDS = 0.25
"""A short frame is more often taken before the filter goes on than after it came off."""

LEAST_OVERLAP = 0.03
"""Share of the frame that both must record."""

UNEVEN_SHARE = 0.3
"""Parts of the picture disagree by less than this share of a filter's stops, and half a stop."""

EVEN_STOPS = 0.5

LEAST_LONGER = 0.3
"""A filter is used for a longer time: at least this share of its stops."""


@dataclass(frozen=True, slots=True, eq=False)
class SetupView:
    """All that is known of one set-up when its pairs are sought."""

    setup: SetupShots
    setup_id: str
    seen: Sequence[Seen | None]
    levels: Levels
    series: Series
    flagged: Bool
    grads: Sequence[GradPair]


@dataclass(frozen=True, slots=True, eq=False)
class _Measured:
    """One candidate pair as measured: directly, and with the light's drift where it is told."""

    short: int
    long: int
    direct: Held
    corrected: Held
    drift_stops: float | None
    other: int | None


def find_siblings(
    view: SetupView, settings: GroupSettings, known: Sequence[KnownFilter]
) -> Iterator[SiblingPair]:
    """Yield one pair for each filtered frame of a set-up: its best unfiltered sibling."""
    for long in np.flatnonzero(view.flagged):
        pair = _measure(view, int(long), settings)
        if pair is not None and _is_filter(view, pair, settings):
            yield _record(view, pair, known)


def _measure(view: SetupView, long: int, settings: GroupSettings) -> _Measured | None:
    before, after = (_side(view, long, later, settings) for later in (False, True))
    options = [place for place in (before, after) if place is not None]
    if not options:
        return None
    short = min(options, key=lambda place: _cost(view, place, long))
    other = next((place for place in options if place != short), None)
    direct = _held(view, long, [(short, 1.0)])
    if direct is None:
        return None
    if before is None or after is None:
        return _Measured(short, long, direct, direct, None, None)
    return _with_drift(view, _Measured(short, long, direct, direct, None, other), before, after)


def _with_drift(view: SetupView, pair: _Measured, before: int, after: int) -> _Measured:
    at, level = view.series.middle_s, view.series.level_stops
    place = between(
        float(at[before]), float(at[after]), float(at[pair.long]),
        float(view.series.time_s[pair.long]), float(level[after] - level[before]),
    )  # fmt: skip
    weights = [(before, 1.0 - place.weight_after), (after, place.weight_after)]
    both = _held(view, pair.long, weights)
    if both is None:
        return _by_levels(view, pair, weights, place)
    stops = {name: value + place.mean_stops for name, value in both.stops.items()}
    corrected = _replaced(both, stops)
    main = next(name for name in stops if both.stops[name] == both.main)
    drift = stops[main] - pair.direct.stops[main]
    return _Measured(pair.short, pair.long, pair.direct, corrected, drift, pair.other)


def _by_levels(
    view: SetupView, pair: _Measured, weights: Sequence[tuple[int, float]], place: Between
) -> _Measured:
    """Where no tile is recorded by all three, the levels of the frames tell the drift."""
    level = view.series.level_stops
    expected = sum(weight * float(level[index]) for index, weight in weights)
    drift = expected + place.mean_stops - float(level[pair.short])
    stops = {name: value + drift for name, value in pair.direct.stops.items()}
    corrected = _replaced(pair.direct, stops)
    return _Measured(pair.short, pair.long, pair.direct, corrected, drift, pair.other)


def _replaced(held: Held, stops: dict[str, float]) -> Held:
    return Held(stops, held.core, held.overlap, held.uneven_stops, held.tiles)


def _side(view: SetupView, long: int, later: bool, settings: GroupSettings) -> int | None:
    """Return the best unfiltered, shorter frame before or after a filtered one."""
    series = view.series
    longest = series.time_s[long] * 2.0**-settings.filter_least_stops * (1 + 1e-6)
    usable = [
        i
        for i in range(len(series.time_s))
        if (i > long) == later and i != long
        and not view.flagged[i] and view.seen[i] is not None
        and np.isfinite(series.level_stops[i]) and 0 < series.time_s[i] <= longest
        and _overlap(view, i, long) >= LEAST_OVERLAP
    ]  # fmt: skip
    return min(usable, key=lambda i: _cost(view, i, long)) if usable else None


def _overlap(view: SetupView, short: int, long: int) -> float:
    residual = view.levels.residual
    return float((np.isfinite(residual[short]) & np.isfinite(residual[long])).mean())


def _cost(view: SetupView, short: int, long: int) -> float:
    series, settings = view.series, view.levels.settings_stops
    minutes = abs(series.middle_s[long] - series.middle_s[short]) / 60.0
    recorded = series.level_stops + settings
    placement = abs(recorded[long] - recorded[short])
    unseen = 1.0 - _overlap(view, short, long)
    later = AFTERWARDS if short > long else 0.0
    return float(
        STOPS_PER_MINUTE_APART * minutes + PER_STOP_OF_PLACEMENT * placement + unseen + later
    )


def _held(view: SetupView, long: int, others: Sequence[tuple[int, float]]) -> Held | None:
    frame = view.seen[long]
    told = [(view.seen[index], weight) for index, weight in others]
    known = [(seen, weight) for seen, weight in told if seen is not None]
    if frame is None or len(known) < len(told):
        return None
    rows = _clear_rows(view, [long, *(index for index, _ in others)])
    return held_back(frame, known, rows)


def _clear_rows(view: SetupView, places: Sequence[int]) -> slice | None:
    """Return the rows below a graduated filter that only some of the frames had."""
    with_ = {pair.with_: pair.curve for pair in view.grads}
    graded = [with_[place] for place in places if place in with_]
    if not graded or len(graded) == len(places):
        return None
    y = view.setup.shots[0].plate.row_shares()
    first = int(np.searchsorted(y, max(curve.clear_from for curve in graded)))
    return slice(first, len(y)) if first < len(y) - 3 else None


def _is_filter(view: SetupView, pair: _Measured, settings: GroupSettings) -> bool:
    stops = pair.corrected.main
    times = view.series.time_s
    longer = float(np.log2(times[pair.long] / times[pair.short]))
    even = pair.corrected.uneven_stops <= max(EVEN_STOPS, UNEVEN_SHARE * stops)
    enough = stops >= settings.filter_least_stops and pair.direct.overlap >= LEAST_OVERLAP
    return enough and even and longer >= LEAST_LONGER * stops


def _record(view: SetupView, pair: _Measured, known: Sequence[KnownFilter]) -> SiblingPair:
    shots, stops = view.setup.shots, pair.corrected.stops
    main = shots[pair.long].plate.colours[shots[pair.long].plate.main]
    marking = nearest_marking(stops[main])
    settings = view.levels.settings_stops
    difference = float(settings[pair.long] - settings[pair.short])
    placement = difference - pair.direct.stops[main]
    cast = {name: stops[name] - stops[main] for name in ("R", "B") if name in stops}
    return SiblingPair(
        setup=view.setup_id,
        short=shots[pair.short].id,
        long=shots[pair.long].id,
        exposure_difference_stops=round(difference, 4),
        filter_stops=round(stops[main], 4),
        filter_stops_by_channel={name: round(value, 4) for name, value in stops.items()},
        cast_stops={name: round(value, 4) for name, value in cast.items()},
        light_drift_stops=None if pair.drift_stops is None else round(pair.drift_stops, 4),
        nearest_marking=marking,
        off_marking_stops=round(stops[main] - marking.stops, 4),
        matched_time_s=float(view.series.time_s[pair.long] * 2.0**-placement),
        placement_difference_stops=round(placement, 4),
        confidence=round(_confidence(view, pair), 2),
        reasons=tuple(_reasons(view, pair)),
        known_filter=recognised(stops, cast, known),
    )


def _gap_minutes(view: SetupView, pair: _Measured) -> float:
    at = view.series.middle_s
    return abs(float(at[pair.long] - at[pair.short])) / 60.0


def _confidence(view: SetupView, pair: _Measured) -> float:
    """Say how sure the figure is: what it may be off by, against a quarter of it.

    Off by: the light's drift where nothing tells it (0.15 stop a minute), a tenth of it where
    something does; the spread of the tiles over the root of their count; unevenness.
    """
    held = pair.corrected
    untold = 0.15 * _gap_minutes(view, pair)
    drift = untold if pair.drift_stops is None else 0.05 + 0.1 * abs(pair.drift_stops)
    tiles = 1.0 / np.sqrt(max(1, held.core.count)) + 0.2 * held.core.spread
    off = drift + float(tiles) + 0.2 * held.uneven_stops + 0.05
    few = min(1.0, held.core.count / 150.0)
    return float(few / (1.0 + (off / (0.25 * held.main)) ** 2))


def _reasons(view: SetupView, pair: _Measured) -> Iterator[str]:
    shots, held = view.setup.shots, pair.corrected
    yield (
        f"{held.core.count} tiles ({share_text(held.core.count, held.tiles.size)} of the frame) "
        f"are recorded well by both, hold still and agree within {held.core.spread:.2f} stop."
    )
    yield from _light_reasons(view, pair)
    short, long = shots[pair.short], shots[pair.long]
    yield (
        f"The shutter stood open for {time_text(long.time_s)} against {time_text(short.time_s)}, "
        f"their middles {time_text(60.0 * _gap_minutes(view, pair))} apart."
    )
    for name, place in (("long", pair.long), ("short", pair.short)):
        yield from _lost_reasons(name, view, place)
    moved = _moved_px(view, pair)
    if moved >= 0.15 * short.plate.tile_px:
        yield f"The picture moved by about {moved:.0f} pixels between them and was aligned."
    if _clear_rows(view, [pair.long, pair.short]) is not None:
        yield "One of them has a graduated filter: only what lies below its edge was compared."
    if not (short.plate.floor_known and long.plate.floor_known):
        yield "The noise floor is not known: only tones within ten stops of saturation were used."


def _light_reasons(view: SetupView, pair: _Measured) -> Iterator[str]:
    drift = pair.drift_stops
    if drift is None:
        yield "No unfiltered frame lies on the other side in time: any drift of the light is in it."
        return
    other = "" if pair.other is None else f" and {view.setup.shots[pair.other].id}"
    verb = "fell" if drift < 0 else "rose"
    yield (
        f"The light {verb} by {abs(drift):.2f} stop between them, told by "
        f"{view.setup.shots[pair.short].id}{other} before and after; that is taken out."
    )


def _lost_reasons(name: str, view: SetupView, place: int) -> Iterator[str]:
    plate = view.setup.shots[place].plate
    blown = float(plate.lost_bright.astype(np.float32).mean())
    blocked = float(plate.lost_dark.astype(np.float32).mean())
    if blown >= 0.005:
        yield f"{share_text(blown)} of the {name} frame is blown and was left out."
    if blocked >= 0.005:
        yield f"{share_text(blocked)} of the {name} frame is blocked and was left out."


def _moved_px(view: SetupView, pair: _Measured) -> float:
    a, b = (view.setup.shifts[place] or (0.0, 0.0) for place in (pair.short, pair.long))
    return float(np.hypot(a[0] - b[0], a[1] - b[1])) * view.setup.shots[0].plate.tile_px
