"""Tables on a sheet, a row a figure, a column a plane, and their sources; findings and notes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from auditor.model.audit import FrameResult
from auditor.model.numbers import counted_stops
from auditor.model.text import listed
from auditor.report.frame_records import FrameSheet
from auditor.report.page_channels import drawn_alone
from auditor.report.png_canvas import BODY, HEAD, SMALL, Canvas, line_height
from auditor.report.style import INK, SOFT_INK, TRACK
from auditor.words import values as words
from auditor.words.values import Fact, PlaneFigure

MOST_FINDINGS, MOST_NOTES = 8, 12
"""More are counted: the page tells them."""

LABEL_WIDTH, FACT_LABEL_WIDTH = 290, 190
ROW = line_height(SMALL) + 2


@dataclass(frozen=True, slots=True)
class Column:
    """A column of the sheet, pixels."""

    left: int
    width: int

    @property
    def right(self) -> int:
        """Its right edge."""
        return self.left + self.width


def halves(column: Column, gap: int) -> tuple[Column, Column]:
    """Return the two halves of a column with a gap between them."""
    width = (column.width - gap) // 2
    return Column(column.left, width), Column(column.right - width, width)


def channel_figures(sheet: FrameSheet, frame: FrameResult) -> dict[str, list[Fact]]:
    """Return each plane's figures by its name; both greens are one, "G", unless they differ."""
    facts: dict[str, list[Fact]] = {}
    order = list(PlaneFigure)
    for shown, channel in zip(sheet.channels, frame.channels, strict=True):
        noise, gain = words.source(channel.noise_source), channel.gain_dn_per_e
        own = (
            *shown.facts,
            # what only the sheet tells
            Fact(PlaneFigure.MEAN, counted_stops(channel.mean_stops)),
            Fact(PlaneFigure.BLOWN_FROM, _dn(channel.blown_from_dn)),
            Fact(PlaneFigure.CLAIMED, _dn(channel.white_tag_dn or None), "from metadata"),
            Fact(PlaneFigure.LINEAR, _dn(channel.linear_limit_dn)),
            Fact(PlaneFigure.READ_NOISE, _dn(channel.read_noise_dn, 2), noise),
            Fact(PlaneFigure.GAIN, "–" if gain is None else f"{gain:.3f} DN/e", noise),
            Fact(PlaneFigure.BLOWN_WITH_MORE, words.share(channel.blown_one_stop_more)),
            Fact(PlaneFigure.BLOCKED_WITH_LESS, words.share(channel.blocked_one_stop_less)),
        )
        facts[channel.name] = sorted(own, key=lambda fact: order.index(PlaneFigure(fact.label)))
    drawn = [shown.name for shown in drawn_alone(sheet.channels)]
    if "G" in drawn and "G" not in facts:
        facts["G"] = [
            Fact(one.label, _one_text(one.text, other.text), _one_text(one.remark, other.remark))
            for one, other in zip(facts["G1"], facts["G2"], strict=True)
        ]
    return {words.name(name): facts[name] for name in drawn}


def draw_channel_table(
    canvas: Canvas, column: Column, figures: Mapping[str, Sequence[Fact]], top: int
) -> int:
    """Draw the figures of all planes; return the y below."""
    canvas.text(column.left, top, column.width, "Figures of each channel", size=HEAD, bold=True)
    top += line_height(HEAD) + 2
    width = (column.width - LABEL_WIDTH) // max(1, len(figures))
    lefts = [column.left + LABEL_WIDTH + place * width for place in range(len(figures))]
    for left, name in zip(lefts, figures, strict=True):
        canvas.text(left, top, width - 10, name, bold=True)
    top += line_height(BODY)
    for row in zip(*figures.values(), strict=True):
        canvas.rule(column.left, column.right, top, TRACK)
        label = row[0].label
        canvas.text(column.left, top + 1, LABEL_WIDTH - 8, label, size=SMALL, colour=SOFT_INK)
        for left, fact in zip(lefts, row, strict=True):
            canvas.text(left, top + 1, width - 10, fact.text, size=SMALL)
        top += ROW
    canvas.rule(column.left, column.right, top, TRACK)
    return top + 1


def source_lines(figures: Mapping[str, Sequence[Fact]]) -> Iterator[str]:
    """Say where the figures of the planes are from, those of one source together."""
    told: dict[str, list[str]] = {}
    for row in zip(*figures.values(), strict=True):
        source = sources(list(figures), [fact.remark for fact in row])
        if source:
            told.setdefault(source, []).append(row[0].label)
    for source, labels in told.items():
        yield words.sentence(f"{listed(labels)}: {source}")


def _one_text(one: str, other: str) -> str:
    """Return the text that both share; else both, their unit once: "15870 and 15866 DN"."""
    if one == other:
        return one
    unit = f" {one.rpartition(' ')[2]}"
    return f"{one.removesuffix(unit) if other.endswith(unit) else one} and {other}"


def sources(names: Sequence[str], remarks: Sequence[str]) -> str:
    """Tell once what all planes share; else each source with the planes it holds for."""
    holds: dict[str, list[str]] = {}
    for name, remark in zip(names, remarks, strict=True):
        holds.setdefault(remark, []).append(name)
    if len(holds) == 1:
        return next(iter(holds))
    return "; ".join(f"{', '.join(planes)} {remark or '–'}" for remark, planes in holds.items())


def _dn(value: float | None, decimals: int = 0) -> str:
    return "–" if value is None else f"{value:.{decimals}f} DN"


def draw_facts(canvas: Canvas, column: Column, sheet: FrameSheet, top: int) -> int:
    """Draw the figures of the whole frame; return the y below."""
    canvas.text(column.left, top, column.width, "The frame", size=HEAD, bold=True)
    top += line_height(HEAD) + 2
    left, width = column.left + FACT_LABEL_WIDTH, column.width - FACT_LABEL_WIDTH
    for fact in sheet.facts:
        canvas.rule(column.left, column.right, top, TRACK)
        told = " · ".join(filter(None, (fact.text, fact.remark)))
        ends = [
            canvas.paragraph(start, top + 1, room, text, size=SMALL, colour=colour)
            for start, room, text, colour in (
                (column.left, FACT_LABEL_WIDTH - 10, fact.label, SOFT_INK),
                (left, width, told, INK),
            )
        ]
        top = max(ends) + 2
    return top


def draw_findings(
    canvas: Canvas, columns: tuple[Column, Column], sheet: FrameSheet, top: int
) -> int:
    """Write each finding with what to do next time and its caution; return the y below.

    Two columns are filled side by side, each finding into the shorter one.
    """
    canvas.text(columns[0].left, top, columns[0].width, "Findings", size=HEAD, bold=True)
    top += line_height(HEAD) + 4
    if not sheet.findings:
        return canvas.paragraph(columns[0].left, top, columns[0].width, "None.")
    ends = dict.fromkeys(columns, top)
    for finding in sheet.findings[:MOST_FINDINGS]:
        column = min(columns, key=lambda column: ends[column])
        left, width, top = column.left, column.width, ends[column]
        taken = canvas.text(left, top, width, finding.title, bold=True) + 12
        canvas.text(left + taken, top, width - taken, finding.severity_text, colour=SOFT_INK)
        top = canvas.paragraph(left, top + line_height(BODY), width, finding.text)
        if finding.next_time:
            told = f"Next time: {finding.next_time}"
            top = canvas.paragraph(left, top, width, told, colour=SOFT_INK)
        if finding.caution:
            top = canvas.paragraph(left, top, width, f"Caution: {finding.caution}")
        ends[column] = top + 10
    more = len(sheet.findings) - MOST_FINDINGS
    told = f"and {more} more" if more > 0 else ""
    return canvas.paragraph(columns[0].left, max(ends.values()), columns[0].width, told)


def noted(sheet: FrameSheet) -> list[str]:
    """Return the notes of the frame, and each of its planes' once."""
    planes: dict[str, list[str]] = {}
    for channel in sheet.channels:
        for note in channel.notes:
            planes.setdefault(note, []).append(channel.name)
    notes = list(sheet.notes)
    for note, names in planes.items():
        both = {"G1", "G2"} <= set(names)  # told as one
        named = ("G" if both and name in ("G1", "G2") else name for name in names)
        notes.append(f"{', '.join(dict.fromkeys(named))}: {note}")
    return notes


def draw_notes(canvas: Canvas, column: Column, notes: Sequence[str], top: int) -> int:
    """Write notes, the first of many; return the y below."""
    if not notes:
        return top
    canvas.text(column.left, top, column.width, "Notes", size=HEAD, bold=True)
    top += line_height(HEAD) + 2
    for note in notes[:MOST_NOTES]:
        top = canvas.paragraph(column.left, top, column.width, note) + 4
    more = len(notes) - MOST_NOTES
    told = f"and {more} more" if more > 0 else ""
    return canvas.paragraph(column.left, top, column.width, told)
