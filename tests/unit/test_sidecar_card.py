"""The card is never written to, and what a raw file itself says is not hidden by a sidecar."""

from __future__ import annotations

import os
import struct
from dataclasses import replace
from pathlib import Path

import pytest

from auditor.apply import apply_marks, undo_marks
from auditor.model.errors import WrongCall
from auditor.read.tiff import embedded_xmp
from auditor.sidecar.packet import RATING, read_packet
from tests import foreign_sidecars as foreign
from tests.sidecar_facts import read_sidecar
from tests.sidecar_folder import contents, folder_with, marks_on


def dng_with(packet: bytes, order: str = "<", count: int | None = None) -> bytes:
    """Return a TIFF header and one directory with the packet in it (tag 700, type BYTE)."""
    head = (b"II*\0" if order == "<" else b"MM\0*") + struct.pack(f"{order}I", 8)
    size = len(packet) if count is None else count
    entry = struct.pack(f"{order}HHHII", 1, 700, 1, size, 26)
    return head + entry + struct.pack(f"{order}I", 0) + packet


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return folder_with(tmp_path, "a.dng")


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize("naming", ["stem", "full"])
def test_what_a_dng_says_is_carried_into_the_new_sidecar(
    folder: Path, order: str, naming: str
) -> None:
    raw = dng_with(foreign.ELEMENTS + b"\0" * 40, order)
    (folder / "a.dng").write_bytes(raw)
    report = apply_marks(marks_on(("a.dng", "keep")), folder, naming=naming)  # type: ignore[arg-type]
    sidecar = folder / {"stem": "a.xmp", "full": "a.dng.xmp"}[naming]
    after = sidecar.read_bytes()
    assert report.applied[0].action == "created"
    assert report.applied[0].reason == "the XMP in the frame was carried over"
    assert foreign.foreign_parts(after) == foreign.foreign_parts(foreign.ELEMENTS)
    facts = read_sidecar(sidecar)
    assert (facts.rating, facts.label) == (4, "second look")
    assert (folder / "a.dng").read_bytes() == raw


def test_a_rating_in_a_dng_was_set_by_somebody(folder: Path) -> None:
    (folder / "a.dng").write_bytes(dng_with(foreign.ATTRIBUTES))
    report = apply_marks(marks_on(("a.dng", "drop")), folder)
    assert report.applied[0].kept == ("rating 2 is not ours and stays",)
    assert read_packet((folder / "a.xmp").read_bytes()).texts_of(RATING) == ["2"]
    (folder / "a.xmp").write_bytes(foreign.LATIN)
    report = apply_marks(marks_on(("a.dng", "drop")), folder)
    assert report.applied[0].kept == ("rating 2 is not ours and stays",)


@pytest.mark.parametrize(
    "raw",
    [dng_with(b"<broken"), dng_with(foreign.ELEMENTS, count=1 << 20),
     dng_with(b"x", count=1 << 30)],
    ids=["broken", "cut off", "too large"],
)  # fmt: skip
def test_xmp_that_cannot_be_carried_over_is_told_and_refused(folder: Path, raw: bytes) -> None:
    (folder / "a.dng").write_bytes(raw)
    report = apply_marks(marks_on(("a.dng", "keep")), folder)
    assert report.applied[0].action == "refused"
    assert "would hide it" in report.applied[0].reason
    assert contents(folder) == {"a.dng": raw}
    (folder / "a.xmp").write_bytes(foreign.LATIN)
    assert apply_marks(marks_on(("a.dng", "keep")), folder).count("updated") == 1


@pytest.mark.parametrize(
    "raw",
    [b"", b"II*\0", b"II*\0\xff\xff\xff\xff", b"no tiff at all",
     dng_with(b"\0 \0\0\n"), dng_with(b"")]
)  # fmt: skip
def test_a_frame_without_xmp_has_none(tmp_path: Path, raw: bytes) -> None:
    (tmp_path / "a.dng").write_bytes(raw)
    assert embedded_xmp(tmp_path / "a.dng") is None


def audited(*inputs: str) -> object:
    return replace(marks_on(("a.dng", "keep")), inputs=inputs)


@pytest.mark.parametrize("below", ["", "DCIM", "DCIM/100SELMR"])
@pytest.mark.parametrize("named", ["", "DCIM", "DCIM/100SELMR", "DCIM/100SELMR/a.dng"])
def test_a_card_that_was_audited_is_refused(tmp_path: Path, below: str, named: str) -> None:
    card = folder_with(tmp_path, "DCIM/100SELMR/a.dng")
    before = contents(card)
    with pytest.raises(WrongCall, match="never written to"):
        apply_marks(audited(str(card / named)), card / below)  # type: ignore[arg-type]
    assert contents(card) == before


def test_a_link_to_the_card_is_the_card(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "link").symlink_to(folder)
    for named, to in ((tmp_path / "link", folder), (folder, tmp_path / "link")):
        with pytest.raises(WrongCall, match="--in-place"):
            apply_marks(audited(str(named)), to)  # type: ignore[arg-type]


def test_a_copy_that_was_audited_itself_may_be_named_so(folder: Path) -> None:
    report = apply_marks(audited(str(folder)), folder, in_place=True)  # type: ignore[arg-type]
    assert report.count("created") == 1


@pytest.mark.parametrize("inputs", [(), ("s3://bucket/card",), ("/media/elsewhere",)], ids=str)
def test_a_folder_that_was_not_audited_is_written_to(folder: Path, inputs: tuple[str]) -> None:
    assert apply_marks(audited(*inputs), folder).count("created") == 1  # type: ignore[arg-type]


def test_a_cards_medium_is_refused_whoever_audited_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    card = folder_with(tmp_path, "Dcim/100SELMR/a.dng")
    monkeypatch.setattr(os.path, "ismount", lambda path: Path(path) == card.resolve())
    with pytest.raises(WrongCall, match="camera's card"):
        apply_marks(audited(), card / "Dcim", in_place=True)  # type: ignore[arg-type]
    with pytest.raises(WrongCall, match="camera's card"):
        undo_marks(card)
