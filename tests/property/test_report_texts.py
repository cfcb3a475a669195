"""Any text at all can be told in every format, and none of it acts or hides."""

from __future__ import annotations

import csv
import io
import json
import unicodedata
from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from auditor.model.audit import FrameResult
from auditor.model.text import encodable, visible
from auditor.report.csv_report import csv_parts, safe_text
from auditor.report.frame_names import safe_name
from auditor.report.json_report import build_frame_json
from auditor.report.markdown_report import escaped
from auditor.report.png_canvas import fitted, wrapped
from tests.builders import make_audit

anything = st.text(st.characters(), max_size=80)
READER = MarkdownIt("commonmark").enable(["table", "strikethrough"])
AUDIT = make_audit(1)[0]
FRAME: FrameResult = AUDIT.frames[0]


@given(anything)
def test_visible_text_hides_nothing_and_can_be_written(text: str) -> None:
    shown = visible(text)
    assert shown.encode("utf-8").decode("utf-8") == visible(shown) == shown
    assert not {unicodedata.category(c) for c in shown} & {"Cc", "Cf", "Cs", "Zl", "Zp"}


@given(st.text(st.characters(categories=["L", "N", "P", "S"]), max_size=40))
def test_visible_text_leaves_what_can_be_seen(text: str) -> None:
    assert visible(text) == text


@given(st.binary(max_size=20))
def test_a_name_of_bytes_keeps_every_byte_in_sight(name: bytes) -> None:
    text = name.decode("utf-8", "surrogateescape")
    for told in (visible(text), encodable(text)):
        told.encode("utf-8")
        assert told.count("\\x") >= sum("\udc80" <= char <= "\udcff" for char in text)


@given(anything)
def test_no_cell_starts_a_formula_and_none_leaves_its_row(text: str) -> None:
    content = b"".join(csv_parts(replace(AUDIT, frames=(replace(FRAME, file=text),)))).decode(
        "utf-8"
    )
    head, row = csv.reader(io.StringIO(content, newline=""), strict=True)
    assert len(head) == len(row)
    told = row[head.index("file")]
    assert told == safe_text(text)
    assert not told.lstrip().startswith(("=", "+", "-", "@", "＝", "＋", "－", "＠"))


@given(anything)
def test_json_tells_any_text(text: str) -> None:
    told = json.loads(build_frame_json(replace(FRAME, file=text, notes=(text,))))
    assert told["file"] == told["notes"][0] == encodable(text)


@given(anything)
def test_markdown_shows_any_text_as_text(text: str) -> None:
    line = visible(text)
    inline = READER.parseInline(f"x{escaped(line)}")[0].children or []
    assert all(token.type == "text" for token in inline)
    assert "".join(token.content for token in inline) == f"x{' '.join(line.split())}".strip()


@given(anything)
def test_markdown_starts_no_block_by_any_text(text: str) -> None:
    blocks = {token.type for token in READER.parse(escaped(visible(text)))}
    assert blocks <= {"paragraph_open", "inline", "paragraph_close"}


@given(anything, st.integers(1, 300))
def test_a_line_is_fitted_to_any_width(text: str, width: int) -> None:
    shown = visible(text)
    assert fitted(shown, 10_000, 13) == shown
    assert len(wrapped(shown, width, 13, 3)) <= 3
    assert len(fitted(shown, width, 13)) <= len(shown) + 1


@given(anything)
def test_file_names_are_plain(text: str) -> None:
    name = safe_name(text)
    assert name.isascii()
    assert 0 < len(name) <= 81
    assert not set(name) & set('/\\:*?"<>| ')
