"""The paper asked for, as settings."""

from __future__ import annotations

from dataclasses import replace

from auditor.model.errors import WrongCall
from auditor.model.settings import Settings
from auditor.model.text import did_you_mean
from auditor.print.fit import PAPERS

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
