"""One verdict on each filter over all its pairs, instead of one a pair."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

from auditor.advise.limits import SAME_FILTER_STOPS, TRUSTED
from auditor.light.filters import cast_word, filter_name, nearest_marking
from auditor.model.advice import FilterVerdict
from auditor.model.audit import SiblingPair


def filter_verdicts(siblings: Sequence[SiblingPair]) -> tuple[FilterVerdict, ...]:
    """Judge each filter of a shoot once, weakest first.

    Pairs measured one filter where the history knows them as one, or where neighbours in strength
    lie near each other. Medians over the pairs stand for it.
    """
    pairs = sorted((pair for pair in siblings if pair.best), key=lambda pair: pair.filter_stops)
    groups: list[list[SiblingPair]] = []
    for pair in pairs:
        before = groups[-1][-1] if groups else None
        if before is None:
            same = False
        elif before.known_filter and pair.known_filter:
            same = before.known_filter == pair.known_filter
        else:
            same = abs(before.filter_stops - pair.filter_stops) <= SAME_FILTER_STOPS
        if same:
            groups[-1].append(pair)
        else:
            groups.append([pair])
    verdicts = []
    for group in groups:
        trusted = [pair for pair in group if pair.confidence >= TRUSTED]
        if not trusted:
            continue
        strengths = sorted(pair.filter_stops for pair in trusted)
        stops, spread = median(strengths), strengths[-1] - strengths[0]
        casts = {
            name: round(median(told), 4)
            for name in ("R", "B")
            if (told := [pair.cast_stops[name] for pair in trusted if name in pair.cast_stops])
        }
        # the name that the history knows it by, else that of the pair nearest to the median
        named = min(group, key=lambda p: (p.known_filter is None, abs(p.filter_stops - stops)))
        marking = nearest_marking(stops)
        verdicts.append(
            FilterVerdict(
                name=filter_name(named),
                pairs=len(group),
                frames=tuple(sorted(pair.long for pair in group)),
                stops=round(stops, 4),
                spread_stops=round(spread, 4) if len(strengths) > 1 else None,
                cast_stops=casts,
                cast=cast_word(casts),
                marking_stops=marking.stops,
                off_marking_stops=round(stops - marking.stops, 4),
            )
        )
    return tuple(verdicts)
