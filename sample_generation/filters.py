"""Filters before the lens: neutral ones that are not quite neutral, and graduated ones."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from auditor.model.arrays import F32, F64

STOPS_PER_DENSITY = math.log2(10.0)
"""Stops in one unit of optical density: log2(10) = 3.3219 (D = -log10 T)."""


@dataclass(frozen=True, slots=True)
class NeutralFilter:
    """A filter of one density over the whole picture.

    Parameters
    ----------
    marked_stops : float
        What is engraved on its rim.
    stops_rgb : tuple of three floats
        What it really holds back in red, green and blue.
    """

    marked_stops: float
    stops_rgb: tuple[float, float, float]

    @classmethod
    def off_marking(
        cls, marked_stops: float, true_stops: float, *, red: float = 0.0, blue: float = 0.0
    ) -> NeutralFilter:
        """Make a filter by its green stops and its cast: how much more red and blue lose.

        A warm cast lets red through: ``red`` negative, ``blue`` positive.
        """
        return cls(marked_stops, (true_stops + red, true_stops, true_stops + blue))

    def transmission(self) -> F64:
        """Share of light that passes, ``2**-stops``, shape (3,)."""
        return np.exp2(-np.asarray(self.stops_rgb, dtype=np.float64))


@dataclass(frozen=True, slots=True)
class GraduatedFilter:
    """A filter that is dense at the top and clear at the bottom.

    The density over the height is a logistic curve; with ``y`` the share of the height from
    the top, ``stops(y) = top / (1 + exp((y - edge) / w)) * c``, where
    ``w = transition / (2 ln 9)`` and ``c`` makes the value at ``y = 0`` exactly ``top``.

    Parameters
    ----------
    stops_at_top : float
    edge_at : float
        Share of the height from the top where half of the density is reached.
    transition : float
        Share of the height in which the density falls from 90 % to 10 %.
    """

    stops_at_top: float
    edge_at: float
    transition: float

    def stops(self, y: F64) -> F64:
        """Density in stops at the shares ``y`` of the height from the top."""
        width = self.transition / (2.0 * math.log(9.0))
        at_top = 1.0 / (1.0 + math.exp(-self.edge_at / width))
        curve = 1.0 / (1.0 + np.exp(np.clip((y - self.edge_at) / width, -60.0, 60.0)))
        stops: F64 = self.stops_at_top * curve / at_top
        return stops

    def transmission(self, height: int) -> F32:
        """Share of light that passes per row of an upright picture, shape (height,)."""
        y = (np.arange(height) + 0.5) / height
        return np.exp2(-self.stops(y)).astype(np.float32)


def stacked_stops(filters: Sequence[NeutralFilter]) -> tuple[float, float, float]:
    """Add the stops of stacked filters (no light bounces between them), red, green, blue."""
    red = sum(f.stops_rgb[0] for f in filters)
    green = sum(f.stops_rgb[1] for f in filters)
    blue = sum(f.stops_rgb[2] for f in filters)
    return red, green, blue
