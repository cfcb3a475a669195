"""What a worker process does before its first task."""

from __future__ import annotations

import platform
import signal
import subprocess
import sys

import pytest

FRAME_BYTES = 64 << 20
PROGRAM = f"""
import resource
from pathlib import Path
from auditor.engine.worker import prepare
if {{prepared}}:
    prepare()
import numpy as np

def held():
    return int(Path("/proc/self/statm").read_text().split()[1]) * resource.getpagesize()

before = held()
for _ in range(3):
    np.ones({FRAME_BYTES}, dtype=np.uint8)
    print(held() - before)
"""


def held_after_each(*, prepared: bool) -> list[int]:
    """Bytes still held once each of three frames is let go: the same with pages of any size."""
    program = PROGRAM.format(prepared=prepared)
    shown = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, timeout=60, check=True
    )
    return [int(line) for line in shown.stdout.split()]


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="only glibc can be told")
def test_a_worker_uses_the_memory_of_one_frame_for_the_next() -> None:
    assert max(held_after_each(prepared=False)) < FRAME_BYTES // 4, "given back, asked for anew"
    kept = held_after_each(prepared=True)
    assert min(kept) > FRAME_BYTES * 3 // 4
    assert max(kept) < FRAME_BYTES * 5 // 4, "the next frame takes the place of the one before"


ORPHAN = """
import time
from auditor.engine.worker import _alarm
with _alarm(0.2):
    time.sleep(5.0)
"""


@pytest.mark.skipif(not hasattr(signal, "setitimer"), reason="no such clock on this system")
def test_a_worker_whom_nobody_ends_is_ended_by_its_own_alarm() -> None:
    ended = subprocess.run([sys.executable, "-c", ORPHAN], check=False, timeout=120.0)
    assert ended.returncode == -signal.SIGALRM
