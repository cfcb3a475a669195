"""Will it print: how large, seen from where, and which tones a paper cannot hold.

The rendering that is assumed is plain on purpose. One stop of light is one stop of reflectance
on paper; each channel is white-balanced and clipped at saturation; the exposure is raised by
what the frame had to spare, so that its brightest channel just reaches paper white, and is
never lowered. A tone with the luminance share Y of white is printed at the density
``Dmin - log10 Y``, and where that is more than Dmax it merges into paper black. A curve that
lifts shadows or rolls off highlights moves tones about inside the paper's range; it cannot
widen it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import chain

import numpy as np

from auditor.light.optics import ACUITY_RADIANS
from auditor.model.arrays import F64, Bool
from auditor.model.audit import FrameResult, PrintFit
from auditor.model.errors import WrongCall
from auditor.model.numbers import STOPS_PER_DENSITY
from auditor.model.remark import RemarkCode
from auditor.model.settings import PrintSettings, Settings
from auditor.model.settled import SettledFrame
from auditor.model.shoot import ShootFrame, Spread, all_here, on_frames
from auditor.model.text import did_you_mean

LUMINANCE_WEIGHTS = {"R": 0.2126, "G": 0.7152, "B": 0.0722}
"""Of red, green and blue in a neutral print (ITU-R BT.709), applied to white-balanced sensor
values without a colour matrix: near enough for the question asked."""

CM_PER_INCH = 2.54


@dataclass(frozen=True, slots=True)
class Paper:
    """A kind of paper by the densities of its black and white.

    Dmin is common practice, for papers differ in their whiteness and few makers tell it.

    Parameters
    ----------
    source : str
        Where its black is from.
    """

    name: str
    dmax: float
    dmin: float
    source: str

    def settings(self) -> PrintSettings:
        """Return print settings for this paper, sizes as by default."""
        return PrintSettings(paper_dmax=self.dmax, paper_dmin=self.dmin)


_TESTS = "published tests of prints (imatest.com/solutions/dmax)"
_SURVEY = "a published survey of inkjet papers (swpp.co.uk, The whole range, 2010)"
PAPERS = {
    "canvas": Paper("canvas", 1.45, 0.07, f"{_SURVEY}: 1.4 to 1.5"),
    "cotton rag": Paper("matte cotton rag", 1.65, 0.05, f"{_SURVEY}: 1.6 to 1.7"),
    "matte": Paper("good matte", 1.7, 0.06, f"{_TESTS}: 1.7"),
    "gloss": Paper("good gloss, semigloss or lustre", 2.0, 0.06, f"{_TESTS}: 2.0"),
    "silver": Paper("glossy silver gelatin", 2.1, 0.06, "from memory: 2.0 to 2.2, air-dried fibre"),
    "baryta": Paper("baryta", 2.2, 0.06, f"{_SURVEY}: gloss barytas up to 2.2"),
    "best gloss": Paper("the deepest gloss", 2.3, 0.08, f"{_TESTS}: up to 2.3"),
    "best baryta": Paper(
        "the deepest baryta", 2.5, 0.06, "from memory: 2.4 to 2.6 with newer inks"
    ),
}


def paper_words(settings: PrintSettings) -> str:
    """Name the paper of some settings by its kind, where it is one of ours, and its black.

    A black that no publication was found for says that it is from memory.
    """
    asked = (settings.paper_dmax, settings.paper_dmin)
    kind = next((p for p in PAPERS.values() if (p.dmax, p.dmin) == asked), None)
    named = f"{kind.name if kind else ''} paper".strip()
    known = ", from memory" if kind and kind.source.startswith("from memory") else ""
    return (
        f"{named[0].upper()}{named[1:]} (black of density {round(settings.paper_dmax, 2)}{known})"
    )


def paper_range_stops(dmax: float, dmin: float) -> float:
    """Return what lies between paper white and paper black, ``(Dmax - Dmin) / log10 2`` stops."""
    return (dmax - dmin) * STOPS_PER_DENSITY


def viewing_distance_cm(ppi: float) -> float:
    """Return from how far a print shows no pixels: ``1 / (ppi tan 1')`` inches, 3438/ppi.

    One pixel then fills one arc minute; seen from nearer, more pixels an inch would show.
    """
    return CM_PER_INCH / (ppi * math.tan(ACUITY_RADIANS))


def print_size_cm(width_px: float, height_px: float, ppi: float) -> tuple[float, float]:
    """Return width and height of a print in centimetres."""
    return width_px / ppi * CM_PER_INCH, height_px / ppi * CM_PER_INCH


TOGETHER = 64
"""Frames whose prints are told in one piece of work: some 0.1 s."""


def print_fits(
    results: Sequence[FrameResult],
    frames: Sequence[ShootFrame],
    settings: PrintSettings,
    spread: Spread = all_here,
) -> list[PrintFit]:
    """Tell how each of some frames would print.

    Parameters
    ----------
    results, frames : sequence
        As judged and as measured, in one order.
    spread : Spread
        Does some work, here or elsewhere.
    """
    parts = [slice(start, start + TOGETHER) for start in range(0, len(frames), TOGETHER)]
    work = [on_frames(partial(_fits, results[part], settings), frames[part]) for part in parts]
    told = spread(work)
    return [*chain.from_iterable(told)]


def _fits(
    results: Sequence[FrameResult], settings: PrintSettings, frames: Sequence[ShootFrame]
) -> list[PrintFit]:
    told = zip(results, frames, strict=True)
    return [print_fit(result, frame.settled(), settings) for result, frame in told]


def print_fit(result: FrameResult, frame: SettledFrame, settings: PrintSettings) -> PrintFit:
    """Tell how a frame would print.

    Parameters
    ----------
    result : FrameResult
        For the orientation, the headroom, the tone range and the blown share.
    frame : SettledFrame
        For the tile means; tones are judged on them, so noise alone merges nothing. A mean hides
        the brightest points of its tile: shares of white are lower bounds.
    settings : PrintSettings
        Densities of the paper, pixels an inch.
    """
    height, width = (float(side) for side in frame.upright_size)
    for told in result.remarks:
        if told.code is RemarkCode.ODD_ASPECT:  # as drawn: the shorter side is lengthened
            turned = (frame.orientation or 1) >= 5
            aspect = 1.0 / told.number("aspect") if turned else told.number("aspect")
            width, height = width * max(1.0, aspect), height / min(1.0, aspect)
    span = paper_range_stops(settings.paper_dmax, settings.paper_dmin)
    tones = rendered_tones(frame, result.headroom_stops or 0.0)
    black, white = 2.0**-span, result.blown_all_fraction or 0.0
    return PrintFit(
        frame=result.id,
        sizes_cm={f"{ppi:g}": print_size_cm(width, height, ppi) for ppi in settings.sizes_ppi},
        viewing_cm={f"{ppi:g}": viewing_distance_cm(ppi) for ppi in settings.sizes_ppi},
        paper_range_stops=span,
        merged_black_fraction=tones.share(tones.brightest <= black),
        merged_white_fraction=max(white, tones.share(tones.darkest >= 1.0)),
        neutral_merged_black_fraction=tones.share(tones.luminance <= black),
        neutral_merged_white_fraction=max(white, tones.share(tones.luminance >= 1.0)),
        unfit_stops=None
        if result.tone_range_stops is None
        else max(0.0, result.tone_range_stops - span),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Tones:
    """The rendered picture in tiles, 1 is paper white.

    Parameters
    ----------
    brightest, darkest : array, shape (rows, cols)
        Of the colour channels; a tone is black only where even the brightest is.
    luminance : array, shape (rows, cols)
        Of the neutral print.
    area : array, shape (rows, cols)
        Share of the frame that each tile covers.
    """

    brightest: F64
    darkest: F64
    luminance: F64
    area: F64

    def share(self, chosen: Bool) -> float:
        """Return the share of the frame in the chosen tiles, of those that hold a tone."""
        known = np.isfinite(self.luminance)
        whole = float(self.area[known].sum())
        return float(self.area[known & chosen].sum()) / whole if whole > 0 else 0.0


def rendered_tones(frame: SettledFrame, raised_stops: float) -> Tones:
    """Render the tile means plainly: balance, raise, clip each channel at white."""
    balance = frame.measurement.facts.white_balance
    shares: dict[str, list[F64]] = {}
    for plane, mean_dn in zip(frame.planes, frame.maps.mean_dn, strict=True):
        colour = plane.name[0]
        gain = balance.get(colour, 1.0) * 2.0**raised_stops
        shares.setdefault(colour, []).append(mean_dn.astype(np.float64) / plane.span_dn * gain)
    colours = {name: np.clip(np.mean(parts, axis=0), 0.0, 1.0) for name, parts in shares.items()}
    stack = np.stack(list(colours.values()))
    # a monochrome sensor's only channel is its own luminance
    weights = {name: LUMINANCE_WEIGHTS.get(name, 1.0) for name in colours}
    parts = [colours[name] * (one / sum(weights.values())) for name, one in weights.items()]
    return Tones(
        brightest=stack.max(axis=0),
        darkest=stack.min(axis=0),
        luminance=np.asarray(np.sum(parts, axis=0), dtype=np.float64),
        area=frame.mosaic.tile_area,
    )


MOST_DMAX = 4.0
"""No paper is darker; reflection densitometers end about there."""


def with_paper(settings: Settings, name: str | None = None, dmax: float | None = None) -> Settings:
    """Return settings for a kind of paper, a measured black, or both; unchanged for neither.

    Parameters
    ----------
    name : str or None
        "matte", "gloss", "cotton-rag" ...: densities of :data:`auditor.print.fit.PAPERS`.
    dmax : float or None
        Optical density of the paper's black; wins over that of ``name``.

    Raises
    ------
    WrongCall
        There is no such paper, or the black is none that a paper has.
    """
    printing = settings.print
    if name is not None:
        paper = PAPERS.get(name.strip().lower().replace("-", " "))
        if paper is None:
            known = ", ".join(key.replace(" ", "-") for key in PAPERS)
            raise WrongCall(
                f"There is no paper {name[:40]!r}.{did_you_mean(name, known.split(', '))} "
                f"There are {known}."
            )
        printing = replace(printing, paper_dmax=paper.dmax, paper_dmin=paper.dmin)
    if dmax is not None:
        if not printing.paper_dmin < dmax <= MOST_DMAX:
            raise WrongCall(
                f"A paper's black of density {dmax:g} cannot be: it lies between the paper's "
                f"white ({printing.paper_dmin:g}) and {MOST_DMAX:g}. Good matte is 1.7, gloss 2.0."
            )
        printing = replace(printing, paper_dmax=dmax)
    return replace(settings, print=printing)
