"""Tables on a sheet: a row a figure, a column a plane, and where each figure is from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from auditor.model.audit import ChannelFigures, FrameResult
from auditor.model.text import listed
from auditor.report.frame_records import FrameSheet
from auditor.report.page_channels import drawn_alone
from auditor.report.png_canvas import BODY, HEAD, SMALL, Canvas, line_height
from auditor.report.style import INK, SOFT_INK, TRACK
from auditor.words import values as words
from auditor.words.values import Fact

ORDER = (
    "Blown", "Blown with a stop less", "Blown with a stop more", "Headroom",
    "Blocked", "Blocked with a stop more", "Blocked with a stop less", "Shadow room",
    "At or under black", "Median under saturation", "Mean under saturation",
    "Range of the sensor", "Saturation", "Blown from", "Saturation as claimed", "Linear up to",
    "Black", "Noise floor", "Read noise", "Gain",
)  # fmt: skip
"""Related figures stand together; a figure that is not named here comes last."""

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
    for shown, channel in zip(sheet.channels, frame.channels, strict=True):
        own = (*shown.facts, *_further(channel))
        places = {label: place for place, label in enumerate(ORDER)}
        facts[channel.name] = sorted(own, key=lambda fact: places.get(fact.label, len(ORDER)))
    return {
        words.name(shown.name): facts.get(shown.name) or _both(facts["G1"], facts["G2"])
        for shown in drawn_alone(sheet.channels)
    }


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


def _both(first: Sequence[Fact], second: Sequence[Fact]) -> list[Fact]:
    """Tell the figures of two planes as one; where they print otherwise, both."""
    return [
        Fact(one.label, _one_text(one.text, other.text), _one_text(one.remark, other.remark))
        for one, other in zip(first, second, strict=True)
    ]


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
