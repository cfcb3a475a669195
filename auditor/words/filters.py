"""What makes a filtered frame match, and what a filter measures over the picture, in words."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from statistics import median

from auditor.model.advice import PairMatch
from auditor.model.numbers import counted_stops, stops_text


def match_words(match: PairMatch) -> str:
    """Say what to set in a converter: "exposure −0.8 stop; white balance R 1.84, G 1, B 1.61"."""
    red, _, blue = match.white_balance_multipliers
    offset = counted_stops(match.exposure_offset_stops, signed=True)
    return f"exposure {offset}; white balance multipliers R {red:.2f}, G 1, B {blue:.2f}"


def density_words(density_map: Sequence[Sequence[float | None]]) -> str:
    """Say what a filter measures over the picture; empty where no place tells it.

    Returns
    -------
    str
        "6.2 stops in the middle, 5.9 in the corners; nine places of ten from 5.8 to 6.3." The
        middle is the inner half of the width and height, a corner the outer quarter of both.
    """
    rows, columns = len(density_map), len(density_map[0]) if density_map else 0
    places: dict[str, list[float]] = {"in the middle": [], "in the corners": []}
    known: list[float] = []
    for row, column in product(range(rows), range(columns)):
        value = density_map[row][column]
        if value is None:
            continue
        known.append(value)
        outer = {abs((row + 0.5) / rows - 0.5) > 0.25, abs((column + 0.5) / columns - 0.5) > 0.25}
        if len(outer) == 1:
            places["in the corners" if outer == {True} else "in the middle"].append(value)
    if not known:
        return ""
    told = [f"{stops_text(median(found))} {where}" for where, found in places.items() if found]
    told[:1] = [part.replace(" in", " stops in", 1) for part in told[:1]]
    known.sort()
    low, high = (known[round(share * (len(known) - 1))] for share in (0.05, 0.95))
    spread = f"nine places of ten from {stops_text(low)} to {stops_text(high)}"
    if stops_text(low) == stops_text(high):
        spread = f"nine places of ten at {stops_text(low)}"
    return f"{', '.join(told)}; {spread}." if told else f"{spread.capitalize()} stops."
