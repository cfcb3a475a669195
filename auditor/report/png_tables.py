"""Tables on a sheet: a row a figure, a column a plane, and where each figure is from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from auditor.model.audit import ChannelFigures, FrameResult
from auditor.report import words
from auditor.report.page_records import Fact, FrameSheet
from auditor.report.png_canvas import Canvas, line_height
from auditor.report.style import SOFT_INK, TRACK

ORDER = (
    "Blown", "Blown with a stop less", "Blown with a stop more", "Headroom",
    "Blocked", "Blocked with a stop more", "Blocked with a stop less", "Shadow room",
    "At or under black", "Median under saturation", "Mean under saturation",
    "Range of the sensor", "Saturation", "Blown from", "Saturation as claimed", "Linear up to",
    "Black", "Noise floor", "Read noise", "Gain",
)  # fmt: skip
"""Related figures stand together; a figure that is not named here comes last."""

SIZE, LABEL_WIDTH, SOURCE_WIDTH, FACT_LABEL_WIDTH = 12, 190, 340, 165
ROW = line_height(SIZE) + 2


@dataclass(frozen=True, slots=True)
class Column:
    """A column of the sheet, pixels."""

    left: int
    width: int

    @property
    def right(self) -> int:
        """Its right edge."""
        return self.left + self.width


def draw_channel_table(
    canvas: Canvas, column: Column, sheet: FrameSheet, frame: FrameResult, top: int
) -> int:
    """Draw the figures of all planes; return the y below."""
    canvas.text(column.left, top, column.width, "Figures of each channel", size=15, bold=True)
    top += line_height(15) + 2
    names = [words.name(channel.name) for channel in frame.channels]
    facts = [
        _ordered((*shown.facts, *_further(channel)))
        for shown, channel in zip(sheet.channels, frame.channels, strict=True)
    ]
    width = (column.width - LABEL_WIDTH - SOURCE_WIDTH) // max(1, len(names))
    lefts = [column.left + LABEL_WIDTH + place * width for place in range(len(names))]
    for left, name in zip(lefts, names, strict=True):
        canvas.text(left, top, width - 10, name, size=13, bold=True)
    top += line_height(13)
    for row in zip(*facts, strict=True):
        top = _draw_row(canvas, column, list(zip(lefts, names, row, strict=True)), width, top)
    return top


def _draw_row(
    canvas: Canvas, column: Column, cells: list[tuple[int, str, Fact]], width: int, top: int
) -> int:
    """Draw one figure of all planes, and its source in the last column; return the y below."""
    canvas.rule(column.left, column.right, top, TRACK)
    label = cells[0][2].label if cells else ""
    canvas.text(column.left, top + 1, LABEL_WIDTH - 8, label, size=SIZE, colour=SOFT_INK)
    for left, _, fact in cells:
        canvas.text(left, top + 1, width - 10, fact.text, size=SIZE)
    source = sources([name for _, name, _ in cells], [fact.remark for _, _, fact in cells])
    start = column.right - SOURCE_WIDTH
    below = canvas.paragraph(
        start, top + 1, SOURCE_WIDTH, source, size=SIZE, colour=SOFT_INK, most_lines=2
    )
    return max(top + ROW, below + 1)


def sources(names: Sequence[str], remarks: Sequence[str]) -> str:
    """Tell once what all planes share; else each source with the planes it holds for."""
    holds: dict[str, list[str]] = {}
    for name, remark in zip(names, remarks, strict=True):
        holds.setdefault(remark, []).append(name)
    if len(holds) == 1:
        return next(iter(holds))
    return "; ".join(f"{', '.join(planes)} {remark or '–'}" for remark, planes in holds.items())


def _ordered(facts: Sequence[Fact]) -> list[Fact]:
    return sorted(
        facts, key=lambda fact: ORDER.index(fact.label) if fact.label in ORDER else len(ORDER)
    )


def _further(channel: ChannelFigures) -> tuple[Fact, ...]:
    """Figures that only the sheet tells."""
    noise, gain = words.source(channel.noise_source), channel.gain_dn_per_e
    return (
        Fact("Mean under saturation", words.stops(channel.mean_stops)),
        Fact("Blown from", _dn(channel.blown_from_dn)),
        Fact("Saturation as claimed", _dn(channel.white_tag_dn or None), "from metadata"),
        Fact("Linear up to", _dn(channel.linear_limit_dn)),
        Fact("Read noise", _dn(channel.read_noise_dn, 2), noise),
        Fact("Gain", "–" if gain is None else f"{gain:.3f} DN/e", noise),
        Fact("Blown with a stop more", words.share(channel.blown_one_stop_more)),
        Fact("Blocked with a stop less", words.share(channel.blocked_one_stop_less)),
    )


def _dn(value: float | None, decimals: int = 0) -> str:
    return "–" if value is None else f"{value:.{decimals}f} DN"


def draw_facts(canvas: Canvas, column: Column, sheet: FrameSheet, top: int) -> int:
    """Draw the figures of the whole frame; return the y below."""
    canvas.text(column.left, top, column.width, "The frame", size=15, bold=True)
    top += line_height(15) + 2
    left, width = column.left + FACT_LABEL_WIDTH, column.width - FACT_LABEL_WIDTH
    for fact in sheet.facts:
        canvas.rule(column.left, column.right, top, TRACK)
        canvas.text(
            column.left, top + 1, FACT_LABEL_WIDTH - 8, fact.label, size=SIZE, colour=SOFT_INK
        )
        below = canvas.paragraph(left, top + 1, width, fact.text, size=SIZE, most_lines=3)
        below = canvas.paragraph(
            left, below, width, fact.remark, size=11, colour=SOFT_INK, most_lines=2
        )
        top = below + 2
    return top
