"""How pictures look here: neutral greys, calm, the same marks as in the page.

Colour never carries a meaning alone: blown is a hatch, blocked a stipple, planes are named.
Nothing in this file loads a drawing library.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
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

PALETTE: dict[str, tuple[str, str]] = {
    "paper": ("#e6e6e6", "#171717"),
    "sheet": ("#f4f4f4", "#202020"),
    "raised": ("#ffffff", "#2a2a2a"),
    "ink": ("#191919", "#e6e6e6"),
    "soft": ("#515151", "#adadad"),
    "rule": ("#c6c6c6", "#444444"),
    "faint": ("#dadada", "#2d2d2d"),
    "accent": ("#0b5a61", "#8cc7ca"),
    "on-accent": ("#ffffff", "#0d2426"),
    "surround": ("#d2d2d2", "#0f0f0f"),
    "r": ("#a5472e", "#e3907a"),
    "g": ("#3d6a37", "#92c288"),
    "b": ("#315b92", "#93b7e8"),
}
"""Colours of the pages by name: by day, and in the dark. Greys are neutral, so that nothing tints
a picture beside them; there is one accent."""


WEDGE_STEPS = 13
"""Of the wedge at the head of a page."""


def palette_css() -> str:
    """Return the palette as custom properties of a style sheet."""
    lines = "".join(
        f"--{name}: light-dark({day}, {dark}); " for name, (day, dark) in PALETTE.items()
    )
    greys = wedge_greys(WEDGE_STEPS)
    width = 100 / WEDGE_STEPS
    steps = ", ".join(
        f"rgb({grey} {grey} {grey}) {width * step:.2f}% {width * (step + 1):.2f}%"
        for step, grey in enumerate(greys)
    )
    return f":root {{ {lines}--wedge: linear-gradient(90deg, {steps}); }}\n"


def wedge_greys(steps: int) -> list[int]:
    """Return the greys of a step wedge, dark first, even to the eye (CIE L* in even steps)."""
    greys = []
    for step in range(steps):
        lightness = 10.0 + 87.0 * step / max(1, steps - 1)
        linear = ((lightness + 16) / 116) ** 3  # Y of CIE L* above 8 (CIE 15)
        # encoded by IEC 61966-2-1; the darkest step lies above the straight part of both curves
        greys.append(round(255 * (1.055 * linear ** (1 / 2.4) - 0.055)))
    return greys


@dataclass(frozen=True, slots=True)
class Pattern:
    """A hatch of slanting strokes, or a stipple of dots in rows that are shifted by half.

    Parameters
    ----------
    period, mark : float
        Pixels from one stroke or dot to the next, and of a stroke's width or a dot's diameter.
    """

    period: float
    mark: float


HATCH, STIPPLE = Pattern(7, 2), Pattern(6, 2)
"""On pictures: blown, blocked."""

PAGE_PATTERNS = {
    "hatch": Pattern(5, 1.7),
    "stipple": Pattern(5, 1.9),
    "hatch_photo": Pattern(9, 1.8),
    "stipple_photo": Pattern(9, 4.4),
}
"""In the page, whose pixels are larger: on its drawings, and in two tones on photographs."""

SHORTEST_CAP_PX, FAINTEST_SHARE = 3, 1e-5
"""A cap beyond the end of a bar says how much is lost; no share is hidden."""

OPEN_STOPS = 1.2
"""How long a slice of the wedge is whose dark end was not measured."""


def cap_length(share: float | None, longest_px: int) -> int:
    """Return the length of a hatched or stippled cap, pixels: it grows with the logarithm.

    A tenth of the share is a fifth shorter.
    """
    if not share:
        return 0
    part = 1.0 - math.log10(max(share, FAINTEST_SHARE)) / math.log10(FAINTEST_SHARE)
    return max(SHORTEST_CAP_PX, round(longest_px * part))


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
