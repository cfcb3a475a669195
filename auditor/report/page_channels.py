"""Channel sheets: one colour plane of one frame in words."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from auditor.model.audit import ChannelFigures, StopHistogram
from auditor.model.numbers import counted_stops
from auditor.report.frame_records import ChannelSheet, ToneBar
from auditor.words import values as words
from auditor.words.values import Fact, PlaneFigure


def channel_bar(channel: ChannelFigures) -> ToneBar:
    """Return where one plane's tones lie, in stops below saturation."""
    floor, room = channel.dynamic_range_stops, channel.shadow_room_stops
    return ToneBar(
        floor_stops=floor,
        dark_stops=floor - room if floor is not None and room is not None else None,
        bright_stops=channel.headroom_stops,
        median_stops=channel.median_stops,
        blown=channel.blown_fraction,
        blocked=channel.blocked_fraction,
    )


def channel_sheet(channel: ChannelFigures) -> ChannelSheet:
    """Word one plane.

    Clipped pixels hide their height, so the share that a stop less would leave is an upper bound.
    """
    floor, less = channel.noise_floor_dn, words.share(channel.blown_one_stop_less)
    if channel.blown_one_stop_less != 0 and not less.startswith("<"):
        less = f"≤ {less}"
    black, clips = f"{channel.black_dn:.1f} DN", f"{channel.saturation_dn:.0f} DN"
    return ChannelSheet(
        name=channel.name,
        full_name=words.PLANES.get(channel.name, channel.name),
        bar=channel_bar(channel),
        histogram=channel.histogram,
        facts=(
            Fact(PlaneFigure.BLOWN, words.share(channel.blown_fraction)),
            Fact(PlaneFigure.BLOCKED, words.share(channel.blocked_fraction)),
            Fact(PlaneFigure.HEADROOM, counted_stops(channel.headroom_stops)),
            Fact(PlaneFigure.SHADOW_ROOM, counted_stops(channel.shadow_room_stops)),
            Fact(PlaneFigure.MEDIAN, counted_stops(channel.median_stops)),
            Fact(PlaneFigure.RANGE, counted_stops(channel.dynamic_range_stops)),
            Fact(PlaneFigure.BLOWN_WITH_LESS, less),
            Fact(PlaneFigure.BLOCKED_WITH_MORE, words.share(channel.blocked_one_stop_more)),
            Fact(PlaneFigure.SATURATION, clips, words.source(channel.saturation_source)),
            Fact(PlaneFigure.BLACK, black, words.source(channel.black_source)),
            Fact(
                PlaneFigure.FLOOR,
                "–" if floor is None else f"{floor:.1f} DN",
                words.source(channel.noise_source),
            ),
            Fact(PlaneFigure.AT_BLACK, words.share(channel.zero_fraction)),
        ),
        notes=tuple(words.plain(note) for note in channel.notes),
    )


GREENS_ALIKE_STOPS = 0.1
"""Two greens whose ends and median lie within so many stops are drawn as one."""


def in_rows(
    channels: tuple[ChannelSheet, ...],
) -> Iterator[tuple[ChannelSheet, tuple[ChannelSheet, ...]]]:
    """Yield a row a colour for drawing, with what is drawn into the same row besides.

    The two greens of a Bayer sensor see the same colour. They are one row, of both; where they
    differ, the second is given besides the first.
    """
    greens = tuple(channel for channel in channels if channel.name in ("G1", "G2"))
    for channel in channels:
        if channel.name == "G2" and len(greens) == 2:
            continue
        if channel.name == "G1" and len(greens) == 2:
            alike = greens_alike(*greens)
            yield (_joined(*greens), ()) if alike else (channel, (greens[1],))
        else:
            yield channel, ()


def drawn_alone(channels: tuple[ChannelSheet, ...]) -> Iterator[ChannelSheet]:
    """Yield what is drawn each by itself: both greens as one, unless they differ."""
    for row, besides in in_rows(channels):
        yield row
        yield from besides


def greens_alike(first: ChannelSheet, second: ChannelSheet) -> bool:
    """Whether two planes lie at the same place on the axis of stops."""
    return all(
        (one is None and other is None)
        or (one is not None and other is not None and abs(one - other) <= GREENS_ALIKE_STOPS)
        for one, other in (
            (first.bar.bright_stops, second.bar.bright_stops),
            (first.bar.median_stops, second.bar.median_stops),
            (first.bar.dark_stops, second.bar.dark_stops),
        )
    )


def _joined(first: ChannelSheet, second: ChannelSheet) -> ChannelSheet:
    """Return both greens as one: counts added, the nearer end of each, shares in the middle."""
    step = first.histogram.step
    start = min(first.histogram.first_stop, second.histogram.first_stop)
    ends = [h.first_stop + step * len(h.counts) for h in (first.histogram, second.histogram)]
    counts = [0] * round((max(ends) - start) / step)
    for histogram in (first.histogram, second.histogram):
        begin = round((histogram.first_stop - start) / step)
        for place, count in enumerate(histogram.counts, begin):
            counts[place] += count
    one, other = first.bar, second.bar
    return replace(
        first,
        name="G",
        full_name=words.PLANES["G"],
        histogram=StopHistogram(start, step, tuple(counts)),
        bar=ToneBar(
            floor_stops=_least(one.floor_stops, other.floor_stops),
            dark_stops=_least(one.dark_stops, other.dark_stops, sign=-1),
            bright_stops=_least(one.bright_stops, other.bright_stops),
            median_stops=_least(one.median_stops, other.median_stops),
            blown=_mean(one.blown, other.blown),
            blocked=_mean(one.blocked, other.blocked),
        ),
    )


def _least(one: float | None, other: float | None, *, sign: int = 1) -> float | None:
    return None if one is None or other is None else sign * min(sign * one, sign * other)


def _mean(one: float | None, other: float | None) -> float | None:
    return None if one is None or other is None else (one + other) / 2.0
