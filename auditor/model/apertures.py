"""Nominal f-numbers against the true ones that they stand for.

Rings show rounded figures ("f/11"); apertures step by powers of two: ``N = 2^(i/6)`` for third
stops, so 11 is 11.31 and 22 is 22.63. Every exposure value and every difference counts by the true
one. Names after the third-, half- and full-stop tables that are common practice.
"""

from __future__ import annotations

from functools import cache
from typing import Literal, TypeAlias

Series: TypeAlias = Literal["third", "half", "full"]

STEPS_A_STOP: dict[Series, int] = {"third": 3, "half": 2, "full": 1}

_THIRD_F_NUMBERS = (
    "1 1.1 1.2 1.4 1.6 1.8 2 2.2 2.5 2.8 3.2 3.5 4 4.5 5 5.6 6.3 7.1 8 9 10 11 13 14 16 18 20 "
    "22 25 29 32 36 40 45 51 57 64"
)
_HALF_F_NUMBERS = "1 1.2 1.4 1.7 2 2.4 2.8 3.3 4 4.8 5.6 6.7 8 9.5 11 13 16 19 22 27 32 38 45 54 64"

SAME_NAME = 0.01
"""A written f-number is a ring's name when within this share of it."""

WIDEST_AS_MARKED = 1.2
"""Thirds and halves of a stop both have this name, for 1.26 and 1.19. Who sets it has the lens wide
open, all but those few lenses that are faster still; a lens's widest is as marked on it."""


def nominal_f_numbers(series: Series = "third") -> dict[str, float]:
    """Return the aperture names with the true f-number of each, ``N = 2^(i/2n)``."""
    steps = 2 * STEPS_A_STOP[series]
    names = (_HALF_F_NUMBERS if series == "half" else _THIRD_F_NUMBERS).split()
    return {
        name: 2.0 ** (i / steps) for i, name in enumerate(names[:: 3 if series == "full" else 1])
    }


@cache
def true_f_number(nominal: float) -> float:
    """Return the true f-number of a nominal one.

    Itself where no scale bears that name, and where it is a lens's widest (f/1.2).
    """
    if abs(WIDEST_AS_MARKED / nominal - 1.0) < SAME_NAME:
        return nominal
    orders: tuple[Series, ...] = ("third", "half")
    for order in orders:
        for name, exact in nominal_f_numbers(order).items():
            if abs(float(name) / nominal - 1.0) < SAME_NAME:
                return exact
    return nominal
