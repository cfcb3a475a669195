"""The sentences of the settings for next time."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from auditor.light.filters import counting_text
from auditor.light.graduated import grad_name
from auditor.light.nominal import LONGEST_DIAL_S, nominal_name
from auditor.model.advice import NextTime
from auditor.model.audit import FrameResult, Setup
from auditor.model.numbers import counted_stops, share_text, time_text, whole_share_text

LONGER_STOPS = 0.9
"""From about twice the time on, wind and falling light have a say."""

STEADY_STOPS = 0.02
"""Light that changes by less a minute is steady."""


MOST_NAMED = 6
"""So many set-ups are named one by one."""


def next_times(setups: Sequence[Setup]) -> list[tuple[str, NextTime]]:
    """Return each advice once, with its set-ups in words: "Set-up 2", "Set-ups 5 to 8"."""
    told: dict[NextTime, list[int]] = {}
    for number, setup in enumerate(setups, start=1):
        if setup.next_time is not None:
            told.setdefault(setup.next_time, []).append(number)
    return [(_setups(numbers), advice) for advice, numbers in told.items()]


def _setups(numbers: Sequence[int]) -> str:
    if len(numbers) == 1:
        return f"Set-up {numbers[0]}"
    if numbers[-1] - numbers[0] == len(numbers) - 1:
        return f"Set-ups {numbers[0]} to {numbers[-1]}"
    if len(numbers) > MOST_NAMED:
        return f"Set-ups {', '.join(map(str, numbers[:3]))} and {len(numbers) - 3} more"
    return f"Set-ups {', '.join(map(str, numbers[:-1]))} and {numbers[-1]}"


def settings_text(advice: NextTime) -> str:
    """Say the settings in one line: "1/5 s, f/11, ISO 100; behind the 10-stop filter 3 min"."""
    settings = [_time(advice.time_s)]
    settings += [f"f/{advice.f_number:g}"] if advice.f_number else []
    settings += [f"ISO {advice.iso:.0f}"] if advice.iso else []
    parts = [", ".join(settings)]
    parts += [f"behind the {one.filter} {_time(one.time_s)}" for one in advice.behind if one.time_s]
    if advice.grad is not None:
        grad = advice.grad
        edge = f"its edge {whole_share_text(grad.edge_at)} from the top"
        parts.append(f"{grad_name(grad.stops, grad.kind)}, {edge}")
    return "; ".join(parts)


def _time(time_s: float) -> str:
    return counting_text(time_s) if time_s > LONGEST_DIAL_S else nominal_name(time_s)


def limit_text(frame: FrameResult, kind: str, frames: int, setups: int) -> str:
    """Say which frame sets the limit, and by what."""
    own = f"{frame.id} ({_taken(frame)})"
    of = f"the brightest of the panorama's {frames} frames" if setups > 1 else ""
    if kind == "headroom":
        left = f"{counted_stops(frame.headroom_stops)} of headroom"
        if of:
            return f"{own} is {of}: it has {left}."
        return f"{own} has {left}{', the least of this set-up' if frames > 1 else ''}."
    if kind == "glints":
        blown = share_text(frame.blown_fraction or 0.0)
        if frame.loss == "patch":
            return f"Only a small patch clips in {own}: {blown}. Let it go."
        return f"Only glints clip in {own}: {blown}. Let them go."
    return (
        f"Every frame lost an area, least of them {own}: take a stop less, look at the raw data, "
        "and bracket."
    )


def _taken(frame: FrameResult) -> str:
    time_s = frame.exposure.nominal_time_s or frame.exposure.time_s
    return time_text(time_s)


def retaken_text(frame: FrameResult) -> str:
    """Say of a blown frame that it was put right on the spot."""
    return f"{frame.id} ({_taken(frame)}) was too long and was taken again at once."


def changes_text(
    frame: FrameResult, time_s: float, f_number: float | None, iso: float | None
) -> Iterator[str]:
    """Say what changes against a frame's settings beside the time, and what a longer time asks."""
    before = frame.exposure
    if before.iso and iso and iso < before.iso:
        yield (
            f"ISO {iso:.0f} instead of {before.iso:.0f} costs {math.log2(before.iso / iso):.1f} "
            "stops of time and gains as much light."
        )
    if before.iso and iso and iso > before.iso:
        yield f"ISO {iso:.0f} keeps the time on the dial."
    if before.f_number and f_number and f_number < before.f_number:
        yield f"f/{f_number:g} instead of f/{before.f_number:g} keeps the time on the dial."
    if before.time_s and math.log2(time_s / before.time_s) >= LONGER_STOPS:
        yield (
            f"{nominal_name(time_s)} instead of {_taken(frame)} asks for still air; in wind keep "
            "the time."
        )


def drift_text(drift: float) -> Iterator[str]:
    """Say that the times behind filters allow for the light's change."""
    if abs(drift) >= STEADY_STOPS:
        way = "falls" if drift < 0 else "rises"
        yield (
            f"The light {way} by {counted_stops(abs(drift), digits=2)} a minute; the times behind "
            "filters allow for it."
        )


def wider_text(name: str, time_s: float | None, f_number: float, other_s: float) -> str:
    """Say which aperture brings the time behind a filter back."""
    return f"{_runs(name, time_s)} At f/{f_number:g} {counting_text(other_s)} will do."


def weaker_text(name: str, time_s: float | None, other: tuple[str, float] | None) -> str:
    """Say which filter of one's own serves where another makes the time run away."""
    if other is None:
        return f"{_runs(name, time_s)} Take a weaker filter."
    return f"{_runs(name, time_s)} Take the {other[0]}: {counting_text(other[1])}."


def _runs(name: str, time_s: float | None) -> str:
    if time_s is None:
        return f"Behind the {name} no time will do: the light falls too fast."
    return f"Behind the {name} it takes {counting_text(time_s)}."
