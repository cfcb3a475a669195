"""Settings are read strictly, and every complaint names its place."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from auditor.model.errors import BadSettings
from auditor.model.settings import (
    JudgeSettings,
    MeasureSettings,
    PrintSettings,
    Settings,
    load_settings,
)
from auditor.store.codec import CannotDecode, decode, encode


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "mine.toml"
    path.write_text(text)
    return path


def test_a_file_changes_only_what_it_names(tmp_path: Path) -> None:
    settings = load_settings(
        written(tmp_path, "[judge]\nblown_limit = 0.002\n[print]\nsizes_ppi=[150]")
    )
    assert settings.judge.blown_limit == 0.002
    assert settings.judge.dark_share == Settings().judge.dark_share
    assert settings.print.sizes_ppi == (150.0,)


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        ("[judges]\n", "no table"),
        ("judge = 3", "must be a table"),
        ("[judge]\nblown = 1", "no setting 'blown'"),
        ("[judge]\nblown_limit = 'x'", "positive number"),
        ("[judge]\nblown_limit = -1", "positive number"),
        ("[judge]\nblown_limit = inf", "positive number"),
        ("[measure]\npreview = 1", "true or false"),
        ("[print]\nsizes_ppi = 300", "list"),
        ("[measure]\nmemory_limit_mb = 0.5", "whole number"),
        ("[judge]\ndark_share = 5", "share"),
        ("[judge]\nblown_limit = 1.5", "share"),
        ("[judge]\nhistogram_step_stops = 1e-8", "between 0.01 and 2 stops"),
        ("[judge]\nhistogram_step_stops = 40", "between 0.01 and 2 stops"),
        ("[print]\npaper_dmax = 0.05", "paper_dmin must be less"),
        ("[judge", "not TOML"),
    ],
)
def test_what_cannot_be_is_refused(tmp_path: Path, text: str, complaint: str) -> None:
    with pytest.raises(BadSettings, match=complaint):
        load_settings(written(tmp_path, text))


def test_whole_numbers_may_be_written_with_a_point(tmp_path: Path) -> None:
    settings = load_settings(written(tmp_path, "[measure]\nmemory_limit_mb = 2048.0"))
    assert settings.measure.memory_limit_mb == 2048
    assert isinstance(settings.measure.memory_limit_mb, int)


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadSettings, match="cannot be read"):
        load_settings(tmp_path / "none.toml")


@pytest.mark.parametrize(
    ("make", "complaint"),
    [
        (lambda: JudgeSettings(blown_limit=float("nan")), r"\[judge\] blown_limit must be"),
        (lambda: JudgeSettings(dark_share=5), "is a share"),
        (lambda: JudgeSettings(histogram_step_stops=1e-8), "between 0.01 and 2"),
        (lambda: MeasureSettings(time_limit_s=True), "positive number"),
        (lambda: MeasureSettings(memory_limit_mb=0.5), "whole number"),  # type: ignore[arg-type]
        (lambda: MeasureSettings(preview=1), "true or false"),  # type: ignore[arg-type]
        (lambda: PrintSettings(paper_dmax=0.05), "paper_dmin must be less"),
        (lambda: PrintSettings(sizes_ppi=(300.0, -1.0)), "list of positive"),
    ],
)
def test_settings_made_in_python_are_held_to_the_same(
    make: Callable[[], Any], complaint: str
) -> None:
    with pytest.raises(BadSettings, match=complaint):
        make()


def test_a_value_takes_its_fields_type_so_that_the_same_settings_are_equal() -> None:
    made = MeasureSettings(time_limit_s=60)
    assert isinstance(made.time_limit_s, float)
    assert PrintSettings(sizes_ppi=[300, 240]).sizes_ppi == (300.0, 240.0)  # type: ignore[arg-type]
    assert PrintSettings(paper_dmin=0).paper_dmin == 0.0


def test_settings_in_a_store_that_cannot_be_are_a_damaged_record() -> None:
    with pytest.raises(CannotDecode, match="blown_limit"):
        decode(JudgeSettings, encode({"blown_limit": -1.0}))
