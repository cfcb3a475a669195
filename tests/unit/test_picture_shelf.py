"""The shelf of large pictures: whole or not there, within its room, by safe names only."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from auditor.model import large
from auditor.model.errors import CannotWrite
from auditor.model.large import LargePicture, PictureKind, PicturePlace
from auditor.store.shelf import ROOM_BYTES, PictureShelf

DIGEST = "ab" * 32


def pictures(size: int = 100) -> tuple[LargePicture, ...]:
    whole = PicturePlace(kind=PictureKind.WHOLE, width_px=2048, height_px=1365)
    crop = PicturePlace(
        kind=PictureKind.BLOWN, width_px=480, height_px=480, left=0.25, top=0.5, width=0.1,
        height=0.15,
    )  # fmt: skip
    return LargePicture(whole, b"w" * size), LargePicture(crop, b"c" * size)


@pytest.fixture
def shelf(tmp_path: Path) -> PictureShelf:
    return PictureShelf.beside(tmp_path / "store.sqlite")


def test_what_is_put_is_there(shelf: PictureShelf, tmp_path: Path) -> None:
    assert shelf.get(DIGEST) is None
    shelf.put(DIGEST, pictures())
    kept = shelf.get(DIGEST)
    assert kept is not None
    assert [one.place for one in kept] == [one.place for one in pictures()]
    assert [one.path.read_bytes() for one in kept] == [one.jpeg for one in pictures()]
    assert shelf.folder == tmp_path / "store.sqlite-pictures"


def test_a_frame_without_pictures_is_known_as_one(shelf: PictureShelf) -> None:
    shelf.put(DIGEST, ())
    assert shelf.get(DIGEST) == ()


@pytest.mark.parametrize("harm", ["cut off", "gone", "record cut off", "record gone"])
def test_what_is_not_whole_is_not_there(shelf: PictureShelf, harm: str) -> None:
    shelf.put(DIGEST, pictures())
    (path,) = shelf.folder.rglob("*.record" if "record" in harm else "*-blown.jpg")
    if "gone" in harm:
        path.unlink()
    else:
        path.write_bytes(path.read_bytes()[:-3])
    assert shelf.get(DIGEST) is None


def test_pictures_drawn_otherwise_are_not_those(
    shelf: PictureShelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf.put(DIGEST, pictures())
    monkeypatch.setattr("auditor.store.shelf.LARGE_VERSION", large.LARGE_VERSION + 1)
    assert shelf.get(DIGEST) is None


@pytest.mark.parametrize("digest", ["", "../../elsewhere", "ab/cd", "AB" * 32, "ab" * 99])
def test_a_digest_that_is_none_names_no_file(shelf: PictureShelf, digest: str) -> None:
    shelf.put(digest, pictures())
    assert shelf.get(digest) is None
    assert not shelf.folder.exists()
    assert not (shelf.folder.parent.parent / "elsewhere-v1.record").exists()


def test_what_was_longest_unused_goes_first_and_what_is_in_use_stays(shelf: PictureShelf) -> None:
    digests = [f"{number:02x}" * 32 for number in range(5)]
    shelf = PictureShelf(shelf.folder, room_bytes=1100)
    for number, digest in enumerate(digests):
        shelf.put(digest, pictures())
        for path in shelf.folder.rglob(f"{digest}*"):
            os.utime(path, (number, number))
    shelf.note_used([digests[1]])  # by another audit, now
    stranger = shelf.folder / "00" / "holiday.jpg"
    stranger.write_bytes(b"x" * 5000)
    shelf.prune({digests[0]})
    there = [digest for digest in digests if shelf.get(digest) is not None]
    assert digests[0] in there, "used by the audit at work"
    assert digests[1] in there, "used lately"
    assert digests[4] in there
    assert digests[2] not in there
    assert stranger.exists()


def test_there_is_room_for_twenty_thousand_frames() -> None:
    assert pytest.approx(20_000 * 400_000, rel=0.1) == ROOM_BYTES


def test_a_folder_that_cannot_be_made_is_told(shelf: PictureShelf) -> None:
    shelf.folder.write_bytes(b"a file")
    with pytest.raises(CannotWrite, match=r"store\.sqlite-pictures"):
        shelf.put(DIGEST, pictures())
    assert shelf.get(DIGEST) is None
    shelf.note_used([DIGEST])
    shelf.prune(set())
