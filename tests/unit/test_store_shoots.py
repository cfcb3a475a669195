"""Past shoots: every frame counts once, however often its card is audited."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from auditor.model.audit import Audit
from auditor.model.codes import FrameStatus
from auditor.model.facts import CameraFacts, CardFile
from auditor.store.shoots import Saved
from auditor.store.store import Store
from tests.store_frames import SETTINGS, audit, measurement


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path / "store.sqlite") as opened:
        yield opened


def names(store: Store) -> list[list[str]]:
    return [[frame.file for frame in shoot.frames] for shoot in store.shoots()]


def test_a_shoot_comes_back_without_its_counts(store: Store) -> None:
    made = audit(1, 2)
    assert store.save_shoot(made) is Saved.ADDED
    (read,) = store.shoots()
    assert isinstance(read, Audit)
    assert replace(read, frames=()) == replace(made, frames=())
    for got, given in zip(read.frames, made.frames, strict=True):
        assert got.channels[0].histogram.counts == ()
        assert got.preview is not None
        assert got.preview.counts == {}
        assert got.findings == given.findings
        assert got.channels[0].headroom_stops == given.channels[0].headroom_stops


def test_the_same_card_audited_again_replaces_itself(store: Store) -> None:
    store.save_shoot(audit(1, 2, 3))
    assert store.save_shoot(audit(1, 2, 3, folder="DCIM/")) is Saved.REPLACED
    assert names(store) == [[f"DCIM/F45_{n:04d}.dng" for n in (1, 2, 3)]]


def test_a_card_with_more_frames_replaces_its_former_self(store: Store) -> None:
    store.save_shoot(audit(1, 2, 3))
    assert store.save_shoot(audit(1, 2, 3, 4, 5, 6, 7, 8)) is Saved.REPLACED
    assert [len(shoot) for shoot in names(store)] == [8]


def test_a_second_look_at_a_part_is_not_counted_again(store: Store) -> None:
    store.save_shoot(audit(*range(10)))
    assert store.save_shoot(audit(3, 4)) is Saved.ALREADY
    assert [len(shoot) for shoot in names(store)] == [10]


def test_other_frames_are_another_shoot_and_the_earliest_comes_first(store: Store) -> None:
    store.save_shoot(audit(100, 101))
    assert store.save_shoot(audit(5, 6)) is Saved.ADDED
    assert [shoot[0] for shoot in names(store)] == ["F45_0005.dng", "F45_0100.dng"]


def test_two_shoots_on_one_card_are_joined_by_an_audit_of_both(store: Store) -> None:
    store.save_shoot(audit(1, 2))
    store.save_shoot(audit(11, 12))
    assert store.save_shoot(audit(1, 2, 11, 12)) is Saved.REPLACED
    assert [len(shoot) for shoot in names(store)] == [4]


def test_an_audit_without_a_measured_frame_is_not_kept(store: Store) -> None:
    made = audit(1)
    unread = replace(made.frames[0], status=FrameStatus.UNREADABLE)
    assert store.save_shoot(replace(made, frames=(unread,))) is Saved.EMPTY
    assert names(store) == []


def test_a_shoot_does_not_learn_from_itself(store: Store) -> None:
    files = []
    for number in (1, 2, 3):
        measured = measurement(number)
        camera = CameraFacts("Brackwell", "Brackwell F45", "F45-000217")
        taken = audit(number).frames[0].captured_at
        facts = replace(measured.facts, camera=camera, captured_at=taken)
        store.put(f"key{number}", SETTINGS, replace(measured, facts=facts))
        name = f"DCIM/F45_{number:04d}.dng"
        files.append(CardFile(name, 0, f"card/{name}", name, "dng", 1000, f"key{number}"))
    store.save_shoot(audit(1, 2, 3))
    store.save_shoot(audit(11, 12))
    assert [len(shoot) for shoot in names(store)] == [3, 2]
    others = [len(shoot.frames) for shoot in store.other_shoots(files, SETTINGS)]
    assert others == [2]
    assert [len(shoot.frames) for shoot in store.other_shoots([], SETTINGS)] == [3, 2]
