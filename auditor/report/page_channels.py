"""Channel sheets: one colour plane of one frame in words."""

from __future__ import annotations

from auditor.model.audit import ChannelFigures
from auditor.report import words
from auditor.report.page_records import ChannelSheet, Fact, ToneBar


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
    """Word one plane."""
    return ChannelSheet(
        name=channel.name,
        full_name=words.PLANES.get(channel.name, channel.name),
        bar=channel_bar(channel),
        histogram=channel.histogram,
        facts=tuple(_channel_facts(channel)),
        notes=tuple(words.plain(note) for note in channel.notes),
    )


def _channel_facts(channel: ChannelFigures) -> list[Fact]:
    floor = channel.noise_floor_dn
    return [
        Fact("Blown", words.share(channel.blown_fraction)),
        Fact("Blocked", words.share(channel.blocked_fraction)),
        Fact("Headroom", words.stops(channel.headroom_stops)),
        Fact("Shadow room", words.stops(channel.shadow_room_stops)),
        Fact("Median under saturation", words.stops(channel.median_stops)),
        Fact("Range of the sensor", words.stops(channel.dynamic_range_stops)),
        Fact("Blown with a stop less", _at_most(channel)),
        Fact("Blocked with a stop more", words.share(channel.blocked_one_stop_more)),
        Fact(
            "Saturation", f"{channel.saturation_dn:.0f} DN", words.source(channel.saturation_source)
        ),
        Fact("Black", f"{channel.black_dn:.1f} DN", words.source(channel.black_source)),
        Fact(
            "Noise floor",
            "–" if floor is None else f"{floor:.1f} DN",
            words.source(channel.noise_source),
        ),
        Fact("At or under black", words.share(channel.zero_fraction)),
    ]


def _at_most(channel: ChannelFigures) -> str:
    """Clipped pixels hide their height, so the share with less light is an upper bound."""
    share = words.share(channel.blown_one_stop_less)
    return share if channel.blown_one_stop_less == 0 or share.startswith("<") else f"≤ {share}"
