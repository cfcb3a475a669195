"""Filters that recur: measured pairs that agree in density and cast are one filter."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from statistics import fmean

from auditor.history.limits import (
    CAST_SCALE_STOPS,
    LEAST_CONFIDENCE,
    LEAST_PAIRS,
    LEVEL_SCALE_STOPS,
)
from auditor.history.rows import spread_of
from auditor.history.shots import counted_pairs
from auditor.light.filters import cast_word, marking_stops, nearest_marking
from auditor.model.audit import Audit, SiblingPair
from auditor.model.history import KnownFilter


@dataclass(frozen=True, slots=True)
class _Point:
    """One measured pair: green's stops, and the casts of red and blue against it."""

    level: float
    casts: tuple[float, ...]
    channels: dict[str, float]
    shoot: int

    def near(self, other: _Point) -> float:
        """Return the distance in scales, 1 being the edge of one filter."""
        parts = [(self.level - other.level) / LEVEL_SCALE_STOPS]
        parts += [
            (mine - its) / CAST_SCALE_STOPS
            for mine, its in zip(self.casts, other.casts, strict=True)
        ]
        return float(sum(part**2 for part in parts) ** 0.5)


def known_filters(audits: Iterable[Audit]) -> tuple[KnownFilter, ...]:
    """Find the filters that recur over the audits, thinnest first.

    Parameters
    ----------
    audits : iterable of Audit
        Their best pairs of at least even confidence are used.
    """
    return filters_of(counted_pairs(audits))


def filters_of(pairs: Iterable[tuple[int, SiblingPair]]) -> tuple[KnownFilter, ...]:
    """Find the filters that recur among pairs, each with the place of its shoot."""
    points = [
        _point(pair, shoot)
        for shoot, pair in pairs
        if pair.best and pair.confidence >= LEAST_CONFIDENCE
    ]
    found: list[KnownFilter] = []
    for length in sorted({len(point.casts) for point in points}):
        alike = [point for point in points if len(point.casts) == length]
        for group in (one for one in _groups(alike) if len(one) >= LEAST_PAIRS):
            mean = _mean(group)
            spreads = [spread_of(point.channels[name] for point in group) for name in mean.channels]
            casts = dict(zip(("R", "B"), mean.casts, strict=False))
            marking = nearest_marking(mean.level)
            found.append(
                KnownFilter(
                    name=f"about {marking_stops(marking.stops)}, {cast_word(casts)}",
                    stops_by_channel=mean.channels,
                    spread_stops=max((one.spread or 0.0) for one in spreads if one is not None),
                    cast_stops=casts,
                    marking=marking,
                    count=len(group),
                    shoots=len({point.shoot for point in group}),
                )
            )
    found.sort(key=lambda entry: (entry.stops, sorted(entry.cast_stops.items())))
    # namesakes are told apart by their measured stops, and where even these agree, by a number
    namesakes = Counter(entry.name for entry in found)
    seen: Counter[str] = Counter()
    apart = []
    for entry in found:
        name = f"{entry.name} ({entry.stops:.1f})" if namesakes[entry.name] > 1 else entry.name
        seen[name] += 1
        number = f" no. {seen[name]}" if seen[name] > 1 else ""
        apart.append(replace(entry, name=name + number))
    return tuple(apart)


def named_of(pair: SiblingPair, filters: Sequence[KnownFilter]) -> str | None:
    """Return the name of the known filter that a pair was taken behind; None where none is near."""
    point = _point(pair, 0)
    alike = [known for known in filters if len(known.cast_stops) == len(point.casts)]
    points = [
        _Point(known.stops, tuple(known.cast_stops.values()), known.stops_by_channel, 0)
        for known in alike
    ]
    place = _nearest(point, points)
    return None if place is None else alike[place].name


def _point(pair: SiblingPair, shoot: int) -> _Point:
    channels = pair.filter_stops_by_channel or {"L": pair.filter_stops}
    level = channels.get("G", fmean(channels.values()))
    colours = ("R", "B") if {"R", "G", "B"} <= channels.keys() else ()
    casts = tuple(channels[name] - level for name in colours)
    return _Point(level, casts, channels, shoot)


def _groups(points: Sequence[_Point]) -> list[list[_Point]]:
    """Gather points round their means: first come in order of strength, then settled."""
    ordered = sorted(points, key=lambda point: (point.level, point.casts))
    means: list[_Point] = []
    counts: list[int] = []
    for point in ordered:
        place = _nearest(point, means)
        if place is None:
            means.append(point)
            counts.append(1)
        else:
            counts[place] += 1
            mean, count = means[place], counts[place]
            casts = zip(mean.casts, point.casts, strict=True)
            means[place] = replace(
                mean,
                level=mean.level + (point.level - mean.level) / count,
                casts=tuple(old + (new - old) / count for old, new in casts),
            )
    groups: list[list[_Point]] = []
    for _ in range(3):  # means settle at once
        groups = [[] for _ in means]
        for point in ordered:
            place = _nearest(point, means)
            if place is not None:
                groups[place].append(point)
        groups = [group for group in groups if group]
        means = [_mean(group) for group in groups]
    return groups


def _nearest(point: _Point, means: Sequence[_Point]) -> int | None:
    if not means:
        return None
    place = min(range(len(means)), key=lambda index: point.near(means[index]))
    return place if point.near(means[place]) <= 1.0 else None


def _mean(group: Sequence[_Point]) -> _Point:
    names = [name for name in group[0].channels if all(name in one.channels for one in group)]
    return _Point(
        level=fmean(point.level for point in group),
        casts=tuple(
            fmean(values) for values in zip(*(point.casts for point in group), strict=True)
        ),
        channels={name: fmean(point.channels[name] for point in group) for name in names},
        shoot=group[0].shoot,
    )
