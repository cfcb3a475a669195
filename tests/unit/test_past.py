"""What is told of the store: the one that was named, and what became of it if it was damaged."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from auditor import past
from auditor.model.errors import StoreRefused
from auditor.store.store import Store
from tests.store_frames import SETTINGS, audit, measurement


@pytest.fixture
def damaged(tmp_path: Path) -> Path:
    path = tmp_path / "s.sqlite"
    with Store.open(path) as store:
        store.put("key", SETTINGS, measurement(1))
        store.save_shoot(audit(1, 2))
    with path.open("r+b") as stream:
        stream.write(os.urandom(200))
    return path


def test_a_store_misspelt_is_refused_and_not_made(tmp_path: Path) -> None:
    absent = tmp_path / "memroy.sqlite"
    for ask in (past.remembered_filters, past.remembered_history, past.verify_store):
        with pytest.raises(StoreRefused, match="there is no store"):
            ask(absent)
    with pytest.raises(StoreRefused, match="there is no store"):
        past.export_store(absent, tmp_path / "copy.sqlite")
    assert list(tmp_path.iterdir()) == []


def test_before_the_first_audit_there_is_nothing_to_tell_and_nothing_is_made(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    monkeypatch.setenv("HOME", str(tmp_path))
    assert past.remembered_filters(None) == ()
    assert past.remembered_history(None).shoots == 0
    with pytest.raises(StoreRefused, match="there is no store"):
        past.verify_store(None)
    assert list(tmp_path.iterdir()) == []


def test_a_history_says_that_its_store_was_damaged(damaged: Path) -> None:
    assert "set aside as" in " ".join(past.remembered_history(damaged).notes)
    assert past.remembered_history(damaged).notes == past.remembered_history(damaged).notes
    assert "set aside" not in " ".join(past.remembered_history(damaged).notes)


def test_filters_exports_and_imports_say_that_their_store_was_damaged(
    damaged: Path, tmp_path: Path
) -> None:
    content = damaged.read_bytes()
    told: list[str] = []
    past.remembered_filters(damaged, told.append)
    damaged.write_bytes(content)
    past.export_store(damaged, tmp_path / "copy.sqlite", told.append)
    damaged.write_bytes(content)
    past.import_store(damaged, tmp_path / "copy.sqlite", told.append)
    assert ["set aside as" in text for text in told] == [True] * 3


def test_unless_somebody_listens_it_is_a_warning(damaged: Path) -> None:
    with pytest.warns(UserWarning, match="set aside as"):
        past.remembered_filters(damaged)
