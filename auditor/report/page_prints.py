"""Print sheets: whether a frame carries a print, in words."""

from __future__ import annotations

from auditor.model.audit import PrintFit
from auditor.model.settings import PrintSettings
from auditor.print.fit import paper_words
from auditor.report import words
from auditor.report.page_records import Fact, PrintSheet


def print_sheet(fit: PrintFit, settings: PrintSettings) -> PrintSheet:
    """Word one frame's fit for the paper of these settings."""
    return PrintSheet(
        sentence=_sentence(fit, paper_words(settings)),
        sizes=tuple(
            Fact(
                f"{words.name(ppi)} px an inch",
                f"{width:.0f} × {height:.0f} cm",
                f"seen from {fit.viewing_cm[ppi]:.0f} cm or more" if ppi in fit.viewing_cm else "",
            )
            for ppi, (width, height) in fit.sizes_cm.items()
        ),
        notes=tuple(words.plain(note) for note in fit.notes),
    )


def _sentence(fit: PrintFit, paper_name: str) -> str:
    paper = f"{paper_name} holds {words.stops(fit.paper_range_stops)}"
    if fit.unfit_stops is None:
        return f"{paper}; the range of this frame's tones could not be measured."
    if fit.unfit_stops < 0.05:
        return f"{paper}, enough for this frame's tones."
    stops = words.stops(fit.unfit_stops)
    return (
        f"{paper}: compress this frame's tones by {stops} for it. Printed as it is, "
        f"{words.share(fit.merged_black_fraction)} would be below paper black and "
        f"{_in_white(fit.merged_white_fraction)} paper white."
    )


def _in_white(least: float) -> str:
    """Word a lower bound: tones are judged tile by tile, and a tile hides its brightest points."""
    return f"at least {words.share(least)}" if least > 0 else "small points at most"
