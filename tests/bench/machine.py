"""The machine in general terms: nothing that tells one machine from its likes."""

from __future__ import annotations

import os
import platform
import sqlite3
from importlib.metadata import version

LIBRARIES = ("rawpy", "imagecodecs", "numpy", "scipy", "pillow", "matplotlib")


def description() -> list[str]:
    """Lines on processor cores, memory, system and versions."""
    libraries = ", ".join(f"{name} {version(name)}" for name in LIBRARIES)
    return [
        f"{len(os.sched_getaffinity(0))} cores ({platform.machine()}), {_memory_gb():.0f} GB of "
        f"memory, {platform.system()}; files in the page cache",
        f"Python {platform.python_version()}, {libraries}, LibRaw {_libraw()}, "
        f"SQLite {sqlite3.sqlite_version}",
    ]


def _memory_gb() -> float:
    return os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 1e9


def _libraw() -> str:
    import rawpy

    return ".".join(str(part) for part in rawpy.libraw_version)


def load() -> float:
    """Processes that wanted a core, on average over the last minute."""
    return os.getloadavg()[0]
