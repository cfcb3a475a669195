"""How pictures look here: neutral greys, calm, the same marks as in the page.

Colour never carries a meaning alone: blown is a hatch, blocked a stipple, planes are named.
Nothing in this file loads a drawing library.
"""

from __future__ import annotations

from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any

Colour = tuple[int, int, int]

PAPER: Colour = (244, 244, 244)
CARD: Colour = (255, 255, 255)
INK: Colour = (25, 25, 25)
SOFT_INK: Colour = (81, 81, 81)
LINE: Colour = (198, 198, 198)
TRACK: Colour = (218, 218, 218)
TONE: Colour = (137, 137, 137)
EDGE: Colour = (140, 140, 140)
PATTERN_BACK: Colour = (255, 255, 255)

PLANE_COLOURS: dict[str, Colour] = {
    "R": (165, 71, 46),
    "G": (61, 106, 55),
    "G1": (61, 106, 55),
    "G2": (61, 106, 55),
    "B": (49, 91, 146),
    "L": (96, 96, 96),
}
"""Muted, of about one lightness: they name the plane beside its letter, nothing more."""

HATCH_PERIOD_PX, HATCH_STROKE_PX = 7, 2
STIPPLE_PERIOD_PX, STIPPLE_DOT_PX = 6, 2

SOFTWARE = "exposure-auditor"
"""Written into each picture, so that a later audit knows which pictures are its own to replace."""


def chart_settings() -> dict[str, Any]:
    """Return the settings for charts; every text setting that could act on a file name is off."""
    return {
        "figure.facecolor": hexed(CARD),
        "axes.facecolor": hexed(CARD),
        "axes.edgecolor": hexed(LINE),
        "axes.linewidth": 0.8,
        "axes.spines.top": False,
        "axes.spines.right": False,
        "axes.spines.left": False,
        "lines.solid_capstyle": "butt",
        "patch.linewidth": 0.0,
        "path.simplify": True,
        "text.usetex": False,
        "text.parse_math": False,
        "savefig.dpi": 100,
        "figure.dpi": 100,
    }


def hexed(colour: Colour) -> str:
    """Return ``#rrggbb``."""
    return "#{:02x}{:02x}{:02x}".format(*colour)


@cache
def font_path(*, bold: bool = False) -> str:
    """Return the font file that comes with the charts' library; the library is not loaded."""
    found = find_spec("matplotlib")
    if found is None or found.origin is None:  # pragma: no cover - a declared dependency
        raise ModuleNotFoundError("matplotlib")
    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    return str(Path(found.origin).parent / "mpl-data" / "fonts" / "ttf" / name)
