"""report.md says what the page says, and nothing from a file becomes markup."""

from __future__ import annotations

from dataclasses import replace

import pytest
from markdown_it import MarkdownIt
from markdown_it.token import Token

from auditor.model.audit import Lesson
from auditor.model.codes import FrameStatus
from auditor.model.text import visible
from auditor.report.markdown_report import escaped
from auditor.report.page import build_page
from auditor.words.kinds import KINDS
from tests.builders import make_audit
from tests.built_hostile import POISON
from tests.html_page import as_markdown

HEADINGS = {
    "Exposure audit", "Worth acting on", "Cautions", "Set-ups", "Frames",
    "Files that could not be read", "What the findings mean", "Definitions", "Settings", "Notes",
    "Next time, set-up by set-up", "The day after, at the same place", "Dark frames",
    "What each ISO holds",
}  # fmt: skip
MARKUP = {"link_open", "image", "html_inline", "html_block", "code_inline", "fence", "code_block",
          "em_open", "s_open", "blockquote_open", "ordered_list_open", "hr"}  # fmt: skip


def parsed(text: str) -> list[Token]:
    """Every token, the inline ones too, by the reference reading of CommonMark with tables."""
    reader = MarkdownIt("commonmark").enable(["table", "strikethrough"])
    return [t for token in reader.parse(text) for t in (token, *(token.children or ()))]


ODD = [
    "# head", "## x", "- item", "+ item", "* item", "1. item", "2) item", "= x", "===", "---",
    "> quote", "```", "~~~", "~~x~~", "| a | b |", "[a](javascript:b)", "![a](b)", "<b>x</b>",
    "&lt;&#x202e;", "a  \nb", "    code", "_a_ *b* **c** `d`", "\\", "a\\",
    "http://nowhere.invalid", "www.nowhere.invalid", "a@nowhere.invalid",
    "<http://nowhere.invalid>", "0.31 %", "-0.3", "1/125 s",
]  # fmt: skip


@pytest.mark.parametrize("text", [*POISON, *ODD], ids=range(len(POISON) + len(ODD)))
def test_escaped_text_is_shown_as_it_is(text: str) -> None:
    clear = visible(text)
    tokens = parsed(escaped(clear))
    assert {t.type for t in tokens} <= {"paragraph_open", "inline", "text", "paragraph_close"}
    assert "".join(t.content for t in tokens if t.type == "text") == " ".join(clear.split())


def test_plain_figures_are_left_alone() -> None:
    assert escaped("0.31 % of S0001.dng, -0.3 stop, 1/125 s") == (
        "0.31 % of S0001.dng, -0.3 stop, 1/125 s"
    )


@pytest.mark.parametrize("hostile", [False, True])
def test_the_report_holds_our_headings_and_no_link_or_markup(hostile: bool) -> None:
    audit, _gallery = make_audit(24, hostile=hostile)
    tokens = parsed(as_markdown(audit, KINDS))
    assert not {t.type for t in tokens} & MARKUP
    tops = [
        tokens[i + 1].content
        for i, token in enumerate(tokens)
        if token.type == "heading_open" and token.tag in ("h1", "h2")
    ]
    assert tops[0] == "Exposure audit"
    assert set(tops) <= HEADINGS


def test_every_frame_has_its_row_and_every_lesson_its_line() -> None:
    audit, _gallery = make_audit(24)
    page = build_page(audit, KINDS)
    text = as_markdown(audit, KINDS)
    for frame in page.frames:
        assert text.count(f"| {frame.name} |") == (frame.status == FrameStatus.MEASURED)
    for lesson in page.lessons:
        assert f"- **{escaped(lesson.text)}**" in text
    assert ".." not in text
    assert all(escaped(caution) in text for caution in page.cautions)
    assert escaped(page.unreadable[0].error_text) in text


def test_a_lesson_names_some_of_its_frames_and_counts_the_others() -> None:
    audit, _gallery = make_audit(24)
    ids = tuple(frame.id for frame in audit.frames)
    lesson = Lesson("Many.", "Evidence that ends as a sentence does.", ids, "x")
    text = as_markdown(replace(audit, lessons=(lesson,)), KINDS)
    assert "- **Many.** Evidence that ends as a sentence does. Frames: S0001.dng, " in text
    assert "S0012.dng and 12 more." in text


def test_tables_keep_their_columns_whatever_the_cells_hold() -> None:
    audit, _gallery = make_audit(24, hostile=True)
    tokens = parsed(as_markdown(audit, KINDS))
    widths: list[int] = []
    for token in tokens:
        if token.type == "tr_open":
            widths.append(0)
        elif token.type in ("td_open", "th_open"):
            widths[-1] += 1
    assert widths.count(9) == 1 + sum(f.status == FrameStatus.MEASURED for f in audit.frames)


def test_what_is_told_of_a_pair_lies_under_it_and_keepers_are_to_be_kept() -> None:
    audit, _gallery = make_audit(24)
    text = as_markdown(audit, KINDS)
    assert "\n  - Confidence: " in text
    assert "\n- Confidence: " not in text
    assert "\n- Best unfiltered frame: S0001.dng. " in text
    levels = {t.level for t in parsed(text) if t.type == "bullet_list_open"}
    assert levels == {0, 2}
