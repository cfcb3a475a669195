"""Conclusions are recalled while nothing has changed, and drawn anew when anything has."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from auditor.audit import run_audit
from auditor.conclude import Conclusions, conclude
from auditor.files.program import program_digest
from auditor.model.audit import Audit
from auditor.model.codes import FrameStatus
from auditor.model.facts import CardFile, Position
from auditor.model.remark import RemarkCode, remark
from auditor.model.settings import JudgeSettings, Settings
from auditor.read.exif_tags import FIRST_DIRECTORY_ISO
from auditor.report.json_report import json_parts
from auditor.request import AuditRequest
from auditor.store.store import Store
from tests.built_dng import SHORT, WHITE, write_dng
from tests.evening_audit import KeepingListener
from tests.store_frames import CUT_OFF, SETTINGS, audit, measurement

FILE = CardFile("a.dng", 0, "card/a.dng", "a.dng", "dng", 1000, "key")


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path / "store.sqlite") as opened:
        opened.put("key", SETTINGS, measurement(1))
        yield opened


class Concluding:
    """Concludes an audit of its own at each call, and counts the calls."""

    def __init__(self) -> None:
        self.count = 0

    def __call__(self) -> Audit:
        self.count += 1
        return audit(self.count)


def asked(
    store: Store, conclude: Concluding, *inputs: Any, files: tuple[CardFile, ...] = (FILE,)
) -> Audit:
    key = store.conclusion_key(inputs, files, SETTINGS)
    known = store.recalled(key)
    if known is None:
        known = conclude()
        store.remember(key, known)
    return known


def test_the_same_question_is_answered_from_memory_and_to_the_last_figure(store: Store) -> None:
    conclude = Concluding()
    first = asked(store, conclude, Settings(), None, {"b.dng": CUT_OFF})
    with Store.open(store.path) as other:
        again = asked(other, conclude, Settings(), None, {"b.dng": CUT_OFF})
    assert conclude.count == 1
    assert again == first == audit(1)
    assert again.frames[0].channels[0].histogram.counts


def test_what_is_recalled_is_written_as_what_was_concluded(store: Store) -> None:
    told = remark(RemarkCode.HEADROOM_LIMITS, frames=3, headroom_stops=1.0)

    def conclude() -> Audit:
        made = audit(1)
        return replace(made, frames=tuple(replace(one, remarks=(told,)) for one in made.frames))

    key = store.conclusion_key((), (FILE,), SETTINGS)
    store.remember(key, conclude())
    recalled = store.recalled(key)
    assert recalled is not None
    assert b"".join(json_parts(recalled)) == b"".join(json_parts(conclude()))


CHANGED: tuple[tuple[Any, ...], ...] = (
    (Settings(judge=JudgeSettings(blown_limit=0.01)), None, {}),
    (Settings(), Position(54.5, -3.5), {}),
    (Settings(), None, {"b.dng": CUT_OFF}),
    (Settings(), None),
)


@pytest.mark.parametrize("inputs", CHANGED)
def test_any_other_input_is_concluded_anew(store: Store, inputs: tuple[Any, ...]) -> None:
    conclude = Concluding()
    asked(store, conclude, Settings(), None, {})
    asked(store, conclude, *inputs)
    assert conclude.count == 2


def test_another_file_measurement_or_shoot_is_concluded_anew(store: Store) -> None:
    conclude = Concluding()
    asked(store, conclude)
    asked(store, conclude, files=(FILE, replace(FILE, id="b.dng")))
    assert conclude.count == 2
    store.put("other", SETTINGS, measurement(2))
    asked(store, conclude)
    assert conclude.count == 3
    store.save_shoot(audit(100, 101))
    asked(store, conclude)
    assert conclude.count == 4
    asked(store, conclude)
    assert conclude.count == 4


def test_another_program_concludes_anew(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    conclude = Concluding()
    asked(store, conclude)
    monkeypatch.setattr("auditor.store.shoots.program_digest", lambda: "edited")
    asked(store, conclude)
    assert conclude.count == 2


def test_an_edited_or_added_module_is_another_program(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    face = tmp_path / "__init__.py"
    face.write_text("")
    monkeypatch.setattr("auditor.__file__", str(face))
    programs = [program_digest.__wrapped__()]
    (tmp_path / "room" / "inner").mkdir(parents=True)
    for module in ("rule.py", "room/rule.py", "room/inner/rule.js"):
        for content in ("LIMIT = 1", "LIMIT = 10"):
            (tmp_path / module).write_text(content)
            programs.append(program_digest.__wrapped__())
    assert len(set(programs)) == 7


def test_damaged_memory_is_concluded_anew(store: Store) -> None:
    conclude = Concluding()
    asked(store, conclude)
    with closing(sqlite3.connect(store.path)) as connection, connection:
        connection.execute("UPDATE conclusion SET audit = zeroblob(length(audit))")
    assert asked(store, conclude) == audit(2)
    assert asked(store, conclude) == audit(2)
    assert conclude.count == 2


def test_only_the_latest_few_are_kept(store: Store) -> None:
    conclude = Concluding()
    for number in range(15):
        asked(store, conclude, number)
    asked(store, conclude, 14)
    assert conclude.count == 15
    asked(store, conclude, 0)
    assert conclude.count == 16


def test_what_has_no_lasting_text_is_no_key(store: Store) -> None:
    with pytest.raises(TypeError, match="cannot be stored"):
        asked(store, Concluding(), object())


def test_a_card_with_a_file_cut_off_is_concluded_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What such a file still tells is the same fresh from its tags and from the store."""
    count = 0

    def counting(*asked: Any, **settings: Any) -> Conclusions:
        nonlocal count
        count += 1
        return conclude(*asked, **settings)

    monkeypatch.setattr("auditor.conclude.conclude", counting)
    card = tmp_path / "card"
    card.mkdir()
    values = np.random.default_rng(1).integers(900, 1100, (96, 144), dtype=np.uint16)
    for name in ("A.DNG", "B.DNG"):
        write_dng(card / name, values, (FIRST_DIRECTORY_ISO, SHORT, 100), (WHITE, SHORT, 4095))
    whole = (card / "B.DNG").read_bytes()
    (card / "B.DNG").write_bytes(whole[: len(whole) * 3 // 4])
    request = AuditRequest(
        (str(card),), tmp_path / "out", formats=("json",), store=tmp_path / "kept.sqlite"
    )
    first, second = (run_audit(request, KeepingListener()).audit for _ in range(2))
    measured, unread = first.frames
    assert measured.status is FrameStatus.MEASURED
    assert unread.status is FrameStatus.UNREADABLE
    assert isinstance(unread.exposure.iso, float)
    assert second == replace(first, made_at=second.made_at)
    assert count == 1
