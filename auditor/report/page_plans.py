"""Plans in words: the light of the day after, dark frames to take, what each ISO costs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from auditor.model.audit import Audit
from auditor.report import words
from auditor.report.frame_names import with_short_names
from auditor.report.page_records import PlanSheet
from auditor.words.dark_frames import dark_frame_lines
from auditor.words.isos import iso_lines
from auditor.words.light import FORECAST_NOTE, forecast_text


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
    return tuple(_plain(plan) for plan in plans if plan.lines)


def _forecast_lines(audit: Audit) -> Iterator[str]:
    numbers = {setup.id: number for number, setup in enumerate(audit.setups, 1)}
    texts = {setup.id: setup.next_time.text for setup in audit.setups if setup.next_time}
    for row in audit.forecast:
        told = texts.get(row.setup, "")
        where = f"Set-up {numbers[row.setup]}" if row.setup in numbers else ""
        yield ": ".join(part for part in (forecast_text(row), where, told) if part) + "."


def _plain(plan: PlanSheet) -> PlanSheet:
    return PlanSheet(
        title=plan.title, lines=tuple(words.plain(line) for line in plan.lines), note=plan.note
    )
