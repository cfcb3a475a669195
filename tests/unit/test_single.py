"""One frame says what the audit of its shoot says, where the store remembers that shoot."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from auditor.audit import run_audit
from auditor.model.audit import Audit, FrameResult
from auditor.model.codes import FrameStatus
from auditor.model.errors import StoreRefused
from auditor.request import AuditRequest
from auditor.single import audit_frame
from sample_generation.shoots import make_shoot
from tests.evening_audit import KeepingListener


@pytest.fixture(scope="module")
def shoot(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Audit]:
    """A small sample evening, audited into a store of its own."""
    root = tmp_path_factory.mktemp("single")
    make_shoot("pairs", root / "shoot", megapixels=0.3, seed=5, workers=1)
    cards = tuple(str(card) for card in sorted((root / "shoot").iterdir()) if card.is_dir())
    store = root / "store.sqlite"
    request = AuditRequest(paths=cards, out=root / "out", formats=(), store=store, workers=1)
    return store, run_audit(request, KeepingListener()).audit


def lent(audit: Audit) -> FrameResult:
    """A frame of which the levels were settled with its sisters, and that is one of a set-up."""
    several = {name for setup in audit.setups if len(setup.frames) > 1 for name in setup.frames}
    return next(
        frame
        for frame in audit.frames
        if frame.id in several
        and {channel.saturation_source for channel in frame.channels} == {"shoot"}
    )


def where(audit: Audit, frame: FrameResult) -> Path:
    return Path(audit.inputs[frame.input]) / frame.file


def test_with_the_store_it_says_what_the_audit_says(
    shoot: tuple[Path, Audit], tmp_path: Path
) -> None:
    store, audit = shoot
    told = lent(audit)
    end = audit_frame(where(audit, told), tmp_path, store=store)
    assert end.result == told
    assert end.beside == len([f for f in audit.frames if f.status == FrameStatus.MEASURED]) - 1


def test_without_one_it_is_judged_by_itself(shoot: tuple[Path, Audit], tmp_path: Path) -> None:
    _, audit = shoot
    told = lent(audit)
    end = audit_frame(where(audit, told), tmp_path)
    assert end.beside == 0
    assert {channel.saturation_source for channel in end.result.channels} == {"metadata"}


def test_a_frame_whose_shoot_is_not_remembered_takes_levels_that_other_shoots_measured(
    shoot: tuple[Path, Audit], tmp_path: Path
) -> None:
    store, audit = shoot
    told = lent(audit)
    copy = tmp_path / "card" / "ANOTHER_0001.DNG"
    copy.parent.mkdir()
    shutil.copy(where(audit, told), copy)
    end = audit_frame(copy, tmp_path / "out", store=store)
    assert end.beside == 0
    assert {channel.saturation_source for channel in end.result.channels} == {"history"}


def test_a_card_that_lies_elsewhere_now_is_the_same_shoot(
    shoot: tuple[Path, Audit], tmp_path: Path
) -> None:
    store, audit = shoot
    told = lent(audit)
    moved = tmp_path / "moved"
    shutil.copytree(audit.inputs[told.input], moved, copy_function=shutil.copy2)
    end = audit_frame(moved / told.file, tmp_path / "out", store=store)
    assert end.beside > 0
    same = replace(end.result, id=told.id, input=told.input)
    assert same.channels == told.channels
    assert same.verdict == told.verdict


def test_a_store_that_is_not_there_is_refused(shoot: tuple[Path, Audit], tmp_path: Path) -> None:
    _, audit = shoot
    with pytest.raises(StoreRefused):
        audit_frame(where(audit, lent(audit)), tmp_path, store=tmp_path / "none.sqlite")
