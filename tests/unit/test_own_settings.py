"""Settings of one's own: read by every command, and shown with where each comes from."""

from __future__ import annotations

import json
import tomllib
from dataclasses import fields
from pathlib import Path

import platformdirs
import pytest

from auditor.commands import options
from auditor.commands.settings import VARIABLE, OwnSettings, as_toml, own_path, own_settings
from auditor.model.errors import BadSettings
from auditor.model.facts import Position
from auditor.model.settings import Settings
from auditor.report.write import MAIN_FILES
from tests.built_dng import flat, write_dng
from tests.unit.test_cli import auditor

WHOLE = """
place = "54.2,3.6"
paper = "matte"
out = "audits"
store = "/data/store.sqlite"
labels = ["Keep", "Second", "Drop"]
formats = "html, JSON"

[judge]
blown_limit = 0.002
"""


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "mine.toml"
    monkeypatch.setenv(VARIABLE, str(path))
    return path


def test_all_that_may_stand_there_is_taken(own: Path) -> None:
    own.write_text(WHOLE)
    found = own_settings()
    assert found.place == Position(54.2, 3.6)
    assert found.settings.print.paper_dmax == 1.7
    assert found.out == own.parent / "audits", "relative paths count from the file"
    assert found.store == Path("/data/store.sqlite")
    assert found.labels == ("Keep", "Second", "Drop")
    assert found.formats == ("html", "json")
    assert found.settings.judge.blown_limit == 0.002


def test_a_file_named_in_the_call_lies_over_ones_own(own: Path, tmp_path: Path) -> None:
    own.write_text(WHOLE)
    call = tmp_path / "call.toml"
    call.write_text("[judge]\nblown_limit = 0.001\n[print]\npaper_dmax = 1.6\n")
    found = own_settings(call)
    assert found.settings.judge.blown_limit == 0.001
    assert (found.settings.print.paper_dmax, found.settings.print.paper_dmin) == (1.6, 0.06)
    assert found.place == Position(54.2, 3.6)
    assert found.origins["judge.blown_limit"] == found.origins["print.paper_dmax"] == str(call)
    assert found.origins["place"] == found.origins["print.paper_dmin"] == str(own)


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        ("place = 'here'", "place takes LAT,LON"),
        ("place = [91, 0]", "no such place"),
        ("paper = 'mat'", "no paper 'mat'"),
        ("paper = 3", "paper must be a text"),
        ("store = ''", "store must be a text"),
        ("labels = ['a', 'b']", "labels must be three"),
        ("labels = [1, 2, 3]", "list of texts"),
        ("formats = ['htm']", "Did you mean html"),
        ("papper = 'matte'", "Did you mean paper"),
        ("[juge]\n", "Did you mean judge"),
        ("[judge]\nblown_limits = 1", "Did you mean blown_limit"),
        ("[judge]\nblown_limit = 2", "is a share"),
    ],
)
def test_what_cannot_be_is_refused_with_the_file_and_a_way_out(
    own: Path, text: str, complaint: str
) -> None:
    own.write_text(text)
    with pytest.raises(BadSettings, match=complaint) as refusal:
        own_settings()
    assert str(own) in str(refusal.value)


def test_without_a_variable_the_users_folder_is_looked_into(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv(VARIABLE)
    monkeypatch.setattr(platformdirs, "user_config_path", lambda *_a, **_k: tmp_path)
    assert own_path() == tmp_path / "settings.toml"
    assert own_settings() == OwnSettings()
    own_path().write_text("paper = 'gloss'")
    assert own_settings().paper == "gloss"


def test_a_file_that_the_variable_names_must_be_there(own: Path) -> None:
    with pytest.raises(BadSettings, match="cannot be read"):
        own_settings()


def test_what_is_shown_is_a_settings_file_that_says_the_same(own: Path) -> None:
    own.write_text(WHOLE)
    shown = as_toml(own_settings())
    assert (
        f"blown_limit = 0.002                       # {own}".split()
        == next(line for line in shown.splitlines() if line.startswith("blown_limit")).split()
    )
    assert "# default" in shown
    tables = tomllib.loads(shown)
    for section in fields(Settings):
        assert len(tables[section.name]) == len(fields(getattr(Settings(), section.name)))
    before = own_settings()
    own.write_text(shown)
    again = own_settings()
    assert (again.settings, again.place, again.formats) == (
        before.settings, before.place, before.formats,
    )  # fmt: skip


def test_the_command_shows_what_is_in_force(own: Path) -> None:
    own.write_text("formats = ['csv']")
    shown = auditor("settings")
    assert shown.returncode == 0
    assert shown.stdout.startswith(f"# Your own settings: {own}\n")
    assert 'formats = ["csv"]' in shown.stdout


def written(folder: Path) -> set[str]:
    """The reports; the folder's own record lies hidden beside them."""
    return {path.name for path in folder.iterdir() if not path.name.startswith(".")}


def test_an_audit_goes_by_ones_own_settings_unless_the_call_says_otherwise(
    own: Path, tmp_path: Path
) -> None:
    card = tmp_path / "card"
    card.mkdir()
    write_dng(card / "A_0001.DNG", flat())
    own.write_text("formats = ['json']\nplace = '54.2,3.6'\n[judge]\nblown_limit = 0.004\n")
    words = ("audit", str(card), "--no-store", "--quiet", "--out")
    assert auditor(*words, str(tmp_path / "own")).returncode == 0
    assert written(tmp_path / "own") == {"audit.json"}
    held = json.loads((tmp_path / "own" / "audit.json").read_bytes())
    assert held["settings"]["judge"]["blown_limit"] == 0.004
    assert auditor(*words, str(tmp_path / "call"), "-f", "CSV,md").returncode == 0
    assert written(tmp_path / "call") == {"frames.csv", "report.md"}


def test_the_formats_named_are_those_that_are_written() -> None:
    assert tuple(MAIN_FILES) == options.FORMATS
