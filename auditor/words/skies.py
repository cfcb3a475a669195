"""Skies and graduated filters in words: how far the sky stands, and what a grad did."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from statistics import median

from auditor.light.graduated import (
    KEPT_SLACK_STOPS,
    KEPT_STOPS,
    balancing_strength,
    grad_name,
    left_brighter,
    nearest_strength,
)
from auditor.model.audit import Grad, SkyBalance
from auditor.model.numbers import counted, counted_stops, stops_text
from auditor.words import values
from auditor.words.values import Fact

ALIKE_STOPS = 0.15
"""Skies that stand this much alike are told by one figure."""


def sky_fact(sky: SkyBalance, *, graded: bool) -> Fact:
    """Tell the sky of one frame; a frame behind a grad is not told which grad it needs."""
    over, strength = sky.sky_over_ground_stops, sky.common_strength_stops
    label, note = "Sky", " ".join(sky.notes)
    if over is None:
        return Fact(label, "not measured", note)
    if sky.at_least:
        return Fact(label, _stands(sky), note)
    if graded or strength is None:
        return Fact(label, _stands(sky))
    return Fact(label, _stands(sky), _leaves(over, strength))


def _leaves(over: float, strength: float) -> str:
    return f"a {grad_name(strength)} would leave it {left_brighter(over, strength)}"


def sky_lines(skies: Sequence[SkyBalance], graded: Collection[str]) -> list[str]:
    """Say once how much brighter the sky is than the foreground, where a grad would balance it.

    Frames behind a grad are left out, and those whose sky is blown where others tell better.
    """
    bare = [sky for sky in skies if sky.frame not in graded]
    told = [sky for sky in bare if sky.sky_over_ground_stops is not None]
    exact = [sky for sky in told if not sky.at_least]
    whole = [sky for sky in exact if sky.sky_headroom_stops != 0.0]
    asked = whole or exact or told
    stands = sorted(sky.sky_over_ground_stops or 0.0 for sky in asked)
    middle = median(stands) if stands else 0.0
    at_line = [sky.at_line_stops for sky in asked if sky.at_line_stops is not None]
    strength = balancing_strength(middle, median(at_line) if at_line else None)
    if strength is None:
        return []
    frames = counted(len(asked), "frame")
    if not exact:
        least = f"at least {counted_stops(max(stands))} brighter than the foreground in {frames}"
        return [f"The sky is {least}: it is blown there."]
    span = counted_stops(stands[-1])
    if stands[-1] - stands[0] >= ALIKE_STOPS:
        span = f"{stops_text(stands[0])} to {span}"
    leaves = _leaves(middle, strength)
    return [f"The sky is {span} brighter than the foreground in {frames}; {leaves}."]


def grad_outcome(grad: Grad, without: SkyBalance | None, with_: SkyBalance | None) -> Iterator[str]:
    """Say what a grad did: where the sky stands with it and without, whether it held, if it fits.

    Nothing is said of what was not measured.
    """
    if with_ is None or with_.sky_over_ground_stops is None:
        return
    told = f"With it the sky is {_stands(with_)}"
    if without is not None and without.sky_over_ground_stops is not None:
        told += f"; without it, {_stands(without, '')}"
    yield f"{told}."
    was_blown = without is not None and without.sky_headroom_stops == 0.0
    if with_.sky_headroom_stops == 0.0:
        yield f"A part of the sky is {'still blown' if was_blown else 'blown'}."
    elif with_.sky_headroom_stops is not None:
        yield "The sky held; without it a part was blown." if was_blown else "The sky held."
    if without is not None and not with_.at_least:
        yield from _fit(grad, without, with_.sky_over_ground_stops)


def _stands(sky: SkyBalance, beside: str = " than the foreground") -> str:
    over = sky.sky_over_ground_stops or 0.0
    if abs(over) < values.LEVEL_STOPS:
        return "as bright as the foreground"
    least = "at least " if sky.at_least else ""
    return f"{least}{counted_stops(abs(over))} {'brighter' if over > 0 else 'darker'}{beside}"


def _fit(grad: Grad, without: SkyBalance, left_stops: float) -> Iterator[str]:
    """Say whether another strength would have left the sky about a stop over the ground."""
    over = without.sky_over_ground_stops
    if over is None:
        return
    used = nearest_strength(grad.stops_at_top)
    wanted = balancing_strength(over, without.at_line_stops)
    if abs(left_stops - KEPT_STOPS) <= KEPT_SLACK_STOPS:
        yield "About the right strength."
    elif left_stops > KEPT_STOPS:
        if wanted is not None and wanted > used:
            more = " or more" if without.at_least else ""
            yield f"Too weak: a {grad_name(wanted)}{more} was needed."
        elif not without.at_least:
            yield "Much of the bright part lies under its edge."
    elif not without.at_least:
        if wanted is None:
            yield "No grad was needed."
        elif wanted < used:
            yield f"Too strong: a {grad_name(wanted)} would have done."
