"""The Python interface takes paths and times as people write them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from auditor import api
from auditor.model.errors import StoreRefused, WrongCall
from auditor.sidecar.marks import MARKS_SCHEMA


@pytest.fixture
def card(tmp_path: Path) -> Path:
    """A card with one file that holds nothing."""
    (tmp_path / "card").mkdir()
    (tmp_path / "card" / "A_0001.DNG").write_bytes(b"")
    return tmp_path / "card"


def test_an_audit_takes_one_path_by_itself_and_texts_for_paths(card: Path, tmp_path: Path) -> None:
    out, store = str(tmp_path / "out"), str(tmp_path / "store.sqlite")
    audit = api.audit_shoot(str(card), out, formats="json", store=store)
    assert audit.inputs == (str(card),)
    assert [frame.file for frame in audit.frames] == ["A_0001.DNG"]
    assert (tmp_path / "out" / "audit.json").exists()
    assert api.audit_shoot(card).inputs == api.audit_shoot([card]).inputs
    assert api.filters(store) == ()
    assert api.history(store) == api.history(Path(store))


def test_an_empty_text_is_no_path(card: Path) -> None:
    with pytest.raises(WrongCall, match="path is empty"):
        api.audit_shoot("")


def test_a_store_misspelt_is_refused_as_text_too(tmp_path: Path) -> None:
    with pytest.raises(StoreRefused, match="there is no store"):
        api.filters(str(tmp_path / "nowhere.sqlite"))


def test_a_frame_takes_texts_and_paths_and_writes_nothing(
    card: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    for path in (card / "A_0001.DNG", str(card / "A_0001.DNG")):
        frame = api.audit_frame(path)
        assert frame.error is not None
        assert frame.error.code == "empty"
    assert sorted(tmp_path.rglob("*")) == [card, card / "A_0001.DNG"]


def test_marks_are_applied_from_texts(card: Path, tmp_path: Path) -> None:
    marks = {"schema": MARKS_SCHEMA, "marks": [{"file": "A_0001.DNG", "mark": "keep"}]}
    (tmp_path / "marks.json").write_text(json.dumps(marks))
    report = api.apply_marks(str(tmp_path / "marks.json"), str(card))
    assert report.count("created") == 1
    assert (card / "A_0001.xmp").exists()


@pytest.mark.parametrize(("number", "text"), [(0.25, "0.25"), (4, "4"), (0.001, "0.001")])
def test_a_number_is_a_shutter_time_in_seconds(number: float, text: str) -> None:
    assert api.nd_time(number, stops=[6]) == api.nd_time(text, stops=[6])


@pytest.mark.parametrize("number", [0, -1, float("nan"), float("inf")])
def test_a_number_that_is_no_time_is_refused(number: float) -> None:
    with pytest.raises(WrongCall, match="no shutter time"):
        api.nd_time(number, stops=[6])
