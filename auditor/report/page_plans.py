"""Plans in words: the light of the day after, dark frames, ISOs, lasting hot pixels."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from auditor.model.audit import Audit, LastingHotPixels
from auditor.report import words
from auditor.report.frame_names import with_short_names
from auditor.report.page_records import PlanSheet
from auditor.words.light import FORECAST_NOTE, forecast_text
from auditor.words.next_time import dark_frame_lines, iso_lines


def plan_sheets(audit: Audit, names: Mapping[str, str]) -> tuple[PlanSheet, ...]:
    """Word what there is to plan from; a plan without a line is left out."""
    plans = (
        PlanSheet(
            title="The day after, at the same place",
            lines=tuple(_forecast_lines(audit)),
            note=FORECAST_NOTE,
        ),
        PlanSheet(
            title="Dark frames",
            lines=tuple(
                with_short_names(one, names) for one in dark_frame_lines(audit.dark_frames)
            ),
        ),
        PlanSheet(title="What each ISO holds", lines=tuple(iso_lines(audit.isos))),
    )
    return tuple(
        PlanSheet(
            title=plan.title, lines=tuple(words.plain(line) for line in plan.lines), note=plan.note
        )
        for plan in plans
        if plan.lines
    )


def _forecast_lines(audit: Audit) -> Iterator[str]:
    numbers = {setup.id: number for number, setup in enumerate(audit.setups, 1)}
    texts = {setup.id: setup.next_time.text for setup in audit.setups if setup.next_time}
    for row in audit.forecast:
        told = texts.get(row.setup, "")
        where = f"Set-up {numbers[row.setup]}" if row.setup in numbers else ""
        yield ": ".join(part for part in (forecast_text(row), where, told) if part) + "."


MOST_NAMED = 6
"""Places of more pixels than this are no reading matter: a file holds them."""


def lasting_lines(audit: Audit) -> tuple[str, ...]:
    """Tell each body's lasting hot pixels in one line: how many, and where, if they are few."""
    return tuple(_line(entry) for entry in audit.lasting_hot_pixels)


def _line(lasting: LastingHotPixels) -> str:
    stay = "pixel stays" if lasting.count == 1 else "pixels stay"
    return (
        f"{words.name(lasting.body)}: {lasting.count} {stay} hot from view to view, in "
        f"{words.counted(lasting.frames, 'frame')} looked at. {_places(lasting)}"
    )


def _places(lasting: LastingHotPixels) -> str:
    if lasting.count > MOST_NAMED:
        return "Their rows and columns are in audit.json."
    named = [
        f"{row}/{col} ({seen} frames)"
        for (row, col), seen in zip(lasting.positions, lasting.seen, strict=True)
    ]
    return f"Row/column: {', '.join(named)}."
