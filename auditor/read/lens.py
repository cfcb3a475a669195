"""A lens told by its figures where a file holds no name of it."""

from __future__ import annotations

import math


def lens_by_figures(values: tuple[float, ...]) -> str:
    """Name a lens by its focal lengths and its widest apertures.

    Parameters
    ----------
    values : tuple of float
        Shortest and longest focal length in mm, the f-number at each; 0 for unknown.

    Returns
    -------
    str
        "24-70 mm f/2.8"; empty where the figures tell nothing.
    """
    if len(values) != 4 or not all(math.isfinite(value) for value in values):
        return ""
    shortest, longest, widest, widest_long = values
    if not 0 < shortest <= longest:
        return ""
    focal = f"{shortest:g}" if shortest == longest else f"{shortest:g}-{longest:g}"
    if min(widest, widest_long) <= 0:
        return f"{focal} mm"
    aperture = f"{widest:g}" if widest == widest_long else f"{widest:g}-{widest_long:g}"
    return f"{focal} mm f/{aperture}"
