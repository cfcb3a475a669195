"""Settings are read strictly, and every complaint names its place."""

from __future__ import annotations

from pathlib import Path

import pytest

from auditor.model.errors import BadSettings
from auditor.model.settings import Settings, load_settings


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
