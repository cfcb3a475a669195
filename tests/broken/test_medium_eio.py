"""A card with blocks that the kernel itself cannot read: where a loop device may be mounted."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from auditor.audit import run_audit
from auditor.model.audit import FrameResult
from auditor.model.codes import FrameStatus
from auditor.model.errors import FailureKind
from auditor.request import AuditRequest
from tests.built_dng import write_dng
from tests.evening_audit import KeepingListener

IMAGE_MB = 24


def run(*command: str) -> str:
    try:
        return subprocess.run(command, check=True, capture_output=True, text=True).stdout.strip()
    except (OSError, subprocess.CalledProcessError) as error:
        pytest.skip(f"{command[0]} is not to be had here: {error}")


@dataclass
class Medium:
    """A mounted card with one frame, and the file that its blocks lie in."""

    image: Path
    card: Path
    frame: Path
    data: bytes

    def lose_blocks(self) -> None:
        """Take the blocks from the middle of the frame away; its two ends stay readable."""
        told = run("filefrag", "-v", "-b1024", str(self.frame))
        extents = [
            tuple(int(number) for number in found)
            for found in re.findall(r"^\s*\d+:\s*\d+\.\.\s*\d+:\s*(\d+)\.\.\s*(\d+):", told, re.M)
        ]
        middle = sum(extents[0]) // 2
        if len(extents) < 2 or extents[-1][1] >= middle:
            pytest.skip("the file system has laid the frame out otherwise")
        os.truncate(self.image, middle * 1024)
        with self.frame.open("rb") as stream:  # what the memory still holds of it would be read
            os.posix_fadvise(stream.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)


@pytest.fixture
def medium(tmp_path: Path) -> Iterator[Medium]:
    if os.geteuid() != 0 or not Path("/dev/loop-control").exists():
        pytest.skip("mounting a loop device needs the superuser")
    image, card = tmp_path / "image", tmp_path / "card"
    image.write_bytes(bytes(IMAGE_MB << 20))
    card.mkdir()
    run("mkfs.ext4", "-q", "-F", "-b", "1024", str(image))
    device = run("losetup", "-f", "--show", "--direct-io=on", str(image))
    try:
        run("mount", device, str(card))
        pixels = np.random.default_rng(1).normal(3000, 90, (1000, 1500)).astype(np.uint16)
        frame = write_dng(card / "F45_0001.DNG", pixels)
        data = frame.read_bytes()
        os.sync()
        run("mount", "-o", "remount,ro", str(card))
        yield Medium(image, card, frame, data)
    finally:
        subprocess.run(["umount", str(card)], check=False, capture_output=True)
        subprocess.run(["losetup", "-d", device], check=False, capture_output=True)


def audited(root: Path, card: Path) -> FrameResult:
    request = AuditRequest(
        (str(card),), root / "out", formats=("json",), store=root / "store.sqlite", workers=1
    )
    (frame,) = run_audit(request, KeepingListener()).audit.frames
    return frame


def test_an_error_of_the_kernel_in_the_middle_is_the_medium_s_and_is_cured_by_a_copy(
    tmp_path: Path, medium: Medium
) -> None:
    medium.lose_blocks()
    with pytest.raises(OSError, match="Input/output"):
        medium.frame.read_bytes()
    failed = audited(tmp_path, medium.card)
    assert failed.error is not None
    assert (failed.error.code, failed.error.kind) == ("input-error", FailureKind.MEDIUM)
    assert "another reader" in failed.error.message
    # copied again in another reader, its time kept, under the same name
    again = tmp_path / "again" / "card"
    again.mkdir(parents=True)
    (again / medium.frame.name).write_bytes(medium.data)
    shutil.copystat(medium.frame, again / medium.frame.name)
    assert audited(tmp_path, again).status == FrameStatus.MEASURED
