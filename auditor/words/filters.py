"""How a filter is called in a sentence."""

from __future__ import annotations

from auditor.model.audit import SiblingPair


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
