"""Three invented evenings at the Selmer Sands, as audits: habits are built in, not told.

Only the records that the history reads are filled. The sun sets at the place given; the
photographer leaves more in hand after sunset, one filter is denser than its marking, and the
preview clips a stop before the sensor does.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import datetime, timedelta, timezone

import numpy as np

from auditor.light.exposure import GREY_SHARE
from auditor.light.filters import nearest_marking
from auditor.model.audit import (
    SCHEMA_VERSION,
    Audit,
    Bracket,
    ChannelFigures,
    FrameResult,
    FrameSize,
    HotFigures,
    PreviewStory,
    Setup,
    SiblingPair,
    StopHistogram,
)
from auditor.model.codes import (
    BlackSource,
    FrameStatus,
    Layout,
    LevelSource,
    NoiseSource,
    PlaneName,
    TimeSource,
    Verdict,
)
from auditor.model.facts import CameraFacts, ExposureFacts, LensFacts, Position
from auditor.model.settings import Settings

SANDS = Position(52.5, 1.5)
ZONE = timezone(timedelta(hours=1))
NO_HISTOGRAM = StopHistogram(0.0, 0.125, ())


@dataclass(frozen=True)
class Habits:
    """What is built into the evenings."""

    before_sunset: float = 0.45
    after_sunset: float = 1.3
    filter_stops: float = 6.3
    filter_cast: tuple[float, float] = (-0.1, 0.15)
    preview_early: float = 1.0


def evenings(habits: Habits | None = None, *, count: int = 3, seed: int = 7) -> tuple[Audit, ...]:
    """Return the audits of some evenings, a week apart, each from two hours before sunset on."""
    rng = np.random.default_rng(seed)
    habits = habits or Habits()
    return tuple(_evening(habits, number, rng) for number in range(count))


def _evening(habits: Habits, number: int, rng: np.random.Generator) -> Audit:
    sunset = datetime(2031, 9, 14, 19, 6, tzinfo=ZONE) + timedelta(days=7 * number)
    frames: list[FrameResult] = []
    pairs: list[SiblingPair] = []
    for place in range(24):
        taken = sunset + timedelta(minutes=7.0 * (place - 14))
        low = place > 14
        wanted = habits.after_sunset if low else habits.before_sunset
        name = f"E{number}/S{place:03d}.dng"
        spare = max(0.0, rng.normal(wanted, 0.12))
        short = frame_at(name, taken, spare=spare, habits=habits, rng=rng)
        frames.append(short)
        if place % 4 == 0:
            long = frame_at(
                name.replace("S", "L"), taken + timedelta(seconds=40), time_s=64.0,
                spare=max(0.0, spare + habits.filter_stops - 6.0), habits=habits, rng=rng,
            )  # fmt: skip
            frames.append(long)
            pairs.append(pair_of(short, long, habits, rng))
    return audit_of(frames, made_at=f"2031-10-{number + 1:02d}T08:00:00+01:00", pairs=pairs)


def audit_of(
    frames: list[FrameResult], *, made_at: str = "2031-10-01T08:00:00+01:00",
    pairs: list[SiblingPair] | None = None, brackets: tuple[Bracket, ...] = (),
    setups: tuple[Setup, ...] = (),
) -> Audit:  # fmt: skip
    """Wrap frames as an audit."""
    return Audit(
        schema_version=SCHEMA_VERSION, tool_version="test", made_at=made_at, settings=Settings(),
        inputs=("card",), frames=tuple(frames), siblings=tuple(pairs or ()), brackets=brackets,
        setups=setups,
    )  # fmt: skip


def frame_at(
    name: str,
    taken: datetime | None,
    *,
    spare: float = 0.5,
    time_s: float = 1.0,
    middle_stops: float = -math.log2(GREY_SHARE),
    position: Position | None = SANDS,
    habits: Habits | None = None,
    rng: np.random.Generator | None = None,
) -> FrameResult:
    """Return one measured frame with as much headroom as said, held at both ends."""
    rng = rng or np.random.default_rng(1)
    channels = tuple(
        channel(plane, spare + extra, middle_stops, rng)
        for plane, extra in (("R", 0.4), ("G1", 0.0), ("G2", 0.0), ("B", 0.7))
    )
    return FrameResult(
        id=name, input=0, file=name, status=FrameStatus.MEASURED, error=None,
        camera=CameraFacts("Brackwell", "Brackwell F45", "0042"),
        lens=LensFacts("Brackwell 24-70 mm f/4", 35.0, 35.0), orientation=1,
        captured_at=None if taken is None else taken.isoformat(timespec="milliseconds"),
        exposure=ExposureFacts(time_s, TimeSource.APEX, time_s, 11.0, 100.0),
        position=position, size=FrameSize(8192, 5464, 14), layout=Layout.BAYER, channels=channels,
        blown_fraction=0.0, blown_all_fraction=0.0, blocked_fraction=0.0,
        tone_range_stops=8.0, headroom_stops=spare, verdict=Verdict.HELD,
        preview=preview_of(spare, habits or Habits(), rng),
        hot_pixels=HotFigures(round(20 * time_s), 0.45 * time_s),
    )  # fmt: skip


def channel(
    name: str, headroom: float, middle_stops: float, rng: np.random.Generator
) -> ChannelFigures:
    """Return one plane of a 14-bit sensor: black 512, clips at 15300, 0.8 DN an electron."""
    read_dn, gain = rng.normal(3.2, 0.05), 0.8
    floor = (gain + math.hypot(gain, 2 * read_dn)) / 2
    return ChannelFigures(
        name=PlaneName(name), black_dn=512.0, black_source=BlackSource.METADATA,
        saturation_dn=15300.0, saturation_source=LevelSource.MEASURED, blown_from_dn=15290.0,
        read_noise_dn=read_dn, gain_dn_per_e=gain, noise_floor_dn=floor,
        noise_source=NoiseSource.TRANSFER,
        blown_fraction=0.0, blocked_fraction=0.0, zero_fraction=0.0, headroom_stops=headroom,
        shadow_room_stops=1.5, median_stops=middle_stops, mean_stops=middle_stops,
        dynamic_range_stops=math.log2((15300 - 512) / floor), blown_one_stop_less=0.0,
        blocked_one_stop_more=0.0, histogram=NO_HISTOGRAM,
    )  # fmt: skip


def preview_of(spare: float, habits: Habits, rng: np.random.Generator) -> PreviewStory:
    """Return a preview that blinks where less is left than it cries out early."""
    early = {
        name: habits.preview_early + extra + rng.normal(0.0, 0.04)
        for name, extra in (("R", 0.3), ("G", 0.0), ("B", 0.5))
    }
    blinks = spare < early["G"]
    return PreviewStory(
        width=1620, height=1080, blown_fraction=0.02 if blinks else 0.0, blocked_fraction=0.0,
        early_by_channel_stops=early, early_stops=min(early.values()), by_white_balance_stops={},
        counts={},
    )  # fmt: skip


def pair_of(
    short: FrameResult, long: FrameResult, habits: Habits, rng: np.random.Generator
) -> SiblingPair:
    """Return the measured pair, with the scatter of a real one."""
    green = habits.filter_stops + rng.normal(0.0, 0.04)
    casts = {
        name: cast + rng.normal(0.0, 0.01)
        for name, cast in zip(("R", "B"), habits.filter_cast, strict=True)
    }
    stops = {"R": green + casts["R"], "G": green, "B": green + casts["B"]}
    marking = nearest_marking(green)
    return SiblingPair(
        setup="s", short=short.id, long=long.id, exposure_difference_stops=6.0,
        filter_stops=green, filter_stops_by_channel=stops, cast_stops=casts,
        light_drift_stops=None, nearest_marking=marking, off_marking_stops=green - marking.stops,
        matched_time_s=64.0, placement_difference_stops=6.0 - green, confidence=0.9, reasons=(),
    )  # fmt: skip


def lost(frame: FrameResult, *, verdict: str = "blown", colour: str = "R") -> FrameResult:
    """Return the frame with one channel blown, held again by one stop less."""
    channels = tuple(
        replace(entry, blown_fraction=0.02, headroom_stops=0.0) if entry.name == colour else entry
        for entry in frame.channels
    )
    return replace(
        frame, channels=channels, verdict=Verdict(verdict), headroom_stops=0.0, blown_fraction=0.02
    )
