"""Three dozen containers, whole and cut off, from a maker that nobody knows: no wrong word."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.built_makers import PIXELS, containers

Told = dict[str, dict[str, Any]]

NAMED = {"gpr": "VC-5 (compression 9)", "tif": "JPEG XL (compression 52546)", "dng": "60123"}
"""What the compression tag tells of files that no decoder here reads."""

NOT_KNOWN = {"cr3", "crw", "dcs", "mrw", "raf", "rw2", "rwl", "x3f", *NAMED}
"""Whole files of a body or of a kind that the decoder does not know."""

AT_THE_END = {"crw", "x3f"}
"""Their directory comes last: cut off, they tell nothing."""


def audited(folder: Path, cut: int) -> Told:
    card, out = folder / "card", folder / "out"
    card.mkdir()
    for suffix, content in containers().items():
        name = f"BRK_0001.{suffix.upper()}"
        (card / name).write_bytes(content[: len(content) - cut])
    call = ["audit", str(card), "--out", str(out), "--no-store", "--format", "json", "--quiet"]
    ended = subprocess.run(
        [sys.executable, "-m", "auditor", *call], capture_output=True, text=True, check=False
    )
    assert "Traceback" not in ended.stderr
    told = json.loads((out / "audit.json").read_text("utf-8"))
    assert told["passed_over"] == {}
    frames = {Path(frame["file"]).suffix[1:].lower(): frame for frame in told["frames"]}
    assert frames.keys() == containers().keys()
    return frames


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Told:
    """What an audit says of each whole file, by suffix."""
    return audited(tmp_path_factory.mktemp("whole"), 0)


@pytest.fixture(scope="module")
def cut(tmp_path_factory: pytest.TempPathFactory) -> Told:
    """What it says where the last sixth of the pixels is not there."""
    return audited(tmp_path_factory.mktemp("cut"), len(PIXELS) // 6)


def sentences(frame: dict[str, Any]) -> Iterator[str]:
    """All that is said of a frame."""
    if frame["error"]:
        yield frame["error"]["message"]
    yield from frame["notes"]
    yield from (finding["text"] for finding in frame["findings"])
    yield from (note for channel in frame["channels"] for note in channel["notes"])


def test_there_are_three_dozen_and_none_is_a_copy_of_another(whole: Told) -> None:
    made = containers()
    assert len(made) >= 33
    assert len(set(made.values())) == len(made)
    kinds = {frame["kind"] for frame in whole.values()}
    assert kinds >= {"cr2", "cr3", "crw", "dng", "iiq", "mrw", "orf", "raf", "rw2", "tiff", "x3f"}


@pytest.mark.parametrize("suffix", sorted(containers()))
def test_what_a_header_tells_is_told(whole: Told, cut: Told, suffix: str) -> None:
    for frame in (whole[suffix], cut[suffix]):
        if frame is cut[suffix] and suffix in AT_THE_END:
            continue
        assert (frame["camera"]["make"], frame["camera"]["model"]) == ("Brackwell", "Brackwell F45")
        assert frame["captured_at"].startswith("2031-09-14T18:42:07")
        if suffix != "crw":  # a heap that holds body and time only
            assert frame["camera"]["serial"] == f"BW-{suffix}"
            assert frame["lens"]["model"] == "Brackwell 24-70 mm f/4"
            exposure = frame["exposure"]
            assert (exposure["nominal_time_s"], exposure["iso"]) == (pytest.approx(1 / 30), 100)
            assert exposure["f_number"] == 11.0


@pytest.mark.parametrize("suffix", sorted(NOT_KNOWN))
def test_what_is_not_known_is_not_called_damaged(whole: Told, suffix: str) -> None:
    error = whole[suffix]["error"]
    assert (error["code"], error["kind"]) == ("unsupported", "unsupported")
    assert "card" not in error["message"], "nothing is wrong with it"
    assert "DNG with lossless compression" in error["message"], "a converter helps"
    assert NAMED.get(suffix, "does not know this kind") in error["message"]


def test_makers_own_compressions_are_blamed_for_nothing(whole: Told) -> None:
    """The decoder knows them; in another container than DNG a number is the maker's own."""
    assert not any(
        "stored as" in said
        for suffix in containers().keys() - NAMED.keys()
        for said in sentences(whole[suffix])
    )


@pytest.mark.parametrize("suffix", sorted(containers()))
def test_what_is_cut_off_is_never_called_whole(cut: Told, suffix: str) -> None:
    frame = cut[suffix]
    if frame["error"]:
        # a decoder that reads nothing of what is left gives zeros, or what its memory held before
        assert frame["error"]["code"] in ("cut-off", "no-pixels")
        assert frame["error"]["kind"] == "damaged"
        assert "Copy it from the card again" in frame["error"]["message"]
        if frame["error"]["code"] == "no-pixels":
            assert "it ends before its picture does" in frame["error"]["message"]
    else:  # packed pixels decode to something without their end
        (found,) = (one for one in frame["findings"] if one["code"] == "may-be-damaged")
        assert found["text"].startswith("May be damaged: compare with the second copy.")
        assert f"{len(PIXELS) // 6:,} bytes of the picture lie beyond the end" in found["text"]
        assert found["value"] == pytest.approx(1 / 6, abs=1e-3)


def test_nothing_proves_a_bad_card_and_whole_files_are_not_short(whole: Told, cut: Told) -> None:
    for frames in (whole, cut):
        said = "\n".join(text for frame in frames.values() for text in sentences(frame))
        assert "retire" not in said
        assert "Also found at" not in said
    assert not any(
        "beyond the end" in text for frame in whole.values() for text in sentences(frame)
    )
