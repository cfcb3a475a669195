"""frames.csv: one row a frame, plain numbers, and no cell that acts."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pytest

from auditor.model.audit import Audit
from auditor.model.facts import ExposureFacts
from auditor.report.csv_report import LONGEST_CELL, csv_parts, safe_text
from tests.builders import make_audit
from tests.built_hostile import POISON
from tests.elsewhere import Elsewhere


def rows_of(content: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(content.decode("utf-8"), newline=""), strict=True))


@pytest.fixture(scope="module")
def audit() -> Audit:
    return make_audit(24)[0]


def test_one_row_a_frame_in_order(audit: Audit) -> None:
    rows = rows_of(b"".join(csv_parts(audit)))
    assert [row["file"] for row in rows] == [frame.file for frame in audit.frames]
    assert [row["verdict"] for row in rows] == [frame.verdict for frame in audit.frames]


def test_a_column_a_measure_and_a_channel(audit: Audit) -> None:
    row, frame = rows_of(b"".join(csv_parts(audit)))[5], audit.frames[5]
    for channel in frame.channels:
        assert float(row[f"{channel.name}_blown_fraction"]) == pytest.approx(
            channel.blown_fraction, rel=1e-6
        )
        assert float(row[f"{channel.name}_headroom_stops"] or "nan") == pytest.approx(
            channel.headroom_stops, abs=1e-4, nan_ok=True
        )
        assert row[f"{channel.name}_saturation_source"] == channel.saturation_source
    assert float(row["exposure_ev100"]) == pytest.approx(frame.exposure.ev100, abs=1e-4)
    assert row["exposure_flash"] == "false"
    assert row["preview_early_stops"] == "0.36"
    assert "L_median_stops" not in row


def test_unmeasured_is_empty_and_never_zero(audit: Audit) -> None:
    row = rows_of(b"".join(csv_parts(audit)))[23]
    assert row["status"] == "unreadable"
    assert row["error_code"] == "cut-off"
    measures = [name for name in row if name.endswith(("_fraction", "_stops", "_dn", "_share"))]
    assert len(measures) > 20
    assert {row[name] for name in measures} == {""}


def test_a_negative_number_stays_a_number(audit: Audit) -> None:
    frame = replace(audit.frames[0], exposure=ExposureFacts(bias_ev=-0.7))
    content = b"".join(csv_parts(replace(audit, frames=(frame,))))
    assert rows_of(content)[0]["exposure_bias_ev"] == "-0.7"
    assert b",-0.7," in content


@pytest.mark.parametrize(
    "text", ["=1+1", "+1", "-1", "@SUM(A1)", "  =1", "\t=1", "\r=1", "＝1", "-", "|calc"]
)
def test_no_text_starts_a_formula(audit: Audit, text: str) -> None:
    frame = replace(audit.frames[0], file=text)
    (row,) = rows_of(b"".join(csv_parts(replace(audit, frames=(frame,)))))
    assert not row["file"].lstrip().startswith(("=", "+", "-", "@", "＝", "|", "\t", "\r"))


def test_hostile_text_stays_in_its_cell() -> None:
    audit, _gallery = make_audit(24, hostile=True)
    content = b"".join(csv_parts(audit))
    rows = rows_of(content)
    assert len(rows) == 24
    assert content.count(b"\r\n") == content.count(b"\n") == 25
    lines = content.decode("utf-8").splitlines()
    assert len(lines) == 25
    assert all(line.replace("\u0301", "").isprintable() for line in lines)
    starts = {cell.lstrip()[:1] for row in rows for cell in row.values() if not _is_number(cell)}
    assert not starts & set("=+-@")


def test_texts_are_quoted_so_that_no_other_separator_splits_them(audit: Audit) -> None:
    frame = replace(audit.frames[0], file='a;=1+1;"b",c')
    assert b'"a;=1+1;""b"",c"' in b"".join(csv_parts(replace(audit, frames=(frame,))))


@pytest.mark.parametrize("poison", POISON, ids=range(len(POISON)))
def test_safe_text_fits_a_cell(poison: str) -> None:
    assert len(safe_text(poison * 20)) <= LONGEST_CELL + 1


def test_an_audit_of_nothing_still_has_its_columns(audit: Audit) -> None:
    content = b"".join(csv_parts(replace(audit, frames=())))
    assert content.startswith(b'"id","input","file",')
    assert rows_of(content) == []


def _is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True


def test_rows_written_elsewhere_are_the_same_to_the_last_byte(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("auditor.report.csv_report.AT_A_TIME", 7)
    audit, _ = make_audit(24)
    engine = Elsewhere()
    there = b"".join(csv_parts(audit, engine))
    assert there == b"".join(csv_parts(audit))
    assert engine.sent == 4
