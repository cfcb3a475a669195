"""The paper asked for on the command line."""

from __future__ import annotations

import json
import math
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from auditor.model.errors import WrongCall
from auditor.model.settings import PrintSettings, Settings
from auditor.print.fit import paper_range_stops, with_paper
from tests.built_dng import flat, write_dng


@pytest.mark.parametrize(
    ("name", "dmax", "stops"), [("matte", 1.7, 5.4), ("gloss", 2.0, 6.4), ("Best-Gloss", 2.3, 7.4)]
)
def test_presets_by_value(name: str, dmax: float, stops: float) -> None:
    """Dmax of good matte, good gloss and the deepest papers: published tests of papers."""
    told = with_paper(Settings(), name).print
    assert told.paper_dmax == dmax
    assert paper_range_stops(told.paper_dmax, told.paper_dmin) == pytest.approx(stops, abs=0.1)


def test_a_measured_black_wins_over_the_preset() -> None:
    told = with_paper(Settings(), "matte", 1.65).print
    assert (told.paper_dmax, told.paper_dmin) == (1.65, 0.06)
    assert with_paper(Settings(), dmax=1.5).print.paper_dmax == 1.5


def test_other_print_settings_stay() -> None:
    own = Settings(print=PrintSettings(paper_dmax=1.9, sizes_ppi=(200.0,)))
    assert with_paper(own) == own
    assert with_paper(own, "gloss").print.sizes_ppi == (200.0,)
    assert replace(with_paper(own, "gloss"), print=own.print) == own


@pytest.mark.parametrize("dmax", [0.0, 0.06, -1.0, 4.1, math.inf, math.nan])
def test_a_black_that_no_paper_has_is_refused(dmax: float) -> None:
    with pytest.raises(WrongCall, match="cannot be"):
        with_paper(Settings(), dmax=dmax)


def test_an_unknown_paper_is_refused_with_those_there_are() -> None:
    with pytest.raises(WrongCall, match="canvas, cotton-rag, matte, gloss"):
        with_paper(Settings(), "newsprint")


def audit_of_one(tmp_path: Path, *words: str) -> subprocess.CompletedProcess[str]:
    (tmp_path / "card").mkdir()
    write_dng(tmp_path / "card" / "A_0001.DNG", flat())
    fixed = ("audit", str(tmp_path / "card"), "--out", str(tmp_path / "out"), "--no-store")
    return subprocess.run(
        [sys.executable, "-m", "auditor", *fixed, "--format", "json", *words],
        capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip


def test_the_command_line_wins_over_the_settings_file(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text("[print]\npaper_dmax = 1.9\nsizes_ppi = [200]\n", encoding="utf-8")
    words = ("--settings", str(own), "--paper", "best-gloss", "--paper-dmax", "2.2")
    assert audit_of_one(tmp_path, *words).returncode == 0
    told = json.loads((tmp_path / "out" / "audit.json").read_text(encoding="utf-8"))
    assert told["settings"]["print"] == {
        "paper_dmax": 2.2,
        "paper_dmin": 0.08,
        "sizes_ppi": [200.0],
        "viewing_diagonals": 1.0,
    }


@pytest.mark.parametrize("words", [("--paper", "newsprint"), ("--paper-dmax", "9")])
def test_a_wrong_paper_is_a_wrong_call_and_writes_nothing(
    tmp_path: Path, words: tuple[str, str]
) -> None:
    refused = audit_of_one(tmp_path, *words)
    assert refused.returncode == 2
    assert words[1] in refused.stderr
    assert not (tmp_path / "out").exists()
