"""What makes a filtered frame match, in words."""

from __future__ import annotations

from auditor.model.advice import PairMatch
from auditor.model.numbers import counted_stops


def match_words(match: PairMatch) -> str:
    """Say what to set in a converter: "exposure −0.8 stop; white balance R 1.84, G 1, B 1.61"."""
    red, _, blue = match.white_balance_multipliers
    offset = counted_stops(match.exposure_offset_stops, signed=True)
    return f"exposure {offset}; white balance multipliers R {red:.2f}, G 1, B {blue:.2f}"
