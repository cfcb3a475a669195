"""One card with everything that can be wrong with a file, through the command itself."""

from __future__ import annotations

import json
import os
import struct
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

import numpy as np
import pytest
import tifffile

from auditor.examine import examine_file
from auditor.model.errors import UnreadableFile, WrongCall
from auditor.model.settings import MeasureSettings, Settings
from auditor.single import audit_frame
from auditor.task import ExamineTask
from tests.built_dng import write_dng

WHOLE = "F45_0001.DNG"
BYTES = b"F45_\xe4\xff.DNG"
"""A name that is not UTF-8."""


def whole(path: Path) -> None:
    noise = np.random.default_rng(int(sha256(path.name.encode("utf-8", "replace")).hexdigest(), 16))
    write_dng(path, noise.normal(2000, 40, (96, 144)).astype(np.uint16))


def cut_off(path: Path) -> None:
    whole(path)
    os.truncate(path, path.stat().st_size // 2)


def empty(path: Path) -> None:
    path.touch()


def zeros(path: Path) -> None:
    path.write_bytes(bytes(5000))


def huge(path: Path) -> None:
    whole(path)
    with tifffile.TiffFile(path, mode="r+") as file:
        file.pages.first.tags[256].overwrite(60_000)
        file.pages.first.tags[257].overwrite(60_000)


def looping(path: Path) -> None:
    """A list of directories that leads back to its own beginning."""
    version = struct.pack("<HHI4B", 50706, 1, 4, 1, 4, 0, 0)
    path.write_bytes(b"II*\0\x08\0\0\0" + struct.pack("<H", 1) + version + struct.pack("<I", 8))


def ring(path: Path) -> None:
    path.symlink_to(path)


def folder_ring(path: Path) -> None:
    path.symlink_to(path.parent)


def pipe(path: Path) -> None:
    os.mkfifo(path)


def picture(path: Path) -> None:
    path.write_bytes(b"\xff\xd8\xff\xe0\0\x10JFIF\0" + bytes(3000))


BAD: dict[str, tuple[Callable[[Path], None], set[str], str]] = {
    "F45_0002.DNG": (cut_off, {"cut-off"}, "again"),
    "F45_0003.DNG": (empty, {"empty"}, "again"),
    "F45_0004.DNG": (zeros, {"damaged"}, "again"),
    "F45_0005.DNG": (huge, {"damaged"}, "header is damaged"),
    "F45_0006.DNG": (looping, {"unsupported", "damaged", "cut-off"}, ""),
    "F45_0007.DNG": (ring, {"vanished"}, "Remove it"),
    "F45_0008.DNG": (picture, {"not-raw"}, "JPEG"),
}
"""How each is made, the codes that tell it, and what its message must say."""

LEFT_ASIDE: dict[str, Callable[[Path], None]] = {"back": folder_ring, "F45_0009.DNG": pipe}


@dataclass(frozen=True)
class Audited:
    """What the command made of the card."""

    card: Path
    before: dict[str, str]
    ended: subprocess.CompletedProcess[str]
    told: dict[str, dict[str, object]]
    passed_over: dict[str, int]


@pytest.fixture(scope="module")
def audited(tmp_path_factory: pytest.TempPathFactory) -> Audited:
    folder = tmp_path_factory.mktemp("bad")
    card = folder / "card"
    card.mkdir()
    whole(card / WHOLE)
    whole(card / os.fsdecode(BYTES))
    for name, make in [*((n, bad[0]) for n, bad in BAD.items()), *LEFT_ASIDE.items()]:
        make(card / name)
    before = digests(card)
    ended = subprocess.run(
        [
            sys.executable, "-m", "auditor", "audit", str(card), "--out", str(folder / "out"),
            "--no-store", "--workers", "2", "-f", "json", "-f", "html", "-f", "csv", "-f", "md",
        ],
        capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    written = json.loads((folder / "out" / "audit.json").read_text(encoding="utf-8"))
    frames = {frame["file"]: frame for frame in written["frames"]}
    return Audited(card, before, ended, frames, written["passed_over"])


def digests(card: Path) -> dict[str, str]:
    """Content and time of change of each file, links and pipes by their kind alone."""
    return {
        os.fsdecode(os.fsencode(path.name)): sha256(path.read_bytes()).hexdigest()
        + str(path.stat().st_mtime_ns)
        if path.is_file()
        else str(path.lstat().st_mode)
        for path in sorted(card.iterdir())
    }


def test_the_command_ends_with_status_one_and_no_traceback(audited: Audited) -> None:
    assert audited.ended.returncode == 1
    assert "Traceback" not in audited.ended.stderr + audited.ended.stdout


def test_every_file_is_accounted_for_and_the_good_ones_are_measured(audited: Audited) -> None:
    odd = "F45_\\xe4\\xff.DNG"
    assert set(audited.told) == {WHOLE, odd, *BAD}
    assert audited.told[WHOLE]["status"] == audited.told[odd]["status"] == "measured"
    assert audited.passed_over == {"(link to a folder)": 1, "(device, pipe or socket)": 1}


@pytest.mark.parametrize("name", sorted(BAD))
def test_each_bad_file_is_named_with_what_is_wrong(audited: Audited, name: str) -> None:
    _, codes, words = BAD[name]
    error = audited.told[name]["error"]
    assert isinstance(error, dict)
    assert error["code"] in codes
    assert words in error["message"]
    lines = [line for line in audited.ended.stderr.splitlines() if name in line]
    assert any(error["message"] in line for line in lines), audited.ended.stderr


def test_nothing_on_the_card_is_changed(audited: Audited) -> None:
    assert digests(audited.card) == audited.before


@contextmanager
def failing_open(monkeypatch: pytest.MonkeyPatch, error: OSError) -> Iterator[None]:
    def refuse(*given: object, **named: object) -> object:
        raise error

    with monkeypatch.context() as patched:
        patched.setattr("os.open", refuse)
        yield


@pytest.mark.parametrize(
    ("error", "code", "words"),
    [
        (PermissionError(13, "Permission denied"), "no-permission", "Change its permissions"),
        (FileNotFoundError(2, "No such file"), "vanished", "card taken out"),
        (NotADirectoryError(20, "Not a directory"), "vanished", "card taken out"),
        (OSError(5, "Input/output error"), "input-error", "another reader"),
    ],
)
def test_what_happens_to_a_file_during_the_run_is_told_with_what_to_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: OSError, code: str, words: str
) -> None:
    whole(tmp_path / "a.dng")
    task = ExamineTask(str(tmp_path / "a.dng"), "dng", MeasureSettings())
    with failing_open(monkeypatch, error), pytest.raises(UnreadableFile) as refused:
        examine_file(task)
    assert refused.value.code == code
    assert words in refused.value.message


def test_a_single_frame_of_a_name_too_long_is_a_wrong_call(tmp_path: Path) -> None:
    with pytest.raises(WrongCall, match="nnn: "):
        audit_frame(str(tmp_path / ("n" * 300)), tmp_path / "out", Settings())
    assert list(tmp_path.iterdir()) == []
