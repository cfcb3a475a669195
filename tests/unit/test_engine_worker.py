"""What a worker process does before its first task."""

from __future__ import annotations

import platform
import subprocess
import sys

import pytest

PROGRAM = """
import resource
from auditor.engine.worker import prepare
if {prepared}:
    prepare()
import numpy as np

def frame():
    np.ones(64 << 20, dtype=np.uint8)

frame()
before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
frame()
print(resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before)
"""


def faults(*, prepared: bool) -> int:
    """Pages that the system had to hand out for a second frame as large as the first."""
    program = PROGRAM.format(prepared=prepared)
    shown = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, timeout=60, check=True
    )
    return int(shown.stdout)


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="only glibc can be told")
def test_a_worker_uses_the_memory_of_one_frame_for_the_next() -> None:
    pages = (64 << 20) // 4096
    assert faults(prepared=False) > pages // 32, "large pages or small, they are asked for anew"
    assert faults(prepared=True) < pages // 256
