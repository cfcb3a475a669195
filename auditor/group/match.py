"""What makes a filtered frame look like its sibling, and its filter's density over the picture."""

from __future__ import annotations

import numpy as np

from auditor.group.pairing import PairMeasurement
from auditor.group.view import SetupView
from auditor.model.advice import PairMatch
from auditor.model.arrays import I64, median_known

MAP_COLUMNS = 12
"""Cells on the longer side of a density map."""


def pair_match(view: SetupView, pair: PairMeasurement, placement_stops: float) -> PairMatch:
    """Return exposure offset and white balance that make the long frame match the short one.

    The frames are held against each other as recorded: what the filter, the settings and the light
    did together is undone. The multipliers are the short frame's own, times
    ``2^(channel's stops - green's)``; where its file holds none, they stand for a factor on them.
    """
    direct, main = pair.direct.stops, view.main
    own = view.setup.shots[pair.short].facts.white_balance
    green = own.get("G") or 1.0
    cast = {name: direct.get(name, direct[main]) - direct[main] for name in ("R", "B")}
    red, blue = (own.get(name, 1.0) / green * 2.0 ** cast[name] for name in ("R", "B"))
    return PairMatch(
        exposure_offset_stops=round(-placement_stops, 3) + 0.0,
        white_balance_multipliers=(round(red, 4), 1.0, round(blue, 4)),
    )


def density_map(view: SetupView, pair: PairMeasurement) -> tuple[tuple[float | None, ...], ...]:
    """Return the filter's stops over the upright picture, in at most 12 cells a side.

    A cell is the median of its static tiles, the drift of the light taken out as for the filter.
    """
    tiles = pair.direct.tiles + np.float32(pair.stops[view.main] - pair.direct.stops[view.main])
    rows, cols = tiles.shape
    size = max(1, -(-max(rows, cols) // MAP_COLUMNS))
    down, across = -(-rows // size), -(-cols // size)
    whole = np.full((down * size, across * size), np.nan, dtype=np.float32)
    whole[:rows, :cols] = tiles
    cells = whole.reshape(down, size, across, size).swapaxes(1, 2).reshape(down, across, -1)
    area = np.outer(_lengths(rows, size), _lengths(cols, size))
    cell_share = 0.15  # a cell of the map is told from this share of its tiles on
    told = np.isfinite(cells).sum(axis=2) >= cell_share * area
    return tuple(
        tuple(round(float(cell), 3) if here else None for cell, here in zip(*row, strict=True))
        for row in zip(median_known(cells, axis=2), told, strict=True)
    )


def _lengths(count: int, size: int) -> I64:
    """Return the tiles of each cell in a line; the last may have fewer."""
    return np.diff(np.append(np.arange(0, count, size), count))
