"""How a filter is called in a sentence."""

from __future__ import annotations

from auditor.model.advice import PairMatch
from auditor.model.audit import SiblingPair
from auditor.model.numbers import counted_stops


def filter_words(pair: SiblingPair) -> str:
    """Name the filter of a pair: by its name where it recurs, else by the nearest marking.

    Returns
    -------
    str
        "filter “six stops”", "10-stop filter", "16⅔-stop filter".
    """
    if pair.known_filter:
        return f"filter “{pair.known_filter}”"
    marking = pair.nearest_marking
    # The label writes thirds as one writes them; the bare figure would be 16.6667.
    number = marking.label.partition(" stop")[0] or f"{marking.stops:g}"
    return f"{number}-stop filter"


def match_words(match: PairMatch) -> str:
    """Say what to set in a converter: "exposure −0.8 stop; white balance R 1.84, G 1, B 1.61"."""
    red, _, blue = match.white_balance_multipliers
    offset = counted_stops(match.exposure_offset_stops, signed=True)
    return f"exposure {offset}; white balance multipliers R {red:.2f}, G 1, B {blue:.2f}"
