"""What makes a measured filter doubtful, a sentence each, from its code and figure."""

from __future__ import annotations

from collections.abc import Callable

from auditor.model.numbers import counted_stops
from auditor.model.pairs import Doubt, PairDoubt


def doubt_sentence(doubt: PairDoubt) -> str:
    """Say what a pair's figure may be off by, and why."""
    return _SENTENCES[doubt.code](counted_stops(abs(doubt.value), digits=2))


_SENTENCES: dict[Doubt, Callable[[str], str]] = {
    Doubt.SKY_HELD_MORE: lambda stops: (
        f"The sky lost {stops} more light than what is below the horizon, which alone was used: a "
        "graduated filter whose edge is not seen, or clouds."
    ),
    Doubt.SKY_ALONE: lambda _: (
        "Only the sky is well recorded by both: a graduated filter over it would be in the figure."
    ),
    Doubt.WATER: lambda _: (
        "Too little is static: the light of moving water was summed, row by row."
    ),
    Doubt.CORNERS: lambda stops: (
        f"The corners lost {stops} more light than the centre; the figure is for the centre."
    ),
    Doubt.UNEVEN: lambda stops: (
        f"Parts of the picture disagree by {stops}: the sun may have gone in, or clouds moved."
    ),
    Doubt.ONE_SIDE: lambda _: (
        "Unfiltered frames on one side only: a change of the light meanwhile would be in the "
        "figure, and light that reddens in the cast. Take one more without the filter afterwards."
    ),
    Doubt.WEAK: lambda _: (
        "So weak a filter, and no frame after it without one: it may have been a cloud."
    ),
    Doubt.NO_WHOLE_STOPS: lambda stops: (
        f"It lies {stops} off the nearest whole stop, and filters are mostly made in whole stops: "
        "the sun may have gone in or come out between the two."
    ),
    Doubt.POLARISER: lambda stops: (
        f"The colours lost light unevenly over the picture, by {stops}: it may be a polariser."
    ),
}
